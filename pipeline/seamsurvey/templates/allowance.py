"""Whether the templates carry an allowance: what the person said, against what is drawn on the cards."""

from collections.abc import Mapping

import numpy as np
from attrs import frozen

from seamsurvey.errors import UndecidedError
from seamsurvey.templates.seam_line import SeamLine
from seamsurvey.units import INCH, fraction_text, mm_text

# In use: 1/4 in everywhere; 3/16 and 1/8 in in old patterns; 6, 7 and 10 mm where inches are not used.
USUAL_MM = (INCH / 4, INCH * 3 / 16, INCH / 8, 6.0, 7.0, 10.0)
_SHARE_DRAWN = 0.5  # seam lines are drawn on a whole set; a frame or a row of figures only here and there
_NEAR_MM = 0.4  # a line drawn by hand along a ruler lies this near to where it was meant


@frozen
class Allowance:
    """``mm`` is taken off every edge; ``source`` as in Template.allowance_from."""

    mm: float
    source: str
    warnings: tuple[str, ...] = ()


def decide_allowance(
    given_mm: float | None, seam_lines: Mapping[str, SeamLine | None], trimmed: Mapping[str, list[int]]
) -> Allowance:
    """The allowance of a set, from what was given, the lines drawn inside the templates, and their tips.

    ``trimmed``: by template, the edges that look like trimmed tips. UndecidedError ``allowance-unclear`` when
    nothing was given and a line is drawn on half of them or more: a finished size that may be wrong by twice its
    distance is no result.
    """
    drawn = {name: line for name, line in seam_lines.items() if line is not None}
    if given_mm is None:
        usual = float(np.median([line.distance_mm for line in drawn.values()])) if drawn else 0.0
        alike = {name: line for name, line in drawn.items() if abs(line.distance_mm - usual) < 2 * _NEAR_MM}
        if len(alike) >= _SHARE_DRAWN * len(seam_lines):
            raise _unclear(alike)
        return Allowance(0.0, "assumed none", (_assumed(), *_lone_lines(drawn), *_tips_warnings(trimmed)))
    warnings = [
        f"A line is drawn {mm_text(line.distance_mm)} (± {mm_text(line.u_mm)}) inside {name}'s edges, but the"
        f" allowance given is {mm_text(given_mm, 2)}: check which of the two is right."
        for name, line in drawn.items()
        if abs(line.distance_mm - given_mm) > max(line.u_mm, 2 * _NEAR_MM)
    ]
    return Allowance(given_mm, "given", tuple(warnings))


def _assumed() -> str:
    return (
        "No allowance was given, so the templates are taken for finished size. If they carry one, every size here"
        " is too large: run again with --allowance 1/4in (or what it is), or with --allowance none to say that"
        " there is none."
    )


def _lone_lines(drawn: Mapping[str, SeamLine]) -> tuple[str, ...]:
    return tuple(
        f"A line seems to be drawn {mm_text(line.distance_mm)} (± {mm_text(line.u_mm)}) inside {name}'s edges,"
        " but not on most of the others: it was not taken for a seam line."
        for name, line in drawn.items()
    )


def _tips_warnings(trimmed: Mapping[str, list[int]]) -> tuple[str, ...]:
    names = [name for name, edges in trimmed.items() if edges]
    if not names:
        return ()
    return (
        f"{', '.join(names)}: a short edge cuts off a sharp tip squarely, as it is done on templates with an"
        " allowance. Here it was kept as an edge.",
    )


def _unclear(drawn: Mapping[str, SeamLine]) -> UndecidedError:
    name, line = next(iter(drawn.items()))
    distance = float(np.median([each.distance_mm for each in drawn.values()]))
    usual = min(USUAL_MM, key=lambda mm: abs(mm - distance))
    option = f"{distance:.1f}mm"
    if abs(usual - distance) <= max(_NEAR_MM, line.u_mm):
        inches = fraction_text(usual, 16)
        is_inches = abs(usual - round(usual / INCH * 16) * INCH / 16) < 1e-9
        option = inches.replace(" ", "") if is_inches else f"{usual:g}mm"
    others = f" (and on {len(drawn) - 1} more)" if len(drawn) > 1 else ""
    return UndecidedError(
        "allowance-unclear",
        f"A line is drawn {mm_text(line.distance_mm)} (± {mm_text(line.u_mm)}) inside {name}'s edges{others}:"
        " is that the seam line?",
        likely="Then the templates carry an allowance, and their finished size is the line's, not the edge's.",
        todo=f"Run again with --allowance {option} if it is, or with --allowance none if the edge is the seam.",
    )
