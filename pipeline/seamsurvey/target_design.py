"""The target: the page of checker corners that is printed, laid under the templates and photographed.

A frame two squares wide runs round the page, squares dark and light by turns; where four of them meet is a checker
corner, whose place a photo shows to a few hundredths of a pixel. In every light square stands a marker, whose
number tells which corner is which, and which paper it is. What prints the page and what finds it both read this
file.

Frame: *page* = mm, x right, y up, origin at the paper's lower left corner.
"""

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.units import PAPERS

Array = NDArray[np.float64]

SQUARE_MM = 10.0  # ten squares are the length of the bar that checks the print
BAND = 2  # squares across the frame
# OpenCV's name for the family of markers: five by five cells, all far apart from one another.
DICTIONARY = "DICT_5X5_250"
MARKER_CELLS = 7  # its dark border counted
MARKER_MM = 7.0  # so that a cell is 1 mm
# From the paper's lower edge to the frame: the margin, and the strip of the lying scale bar.
BELOW_MM = 22.0
LEFT_OF_MIDDLE_MM = 2.0  # the upright bar on the right takes more room than the words on the left
# For each paper: columns and rows of squares, both odd so that all four outer squares are dark; first marker.
_LAYOUTS = {"a4": (17, 25, 0), "letter": (17, 23, 100)}


@frozen
class TargetDesign:
    """What lies where on the target of one paper (a key of ``units.PAPERS``)."""

    paper: str
    columns: int
    rows: int
    first_marker: int

    @property
    def frame(self) -> Array:
        """(4, 2): the frame's outer corners, counter-clockwise from the lower left."""
        width, height = self.columns * SQUARE_MM, self.rows * SQUARE_MM
        x, y = (PAPERS[self.paper][0] - width) / 2 - LEFT_OF_MIDDLE_MM, BELOW_MM
        return np.array([[x, y], [x + width, y], [x + width, y + height], [x, y + height]])

    @property
    def inside(self) -> Array:
        """(4, 2): the room for templates, counter-clockwise from the lower left."""
        inwards = np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]])
        return self.frame + BAND * SQUARE_MM * inwards

    @property
    def outline(self) -> Array:
        """(4, 2): the paper's own corners, counter-clockwise from the lower left."""
        width, height = PAPERS[self.paper]
        return np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])

    def _squares(self, remainder: int) -> Array:
        """(n, 2): the lower left corners of the frame's dark (0) or light (1) squares, row by row from below."""
        cells = [
            (column, row)
            for row in range(self.rows)
            for column in range(self.columns)
            if (column + row) % 2 == remainder
            and not (BAND <= column < self.columns - BAND and BAND <= row < self.rows - BAND)
        ]
        return np.asarray(self.frame[0] + SQUARE_MM * np.array(cells, dtype=float))

    @property
    def dark_squares(self) -> Array:
        """(n, 4, 2): the outlines of the dark squares, counter-clockwise from the lower left."""
        return self._squares(0)[:, None] + SQUARE_MM * np.array([[0, 0], [1, 0], [1, 1], [0, 1]])

    @property
    def markers(self) -> dict[int, Array]:
        """By number: (4, 2) its corners, in OpenCV's order: clockwise from the upper left."""
        corners = (SQUARE_MM - MARKER_MM) / 2 + MARKER_MM * np.array([[0, 1], [1, 1], [1, 0], [0, 0]])
        return {self.first_marker + k: square + corners for k, square in enumerate(self._squares(1))}

    @property
    def corners(self) -> Array:
        """(n, 2): the checker corners."""
        return np.asarray(self.frame[0] + SQUARE_MM * self._nodes)

    @property
    def on_side(self) -> NDArray[np.bool_]:
        """(n, 4): whether each checker corner is of the frame's left, right, lower, upper side."""
        column, row = self._nodes.T
        return np.column_stack([column == 1, column == self.columns - 1, row == 1, row == self.rows - 1])

    @property
    def _nodes(self) -> Array:
        """(n, 2): columns and rows to the left of and below each checker corner."""
        return np.array(
            [
                (column, row)
                for row in range(1, self.rows)
                for column in range(1, self.columns)
                if column in (1, self.columns - 1) or row in (1, self.rows - 1)
            ],
            dtype=float,
        )


DESIGNS = {paper: TargetDesign(paper, *layout) for paper, layout in _LAYOUTS.items()}
