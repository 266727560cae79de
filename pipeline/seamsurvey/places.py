"""What a person says of a thing by a place on it: "scan.jpg 310 420", a picture's name and whole pixels in it."""

from shapely import Point, Polygon

from seamsurvey.plane import Array

_ROUNDED_PX = 1.0  # a place is told in whole pixels


def inside(outline_px: Array) -> tuple[float, float]:
    """(x, y) of a place well within an outline (n, 2), however hollow."""
    point = Polygon(outline_px).buffer(0).representative_point()
    return point.x, point.y


def lies_at(outline_px: Array, photo: str, place: str) -> bool:
    """Whether a place lies within an outline (n, 2) image px in the picture of this name."""
    name, x, y = place.rsplit(" ", 2)
    return name == photo and bool(Polygon(outline_px).buffer(0).buffer(_ROUNDED_PX).covers(Point(int(x), int(y))))
