"""Motifs on pages: what fits is laid close together, what is larger than a page is parted first."""

import math
from collections.abc import Sequence

import numpy as np
import shapely
from attrs import frozen
from shapely.geometry.base import BaseGeometry

from seamsurvey.geometry import rotation
from seamsurvey.model import Array
from seamsurvey.sheets.drawing import Mark
from seamsurvey.sheets.lay import TRIALS, Laid, Turns, Way, fits, lay
from seamsurvey.sheets.motif import Figure, Motif, figure, shifted
from seamsurvey.sheets.page import Region
from seamsurvey.sheets.parts import QUARTERS, Parting, base_turns, largest_parts, part_figure, partings


@frozen
class OnPage:
    """A motif on a page: which of those given, and the part of it that is shown, in the motif's own frame."""

    index: int
    shown: Array  # (n, 2)
    part: int | None  # from 0, where it is parted


@frozen
class MotifPage:
    """One page of motifs."""

    marks: tuple[Mark, ...]
    motifs: tuple[OnPage, ...]
    taken: BaseGeometry  # all that is covered


@frozen
class Pages:
    """All pages, and how each motif that is larger than a page was parted."""

    pages: tuple[MotifPage, ...]
    parted: dict[int, Parting]  # by the motif's index


def pages_of(motifs: Sequence[tuple[Motif, int]], region: Region, *, trials: int = TRIALS) -> Pages:
    """Every motif as often as its number says, on as few pages as were found in so many trials."""
    area = sum(shapely.Polygon(motif.cut).area * number for motif, number in motifs)
    least = max(1, math.ceil(area / (region.width * region.height) - 1e-9))
    figures = _Figures([motif for motif, _ in motifs])
    owners = [k for k, (_, number) in enumerate(motifs) for _ in range(number)]
    rigid: set[int] = set()
    while True:
        items, parted = _items(motifs, region, rigid, figures)
        laid = lay(items, region, least=least, trials=trials)
        # Figures with labels beside them need more room than their outline: they are laid as they are then, at
        # quarter turns.
        grown = {
            owners[one.item]
            for page in laid
            for one in page
            if owners[one.item] not in parted and figures.is_grown(owners[one.item], one.turn)
        } - rigid
        if not grown:
            break
        rigid |= grown
    pages = []
    for page in laid:
        marks: list[Mark] = []
        shown, taken = [], []
        for one in page:
            k = owners[one.item]
            parting = parted[k][one.way] if k in parted else None
            made = figures.part(k, parting, one) if parting else figures.whole(k, one.turn)
            marks += shifted(made.marks, one.shift)
            shown.append(_on_page(k, motifs[k][0], one, parting))
            taken.append(shapely.affinity.translate(made.footprint, *one.shift))
        pages.append(MotifPage(tuple(marks), tuple(shown), shapely.union_all(taken)))
    ways = {owners[one.item]: one.way for page in laid for one in page}
    return Pages(tuple(pages), {k: found[ways[k]] for k, found in parted.items()})


class _Figures:
    """The figures of motifs, each made once."""

    def __init__(self, motifs: Sequence[Motif]) -> None:
        self._motifs = motifs
        self._whole: dict[tuple[int, float], Figure] = {}
        self._largest: dict[tuple[int, int], list[int]] = {}

    def whole(self, k: int, turn: float) -> Figure:
        """A whole motif at a turn."""
        if (k, turn) not in self._whole:
            self._whole[k, turn] = figure(self._motifs[k], turn)
        return self._whole[k, turn]

    def is_grown(self, k: int, turn: float) -> bool:
        """Whether something of the figure stands beside its outline."""
        return self.whole(k, turn).footprint.area > shapely.Polygon(self._motifs[k].cut).area * (1 + 1e-9)

    def part(self, k: int, parting: Parting, one: Laid) -> Figure:
        """A part of a motif as it is laid."""
        if (k, one.way) not in self._largest:
            self._largest[k, one.way] = largest_parts(self._motifs[k], parting)
        return part_figure(self._motifs[k], parting, one.part, one.turn, self._largest[k, one.way])


def _items(
    motifs: Sequence[tuple[Motif, int]], region: Region, rigid: set[int], figures: _Figures
) -> tuple[list[Sequence[Way]], dict[int, list[Parting]]]:
    """What is laid, each copy by itself, and the ways to part each motif that no turn lets fit."""
    items: list[Sequence[Way]] = []
    parted: dict[int, list[Parting]] = {}
    for k, (motif, number) in enumerate(motifs):
        fitting: Turns = _fitting(_outlines(motif), region)
        if k in rigid:
            fitting = _fitting({float(q): figures.whole(k, q).footprint for q in QUARTERS}, region) or fitting
        item: Sequence[Way] = [[fitting]]
        if not fitting:
            parted[k] = partings(motif.cut, region)
            item = [[_quarters(shape) for shape in parting.shapes] for parting in parted[k]]
        items += [item] * number
    return items, parted


def _outlines(motif: Motif) -> Turns:
    """The motif's outline at all turns it may be laid in."""
    turns = [base + quarter for base in base_turns(motif.cut) for quarter in QUARTERS]
    return {turn: shapely.Polygon(motif.cut @ rotation(turn).T) for turn in turns}


def _fitting(turns: Turns, region: Region) -> Turns:
    return {turn: shape for turn, shape in turns.items() if fits(shape, region)}


def _quarters(shape: BaseGeometry) -> Turns:
    return {float(quarter): _turned(shape, quarter) for quarter in QUARTERS}


def _turned(shape: BaseGeometry, turn_deg: float) -> BaseGeometry:
    matrix = rotation(turn_deg).T
    return shapely.transform(shape, lambda points: points @ matrix)


def _on_page(k: int, motif: Motif, one: Laid, parting: Parting | None) -> OnPage:
    if parting is None:
        return OnPage(k, motif.cut, None)
    shape = max(getattr(parting.shapes[one.part], "geoms", [parting.shapes[one.part]]), key=lambda part: part.area)
    return OnPage(k, np.asarray(shape.exterior.coords)[:-1] @ rotation(parting.turn_deg), one.part)
