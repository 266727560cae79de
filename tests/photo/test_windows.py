"""Where rulers are looked for again, from what the learned eye sees."""

import numpy as np

from seamsurvey.photo.windows import reference_windows
from tests.photo.drawn import picture, seen_as_ruler

BLANK = picture(np.full((800, 1200, 3), 200, np.uint8))


def test_a_ruler_in_two_pieces_has_one_window_from_side_to_side() -> None:
    """A card lies over its middle: its strip runs on under it, and over the picture's sides, not far beside it."""
    (window,) = reference_windows(seen_as_ruler(BLANK, (100, 200, 500, 260), (700, 200, 1000, 260)))
    on = np.array([[3.0, 230.0], [600.0, 230.0], [1190.0, 205.0], [600.0, 258.0]])
    beside = np.array([[600.0, 150.0], [600.0, 310.0]])
    assert window.holds(on).all()
    assert not window.holds(beside).any()


def test_a_plate_has_a_window_of_its_own_size() -> None:
    """What is hardly longer than wide doesn't go on beyond its ends; what is tiny is nothing."""
    (window,) = reference_windows(seen_as_ruler(BLANK, (400, 300, 600, 440), (900, 600, 920, 616)))
    assert window.holds(np.array([[395.0, 295.0], [605.0, 445.0]])).all()
    assert not window.holds(np.array([[330.0, 370.0], [670.0, 370.0], [910.0, 608.0]])).any()


def test_nobody_looked() -> None:
    """Without the learned eye there are no windows, and everything is looked through once."""
    assert reference_windows(BLANK) == []
