"""One card alone with writing on it, seen from straight above: what is written and what it means are known.

Coarser, softer and noisier than a scan where a phone is meant; the card's place in the picture is exact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .cards import Cutting, cut_card
from .families import random_family
from .geometry import Matrix, Points, move, placement
from .looks import CARDS
from .scan import Scanner, scan
from .scene import LaidCard, Scene

# What makers write, and what they mean by it: (face up, reversed), None where it can't be said.
COUNTS: tuple[tuple[str, tuple[int, int] | None], ...] = (
    *((f"cut {n}", (n, 0)) for n in (1, 2, 3, 4, 5, 6, 8, 9, 10, 12, 16)),
    *((f"Cut {n}", (n, 0)) for n in (1, 2, 4, 6, 8, 12)),
    ("CUT 4", (4, 0)), ("make 4", (4, 0)), ("make 8", (8, 0)),
    ("4 + 4R", (4, 4)), ("cut 2 + 2R", (2, 2)), ("cut 1 + 1 R", (1, 1)), ("cut 4 + 4 rev.", (4, 4)),
    ("cut 4, cut 4 reversed", (4, 4)), ("cut 1, cut 1 reversed", (1, 1)),
    ("cut 2 rev.", (0, 2)), ("cut 4 rev", (0, 4)), ("cut 8 R", (0, 8)),
    ("cut 2 of each colour", None), ("cut 4 dark", None), ("cut 7", None), ("cut 17", None),
)  # fmt: skip
# mm, 0 for finished size, None where the size of what is included isn't said.
ALLOWANCES: tuple[tuple[str, float | None], ...] = (
    ("1/4 in seam included", 6.35), ('1/4" seam included', 6.35), ("incl. 1/4 in seam", 6.35),
    ("includes 1/4 inch seam", 6.35), ("1/8 in seam included", 3.175), ("3/16 in seam included", 4.7625),
    ("6 mm seam included", 6.0), ("7 mm seam incl.", 7.0), ("1 cm seam included", 10.0),
    ("0.75 cm seam included", 7.5),
    ("add seam", 0.0), ('add 1/4" seam', 0.0), ("add 1/4 in seam", 0.0), ("add 6 mm seam", 0.0),
    ("finished size", 0.0), ("no seam allowance", 0.0), ("seam not included", 0.0),
    ("seam allowance included", None), ("seam included", None),
)  # fmt: skip
NAMES = (*"ABCDEFGHJKLM", "A1", "B2", "C3", "D4", "A2", "E5", "AA", "2B")


@dataclass(frozen=True)
class WrittenCard:
    """A card's picture ((h, w, 3) sRGB), where it is, and what is written on it.

    `to_image`: (2, 3) from the table (mm, y up) to the image (px); `outline`: (n, 2) its cut edge on the table;
    `count`, `allowance`: what the lines mean, None: nothing that can be used; `said`: which kinds are there.
    """

    pixels: NDArray[np.uint8]
    to_image: Matrix
    outline: Points
    lines: tuple[str, ...]
    name: str
    count: tuple[int, int] | None
    allowance: float | None
    said: frozenset[str]


def written_card(seed: int, hand: str) -> WrittenCard:
    """A card nobody has seen before: its shape, stock, lines, place and picture are drawn from the seed."""
    rng = np.random.default_rng([seed, 7])
    templates = [t for t in random_family(seed).templates if _room(t.finished) > 14.0]
    template = templates[int(rng.integers(len(templates)))]
    name = str(rng.choice(NAMES))
    count_text, count = COUNTS[int(rng.integers(len(COUNTS)))]
    allowance_text, allowance = ALLOWANCES[int(rng.integers(len(ALLOWANCES)))]
    kinds = [kind for kind, share in (("name", 0.9), ("count", 0.8), ("allowance", 0.4)) if rng.random() < share]
    kinds = kinds or ["name"]
    text = {"name": name, "count": count_text, "allowance": allowance_text}
    lines = tuple(text[kind] for kind in kinds)
    cutting = Cutting(allowance=float(rng.choice([0.0, 6.35])))
    card = replace(cut_card(name, template.finished, cutting, "", rng), hand=hand, lines=lines)
    turn = float(rng.uniform(0.0, 360.0))
    turned = move(placement(turn, (0.0, 0.0)), card.as_cut)
    room = tuple(float(side) for side in np.ptp(turned, axis=0) + 12.0)
    to_table = placement(turn, -turned.min(axis=0) + 6.0)
    stock = str(rng.choice([each for each in CARDS if each != "printed"]))
    laid = LaidCard(card, False, 0.5, stock, to_table)
    scene = Scene("written", seed, random_family(seed), cutting, (room[0], room[1]), (laid,), ())
    scanner = _phone(rng) if rng.random() < 0.5 else Scanner()
    return WrittenCard(
        scan(scene, scanner),
        scanner.to_image((room[0], room[1])),
        move(to_table, card.as_cut_corners),
        lines,
        name if "name" in kinds else "",
        count if "count" in kinds else None,
        allowance if "allowance" in kinds else None,
        frozenset(kinds),
    )


def _phone(rng: np.random.Generator) -> Scanner:
    """A phone's camera half a metre above: 6 to 9 px to the millimetre."""
    dpi = round(25.4 * float(rng.uniform(6.0, 9.0)))
    return Scanner(dpi=dpi, psf=0.8, grain=float(10 ** rng.uniform(-4.5, -3.5)), sharpen=0.4, quality=88)


def _room(outline: Points) -> float:
    return math.sqrt(abs(float(np.sum(outline[:, 0] * np.roll(outline[:, 1], -1)
                                      - np.roll(outline[:, 0], -1) * outline[:, 1]))) / 2) / 2  # fmt: skip
