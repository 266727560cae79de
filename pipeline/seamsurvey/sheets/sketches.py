"""For each page of foundations a small picture of the whole block that shows which of its sections lie there."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np
import shapely
from attrs import frozen
from shapely.geometry.base import BaseGeometry

from seamsurvey.model import Array, Block, FoundationPlan, Place
from seamsurvey.sheets.block_figure import places_of
from seamsurvey.sheets.drawing import HAIR, INK, QUIET, Mark, Pen, Text, placed, polygon
from seamsurvey.sheets.labels import Label, inside
from seamsurvey.sheets.motif import Motif
from seamsurvey.sheets.page import SKETCH_MM, SKETCH_WIDE_MM, Region
from seamsurvey.sheets.seams import at_place, straightened
from seamsurvey.sheets.true_size import MotifPage, Pages
from seamsurvey.sheets.type import cap_mm, line_mm, width_mm
from seamsurvey.unions import united

SIDES_MM = (80.0, 60.0, 45.0, 34.0, 27.0, 21.0)  # tried for the picture's longer side where the page has white
CLEAR_MM = 4.0  # from the papers' cut lines
CLOSE_MM = 2.0  # where there is no room so far off
_STEP_MM = 3.0
_WORDS = ("The block, finished side;", "grey: on this page.")
_ALL = ("The block, finished side.",)  # of which all is on the page
_WORDS_PT = 7.5


@frozen
class PrintedSections:
    """The motifs of all sections, the places each is printed for, and the pages they are laid on."""

    motifs: tuple[tuple[Motif, tuple[Place, ...]], ...]
    pages: Pages


@frozen
class Sketch:
    """One page's picture: in white of the page with its words, else small in the foot's corner."""

    on_page: tuple[Mark, ...] = ()
    in_foot: tuple[Mark, ...] = ()  # drawn leftwards from the origin


def sketches(plan: FoundationPlan, block: Block, sections: PrintedSections, region: Region) -> Iterator[Sketch]:
    """The picture of each page, as large as its white has room for."""
    used: dict[tuple[int, int | None], int] = defaultdict(int)
    for page in sections.pages.pages:
        shown = []
        for one in page.motifs:
            motif, places = sections.motifs[one.index]
            place = places[used[one.index, one.part]]
            used[one.index, one.part] += 1
            seen = shapely.Polygon(one.shown).intersection(shapely.Polygon(motif.outline))
            shown += [
                (place.name, at_place((np.asarray(part.exterior.coords)[:-1] * np.array([-1.0, 1.0]))[::-1], place))
                for part in getattr(seen, "geoms", [seen])
                if part.geom_type == "Polygon" and not part.is_empty
            ]
        yield _sketch(plan, block, shown, page, region)


def _sketch(
    plan: FoundationPlan, block: Block, shown: Sequence[tuple[str, Array]], page: MotifPage, region: Region
) -> Sketch:
    there = {name for name, _ in shown}
    every = all(
        name in there and _covered(outline, [o for n, o in shown if n == name])
        for name, outline in places_of(plan).items()
    )
    words = _ALL if every else _WORDS
    shown = () if every else shown
    words_wide = max(width_mm(line, _WORDS_PT) for line in words)
    below = len(words) * line_mm(_WORDS_PT) + 1.0
    for clear, side in product((CLEAR_MM, CLOSE_MM), SIDES_MM):
        scale = side / max(block.width, block.height)
        wide, high = max(block.width * scale, words_wide), block.height * scale + below
        at = free_place(page.taken, region, wide, high, clear)
        if at is not None:
            marks = [*placed(_marks(plan, block, shown, scale), 0, (at[0], at[1] + below))]
            for k, line in enumerate(words):
                y = at[1] + below - 1.2 - cap_mm(_WORDS_PT) - k * line_mm(_WORDS_PT)
                marks.append(Text(at=(at[0], y), text=line, size_pt=_WORDS_PT, colour=QUIET, layer="sketch"))
            return Sketch(on_page=tuple(marks))
    scale = min(SKETCH_MM / block.height, SKETCH_WIDE_MM / block.width)
    return Sketch(in_foot=placed(_marks(plan, block, shown, scale), 0, (-block.width * scale, 0.0)))


def free_place(
    taken: BaseGeometry, region: Region, wide: float, high: float, clear: float = CLEAR_MM
) -> tuple[float, float] | None:
    """The lower left of a box in what is free of a region, the lowest, then rightmost; None where there is none."""
    xs = np.arange(region.x + region.width - wide, region.x, -_STEP_MM)
    ys = np.arange(region.y, region.y + region.height - high, _STEP_MM)
    x, y = (grid.ravel() for grid in np.meshgrid(xs, ys))
    around = taken.buffer(clear, join_style="mitre")
    shapely.prepare(around)
    free = np.flatnonzero(~shapely.intersects(around, shapely.box(x, y, x + wide, y + high)))
    return (float(x[free[0]]), float(y[free[0]])) if len(free) else None


def _marks(plan: FoundationPlan, block: Block, shown: Sequence[tuple[str, Array]], scale: float) -> list[Mark]:
    """The block from the finished side, what is shown filled, its sections lettered where a letter has room."""
    letters = {place.name: section.name for section in plan.sections for place in section.places}
    marks: list[Mark] = [polygon(outline * scale, fill=QUIET, layer="sketch") for _, outline in shown]
    whole = {name for name, outline in shown}
    for name, outline in places_of(plan).items():
        marks.append(polygon(outline * scale, pen=Pen(0.13, HAIR), layer="sketch"))
        filled = name in whole and _covered(outline, [o for n, o in shown if n == name])
        letter = inside(outline * scale, Label(letters[name], "", 9.0), "#ffffff" if filled else INK)
        if letter and (filled or name not in whole):
            marks += letter[0]
    marks.append(polygon(straightened(block.outline) * scale, pen=Pen(0.25, QUIET), layer="sketch"))
    return marks


def _covered(outline: Array, parts: Sequence[Array]) -> bool:
    """Whether parts cover all of a section, so that its letter stands on grey."""
    area = united(shapely.Polygon(part) for part in parts).area
    return bool(area > 0.99 * shapely.Polygon(outline).area)
