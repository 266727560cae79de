"""The lines of a section and the marks at its border, on sections one can check by eye."""

import numpy as np
import pytest

from seamsurvey.geometry import moved
from seamsurvey.model import Section
from seamsurvey.sheets.seams import contacts, first_seam, on_border, sewing_lines, straightened

from .examples import block_of, goose_rungs, harbour_rows, leaning_sails, section_of


def test_a_straight_seam_over_two_neighbours_is_one_line() -> None:
    """A strip laid along two squares is sewn in one line, from end to end."""
    squares = [np.array([[0, 0], [2, 0], [2, 2], [0, 2.0]]), np.array([[2, 0], [4, 0], [4, 2], [2, 2.0]])]
    strip = np.array([[0, 2], [4, 2], [4, 3], [0, 3.0]])
    (line,) = contacts(strip, squares)
    assert sorted(map(tuple, line)) == [(0, 2), (4, 2)]


def test_pieces_that_touch_in_a_corner_have_no_seam() -> None:
    """Two squares that share one corner only do not meet."""
    one = np.array([[0, 0], [2, 0], [2, 2], [0, 2.0]])
    assert contacts(one, [one + 2]) == []


def test_a_ladder_is_sewn_line_by_line() -> None:
    """Eleven pieces take ten lines; wing lines are √2 × 2 in, those across the ladder 4 in."""
    _, plan = goose_rungs(4 * 25.4)
    lines = sewing_lines(plan.sections[0].pieces)
    lengths = [float(np.hypot(*(b - a))) / 25.4 for a, b in lines]
    wing = 2 * np.sqrt(2)
    assert lengths == pytest.approx([4, wing, wing] * 3 + [4])


def test_the_first_seam_of_the_first_piece_is_its_neighbour_s() -> None:
    """The first piece has the seam that the second is sewn on with; a piece alone has none."""
    block, plan = harbour_rows(1.0)
    pieces = plan.sections[0].pieces
    one, two = first_seam(pieces, 0), first_seam(pieces, 1)
    assert one is not None
    assert two is not None
    assert sorted(map(tuple, one)) == sorted(map(tuple, two)) == [(2.25, 0), (2.25, 1.5)]
    assert first_seam(section_of(block, "Z", ["T1-1"]).pieces, 0) is None


def test_marks_stand_where_seams_reach_the_border() -> None:
    """The middle row has marks for its own two seams and for those of the rows below and above, none at corners."""
    block, plan = harbour_rows(1.0)
    marks = {tuple(np.round(point, 6).tolist()) for point, _ in on_border(plan.sections[1], block)}
    below, above = {(2.25, 1.5), (3.5, 1.5), (5.25, 1.5)}, {(1, 4), (2.25, 4), (4.25, 4), (5, 4)}
    assert marks == below | above
    for point, outward in on_border(plan.sections[1], block):
        assert outward.tolist() == pytest.approx([0, -1] if point[1] == 1.5 else [0, 1])


def test_a_copy_is_marked_only_where_all_copies_are() -> None:
    """Of a section with four places every mark is right at each place: some piece has a corner there."""
    block, plan = leaning_sails(8.0)
    section = plan.sections[0]
    corners = np.vstack([piece.outline for piece in block.pieces])
    marks = on_border(section, block)
    assert len(marks) == 4
    for place in section.places:
        for point, _ in marks:
            there = moved(point[None], place.turn_deg, place.shift_mm)[0]
            assert np.hypot(*(corners - there).T).min() < 1e-6


def test_a_neighbour_of_one_copy_only_gives_no_mark() -> None:
    """A corner that touches the border at one place but not at the other is not marked on the print of both."""
    square = np.array([[0, 0], [2, 0], [2, 2], [0, 2.0]])
    pieces = {
        "T1-1": square,
        "T1-2": square + np.array([4, 0]),
        "T2-1": np.array([[2, 0], [4, 0], [4, 1], [2, 1.0]]),
        "T3-1": np.array([[2, 1], [4, 1], [4, 2], [2, 2.0]]),
    }
    block = block_of(pieces)
    section = section_of(block, "A", ["T1-1"], [(0.0, (0.0, 0.0)), (0.0, (4.0, 0.0))])
    assert on_border(section, block) == []
    alone = Section(name="A", outline=section.outline, pieces=section.pieces, places=section.places[:1])
    ((point, outward),) = on_border(alone, block)
    assert point.tolist() == [2, 1]
    assert outward.tolist() == [1, 0]


def test_straightening_leaves_the_corners() -> None:
    """A square with points on its sides, given clockwise, comes back as its four corners, counter-clockwise."""
    square = np.array([[0, 0], [0, 1], [0, 2], [2, 2], [2, 1], [2, 0], [1, 0.0]])
    assert sorted(map(tuple, straightened(square))) == [(0, 0), (0, 2), (2, 0), (2, 2)]
