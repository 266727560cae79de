"""Our own target in a photo: its checker corners, each known by the markers beside it.

OpenCV's detector reads the markers; their own corners are good to half a pixel and only tell where to look. What is
measured are the saddles where two dark squares touch, in the original pixels and in linear light.
"""

from typing import Any

import cv2
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.light import linear_luminance
from seamsurvey.photo.observed import ACROSS, ALONG, KNOWN, Observed
from seamsurvey.photo.page import NAMES
from seamsurvey.photo.saddle import is_saddle, symmetric_centre
from seamsurvey.target_design import DESIGNS, DICTIONARY, MARKER_MM, SQUARE_MM, TargetDesign

Floats = NDArray[np.float64]

LEAST_CORNERS = 12  # their 24 coordinates are three times a page's eight unknowns
LEAST_SIDES = 3  # of the frame, with at least this many corners each:
LEAST_ON_SIDE = 2
SCALE_SIGMA = 0.01  # printers: fit-to-page apart, their feed is off by some tenths of a percent; common practice
MARK_SIGMA_MM = 0.1  # a printer's local unevenness, and the paper's waves
FLAT_SIGMA_MM = 0.2  # how high paper lies above the table

SMALLEST_CELL_PX = 2.5  # a marker's cell smaller than this can't be read
# Markers are first looked for in a copy so long: a page a quarter as wide as the picture still shows there.
REDUCED_PX = 2400
# When the copy shows so many, and no more than so many, the whole picture is searched too: chance makes one or two.
_SOME_MARKERS, _FEW_MARKERS = 3, 24
_LEAST_MARKERS = 6  # their 24 corners likewise
_WINDOW_MM = 1.2  # about a corner: nothing but its four squares up to 1.5 mm, where markers begin
_WINDOW_PX = (2, 15)
_RADIUS_MM = 2.1  # the markers' own corners begin this far off
_BLUR_PX = 1.5  # and spread by this
_MOST_SHIFT = 0.6  # of the window: a saddle farther from where its markers say is another one
_BEND_MM = 4.0  # a lens moves a page's corner by up to this much from where a flat camera would show it


@frozen(eq=False)
class FoundTarget:
    """A target: what it tells of the camera, which page it is and how much of it is in view."""

    observed: Observed
    paper: str
    corners_px: Floats  # (n, 2) image: the checker corners used
    corners_mm: Floats  # (n, 2) page
    outline_px: Floats = field(repr=False)  # (4, 2) image: the paper's edge, roughly
    text: str = ""


def find_targets(pixels: NDArray[Any]) -> list[FoundTarget]:
    """Every target in ``pixels`` ((h, w, 3) uint8 or uint16, sRGB-encoded) of which enough is in view.

    Enough: ``LEAST_CORNERS`` checker corners on at least ``LEAST_SIDES`` sides of the frame. The reference's own
    frame is the page: mm, x right, y up, origin at the paper's lower left corner.
    """
    seen = _markers(pixels)
    papers = [d for d in DESIGNS.values() if sum(number in d.markers for number, _ in seen) >= _LEAST_MARKERS]
    if not papers:
        return []
    light = linear_luminance(pixels)
    found = []
    for design in papers:
        left = [(number, quad) for number, quad in seen if number in design.markers]
        while (page := _one_page(design, left)) is not None:  # two pages of one kind may lie side by side
            used, left = page
            target = _measured(light, design, used)
            if target is not None:
                found.append(target)
    return found


def _markers(pixels: NDArray[Any]) -> list[tuple[int, Floats]]:
    """Every marker in the picture: its number and its corners (4, 2) px in the order of the design's."""
    eight_bit = (pixels >> 8).astype(np.uint8) if pixels.dtype == np.uint16 else pixels
    grey = np.asarray(cv2.cvtColor(eight_bit, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    reduction = max(grey.shape) / REDUCED_PX
    if reduction <= 1:
        return _read_markers(grey)
    size = (round(grey.shape[1] / reduction), round(grey.shape[0] / reduction))
    seen = _read_markers(np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8))
    if _SOME_MARKERS <= len(seen) < _FEW_MARKERS:
        return _read_markers(grey)
    stretch = np.array(grey.shape[::-1]) / np.array(size)
    return [(number, (quad + 0.5) * stretch - 0.5) for number, quad in seen]


def _read_markers(grey: NDArray[np.uint8]) -> list[tuple[int, Floats]]:
    settings = cv2.aruco.DetectorParameters()
    settings.minMarkerPerimeterRate = 4 * 7 * SMALLEST_CELL_PX / max(grey.shape)
    settings.adaptiveThreshWinSizeMin, settings.adaptiveThreshWinSizeMax = 11, 43
    settings.adaptiveThreshWinSizeStep = 16
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    quads, numbers, _ = cv2.aruco.ArucoDetector(dictionary, settings).detectMarkers(grey)
    if numbers is None:
        return []
    return [
        (int(number), quad.reshape(4, 2).astype(float))
        for number, quad in zip(np.ravel(numbers), quads, strict=True)
    ]


def _one_page(
    design: TargetDesign, seen: list[tuple[int, Floats]]
) -> tuple[dict[int, Floats], list[tuple[int, Floats]]] | None:
    """The markers that lie on one flat page as designed, and those that don't; None when too few do."""
    if len(seen) < _LEAST_MARKERS:
        return None
    px = np.concatenate([quad for _, quad in seen])
    mm = np.concatenate([design.markers[number] for number, _ in seen])
    homography = _homography(px, mm)
    if homography is None:
        return None
    apart = _apart(homography, px, mm).reshape(-1, 4).max(axis=1)
    used: dict[int, Floats] = {}
    left = []
    for (number, quad), off in zip(seen, apart, strict=True):
        if off <= _BEND_MM and number not in used:
            used[number] = quad
        else:
            left.append((number, quad))
    depth = float(homography[2] @ [*px.mean(axis=0), 1.0])
    mirrored = np.linalg.det(homography) / depth**3 > 0  # y runs down in the picture and up on the page
    if len(used) < _LEAST_MARKERS or mirrored:
        return None
    return used, left


def _measured(light: NDArray[np.float32], design: TargetDesign, markers: dict[int, Floats]) -> FoundTarget | None:
    """The page's checker corners; None when too few of them can be measured."""
    saddles = _saddles(light, *_beside_markers(design, markers))
    page = _page_of(design, saddles)
    if page is None:
        return None
    # Once more, from the whole page, for those whose markers are covered or unreadable.
    expected, px_per_mm = _on_page(design, page)
    expected[np.isfinite(saddles[:, 2])] = np.nan
    saddles = np.fmin(saddles, _saddles(light, expected, px_per_mm))
    page = _page_of(design, saddles)
    if page is None:
        return None
    used = np.isfinite(saddles[:, 2])
    used[used] = _apart(page, saddles[used, :2], design.corners[used]) <= _BEND_MM
    px, mm, sigma = saddles[used, :2], design.corners[used], saddles[used, 2]
    return FoundTarget(
        observed=_observed(px, mm, sigma, page),
        paper=design.paper,
        corners_px=px,
        corners_mm=mm,
        outline_px=_mapped(np.linalg.inv(page), design.outline),
        text=f"target on {NAMES[design.paper]} paper, {len(px)} of {len(saddles)} checker corners",
    )


def _page_of(design: TargetDesign, saddles: Floats) -> Floats | None:
    """(3, 3) from image px to page mm, as the saddles show it; None when too few of them lie on one page."""
    seen = np.flatnonzero(np.isfinite(saddles[:, 2]))
    page = _homography(saddles[seen, :2], design.corners[seen]) if _enough(design, seen) else None
    if page is None:
        return None
    right = _apart(page, saddles[seen, :2], design.corners[seen]) <= _BEND_MM
    return page if _enough(design, seen[right]) else None


def _enough(design: TargetDesign, seen: NDArray[np.intp]) -> bool:
    sides = design.on_side[seen].sum(axis=0) >= LEAST_ON_SIDE
    return len(seen) >= LEAST_CORNERS and int(sides.sum()) >= LEAST_SIDES


def _beside_markers(design: TargetDesign, markers: dict[int, Floats]) -> tuple[Floats, Floats]:
    """Where each checker corner should be, (n, 2) px, and px per mm there: from the markers beside it, else nan.

    A marker is so small, and so near, that neither the lens nor a wave of the paper matters between.
    """
    total = np.zeros((len(design.corners), 2))
    scale = np.zeros(len(design.corners))
    count = np.zeros(len(design.corners))
    for number, quad in markers.items():
        own = design.markers[number]
        centre = own.mean(axis=0)
        beside = np.flatnonzero(np.abs(design.corners - centre).max(axis=1) < 0.6 * SQUARE_MM)
        local = np.asarray(
            cv2.getPerspectiveTransform((own - centre).astype(np.float32), quad.astype(np.float32)), dtype=float
        )
        total[beside] += _mapped(local, design.corners[beside] - centre)
        sides = np.hypot(*(np.roll(quad, -1, axis=0) - quad).T)
        scale[beside] += sides.min() / MARKER_MM
        count[beside] += 1
    count[count == 0] = np.nan
    return total / count[:, None], scale / count


def _on_page(design: TargetDesign, homography: Floats) -> tuple[Floats, Floats]:
    """The same from the whole page, as if no lens bent it: right to some tenths of a square."""
    back = np.linalg.inv(homography)
    places = [_mapped(back, design.corners + shift) for shift in np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])]
    scales = [np.hypot(*(moved - places[0]).T) for moved in places[1:]]
    return places[0], np.minimum(scales[0], scales[1])


def _saddles(light: NDArray[np.float32], expected: Floats, px_per_mm: Floats) -> Floats:
    """(n, 3) px: place and standard deviation of the saddle near each expected place; nan where there is none."""
    found = np.full((len(expected), 3), np.nan)
    for k in np.flatnonzero(np.isfinite(expected[:, 0])):
        saddle = _saddle(light, expected[k], px_per_mm[k])
        if saddle is not None:
            found[k] = (*saddle[0], saddle[1])
    return found


def _saddle(light: NDArray[np.float32], near: Floats, px_per_mm: float) -> tuple[Floats, float] | None:
    """The saddle near a point: its place (2,) px and standard deviation; None when there is no clean one."""
    half = int(np.clip(_WINDOW_MM * px_per_mm, *_WINDOW_PX))
    radius = float(np.clip(_RADIUS_MM * px_per_mm - _BLUR_PX, 3, 1.5 * half))
    margin = 2 * half + 8
    left, top = np.round(near).astype(int) - margin
    patch = light[max(top, 0) : top + 2 * margin + 1, max(left, 0) : left + 2 * margin + 1]
    if patch.shape != (2 * margin + 1, 2 * margin + 1):
        return None  # over the picture's border
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 50, 1e-4)
    start = np.array([[near - (left, top)]], dtype=np.float32)
    rough = np.asarray(cv2.cornerSubPix(patch.copy(), start.copy(), (half, half), (-1, -1), criteria), dtype=float)
    rough = rough.reshape(2)
    if np.hypot(*(rough - start[0, 0])) > _MOST_SHIFT * max(half, 4) or not is_saddle(patch, rough, radius):
        return None
    found = symmetric_centre(patch, rough, radius)
    return None if found is None else (found[0] + (left, top), found[1])


def _observed(px: Floats, mm: Floats, sigma: Floats, rough: Floats) -> Observed:
    """Each corner twice: by its x, and by its y, whose errors have nothing to do with one another."""
    count = len(px)
    return Observed(
        kind="target",
        points_px=np.concatenate([px, px]),
        axis=np.repeat([ALONG, ACROSS], count),
        nominal_mm=np.concatenate([mm[:, 0], mm[:, 1]]),
        edge=np.full(2 * count, KNOWN),
        mark=np.arange(2 * count),
        sigma_px=np.concatenate([sigma, sigma]),
        mark_sigma_mm=MARK_SIGMA_MM,
        scale_sigma=SCALE_SIGMA,
        height_mm=0.0,
        height_sigma_mm=FLAT_SIGMA_MM,
        rough=rough,
    )


def _homography(px: Floats, mm: Floats) -> Floats | None:
    """(3, 3) from image px to page mm, whatever some of the points say; None where they lie on one line."""
    found = cv2.findHomography(px, mm, cv2.RANSAC, _BEND_MM)[0]
    return None if found is None else np.asarray(found, dtype=float)


def _apart(homography: Floats, px: Floats, mm: Floats) -> Floats:
    """(n,) mm between where image points lie on the page and where they should."""
    return np.asarray(np.hypot(*(_mapped(homography, px) - mm).T))


def _mapped(homography: NDArray[Any], points: Floats) -> Floats:
    """(n, 2) points through a (3, 3) homography."""
    mapped = cv2.perspectiveTransform(points[None].astype(float), homography)
    return np.asarray(mapped[0], dtype=float)
