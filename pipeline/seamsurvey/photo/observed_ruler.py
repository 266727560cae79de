"""What a ruler's graduated edge tells of the camera and the table."""

import math

import numpy as np
from numpy.typing import NDArray

from seamsurvey.photo.graduation import Reading
from seamsurvey.photo.long_edges import long_edges
from seamsurvey.photo.observed import ACROSS, ALONG, KNOWN, Observed
from seamsurvey.photo.ruler import GraduatedEdge

# A steel rule keeps 0.15 mm in 500 mm (JIS B 7516, class 1), 0.03 % at the limit; worn, or of wood or plastic,
# three times that as one standard deviation (common practice, no source).
SCALE_SIGMA = 0.001
# A ruler's edge is no straightedge: what one point of it is off, its neighbours are too, so that many points weigh
# as much as so many (common practice, no source). Else a worn end of it would bend the lens.
EDGE_FREEDOM = 6
# Marks stand square to the edge only so well: on a stamped wooden ruler they were found 0.9° off; and beside the
# edge's own step a mark's end is seen a little aside, all alike.
SQUARE_SIGMA = math.radians(0.3)
# A mark's own place on the ruler (common practice, no source).
MARK_SIGMA_MM = 0.03
# The marked face lies 0.5 mm (steel) to 3 mm (wood) above the table; of a clear ruler printed underneath,
# on it.
HEIGHT_MM = 2.0
HEIGHT_SIGMA_MM = 1.1


def observed_ruler(
    light: NDArray[np.float32],
    edge: GraduatedEdge,
    reading: Reading,
    *,
    scale_sigma: float = SCALE_SIGMA,
    height_mm: float = HEIGHT_MM,
    height_sigma_mm: float = HEIGHT_SIGMA_MM,
) -> Observed:
    """The ruler's marks and long edges as lines of its own frame; ``light`` is (h, w) linear light of the photo.

    The frame's x runs along the graduated edge, 0 at the first mark found; y from the edge over the marks, so
    that the frame is right-handed as the table is seen. Each mark gives two points of x = its nominal place, whose
    errors are independent; the graduated edge gives points of y = offset 0, the opposite one of y = offset 1.
    """
    comb, step = edge.comb, reading.graduation.step_mm
    lines = long_edges(light, comb, step)
    counts = [len(line.points_px) for line in lines]
    wavering = [line.sigma_px * math.sqrt(len(line.points_px) / EDGE_FREEDOM) for line in lines]
    marks = 2 * len(comb.index)
    places = (comb.index - comb.index[0]) * step
    own = np.array([[step, 0.0, -step * comb.index[0]], [0.0, step, 0.0], [0.0, 0.0, 1.0]])
    return Observed(
        kind="ruler",
        points_px=np.vstack([comb.anchors.reshape(-1, 2), *(line.points_px for line in lines)]),
        axis=np.repeat([ALONG, ACROSS], [marks, sum(counts)]),
        nominal_mm=np.concatenate([np.repeat(places, 2), np.zeros(sum(counts))]),
        edge=np.concatenate([np.full(marks, KNOWN), np.repeat(np.arange(len(lines)), counts)]),
        mark=np.concatenate([np.repeat(comb.index, 2), comb.index[-1] + 1 + np.arange(sum(counts))]),
        sigma_px=np.concatenate([np.repeat(comb.anchor_sigma, 2), np.repeat(wavering, counts)]),
        mark_sigma_mm=MARK_SIGMA_MM,
        scale_sigma=scale_sigma,
        height_mm=height_mm,
        height_sigma_mm=height_sigma_mm,
        rough=own @ np.linalg.inv(comb.frame.to_px),
        square_sigma=SQUARE_SIGMA,
    )
