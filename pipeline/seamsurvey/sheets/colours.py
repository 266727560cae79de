"""Default colours of the templates, distinguishable for every kind of colour vision.

The nine pale colours are Paul Tol's "light" scheme, made for filling areas under black labels
(P. Tol, *Colour Schemes*, SRON technical note SRON/EPS/TN/09-002, issue 3.2, 2021; values from memory).
"""

import re
from collections.abc import Callable, Iterable, Mapping

import numpy as np

from seamsurvey.light import LUMINANCE, decode
from seamsurvey.model import Block

LIGHT = (
    "#77AADD", "#EEDD88", "#EE8866", "#99DDFF", "#BBCC33", "#FFAABB", "#44BB99", "#AAAA00", "#DDDDDD",
)  # fmt: skip


def mixed(colour: str, other: str, share: float) -> str:
    """``share`` of the ``other`` colour mixed into ``colour``, both "#rrggbb", per encoded channel."""
    channels = [
        round((1 - share) * int(colour[k : k + 2], 16) + share * int(other[k : k + 2], 16)) for k in (1, 3, 5)
    ]
    return "#" + "".join(f"{channel:02x}" for channel in channels)


def readable_on(colour: str) -> str:
    """Black or white ink for a label on ``colour``: whichever has the higher contrast (W3C, WCAG 2.2)."""
    encoded = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255
    luminance = float(decode(encoded) @ LUMINANCE)
    # 0.179 is where black and white give equal contrast: (L + 0.05)² = 0.05 · 1.05.
    return "#000000" if luminance > 0.179 else "#ffffff"


def template_colours(names: Iterable[str], wished: Mapping[str, str]) -> dict[str, str]:
    """A colour "#rrggbb" for each template, in the order given: the person's wish, else the scheme's next.

    After nine templates the scheme comes round again, paler, then deeper; labels tell those apart.
    """
    rounds: list[Callable[[str], str]] = [
        lambda c: c,
        lambda c: mixed(c, "#ffffff", 0.55),
        lambda c: mixed(c, "#000000", 0.25),
    ]
    result = {}
    for k, name in enumerate(names):
        tone = rounds[k // len(LIGHT) % len(rounds)]
        result[name] = wished.get(name) or tone(LIGHT[k % len(LIGHT)].lower())
    return result


def natural(name: str) -> tuple[object, ...]:
    """A key that sorts T2 before T10."""
    return tuple(
        (not part.isdigit(), int(part) if part.isdigit() else part) for part in re.split(r"(\d+)", name) if part
    )


def block_colours(block: Block, wished: Mapping[str, str]) -> dict[str, str]:
    """``template_colours`` of the templates a block uses, in the natural order of their names."""
    return template_colours(sorted({piece.template for piece in block.pieces}, key=natural), wished)
