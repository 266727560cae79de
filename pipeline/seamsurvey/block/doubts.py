"""What a person is told of a block that fits less well than it was measured, or whose size is hardly known."""

import math

from seamsurvey.block.close import Closed
from seamsurvey.units import INCH, doubt_text, fraction_text, mm_text

DOUBTFUL = 1e-3  # p-value of the global test: below it the misfit is no chance
# Of a block's side: more shows where blocks are sewn to one another (common practice, no source).
_SEEN_MM = INCH / 8
_SAME_MM = 0.5  # no other size


def fit_doubt(closed: Closed) -> tuple[str, ...]:
    """That the pieces miss one another by more than they were measured to; nothing where they don't."""
    if closed.p_value >= DOUBTFUL:
        return ()
    closure = closed.closure
    blame = (
        closure.suspect_edges[0].text
        if closure.suspect_edges
        else "No single edge explains it; the cards may be cut less truly than they were measured."
    )
    return (
        f"The pieces fit less well than they were measured: corners are {closure.rms_mm:.2f} mm off on average, "
        f"{closure.sigma0:.1f} times what the ± of the lengths allows. {blame}",
    )


def size_doubt(width_mm: float, u_mm: float) -> tuple[str, ...]:
    """That a block so wide is hardly known in size, ± ``u_mm``, and which whole inches it may be as well."""
    if u_mm <= _SEEN_MM:
        return ()
    low, high = (math.ceil((width_mm - u_mm) / INCH), math.floor((width_mm + u_mm) / INCH))
    may_be = [k * INCH for k in range(low, high + 1) if abs(k * INCH - width_mm) > _SAME_MM]
    nearest = min(may_be, key=lambda mm: abs(mm - width_mm), default=None)
    other = f" {fraction_text(nearest)} ({mm_text(nearest)}) fits what was measured as well." if nearest else ""
    known = f" ({fraction_text(nearest).replace(' ', '')}, say)" if nearest else ""
    return (
        f"How wide the block is, {mm_text(width_mm)}, is known to ± {doubt_text(u_mm)} only.{other} Say its"
        f" finished size, --finish, if you know it{known}; else take the picture again from nearer, or with a"
        " longer ruler.",
    )
