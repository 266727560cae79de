"""For every edge of every template: what it can meet, what the adjustment left, what snapping moved."""

from collections.abc import Sequence

from seamsurvey.model import Block, Match
from seamsurvey.sheets.markup import Html, Part, element, joined, table

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
        element("h3", "Edges"),
        element(
            "p",
            f"The layout needs {closure.conditions} agreements of lengths and angles. Misfits as large as these "
            f"come about with a probability of {closure.p_value:.3f} if the stated uncertainties are right.",
        ),
        table(["edge", "measured mm", "off by mm", "can meet"], rows, numbers=(1, 2)),
    ]
    if block.snapped:
        moved = "; ".join(f"{one.what} {one.from_mm:.2f} to {one.to_mm:.2f} mm" for one in block.snapped)
        parts.append(element("p", f"Set to the grid: {moved}."))
    if block.prior:
        prior = block.prior
        parts.append(
            element(
                "p",
                f"{prior.meeting_points} meeting points, {prior.straight_runs} straight runs, "
                f"{prior.balance_mm:.1f} mm out of balance.",
            )
        )
    return joined(parts)


def _meets(matches: Sequence[Match]) -> str:
    if not matches:
        return "nothing: it may lie on the block's side, or a length is wrong"
    shown = [" + ".join(f"{name}, edge {edge + 1}" for name, edge in match.others) for match in matches[:_SHOWN]]
    more = len(matches) - _SHOWN
    return "; ".join(shown) + (f"; and {more} more" if more > 0 else "")
