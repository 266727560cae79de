"""The ruler's own outline round its graduated edge, so that it is not taken for a template."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from seamsurvey.model import Picture
from seamsurvey.photo.combs import Comb

MARGIN_MM = 2.5  # the graduated edge's marks begin within this distance of the ruler's edge
LARGEST_WIDTH_MM = 80.0
USUAL_WIDTH_MM = 32.0  # assumed where the far side can't be seen (common practice, no source)
LARGEST_END_MM = 45.0  # from the last mark to the ruler's end
USUAL_END_MM = 12.0
WINDOW_MM = 1.0  # the medians before and after a side are taken over this width
GAP_MM = 0.25  # and this far from it: blur and a printed line lie in the gap
LID_MM = (4.0, 6.5)  # the lid is seen so far outside the graduated edge, beyond its shadow
MIN_CONTRAST = 2.0  # of 255, a side of a white ruler on a white lid; a median of 90 lines is steadier than that
SHARE_OF_CONTRAST = 0.4  # of the difference of body and lid a side shows at least
FACING = 0.03  # sine of the angle between two edges of one ruler
SAMPLES = 90  # lines across the ruler; their median sees neither marks nor figures


def body_outline(
    picture: Picture, comb: Comb, px_per_mm: float, others: Sequence[Comb] = ()
) -> NDArray[np.float64]:
    """(4, 2) image: the corners of the ruler that ``comb`` is an edge of, clockwise or not as it lies.

    The sides are where the colour changes along most of the ruler; a side that can't be seen is put where a
    generous ruler would end. Corners may lie outside the picture. Of the ``others`` one may be the same
    ruler's other graduated edge: then the far side lies beyond it.
    """
    finder = _Sides(picture, comb, px_per_mm)
    finder.depth = max([finder.depth, *(finder.facing(other) for other in others)])
    near, far = finder.across()
    low, high = finder.ends(near, far)
    corners = np.array([[low, near], [high, near], [high, far], [low, far]])
    outline: NDArray[np.float64] = finder.origin + corners[:, :1] * finder.along + corners[:, 1:] * finder.inward
    return outline


class _Sides:
    """The ruler's frame: ``along`` its edge from the first mark, ``inward`` from the edge over the marks; px."""

    def __init__(self, picture: Picture, comb: Comb, px_per_mm: float) -> None:
        self.pixels = picture.pixels
        self.full = 65535.0 if picture.pixels.dtype == np.uint16 else 255.0
        self.mm = px_per_mm
        self.origin = comb.points[0]
        self.along = comb.edge
        square = np.array([-comb.edge[1], comb.edge[0]])
        self.inward = square * np.sign(square @ comb.marks)
        self.length = float((comb.points[-1] - comb.points[0]) @ comb.edge)
        self.depth = float(np.percentile(comb.lengths, 95))
        self.least = MIN_CONTRAST

    def profile(self, along: NDArray[np.float64], inward: NDArray[np.float64], axis: int) -> NDArray[np.float64]:
        """The median colour, 0..255, over one axis of a grid; nan where the picture ends."""
        grid = self.origin + along[None, :, None] * self.along + inward[:, None, None] * self.inward
        x, y = grid[..., 0].astype(np.float32), grid[..., 1].astype(np.float32)
        values = cv2.remap(self.pixels, x, y, cv2.INTER_NEAREST).astype(float) * (255.0 / self.full)
        height, width = self.pixels.shape[:2]
        values[(x < 0) | (y < 0) | (x > width - 1) | (y > height - 1)] = np.nan
        seen = np.isfinite(values[..., 0]).mean(axis=axis) >= 0.3
        result = np.full((values.shape[1 - axis], 3), np.nan)
        chosen = values[:, seen] if axis == 0 else values[seen]
        result[seen] = np.nanmedian(chosen, axis=axis)
        return result

    def facing(self, other: Comb) -> float:
        """How far inward the graduated edge that faces this one lies; 0 when ``other`` is not that."""
        if abs(float(other.edge @ self.inward)) > FACING or float(other.marks @ self.inward) > -0.5:
            return 0.0
        offset = other.points - self.origin
        place = offset @ self.along
        depth = float(np.median(offset @ self.inward))
        beside = float(np.mean((place > -0.1 * self.length) & (place < 1.1 * self.length))) > 0.5
        return (
            depth - (MARGIN_MM + WINDOW_MM) * self.mm if beside and 0 < depth < LARGEST_WIDTH_MM * self.mm else 0.0
        )

    def across(self) -> tuple[float, float]:
        """Where the ruler begins and ends, inward from the marks' edge."""
        along = np.linspace(0.0, self.length, SAMPLES)
        inward = np.arange(-LID_MM[1] * self.mm, LARGEST_WIDTH_MM * self.mm)
        profile = self.profile(along, inward, 1)
        change = self._changes(profile)
        body = profile[(inward > WINDOW_MM * self.mm) & (inward < self.depth)]
        lid = profile[inward < -LID_MM[0] * self.mm]
        # By the two colours, not by the step between them: that may be deepened by a shadow on one side only.
        contrast = float(np.max(np.abs(np.nanmedian(body, axis=0) - np.nanmedian(lid, axis=0))))
        self.least = max(MIN_CONTRAST, SHARE_OF_CONTRAST * (0.0 if np.isnan(contrast) else contrast))
        edge = np.flatnonzero(np.abs(inward) <= MARGIN_MM * self.mm)
        best = int(edge[int(np.argmax(change[edge]))])
        near = float(inward[best]) if change[best] >= self.least else -MARGIN_MM * self.mm
        far = self._first(change, inward, inward > self.depth + WINDOW_MM * self.mm)
        return near, far if far is not None else max(USUAL_WIDTH_MM * self.mm, self.depth * 1.5)

    def ends(self, near: float, far: float) -> tuple[float, float]:
        """Where the ruler begins and ends along its edge."""
        inward = near + np.linspace(0.08, 0.92, SAMPLES) * (far - near)
        result = []
        for sign, start in ((-1.0, 0.0), (1.0, self.length)):
            out = np.arange(-4 * WINDOW_MM * self.mm, LARGEST_END_MM * self.mm)
            change = self._changes(self.profile(start + sign * out, inward, 0))
            found = self._first(change, out, out > -0.5 * self.mm)
            result.append(start + sign * (found if found is not None else USUAL_END_MM * self.mm))
        return result[0], result[1]

    def _changes(self, profile: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n,): how far the colour after each place is from the colour before it; 0 where unseen."""
        window, gap = max(round(WINDOW_MM * self.mm), 2), max(round(GAP_MM * self.mm), 1)
        change = np.zeros(len(profile))
        for place in range(window + gap, len(profile) - window - gap):
            before = profile[place - gap - window : place - gap]
            after = profile[place + gap + 1 : place + gap + 1 + window]
            change[place] = np.max(np.abs(np.median(after, axis=0) - np.median(before, axis=0)))
        return np.nan_to_num(change)

    def _first(
        self, change: NDArray[np.float64], place: NDArray[np.float64], allowed: NDArray[np.bool_]
    ) -> float | None:
        """The first allowed place where the change peaks like a side of this ruler."""
        high = np.flatnonzero(allowed & (change >= self.least))
        if not len(high):
            return None
        reach = max(round((WINDOW_MM + GAP_MM) * self.mm), 2)
        peak = int(high[0]) + int(np.argmax(change[high[0] : high[0] + reach]))
        return float(place[peak])
