"""Labels find room: none over another, none over a leader, all in the picture, as near as there is room."""

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from seamsurvey.sheets.label_places import place_for, room_at

FRAME = (900.0, 600.0)


def box(size: tuple[float, float], point: tuple[float, float], turn_deg: float) -> shapely.Polygon:
    """The same room by another way: shapely's own turning."""
    width, height = size
    plain = shapely.box(-width / 2, -height / 2, width / 2, height / 2)
    return affinity.translate(affinity.rotate(plain, -turn_deg, origin=(0, 0)), *point)


@pytest.mark.parametrize("seed", range(4))
def test_sixty_labels_in_a_heap_lie_apart(seed: int) -> None:
    """Wanted in a crowd, turned or not, no two overlap, none runs off, and none lies over a leader."""
    rng = np.random.default_rng(seed)
    taken: list[BaseGeometry] = []
    rooms: list[shapely.Polygon] = []
    for _ in range(60):
        size = (float(rng.uniform(15, 80)), float(rng.uniform(12, 24)))
        wanted = [
            (rng.uniform(-20, 200, 2), float(rng.choice([0.0, 90.0, rng.uniform(-90, 90)]))) for _ in range(4)
        ]
        place = place_for(size, wanted, taken, FRAME)
        assert place is not None
        room = box(size, place.point, place.turn_deg)
        assert not any(room.intersects(other) for other in taken)
        assert shapely.box(0, 0, *FRAME).buffer(1e-6).covers(room)
        rooms.append(room)
        taken.append(room)
        if place.leader is not None:
            assert place.leader.distance(shapely.Point(wanted[0][0])) < 1e-6
            taken.append(place.leader)
    assert shapely.union_all(rooms).area == pytest.approx(sum(room.area for room in rooms))


def test_the_first_place_that_is_free_is_taken_as_it_is() -> None:
    """A free place is used to the pixel, with its turn and without a leader; else the next that is wanted."""
    wanted = [(np.array([300.0, 300.0]), 30.0), (np.array([500.0, 300.0]), 0.0)]
    free = place_for((60, 20), wanted, [], FRAME)
    assert free is not None
    assert (free.point, free.turn_deg, free.leader) == ((300.0, 300.0), 30.0, None)
    second = place_for((60, 20), wanted, [shapely.Point(300, 300).buffer(5)], FRAME)
    assert second is not None
    assert (second.point, second.leader) == ((500.0, 300.0), None)


def test_what_is_crowded_out_stands_near_with_a_line_to_its_place() -> None:
    """No nearer than it must: with a disc taken about its place the label touches nearly the disc."""
    disc = shapely.Point(400, 300).buffer(70)
    place = place_for((40, 16), [(np.array([400.0, 300.0]), 0.0)], [disc], FRAME)
    assert place is not None
    assert place.leader is not None
    assert 0 < box((40, 16), place.point, 0.0).distance(disc) < 16
    assert place.leader.distance(box((40, 16), place.point, 0.0)) < 1e-6


def test_in_a_frame_that_is_full_there_is_none() -> None:
    """Nothing is laid over another, even where nothing else is left."""
    assert place_for((40, 16), [(np.array([400.0, 300.0]), 0.0)], [shapely.box(0, 0, *FRAME)], FRAME) is None


def test_a_room_is_the_turned_box() -> None:
    """As shapely turns it."""
    for turn in (0.0, 90.0, -33.0, 12.5):
        room = room_at((50, 20), np.array([100.0, 70.0]), turn)
        assert room.symmetric_difference(box((50, 20), (100.0, 70.0), turn)).area < 1e-6
