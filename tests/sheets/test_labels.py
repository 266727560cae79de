"""Places of labels, checked with shapely."""

import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st

from seamsurvey.sheets.drawing import Line, Text
from seamsurvey.sheets.labels import CLEAR_MM, Label, inside, led, room_for
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
        found = inside(np.array([[0, 0], [width, 0], [width, 30], [0, 30]]), Label("A12"))
        sizes.append(max(mark.size_pt for mark in found[0] if isinstance(mark, Text)) if found else 0.0)
    assert sizes[0] == 14
    assert sizes == sorted(sizes, reverse=True)
    assert all(size >= SMALLEST_PT for size in sizes[:-1])
    assert sizes[-1] == 0


def test_led_labels_keep_clear_of_the_section_and_of_one_another() -> None:
    """Five labels for one sliver find five places in its margin, no two overlap, and no leader crosses a label."""
    sliver = np.array([[0, 0], [30, 0], [30, 1.5], [0, 1.5]])
    margin = shapely.Polygon(sliver).buffer(6.35).difference(shapely.Polygon(sliver))
    rooms: list[shapely.Polygon] = []
    leaders: list[shapely.LineString] = []
    for k in range(5):
        found = led(sliver, Label(f"A{k}"), margin, rooms)
        assert found is not None
        marks, room = found
        assert margin.contains(room)
        assert not any(room.intersects(other) for other in rooms)
        leaders += [shapely.LineString(mark.points) for mark in marks if isinstance(mark, Line) and not mark.closed]
        assert not any(leaders[-1].intersects(other) for other in rooms)
        rooms.append(room)
    assert len(leaders) == 5


def test_a_margin_without_room_gives_no_place() -> None:
    """A margin of one millimetre holds no label of 7 pt."""
    sliver = np.array([[0, 0], [30, 0], [30, 1.5], [0, 1.5]])
    assert led(sliver, Label("A1"), shapely.Polygon(sliver).buffer(1.0), []) is None
