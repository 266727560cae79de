"""The graduated edges of every straight ruler in a picture, and what each may stand for."""

from collections.abc import Sequence
from functools import cache
from typing import Any

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.light import linear_luminance
from seamsurvey.photo.combs import Comb, find_combs
from seamsurvey.photo.figures import every_other_figure
from seamsurvey.photo.graduation import Reading, is_sure, read_graduation
from seamsurvey.photo.ridges import Ridges, find_ridges
from seamsurvey.photo.strokes import directions, find_strokes
from seamsurvey.photo.windows import Window, looks

# Marks are looked for at the picture's own resolution and at halves of it: a line of any width is 1 to 5 px
# wide on one of them.
FINEST_PIXELS = 25_000_000
COARSEST_SIDE = 500
LEVELS = 2
BAND_ROWS = 512

MAX_UNEVEN_STEPS = 0.06  # rms of the marks' places, in steps; the worst wooden ruler at hand has 0.015
SAME_EDGE_STEPS = 2.5  # combs closer than this, one beside the other, are two sights of the same marks
SAME_DIRECTION_DEG = 2.0


@frozen(eq=False)
class GraduatedEdge:
    """A comb, in the picture's pixels, and the readings its marks' lengths allow (none: an unknown comb)."""

    comb: Comb
    readings: tuple[Reading, ...]

    @property
    def marks(self) -> int:
        """How many marks were found."""
        return len(self.comb.index)

    @property
    def step(self) -> float:
        """Px from one mark to the next."""
        return self.comb.step

    @property
    def is_sure(self) -> bool:
        """Whether the marks' lengths tell all but the unit."""
        return is_sure(self.readings)


def find_graduated_edges(pixels: NDArray[Any], windows: Sequence[Window] = ()) -> list[GraduatedEdge]:
    """Every graduated edge in ``pixels``, and even combs that can't be read, best first.

    ``pixels`` is (h, w, 3) uint8 or uint16, sRGB-encoded. Where nothing can surely be read, the ``windows``
    are looked through again, at last for faint marks too.
    """
    levels = _levels(pixels)

    @cache
    def ridges(which: int, faint: bool) -> Ridges:
        return find_ridges(levels[which][1], faint=faint)

    found: list[GraduatedEdge] = []
    for looked_at, faint in looks(windows):
        for which, (factor, level) in enumerate(levels):
            within = ridges(which, faint).within(looked_at, factor)
            for dark in (True, False):
                for direction in directions(within, dark):
                    strokes = find_strokes(within, direction, dark)
                    found += [_read(level, comb, factor) for comb in find_combs(strokes) if _even(comb)]
        if any(edge.is_sure for edge in found):
            break
    return _distinct(found)


def _levels(pixels: NDArray[Any]) -> list[tuple[int, NDArray[np.float32]]]:
    """Linear light of the picture and of its half, each with the factor it is smaller by."""
    factor = 1
    while pixels.shape[0] * pixels.shape[1] > FINEST_PIXELS * factor**2:
        factor *= 2
    levels: list[tuple[int, NDArray[np.float32]]] = [(factor, _light(pixels, factor))]
    while len(levels) < LEVELS and min(levels[-1][1].shape) // 2 >= COARSEST_SIDE:
        factor, level = levels[-1]
        levels.append((factor * 2, reduced(level, 2)))
    return levels


def _light(pixels: NDArray[Any], factor: int) -> NDArray[np.float32]:
    """Linear light, smaller by ``factor``, made band by band: a fine scan in floats would fill the memory."""
    bands = range(0, pixels.shape[0] // factor * factor, BAND_ROWS)
    return np.concatenate([reduced(linear_luminance(pixels[top : top + BAND_ROWS]), factor) for top in bands])


def reduced(light: NDArray[np.float32], factor: int) -> NDArray[np.float32]:
    """The mean of each square of pixels: light adds up, so an edge or a line keeps its place exactly."""
    height, width = (side // factor for side in light.shape)
    if factor == 1 or not height:
        return light[:height]
    whole = light[: height * factor, : width * factor]
    return np.asarray(cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA))


def _even(comb: Comb) -> bool:
    return bool(np.sqrt(np.mean(comb.residuals**2)) <= MAX_UNEVEN_STEPS * comb.step or abs(comb.stretch) > 0.004)


def _read(level: NDArray[np.float32], comb: Comb, factor: int) -> GraduatedEdge:
    readings = read_graduation(comb.index, comb.lengths, comb.step)
    refuted = [reading for reading in readings if every_other_figure(level, comb, reading)]
    longest = max((reading.graduation.per_unit for reading in readings), default=0)
    if any(reading.graduation.per_unit == longest for reading in refuted):
        readings = []  # the unit must be longer still
    readings = [reading for reading in readings if reading not in refuted]
    return GraduatedEdge(comb.scaled(factor) if factor > 1 else comb, tuple(readings))


def _distinct(edges: list[GraduatedEdge]) -> list[GraduatedEdge]:
    """One of several sights of the same marks: one that can be read, and of those the one with the surest step."""
    ranked = sorted(
        edges, key=lambda edge: (not edge.readings, not edge.is_sure, edge.comb.step_sigma / edge.comb.step)
    )
    kept: list[GraduatedEdge] = []
    for edge in ranked:
        if not any(_same_marks(edge.comb, other.comb) for other in kept):
            kept.append(edge)
    return kept


def _same_marks(comb: Comb, other: Comb) -> bool:
    """Whether most of a comb's marks lie among the other's marks."""
    if abs(float(comb.edge[0] * other.edge[1] - comb.edge[1] * other.edge[0])) > np.sin(
        np.radians(SAME_DIRECTION_DEG)
    ):
        return False
    middles = (comb.points + comb.ends) / 2
    offset = middles - other.points[0]
    along = offset @ other.edge
    depth = np.abs(offset @ np.array([-other.edge[1], other.edge[0]]))
    # The marks' field: as deep as the longest marks, and a little more.
    inward = offset @ other.marks
    slack = SAME_EDGE_STEPS * min(comb.step, other.step)
    field = float(np.percentile(other.lengths, 90)) + slack
    inside = (depth <= field) & (inward >= -slack)
    inside &= (along >= -other.step) & (along <= (other.index[-1] - other.index[0] + 1) * other.step)
    return bool(np.mean(inside) > 0.5)
