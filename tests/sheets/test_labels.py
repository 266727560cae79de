"""Places of labels, checked with shapely."""

import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st

from seamsurvey.sheets.labels import CLEAR_MM, Label, inside, outside, room_for
from seamsurvey.sheets.type import SMALLEST_PT


@given(
    st.lists(st.tuples(st.floats(0, 60), st.floats(0, 60)), min_size=4, max_size=9, unique=True),
    st.floats(1, 20),
    st.floats(1, 10),
)
def test_a_box_that_is_placed_is_inside(points: list[tuple[float, float]], width: float, height: float) -> None:
    """Whatever the convex outline, the box at the found place lies inside it with the clearance round it."""
    hull = shapely.MultiPoint(points).convex_hull
    if hull.geom_type != "Polygon" or hull.area < 1:
        return
    outline = np.asarray(shapely.get_coordinates(hull))[:-1]
    at = room_for(outline, width, height)
    if at is not None:
        box = shapely.box(at[0] - width / 2, at[1] - height / 2, at[0] + width / 2, at[1] + height / 2)
        assert hull.buffer(1e-6).contains(box.buffer(CLEAR_MM * 0.99, join_style="mitre"))
        return
    # No room was found: then the hull's own middle has none either.
    x, y = hull.centroid.x, hull.centroid.y
    w, h = width / 2 + CLEAR_MM, height / 2 + CLEAR_MM
    assert not hull.buffer(-1e-6).contains(shapely.box(x - w, y - h, x + w, y + h))


def test_a_name_shrinks_to_seven_points_and_then_gives_up() -> None:
    """In ever narrower strips the label gets smaller, never under 7 pt, and at last has no room."""
    sizes = []
    for width in (40.0, 10.0, 8.0, 7.0, 6.2, 3.0):
        texts = inside(np.array([[0, 0], [width, 0], [width, 30], [0, 30]]), Label("A12"))
        sizes.append(max(text.size_pt for text in texts) if texts else 0.0)
    assert sizes[0] == 14
    assert sizes == sorted(sizes, reverse=True)
    assert all(size >= SMALLEST_PT for size in sizes[:-1])
    assert sizes[-1] == 0


def test_labels_outside_keep_clear_of_the_section_and_of_one_another() -> None:
    """Five labels for one sliver find five places outside, no two of which overlap."""
    sliver = np.array([[0, 0], [30, 0], [30, 1.5], [0, 1.5]])
    around = shapely.Polygon(sliver).buffer(6.35)
    rooms: list[shapely.Polygon] = []
    for k in range(5):
        _, room = outside(sliver, Label(f"A{k}"), around, rooms)
        assert not room.intersects(around)
        assert not any(room.intersects(other) for other in rooms)
        rooms.append(room)
