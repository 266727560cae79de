"""What became of each thing in a real picture, and of the picture's scale, judged without the tool's geometry."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, union_all
from shapely.geometry.base import BaseGeometry

from tests.benchmarks.real_truth import ASK, MEASURED, REFUSE, THING, Lying, RealTruth

Floats = NDArray[np.float64]

# A piece of 100 px a side, read to one px, overlaps itself by 0.96; one edge off by a twentieth of it, by 0.95.
SAME = 0.9
MEANT = 0.5  # two outlines that share so much of all they cover are meant for one thing
NAMED = 0.25  # of a piece that something left out covers, for a person to see which piece is spoken of
# The truths' points are read to a px or two and paper is cut to a millimetre, which together stay below 1 %.
SCALE_OFF = 0.02

RIGHT, WRONG, TAKEN, TOLD = "right", "wrong", "taken for a reference", "named"
LOST, REFUSED, CRASH = "lost", "refused", "crash"
ASKED, UNCHECKED = "asked", "unchecked"


@dataclass(frozen=True)
class Judged:
    """The fate of each lying thing, in its order ("" of those that are no cards), and templates on nothing."""

    fates: Sequence[str]
    made_up: int
    things: int = 0  # measured though no cards

    def count(self, fate: str, lying: Sequence[Lying], *kinds: str) -> int:
        """How many of these kinds met this fate."""
        return sum(own == fate and each.kind in kinds for own, each in zip(self.fates, lying, strict=True))


def judge(
    lying: Sequence[Lying],
    templates: Sequence[Floats],
    left_out: Sequence[Floats],
    references: Sequence[Floats] = (),
) -> Judged:
    """What became of each thing, from the outlines, (n, 2) image px, of templates, things left out, references.

    A piece is "right" where a template overlaps it by more than ``SAME`` (intersection over union) and has as many
    corners; "wrong" where a template was meant for it, alone or with its neighbours; "taken for a reference" where
    the scale comes from it; "named" where something left out covers it; else "lost". A template is made up where
    it was meant for nothing that lies there, or for a piece that has its right template already.
    """
    shapes = [_polygon(each.outline) for each in lying]
    fates = ["" if each.kind == THING else LOST for each in lying]
    measured = [_polygon(outline) for outline in templates]
    meant = [_meant(shape, lying, shapes) for shape in measured]
    for k, each in enumerate(lying):
        if each.kind == THING:
            continue
        if any(
            _overlap(own, shapes[k]) > SAME and len(template) == len(each.outline)
            for own, template in zip(measured, templates, strict=True)
        ):
            fates[k] = RIGHT
        elif any(k in owners for owners in meant):
            fates[k] = WRONG
        elif any(_overlap(_polygon(outline), shapes[k]) >= MEANT for outline in references):
            fates[k] = TAKEN
        elif any(_names(shape, k, lying, shapes) for shape in map(_polygon, left_out) if not shape.is_empty):
            fates[k] = TOLD
    things = sum(any(lying[k].kind == THING for k in owners) for owners in meant)
    return Judged(fates, sum(not owners for owners in meant) + _doubled(fates, meant), things)


def scale_of(truth: RealTruth, distance_mm: float | None, refusal: str = "") -> str:
    """How the picture's scale came out: the known points' distance as measured, or "asked" or "refused".

    ``refusal`` is "" where the tool measured; ``distance_mm`` is None where no distance is known.
    """
    if refusal:
        return refusal
    if truth.known is not None and distance_mm is not None:
        return RIGHT if abs(distance_mm / truth.known.mm - 1) <= SCALE_OFF else WRONG
    return UNCHECKED if truth.expect == MEASURED else WRONG


def as_expected(expect: str, scale: str) -> bool:
    """Whether the scale came out as it should; a right scale is never against it."""
    return scale in {MEASURED: (RIGHT, UNCHECKED), ASK: (RIGHT, ASKED), REFUSE: (RIGHT, REFUSED, ASKED)}[expect]


def _meant(shape: BaseGeometry, lying: Sequence[Lying], shapes: Sequence[BaseGeometry]) -> set[int]:
    """Which things an outline was meant for: the one it shares most with, or all of which it is put together."""
    if shape.is_empty:
        return set()
    alone = [_overlap(shape, other) for other in shapes]
    if alone and max(alone) >= MEANT:
        return {int(np.argmax(alone))}
    cards = {k for k, each in enumerate(lying) if each.kind != THING}
    inside = {k for k in cards if shape.intersection(shapes[k]).area >= MEANT * shapes[k].area}
    together = union_all([shapes[k] for k in inside])
    return inside if shape.intersection(together).area >= MEANT * shape.area else set()


def _names(shape: BaseGeometry, piece: int, lying: Sequence[Lying], shapes: Sequence[BaseGeometry]) -> bool:
    if piece in _meant(shape, lying, shapes):
        return True
    shared = shape.intersection(shapes[piece]).area
    return bool(shared >= NAMED * shapes[piece].area and shared >= MEANT * shape.area)


def _doubled(fates: Sequence[str], meant: Sequence[set[int]]) -> int:
    """Templates too many on pieces that have their right one."""
    owned = [k for owners in meant if len(owners) == 1 for k in owners if fates[k] == RIGHT]
    return len(owned) - len(set(owned))


def _overlap(one: BaseGeometry, other: BaseGeometry) -> float:
    shared = one.intersection(other).area
    whole = one.area + other.area - shared
    return float(shared / whole) if whole > 0 else 0.0


def _polygon(outline: Floats) -> BaseGeometry:
    return Polygon(outline).buffer(0) if len(outline) > 2 else Polygon()
