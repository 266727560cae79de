"""The printed target: a frame of checker corners to photograph with the templates inside.

Frame: *page* = mm, x right, y up, origin at the paper's lower left corner.
"""

import cv2
import numpy as np
import shapely
from shapely.affinity import affine_transform

from seamsurvey.model import Array
from seamsurvey.sheets.drawing import HAIRLINE, QUIET, Drawing, Line, Mark, Text, placed, polygon
from seamsurvey.sheets.page import BAR_ABOVE_MM, scale_bar
from seamsurvey.sheets.pdf import write_pdf
from seamsurvey.target_design import DESIGNS, DICTIONARY, MARKER_CELLS, MARKER_MM, TargetDesign
from seamsurvey.units import PAPERS

# A grey or coloured ink would be printed as a raster of dots, with ragged edges.
_BLACK, _WHITE = "#000000", "#ffffff"
_NAMES = {"a4": "A4", "letter": "Letter"}
_USE = "Lay this page flat and the templates inside the frame, then photograph the whole frame from above."
_PRINT = "Print at 100 %, with no fit to page, on matt paper. If a bar is not as long as it says, print again."
_GAP_MM = 3.0  # from the frame to what stands beside it


def target_pdf(paper: str) -> bytes:
    """The target for ``paper`` (a key of ``units.PAPERS``; else KeyError): a PDF of one page, 1 mm to 1 mm.

    The same paper gives the same bytes.
    """
    design = DESIGNS[paper]
    width, height = PAPERS[paper]
    title = f"Target for {_NAMES[paper]} paper"
    marks = (*_words(design, title), *_bars(design), *_room(design), *_frame(design))
    return write_pdf([Drawing(width, height, marks)], title)


def _words(design: TargetDesign, title: str) -> list[Mark]:
    """Title and use above the frame, how to print up its left side."""
    left, top = design.frame[3]
    right = design.frame[2][0]
    use_y = top + _GAP_MM
    return [
        Text(at=(left, use_y + 4.6), text=title, size_pt=13, weight="bold"),
        Text(at=(right, use_y + 4.6), text="scale 1:1 · seamsurvey", size_pt=8, anchor="end", colour=QUIET),
        Text(at=(left, use_y), text=_USE, size_pt=8),
        Text(at=(left - _GAP_MM, design.frame[0][1]), text=_PRINT, size_pt=8, turn_deg=90),
    ]


def _bars(design: TargetDesign) -> tuple[Mark, ...]:
    """The scale bars: below the frame from its left end, and up its right side."""
    (left, bottom), (right, _) = design.frame[:2]
    lying_at = (left, bottom - _GAP_MM - BAR_ABOVE_MM)
    upright_at = (right + _GAP_MM + BAR_ABOVE_MM, bottom)
    return (*placed(scale_bar(), 0, lying_at), *placed(scale_bar(), 90, upright_at))


def _room(design: TargetDesign) -> list[Mark]:
    """A quiet line round the room for templates, where the light squares leave the frame open."""
    return [polygon(design.inside, pen=HAIRLINE, layer="frame"), polygon(design.frame, pen=HAIRLINE, layer="frame")]


def _frame(design: TargetDesign) -> list[Mark]:
    marks: list[Mark] = [polygon(square, fill=_BLACK, layer="frame") for square in design.dark_squares]
    for number, corners in design.markers.items():
        marks += _marker(number, corners)
    return marks


def _marker(number: int, corners: Array) -> list[Line]:
    """One marker as few whole areas, so that no hair of white runs between its cells."""
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    cells = cv2.aruco.generateImageMarker(dictionary, number, MARKER_CELLS)
    light = shapely.union_all([shapely.box(x, y, x + 1, y + 1) for y, x in np.argwhere(cells > 0)])
    cell = MARKER_MM / MARKER_CELLS
    left, top = corners[0]
    on_page = affine_transform(light, [cell, 0, 0, -cell, left, top])
    areas = [(corners, _BLACK)]
    for part in getattr(on_page, "geoms", [on_page]):
        areas.append((np.asarray(part.exterior.coords)[:-1], _WHITE))
        areas += [(np.asarray(hole.coords)[:-1], _BLACK) for hole in part.interiors]
    areas.sort(key=lambda area: -shapely.Polygon(area[0]).area)  # what lies inside another is painted after it
    return [polygon(points, fill=colour, layer="frame") for points, colour in areas]
