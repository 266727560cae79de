"""What is known of the allowance before any is tried: what the person said, and what is drawn on the cards."""

from collections.abc import Mapping, Sequence

import numpy as np
from attrs import frozen

from seamsurvey.errors import UndecidedError, command
from seamsurvey.model import TemplateSet
from seamsurvey.templates.hypotheses import USUAL_MM, allowance_text, how_usual, option_text
from seamsurvey.templates.seam_line import SeamLine
from seamsurvey.units import mm_text

GIVEN, SEAM_LINE, DECIDED, PRINTED, OPEN = "given", "seam line", "decided", "printed", "open"
WINDOW, CARD = "window", "card"

_SHARE_DRAWN = 0.5  # seam lines are drawn on a whole set; a frame or a row of figures only here and there
_NEAR_MM = 0.4  # a line drawn by hand along a ruler lies this near to where it was meant
_PRINTED_MM = 0.08  # a printed line lies this near to where it was meant; 1/4 in at 98.5 % is 0.1 mm off
_MOST_PRINT_SCALE = 0.1  # pages made to fit another paper are off by a few percent; more is another allowance
_TOLD_APART_MM = 0.1  # the middle of a set's lines is known to half of this and better


@frozen
class Allowance:
    """``mm`` is taken off every edge; ``source`` as in Template.allowance_from."""

    mm: float
    source: str
    warnings: tuple[str, ...] = ()


def drawn_allowances(seam_lines: Mapping[str, SeamLine | None], *, printed: bool = False) -> tuple[Allowance, ...]:
    """What seam lines may mean, drawn on half of the templates or more at one distance; the usual one first.

    Two where the lines lie midway between two usual allowances (6 mm and 1/4 in, say): edges and block may tell
    them apart, else the usual one is meant. None where no such lines are drawn. ``printed``: on a page, where they
    lie as they were meant to, or all off alike.
    """
    drawn = {name: line for name, line in seam_lines.items() if line is not None}
    if not drawn:
        return ()
    middle = float(np.median([line.distance_mm for line in drawn.values()]))
    alike = {name: line for name, line in drawn.items() if abs(line.distance_mm - middle) < 2 * _NEAR_MM}
    if len(alike) < _SHARE_DRAWN * len(seam_lines):
        return ()
    distance = float(np.median([line.distance_mm for line in alike.values()]))
    if printed:
        return (_on_the_page(distance, list(alike), [name for name in seam_lines if name not in alike]),)
    usual, next_usual = sorted(USUAL_MM[1:], key=lambda mm: abs(mm - distance))[:2]
    between = (
        abs(next_usual - distance) - abs(usual - distance) < _TOLD_APART_MM
        and abs(next_usual - distance) < _NEAR_MM
    )
    near = max(_NEAR_MM, float(np.median([line.u_mm for line in alike.values()])))
    meant: tuple[float, ...] = (usual,) if abs(usual - distance) <= near else (round(distance, 1),)
    if between:
        meant = (usual, next_usual) if how_usual(usual) >= how_usual(next_usual) else (next_usual, usual)
    return tuple(
        Allowance(
            mm, SEAM_LINE, (_drawn_text(distance, list(alike), mm, [other for other in meant if other != mm]),)
        )
        for mm in meant
    )


def _drawn_text(distance_mm: float, names: list[str], mm: float, others: list[float]) -> str:
    nearly = f" ({allowance_text(others[0])} would lie as near)" if others else ""
    return (
        f"A line is drawn {mm_text(distance_mm)} inside the edges of {_listed(names)}. It was taken for the seam"
        f" line, and {allowance_text(mm)} for the allowance{nearly}. If the edge is the seam, run again with"
        f" --allowance none; if the allowance is another, say it: --allowance {option_text(mm)}."
    )


def _on_the_page(distance_mm: float, names: list[str], others: list[str]) -> Allowance:
    nearest = min(USUAL_MM[1:], key=lambda mm: abs(mm - distance_mm))
    mm = nearest if abs(nearest - distance_mm) < _PRINTED_MM else round(distance_mm, 2)
    # A page is made smaller to fit the paper, hardly ever larger.
    usual = min((each for each in USUAL_MM[1:] if each > distance_mm), default=nearest)
    share = distance_mm / usual
    text = (
        f"A seam line is printed {mm_text(distance_mm, 2)} inside the cut lines of {_listed(names)}. It was"
        " taken for the finished outline as it stands. If the outer line is the seam, run again with --allowance"
        " none."
    )
    said = [text]
    if others:
        said.append(
            f"No seam line was found inside {_listed(others)}: {allowance_text(mm)} was taken off there as well. If"
            " that is wrong, say the template's own allowance in job.toml."
        )
    if mm == nearest or abs(share - 1) > _MOST_PRINT_SCALE:
        return Allowance(mm, SEAM_LINE, tuple(said))
    off = (
        f"A printed allowance is usually {allowance_text(usual)}. If that was meant, the page was printed at"
        f" {share:.1%} of its size, and so is every length on it: print it again at 100 %, or say the block's true"
        " size with --finish."
    )
    return Allowance(mm, SEAM_LINE, (*said, off))


def window_allowance(frames: Mapping[str, SeamLine | None]) -> Allowance:
    """Of a set of frames: each card's inner outline is the finished one, whatever the frame's width."""
    widths = [frame.distance_mm for frame in frames.values() if frame is not None]
    text = (
        f"The templates are frames, {mm_text(float(np.median(widths)))} wide, with a window cut out: the window is"
        " the finished outline."
    )
    return Allowance(round(float(np.median(widths)), 1), WINDOW, (text,))


def given_allowance(given_mm: float, seam_lines: Mapping[str, SeamLine | None]) -> Allowance:
    """What was given, with a warning for every line that is drawn elsewhere."""
    warnings = [
        f"A line is drawn {mm_text(line.distance_mm)} (± {mm_text(line.u_mm)}) inside {name}'s edges, but the"
        f" allowance given is {mm_text(given_mm, 2)}: check which of the two is right."
        for name, line in seam_lines.items()
        if line is not None and abs(line.distance_mm - given_mm) > max(line.u_mm, 2 * _NEAR_MM)
    ]
    return Allowance(given_mm, GIVEN, tuple(warnings))


def written_allowance(told: float | str | None, drawn: Sequence[Allowance]) -> Allowance | None:
    """What stands on the cards (mm, 0 for none), if it is not at odds with a line ``drawn`` on them."""
    if not isinstance(told, float):
        return None
    if drawn:
        return next((each for each in drawn if abs(each.mm - told) < _TOLD_APART_MM), None)
    what = f"carry an allowance of {allowance_text(told)}, which was taken off" if told else "are finished size"
    text = (
        f"The templates {what}: so it is written on their cards. If that is wrong, say what is right: --allowance"
        f" {'1/4in (or what it is)' if not told else 'none'}."
    )
    return Allowance(told, CARD, (text,))


def open_allowance(seam_lines: Mapping[str, SeamLine | None], trimmed: Mapping[str, list[int]]) -> Allowance:
    """None taken off, and what speaks against it."""
    drawn = {name: line for name, line in seam_lines.items() if line is not None}
    return Allowance(0.0, OPEN, (_nobody_said(), *_lone_lines(drawn), *_tips_warnings(trimmed)))


def finished_outlines() -> Allowance:
    """What printed outlines are that have no seam line inside: finished size, and a warning says so."""
    text = (
        "No seam line is drawn inside the printed outlines: they were taken for the finished size. If they are cut"
        " lines, run again with --allowance 1/4in (or what it is)."
    )
    return Allowance(0.0, PRINTED, (text,))


def refuse_open(templates: TemplateSet, allowance_mm: float | None, job: str) -> None:
    """UndecidedError ``allowance-unclear`` where a block is asked for of templates whose allowance is open.

    With ``allowance_mm`` 0 a person has said that they are finished size, as they were measured.
    """
    if allowance_mm == 0 or all(template.allowance_from != OPEN for template in templates.templates):
        return
    raise UndecidedError(
        "allowance-unclear",
        "Nobody said whether the templates carry an allowance, and nothing in them decides it.",
        where="; ".join(warning for warning in templates.warnings if "allowance" in warning),
        likely="Lay one template on a finished patch of a quilt, or look at its tips: with an allowance they are"
        " often cut off squarely.",
        todo="Say it, with 1/4in or what it is in place of none where they carry one: "
        f"{command('convert', '--into', job, '--allowance', 'none')}",
    )


def _listed(names: list[str]) -> str:
    few = names[:4]
    more = f" and {len(names) - len(few)} more" if len(names) > len(few) else ""
    return ", ".join(few) + more


def _nobody_said() -> str:
    return (
        "No allowance was given, so these are the sizes as the templates were cut. If they carry an allowance, the"
        " finished sizes are smaller: run again with --allowance 1/4in (or what it is), or with --allowance none to"
        " say that there is none."
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
