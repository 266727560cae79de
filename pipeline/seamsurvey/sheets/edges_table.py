"""For every edge of every template: what it can meet, what the adjustment left, what snapping moved."""

from collections.abc import Sequence

from seamsurvey.model import Block, Match
from seamsurvey.sheets.markup import Html, Part, element, joined, table
from seamsurvey.sheets.words import SAME_MM

_SHOWN = 4  # ways to meet that are listed for an edge; the file has the rest


def edges_table(block: Block) -> Html:
    """A part of the report; empty for a block drawn elsewhere."""
    closure = block.closure
    if not closure.edges:
        return joined([])
    rows = [
        [
            f"{fit.template}, edge {fit.edge + 1}",
            f"{fit.measured_mm:.2f}",
            f"{fit.residual_mm:+.2f}",
            _meets([m for m in block.matches if (m.template, m.edge) == (fit.template, fit.edge)]),
        ]
        for fit in closure.edges
    ]
    parts: list[Part] = [
        element("h3", "Every edge, and what it can meet"),
        table(["edge", "measured mm", "off by mm", "can meet"], rows, label="Every edge", numbers=(1, 2)),
    ]
    moved = [one for one in block.snapped if abs(one.to_mm - one.from_mm) >= SAME_MM]
    if moved:
        texts = "; ".join(f"{one.what} {one.from_mm:.2f} to {one.to_mm:.2f} mm" for one in moved)
        parts.append(element("p", f"Rounded to the ruler's lines: {texts}."))
    return joined(parts)


def _meets(matches: Sequence[Match]) -> str:
    if not matches:
        return "nothing: it may lie on the block's side, or a length is wrong"
    shown = [" + ".join(f"{name}, edge {edge + 1}" for name, edge in match.others) for match in matches[:_SHOWN]]
    more = len(matches) - _SHOWN
    return "; ".join(shown) + (f"; and {more} more" if more > 0 else "")
