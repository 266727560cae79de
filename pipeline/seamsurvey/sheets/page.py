"""What every sheet carries: title, page n of m, scale 1:1, the job's hash, and scale bars in both directions.

Frame: *page* = mm as it will lie on the paper, x right, y up. For a printer that does not print true the page is
drawn the other way about (``print_scale``), so that what is printed is true again.
"""

import attrs
import numpy as np
from attrs import frozen

from seamsurvey.sheets.drawing import HAIRLINE, QUIET, Drawing, Line, Mark, Pen, Text, placed, segment
from seamsurvey.sheets.type import cut_short, width_mm
from seamsurvey.units import INCH, SHEET_SIZES

# Foot and side keep cut lines 5 mm clear of the scale bars, and leave room for two rows of 4 1/2 in papers and two
# columns of 3 1/2 in ones on Letter.
# Lasers leave up to 4 mm, ink printers up to 7 mm unprinted: half an inch is safe on both.
MARGIN_MM = INCH / 2
HEAD_MM = 10.1
FOOT_MM = 12.5
SIDE_MM = 8.9  # the upright scale bar's strip on the right
BAR_MM = 100.0
BAR_INCHES = 4
BAR_GAP_MM = 1.2  # between the bar in millimetres and the one in inches
BAR_BELOW_MM, BAR_ABOVE_MM = 1.2, BAR_GAP_MM + 1.2
SKETCH_MM = 11.5  # height of a small picture in the foot's right corner
SKETCH_WIDE_MM = 18.0  # and its width, at most
PAGE = "\u2007\u2007"  # stands in a text for the number of the page it is printed on: two blanks as wide as digits

_BAR = Pen(0.25)
_MM_TEXT = "This bar is 100 mm: 99.5 to 100.5 is good."
_INCH_TEXT = "This bar is 4 in: 3 63/64 to 4 1/64 is good."
_PRINT = "Print at 100 %, not fitted to the page."
_BAR_TEXT_PT = 7.5


@frozen
class Region:
    """An upright rectangle of a page, mm."""

    x: float
    y: float
    width: float
    height: float


@frozen(kw_only=True)
class Imprint:
    """What the head of every page of one file says.

    ``print_scale`` is how long the printer makes what should be 1, across and up the page.
    """

    title: str
    paper: str  # a key of units.SHEET_SIZES
    job_hash: str
    print_scale: tuple[float, float] = (1.0, 1.0)


def printed_size(paper: str, print_scale: tuple[float, float] = (1.0, 1.0)) -> tuple[float, float]:
    """Width and height of what can be drawn on, as printed: the page, smaller where the printer shrinks it."""
    width, height = SHEET_SIZES[paper]
    return width * min(1.0, print_scale[0]), height * min(1.0, print_scale[1])


def body(paper: str, print_scale: tuple[float, float] = (1.0, 1.0)) -> Region:
    """The part of a page that is free for drawings, inside margins, head, foot and the upright bar's strip."""
    width, height = printed_size(paper, print_scale)
    return Region(
        MARGIN_MM, MARGIN_MM + FOOT_MM, width - 2 * MARGIN_MM - SIDE_MM, height - 2 * MARGIN_MM - HEAD_MM - FOOT_MM
    )


def text_body(paper: str, print_scale: tuple[float, float] = (1.0, 1.0)) -> Region:
    """The part of a page without scale bars that is free, inside margins and head."""
    width, height = printed_size(paper, print_scale)
    return Region(MARGIN_MM, MARGIN_MM, width - 2 * MARGIN_MM, height - 2 * MARGIN_MM - HEAD_MM - 2.0)


def section_room(
    paper: str, allowance_mm: float, print_scale: tuple[float, float] = (1.0, 1.0)
) -> tuple[float, float]:
    """What a page holds of one section, its allowance left out: width and height, mm."""
    region = body(paper, print_scale)
    return region.width - 2 * allowance_mm, region.height - 2 * allowance_mm


def sheet(
    imprint: Imprint, marks: tuple[Mark, ...], *, page: int, pages: int, note: str, sketch: tuple[Mark, ...] = (),
    true: bool = True, head: bool = True,
) -> Drawing:  # fmt: skip
    """One page: the marks with head, foot and scale bars round them.

    ``note`` is the head's quiet line; ``sketch`` a small picture for the foot's right corner, drawn leftwards and
    upwards from the origin, at most ``SKETCH_MM`` high and ``SKETCH_WIDE_MM`` wide. A page with
    nothing at ``true`` size has no bars, a cover no ``head``.
    """
    width, height = printed_size(imprint.paper, imprint.print_scale)
    corner = (width - MARGIN_MM - SIDE_MM, MARGIN_MM + 0.2)
    drawn = (
        *(_head(imprint, width, height, page=page, pages=pages, note=note, true=true) if head else ()),
        *(_foot() if true else ()),
        *(placed(scale_bar(), 90, (width - MARGIN_MM - BAR_BELOW_MM, MARGIN_MM + FOOT_MM)) if true else ()),
        *placed(sketch, 0, corner),
        *(_numbered(mark, page) for mark in marks),
    )
    return Drawing(*SHEET_SIZES[imprint.paper], _compensated(drawn, imprint))


def _compensated(marks: tuple[Mark, ...], imprint: Imprint) -> tuple[Mark, ...]:
    """The marks stretched about the page's middle by what the printer shrinks them."""
    if imprint.print_scale == (1.0, 1.0):
        return marks
    stretch = 1 / np.array(imprint.print_scale)
    middle = np.array(SHEET_SIZES[imprint.paper]) / 2
    drawn_about = np.array(printed_size(imprint.paper, imprint.print_scale)) / 2

    def one(mark: Mark) -> Mark:
        if isinstance(mark, Line):
            return attrs.evolve(mark, points=(mark.points - drawn_about) * stretch + middle)
        x, y = (np.asarray(mark.at) - drawn_about) * stretch + middle
        return attrs.evolve(mark, at=(float(x), float(y)))

    return tuple(map(one, marks))


def _head(
    imprint: Imprint, width: float, height: float, *, page: int, pages: int, note: str, true: bool
) -> list[Mark]:
    left, right, top = MARGIN_MM, width - MARGIN_MM, height - MARGIN_MM
    x, y = imprint.print_scale
    made_up = "" if (x, y) == (1, 1) else f"makes up for a printer of {_percent(x)} across, {_percent(y)} up · "
    scale = f"{made_up}scale 1:1 · " if true else ""
    tag = f"page {page} of {pages} · {scale}job {imprint.job_hash}"
    room = right - left - width_mm(tag, 8.5) - 6
    title_y, note_y = top - 3.4, top - 7.6
    return [
        Text(
            at=(left, title_y),
            text=cut_short(" ".join(imprint.title.split()), 12, room, "bold"),
            size_pt=12,
            weight="bold",
        ),
        Text(at=(right, title_y), text=tag, size_pt=8.5, anchor="end", colour=QUIET),
        Text(at=(left, note_y), text=cut_short(note, 8, right - left), size_pt=8),
        segment((left, top - 9.2), (right, top - 9.2), HAIRLINE, "head"),
    ]


def _numbered(mark: Mark, page: int) -> Mark:
    """The mark with the page's number where it has a place for that."""
    if isinstance(mark, Text) and PAGE in mark.text:
        return attrs.evolve(mark, text=mark.text.replace(PAGE, str(page)))
    return mark


def _foot() -> tuple[Mark, ...]:
    """The lying scale bar from the left, and what to do with it."""
    advice = Text(at=(BAR_INCHES * INCH + 4, -3.7), text=_PRINT, size_pt=_BAR_TEXT_PT, weight="bold")
    return placed([*scale_bar(), advice], 0, (MARGIN_MM, MARGIN_MM + 4.0))


def _percent(scale: float) -> str:
    return f"{100 * scale:.2f}".rstrip("0").rstrip(".") + " %"


def scale_bar() -> list[Mark]:
    """A lying double bar from the origin, millimetres above, inches below, and beside it how long it must be.

    It stands between ``BAR_BELOW_MM`` below the origin and ``BAR_ABOVE_MM`` above it.
    """
    gap = BAR_GAP_MM
    inches = BAR_INCHES * INCH
    marks: list[Mark] = [
        segment((0, gap), (BAR_MM, gap), _BAR, "scale 100 mm"),
        segment((0, 0), (inches, 0), _BAR, "scale 4 in"),
        segment((0, -BAR_BELOW_MM), (0, BAR_ABOVE_MM), _BAR, "scale ticks"),
        segment((BAR_MM, gap), (BAR_MM, BAR_ABOVE_MM), _BAR, "scale ticks"),
        segment((inches, 0), (inches, -BAR_BELOW_MM), _BAR, "scale ticks"),
    ]
    ticks = [(10.0 * k, gap, gap + (1.0 if k == 5 else 0.7)) for k in range(1, 10)]
    ticks += [(INCH * k / 2, 0, -0.7 if k % 2 else -1.0) for k in range(1, 2 * BAR_INCHES)]
    marks += [segment((x, start), (x, end), _BAR, "scale ticks") for x, start, end in ticks]
    beside = inches + 4
    return [
        *marks,
        Text(at=(beside, 2.1), text=_MM_TEXT, size_pt=_BAR_TEXT_PT),
        Text(at=(beside, -0.8), text=_INCH_TEXT, size_pt=_BAR_TEXT_PT),
    ]
