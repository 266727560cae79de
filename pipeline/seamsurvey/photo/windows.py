"""Where in a picture rulers lie, as the learned eye sees them: windows in which their marks are looked for again.

A straight ruler goes on along its long sides under whatever covers it, so a long thing's window does too. What else
lies in the picture, printed cells, wood grain, squared paper, has then no part in the search; and where marks are
sure to be, fainter ones can be believed.
"""

from collections.abc import Iterator, Sequence

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.model import Picture
from seamsurvey.seen_model import REFERENCE

Floats = NDArray[np.float64]

LIKELY = 0.5  # more likely a reference than all else together
LEAST_SHARE = 0.05  # of the picture's longer side: shorter pieces give no scale
LONG = 2.5  # times as long as wide: a ruler rather than a square or a plate
MARGIN = 0.15  # of its width to either side: the eye is good to a few pixels of a picture made small,
MARGIN_SMALL_PX = 6.0  # and no less than this


@frozen(eq=False)
class Window:
    """An oblong of the picture: (4, 2) ``corners``, image px, in order."""

    corners: Floats

    def holds(self, points_px: Floats) -> NDArray[np.bool_]:
        """(n,) which of (n, 2) image points lie in it."""
        sides = np.array([self.corners[1] - self.corners[0], self.corners[3] - self.corners[0]])
        place = (points_px - self.corners[0]) @ np.linalg.inv(sides)
        return np.asarray(np.all((place >= 0) & (place <= 1), axis=1))


def reference_windows(picture: Picture) -> list[Window]:
    """One window for each ruler seen, the largest first; none where nobody looked, or nothing was seen."""
    if picture.seen is None:
        return []
    likely = (picture.seen.maps[REFERENCE] > LIKELY).astype(np.uint8)
    height, width = likely.shape
    across_all = float(np.hypot(width, height))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(likely)
    windows: list[Window] = []
    for label in sorted(range(1, count), key=lambda label: -stats[label, cv2.CC_STAT_AREA]):
        y, x = np.nonzero(labels == label)
        middle, sides, turn = cv2.minAreaRect(np.column_stack([x, y]).astype(np.float32))
        if max(sides) < LEAST_SHARE * max(width, height):
            continue
        # Another piece of a ruler that cards lie on is in its first one's window.
        if not any(window.holds(picture.seen.to_px(np.array([middle])))[0] for window in windows):
            corners = _widened(middle, sides, turn, across_all=across_all)
            windows.append(Window(picture.seen.to_px(corners)))
    return windows


def _widened(middle: Sequence[float], lengths: Sequence[float], turn: float, *, across_all: float) -> Floats:
    """(4, 2) *small* px: the corners of an oblong with a margin; a long one's from end to end of the picture."""
    sides = np.array(lengths, dtype=float)
    margin = 2 * max(MARGIN * float(sides.min()), MARGIN_SMALL_PX)
    wide = np.where(sides >= LONG * sides.min(), 2 * across_all, sides) + margin
    return np.asarray(cv2.boxPoints(((middle[0], middle[1]), (float(wide[0]), float(wide[1])), turn)), dtype=float)


def looks(windows: Sequence[Window]) -> Iterator[tuple[Sequence[Window] | None, bool]]:
    """Where to look for marks, and whether for faint ones, in order, until some are surely read; None: everywhere.

    Everywhere first, for the eye overlooks rulers too.
    """
    yield None, False
    if windows:
        yield windows, False
        yield windows, True
