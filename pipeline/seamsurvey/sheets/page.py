"""What every sheet carries: title, page n of m, scale 1:1, the job's hash, and scale bars in both directions.

Frame: *page* = mm, x right, y up, origin at the paper's lower left corner.
"""

from attrs import frozen

from seamsurvey.sheets.drawing import HAIRLINE, QUIET, Drawing, Mark, Pen, Text, placed, segment
from seamsurvey.sheets.type import cut_short, line_mm, width_mm
from seamsurvey.units import INCH, PAPERS

# Lasers leave up to 4 mm, ink printers up to 7 mm unprinted: half an inch is safe on both.
MARGIN_MM = INCH / 2
HEAD_MM = 17.0
FOOT_MM = 12.0
SIDE_MM = 10.0  # the upright scale bar's strip on the right
NAME_MM = 6.0  # a section's name below it
BAR_MM = 100.0
BAR_INCHES = 4
BAR_BELOW_MM, BAR_ABOVE_MM = 1.6, 4.6

_BAR = Pen(0.25)
_MM_TEXT = "This bar is 100 mm: 99.5 to 100.5 is good."
_INCH_TEXT = "This bar is 4 in: 3 63/64 to 4 1/64 is good."


@frozen
class Region:
    """An upright rectangle of a page, mm."""

    x: float
    y: float
    width: float
    height: float


@frozen(kw_only=True)
class Imprint:
    """What the head of every page of one file says."""

    title: str
    paper: str  # a key of units.PAPERS
    job_hash: str


def body(paper: str) -> Region:
    """The part of a page that is free for drawings, inside margins, head, foot and the upright bar's strip."""
    width, height = PAPERS[paper]
    return Region(
        MARGIN_MM, MARGIN_MM + FOOT_MM, width - 2 * MARGIN_MM - SIDE_MM, height - 2 * MARGIN_MM - HEAD_MM - FOOT_MM
    )


def section_room(paper: str, allowance_mm: float) -> tuple[float, float]:
    """What a page holds of one section, its allowance and its name left out: width and height, mm."""
    region = body(paper)
    return region.width - 2 * allowance_mm, region.height - 2 * allowance_mm - NAME_MM


def sheet(imprint: Imprint, marks: tuple[Mark, ...], *, page: int, pages: int, notes: tuple[str, str]) -> Drawing:
    """One page: the marks with head, foot and scale bars round them. ``notes`` are the head's two quiet lines."""
    width, height = PAPERS[imprint.paper]
    return Drawing(
        width, height, (*_head(imprint, width, height, page=page, pages=pages, notes=notes), *_bars(width), *marks)
    )


def _head(
    imprint: Imprint, width: float, height: float, *, page: int, pages: int, notes: tuple[str, str]
) -> list[Mark]:
    left, right, top = MARGIN_MM, width - MARGIN_MM, height - MARGIN_MM
    count = f"page {page} of {pages}"
    room = right - left - width_mm(count, 9) - 6
    title_y, first_y = top - 4.2, top - 9.2
    second_y = first_y - line_mm(8)
    tag = f"scale 1:1 · job {imprint.job_hash}"
    return [
        Text(
            at=(left, title_y),
            text=cut_short(" ".join(imprint.title.split()), 13, room, "bold"),
            size_pt=13,
            weight="bold",
        ),
        Text(at=(right, title_y), text=count, size_pt=9, anchor="end"),
        Text(at=(left, first_y), text=cut_short(notes[0], 8, right - left - width_mm(tag, 8) - 4), size_pt=8),
        Text(at=(right, first_y), text=tag, size_pt=8, anchor="end", colour=QUIET),
        Text(at=(left, second_y), text=cut_short(notes[1], 8, right - left), size_pt=8, colour=QUIET),
        segment((left, top - HEAD_MM + 2.2), (right, top - HEAD_MM + 2.2), HAIRLINE, "head"),
    ]


def _bars(width: float) -> list[Mark]:
    """Both scale bars: along the foot from the left, and up the right margin from the foot."""
    upright_at = (width - MARGIN_MM - 1.7, MARGIN_MM + FOOT_MM + 2)
    return [
        *placed(scale_bar(), 0, (MARGIN_MM, MARGIN_MM + 3.2)),
        *placed(scale_bar(), 90, upright_at),
    ]


def scale_bar() -> list[Mark]:
    """A lying double bar from the origin, millimetres above, inches 3 mm below, and beside it how long it must be.

    It stands between ``BAR_BELOW_MM`` below the origin and ``BAR_ABOVE_MM`` above it.
    """
    gap = 3.0
    inches = BAR_INCHES * INCH
    marks: list[Mark] = [
        segment((0, gap), (BAR_MM, gap), _BAR, "scale 100 mm"),
        segment((0, 0), (inches, 0), _BAR, "scale 4 in"),
        segment((0, -BAR_BELOW_MM), (0, BAR_ABOVE_MM), _BAR, "scale ticks"),
        segment((BAR_MM, gap - 1.1), (BAR_MM, BAR_ABOVE_MM), _BAR, "scale ticks"),
        segment((inches, 1.1), (inches, -BAR_BELOW_MM), _BAR, "scale ticks"),
    ]
    ticks = [(10.0 * k, gap, gap - (1.4 if k == 5 else 0.9)) for k in range(1, 10)]
    ticks += [(INCH * k / 2, 0, 0.9 if k % 2 else 1.4) for k in range(1, 2 * BAR_INCHES)]
    marks += [segment((x, start), (x, end), _BAR, "scale ticks") for x, start, end in ticks]
    beside = inches + 4
    return [
        *marks,
        Text(at=(beside, 3.1), text=_MM_TEXT, size_pt=7.5),
        Text(at=(beside, -1.0), text=_INCH_TEXT, size_pt=7.5),
    ]
