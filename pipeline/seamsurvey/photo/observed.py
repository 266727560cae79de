"""What a reference tells of the camera and the table: image points on lines, or at places, of its own frame.

A reference's own frame lies on its marked face: mm, x along it, y across it, in any direction that suits it. A
ruler's marks are lines x = value whose y is unknown; its edges are lines y = unknown. A grid has lines of both
families, a checker corner is one point with both coordinates known.
"""

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

ALONG, ACROSS = 0, 1  # the coordinate an observation fixes: the frame's x, or its y
KNOWN = -1  # in ``edge``: the nominal value is the whole value


@frozen(eq=False)
class Observed:
    """The observations of one reference, m of them, and its priors.

    Point j lies where the coordinate ``axis[j]`` (ALONG or ACROSS) of the reference's own frame is
    ``nominal_mm[j]``, plus the unknown offset number ``edge[j]`` unless that is KNOWN. A point known in both
    coordinates stands twice. Points of one physical mark (``mark[j]``, any number) share the error with which it
    was made. Where the frame lies on the table need not be known: the adjustment starts from ``rough``.
    """

    kind: str  # "ruler", "mat", "target", "page", "card"
    points_px: NDArray[np.float64]  # (m, 2) image
    axis: NDArray[np.intp]  # (m,)
    nominal_mm: NDArray[np.float64]  # (m,)
    edge: NDArray[np.intp]  # (m,)
    mark: NDArray[np.intp]  # (m,)
    sigma_px: NDArray[np.float64]  # (m,) one standard deviation of the point, square to its line
    mark_sigma_mm: float  # one standard deviation of a mark's place on the reference
    scale_sigma: float  # one standard deviation of the reference's whole scale, as a share
    height_mm: float  # of its marked face above the table
    height_sigma_mm: float
    rough: NDArray[np.float64]  # (3, 3) homography from image px to the own frame, good to some percent
    square_sigma: float = 0.0  # rad, one standard deviation of the angle of its marks to its edge, from square
    aspect_sigma: float = 0.0  # one standard deviation of how its scales along x and y differ, as a share

    @property
    def edges(self) -> int:
        """How many unknown offsets there are."""
        return int(self.edge.max(initial=KNOWN)) + 1
