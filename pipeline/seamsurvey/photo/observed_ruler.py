"""What a ruler's graduated edge tells of the camera and the table."""

import math

import numpy as np

from seamsurvey.photo.graduation import Reading
from seamsurvey.photo.observed import ACROSS, ALONG, KNOWN, Observed
from seamsurvey.photo.ruler import GraduatedEdge

# A steel rule keeps 0.15 mm in 500 mm (JIS B 7516, class 1), 0.03 % at the limit; worn, or of wood or plastic,
# three times that as one standard deviation (common practice, no source).
SCALE_SIGMA = 0.001
# A ruler's edge is no straightedge: what one point of it is off, its neighbours are too, so that many points weigh
# as much as so many (common practice, no source). Else a worn end of it would bend the lens.
EDGE_FREEDOM = 6
FOOT_SIGMA_PX = 0.7  # where the marks' ridges begin scatters so much about their true ends (measured on drawn ones)
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
    edge: GraduatedEdge,
    reading: Reading,
    *,
    scale_sigma: float = SCALE_SIGMA,
    height_mm: float = HEIGHT_MM,
    height_sigma_mm: float = HEIGHT_SIGMA_MM,
) -> Observed:
    """The ruler's marks, and the line that they begin on, as lines of its own frame.

    The frame's x runs along the graduated edge, 0 at the first mark found; y from the edge over the marks, so
    that the frame is right-handed as the table is seen. Each mark gives two points of x = its nominal place, whose
    errors are independent; where they begin gives points of y = offset 0, which say where its direction vanishes.
    """
    comb, step = edge.comb, reading.graduation.step_mm
    count = len(comb.index)
    wavering = FOOT_SIGMA_PX * math.sqrt(count / EDGE_FREEDOM)
    marks = 2 * count
    places = (comb.index - comb.index[0]) * step
    own = np.array([[step, 0.0, -step * comb.index[0]], [0.0, step, 0.0], [0.0, 0.0, 1.0]])
    return Observed(
        kind="ruler",
        points_px=np.vstack([comb.anchors.reshape(-1, 2), comb.nears]),
        axis=np.repeat([ALONG, ACROSS], [marks, count]),
        nominal_mm=np.concatenate([np.repeat(places, 2), np.zeros(count)]),
        edge=np.repeat([KNOWN, 0], [marks, count]),
        mark=np.concatenate([np.repeat(comb.index, 2), np.full(count, comb.index[-1] + 1)]),
        sigma_px=np.concatenate([np.repeat(comb.anchor_sigma, 2), np.full(count, wavering)]),
        mark_sigma_mm=MARK_SIGMA_MM,
        scale_sigma=scale_sigma,
        height_mm=height_mm,
        height_sigma_mm=height_sigma_mm,
        rough=own @ np.linalg.inv(comb.frame.to_px),
        square_sigma=SQUARE_SIGMA,
    )
