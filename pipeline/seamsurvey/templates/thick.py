"""A thick card's sides as the camera sees them beside its face."""

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from seamsurvey.model import Plane

Floats = NDArray[np.float64]


def sides_of(face: Floats, plane: Plane) -> BaseGeometry:
    """The sides in view of a card whose face has the outline (n, 2) plane mm: between it and the foot, plane mm."""
    foot = plane.to_mm(plane.below_px(face))
    top = Polygon(face)
    bands = [
        Polygon([face[k - 1], face[k], foot[k], foot[k - 1]]).buffer(0).difference(top) for k in range(len(face))
    ]
    return shapely.union_all(bands)
