"""The graduated edges of straight rulers in a picture, scanned or photographed, and what each may stand for."""

from collections.abc import Sequence
from functools import cache
from typing import Any

import cv2
import numpy as np
from attrs import evolve, frozen
from numpy.typing import NDArray

from seamsurvey.light import linear_luminance
from seamsurvey.photo.edge_frame import Sight
from seamsurvey.photo.figures import every_other_figure
from seamsurvey.photo.focal import usual_focal_px
from seamsurvey.photo.graduation import BINARY, Reading, is_sure, read_graduation
from seamsurvey.photo.ridges import SIGMA, Ridges, find_ridges
from seamsurvey.photo.segments import find_segments
from seamsurvey.photo.slant_combs import SlantComb, find_slant_combs
from seamsurvey.photo.windows import Window, looks

# The picture itself is looked at with a finer filter than its half: millimetres 4.3 px apart stay apart.
FINE_SIGMA = 1.1
FINEST_PIXELS = 25_000_000  # of a picture of more only the half is looked at, for its floats would fill the memory
BAND_ROWS = 512
LEVELS = 3  # the picture, its half and its quarter: marks up to 20 px wide, close before the lens
COARSEST_SIDE = 350
MAX_UNEVEN_STEPS = 0.08  # rms of the marks' places, in steps
SAME_EDGE_STEPS = 2.5
# A photo shows more than the scanner's lid, so a hierarchy must stand out clearly before it is believed:
LEAST_MATCH = 0.8  # of the marks have the length their place asks for,
FEW_MARKS, FEW_MATCH = 60, 0.92  # and of few marks more: a mat's lines under cards have many lengths
LEAST_CREDENCE = -2.0  # the short marks' length is not twice or half the usual one, as a grid's lines would be,
LEAST_WHOLES = 4  # and where units are halved, two whole ones of either parity show that they are not half units


@frozen(eq=False)
class GraduatedEdge:
    """A comb in the picture's pixels, and the readings that its marks' lengths allow (none: an unknown comb)."""

    comb: SlantComb
    readings: tuple[Reading, ...]
    step: float  # px its step would have in the middle of the best edge: comparable between edges of one picture

    @property
    def marks(self) -> int:
        """How many marks were found."""
        return len(self.comb.index)

    @property
    def is_sure(self) -> bool:
        """Whether the marks' lengths tell all but the unit."""
        return is_sure(self.readings)

    def span_mm(self, reading: Reading) -> float:
        """Mm from the first mark in view to the last."""
        return float(self.comb.index[-1] - self.comb.index[0]) * reading.graduation.step_mm

    @property
    def outline_px(self) -> NDArray[np.float64]:
        """(4, 2) image: round its marks, a step beyond the outermost."""
        height = float(np.percentile(self.comb.lengths, 95)) / self.comb.step
        first, last = self.comb.index[0] - 1.0, self.comb.index[-1] + 1.0
        return self.comb.frame.places(np.array([[first, 0], [last, 0], [last, height], [first, height]]))


def find_graduated_edges(
    pixels: NDArray[Any],
    focal_px: float | None = None,
    windows: Sequence[Window] = (),
    *,
    on_glass: bool = False,
) -> list[GraduatedEdge]:
    """Every graduated edge in a picture, and even combs that can't be read, best first.

    ``pixels`` is (h, w, 3) uint8 or uint16, sRGB-encoded; ``focal_px`` the focal length as far as it is known.
    Where nothing can surely be read, the ``windows`` are looked through again, at last for faint marks too.
    ``on_glass``: a scanner took the picture, which shows little but cards and rulers.
    """
    levels = _levels(pixels)
    if focal_px is None:
        focal_px = usual_focal_px((pixels.shape[1], pixels.shape[0]))

    @cache
    def ridges(factor: int, faint: bool) -> Ridges:
        finest = FINE_SIGMA if factor == min(levels) else SIGMA
        return find_ridges(levels[factor], finest, uneven=True, faint=faint)

    found: list[GraduatedEdge] = []
    for looked_at, faint in looks(windows):
        for factor, level in levels.items():
            middle = (np.array(level.shape[::-1]) - 1) / 2
            within = ridges(factor, faint).within(looked_at, factor)
            for dark in (True, False):
                segments = find_segments(within, dark)
                combs = find_slant_combs(segments, dark, Sight(middle, focal_px / factor))
                found += [_read(level, comb, factor, on_glass=on_glass) for comb in combs if _even(comb)]
        if any(edge.is_sure for edge in found):
            break
    return _comparable(_distinct(found))


def _levels(pixels: NDArray[Any]) -> dict[int, NDArray[np.float32]]:
    """Linear light of the picture, its half and its quarter, by the factor that each is smaller by."""
    factor = 1
    while pixels.shape[0] * pixels.shape[1] > FINEST_PIXELS * factor**2:
        factor *= 2
    levels = {factor: _light(pixels, factor)}
    while len(levels) < LEVELS and min(levels[factor].shape) // 2 >= COARSEST_SIDE:
        levels[2 * factor] = reduced(levels[factor], 2)
        factor *= 2
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


def _comparable(edges: list[GraduatedEdge]) -> list[GraduatedEdge]:
    """The edges with their steps measured in the frame of the first one (all of one height are supposed)."""
    result = []
    for edge in edges:
        frame, comb = edges[0].comb.frame, edge.comb
        between = np.hypot(*np.diff(frame.numbers(comb.feet), axis=0).T) / np.diff(comb.index)
        result.append(evolve(edge, step=float(np.median(between)) * edges[0].comb.step))
    return result


def _even(comb: SlantComb) -> bool:
    return float(np.sqrt(np.mean(comb.residuals**2))) <= MAX_UNEVEN_STEPS * comb.step


def _read(level: NDArray[np.float32], comb: SlantComb, factor: int, *, on_glass: bool) -> GraduatedEdge:
    readings = read_graduation(comb.index, comb.lengths, comb.step)
    refuted = [reading for reading in readings if every_other_figure(level, comb, reading)]
    longest = max((reading.graduation.per_unit for reading in readings), default=0)
    if any(reading.graduation.per_unit == longest for reading in refuted):
        readings = []  # the unit must be longer still
    readings = [r for r in readings if r not in refuted and (on_glass or _believed(r, comb))]
    if not on_glass and max((reading.credence for reading in readings), default=0.0) < LEAST_CREDENCE:
        readings = []
    return GraduatedEdge(comb.scaled(factor) if factor > 1 else comb, tuple(readings), comb.step * factor)


def _believed(reading: Reading, comb: SlantComb) -> bool:
    """Whether enough of the marks, over enough of the edge, say so."""
    graduation = reading.graduation
    wholes = (comb.index[-1] - reading.phase) // graduation.per_unit - (
        comb.index[0] - 1 - reading.phase
    ) // graduation.per_unit
    least = FEW_MATCH if len(comb.index) < FEW_MARKS else LEAST_MATCH
    return reading.match >= least and (graduation.per_unit not in BINARY or wholes >= LEAST_WHOLES)


def _distinct(edges: list[GraduatedEdge]) -> list[GraduatedEdge]:
    """One of several sights of the same marks: one that can be read, and of those the one with the surest scale."""
    ranked = sorted(edges, key=lambda edge: (not edge.readings, not edge.is_sure, -_worth(edge.comb)))
    kept: list[GraduatedEdge] = []
    for edge in ranked:
        if not any(_same_marks(edge.comb, other.comb) for other in kept):
            kept.append(edge)
    return kept


def _worth(comb: SlantComb) -> float:
    """One over the variance of the step, but for a factor: long combs and sharp marks count."""
    return float(np.sum(((comb.index - comb.index.mean()) / comb.anchor_sigma) ** 2))


def _same_marks(comb: SlantComb, other: SlantComb) -> bool:
    """Whether most of a comb's marks lie among the other's marks."""
    numbers = other.frame.numbers((comb.nears + comb.fars) / 2)
    field = float(np.percentile(other.lengths, 90)) / other.step + SAME_EDGE_STEPS
    inside = (numbers[:, 1] >= -SAME_EDGE_STEPS) & (numbers[:, 1] <= field)
    inside &= (numbers[:, 0] >= other.index[0] - 1) & (numbers[:, 0] <= other.index[-1] + 1)
    return bool(np.mean(inside) > 0.5)
