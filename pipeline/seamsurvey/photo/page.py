"""A plain sheet of paper in a photo: its straight edges tell how the table is tilted, and roughly its scale.

Paper is cut square far better than to size; so its opposite edges count as parallel and its neighbouring edges as
square. Its size counts only where a person says which paper it is, with the tolerance of ISO 216: A4 and Letter
differ by less than a tilt does, and a sheet cut by hand is neither.
"""

import math
from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
from attrs import evolve, field, frozen
from numpy.typing import NDArray

from seamsurvey.light import LUMINANCE
from seamsurvey.photo.borders import Border, corners_between, measure_border, moved
from seamsurvey.photo.focal import focal_prior
from seamsurvey.photo.observed import ACROSS, ALONG, KNOWN, Observed
from seamsurvey.photo.quads import LONGEST_PX, find_quads, lies_as, light_about, share_of
from seamsurvey.units import PAPERS

Floats = NDArray[np.float64]

LEAST_SHARE = 0.25  # of the picture: a template is rarely so large
LEAST_SHARE_SAID = 0.1  # where a person says so, or nothing else is there: its sides still have a thousand pixels
MOST_SHARE = 0.95
LEAST_CLEAR = 0.6  # of each edge: templates and hands may cover the rest
# Of the logarithm of the proportions: rough corners and the lens, and what ISO 216 allows the two sides.
ASPECT_SIGMA = 0.01
MOST_OFF = 9.0  # in chi-squared: three standard deviations from a paper's proportions
TOLD_APART = 6.0  # in chi-squared: odds of twenty to one for one paper over another
MOST_CURLED = 1  # of its edges: two across and one along still tell all, with the paper's proportions
LIGHTER = 1.25  # than the ground outside, in linear light, along every edge
MARK_SIGMA_MM = 0.2  # how straight and square paper is cut, and lies; common practice, no source
WAVERING_MM = 3 * MARK_SIGMA_MM
FLAT_SIGMA_MM = 0.3
# ISO 216, tolerances: 1.5 mm for sides up to 150 mm, 2 mm up to 600 mm. Of ANSI/ASME Y14.1's Letter, which states
# none, no better is supposed.
CUT_TOLERANCE_MM = 2.0
NAMES = {"a4": "A4", "letter": "Letter"}
_BESIDE_PX = 6.0
_KEEP_OFF = 0.04
_WAVERING_PX = 2.0  # where a pixel is larger than paper wavers


def cut_sigma(paper: str) -> float:
    """One standard deviation of a side, as a share: it lies anywhere within the limits (JCGM 100:2008, 4.3.7)."""
    return CUT_TOLERANCE_MM / math.sqrt(3) / min(PAPERS[paper])


@frozen(eq=False)
class FoundPage:
    """A sheet: what it tells of the camera, and its corners, (4, 2) image px, counter-clockwise with y up.

    ``papers``: the kinds of paper that its proportions allow, the likeliest first.
    """

    observed: Observed
    outline_px: Floats = field(repr=False)
    papers: tuple[str, ...]
    seen: int  # of its edges, how many were measured
    text: str = "sheet of paper"


def find_pages(
    pixels: NDArray[Any],
    quads: Sequence[Floats] | None = None,
    *,
    said: str | None = None,
    focal_px: float | None = None,
    least_share: float = LEAST_SHARE,
) -> list[FoundPage]:
    """The one sheet that fills a good part of the picture ((h, w, 3) uint8 or uint16, sRGB-encoded), or none.

    It must be lighter than the ground, have four long straight edges in view, and the proportions of A4 or Letter;
    where a person ``said`` which ("a4", "letter"), the proportions of that one, and then it has a scale.
    ``quads`` are those of `quads.find_quads`, when they were found already; ``focal_px`` is what the file says;
    ``least_share`` of the picture it must take.
    """
    size_px = (pixels.shape[1], pixels.shape[0])
    found: list[FoundPage] = []
    for quad in find_quads(pixels, least_share, MOST_SHARE) if quads is None else quads:
        if not least_share <= share_of(quad, size_px) <= MOST_SHARE:
            continue
        page = _measured(pixels, quad, size_px, said, focal_px)
        if page is not None and not any(_same(page, other) for other in found):
            found.append(page)
    # Several would be one sheet and its shadow, or the table: none of them is sure, but where one alone is whole.
    whole = [page for page in found if page.seen == max(each.seen for each in found)]
    return whole if len(whole) == 1 else []


def _same(page: FoundPage, other: FoundPage) -> bool:
    turned = [np.roll(page.outline_px, k, axis=0) - other.outline_px for k in range(4)]
    return min(float(np.hypot(*apart.T).max()) for apart in turned) < _BESIDE_PX


def _measured(
    pixels: NDArray[Any], quad: Floats, size_px: tuple[int, int], said: str | None, focal_px: float | None
) -> FoundPage | None:
    if np.any(quad < _BESIDE_PX) or np.any(quad > np.array(size_px) - 1 - _BESIDE_PX):
        return None  # an edge on the picture's own border is no edge
    reach = 5 * max(1.0, max(size_px) / LONGEST_PX)
    light, first = light_about(pixels, quad, 2 * reach)
    near = quad - first
    px_per_mm = float(np.hypot(*(np.roll(quad, -1, axis=0) - quad).T).sum()) / (2 * sum(PAPERS["a4"]))
    wavering = max(_WAVERING_PX, WAVERING_MM * px_per_mm)
    borders: list[Border | None] = []
    for k in range(4):
        border = measure_border(
            light, near[k], near[(k + 1) % 4], reach_px=reach, keep_off=_KEEP_OFF, wavering_px=wavering
        )
        if border is None or border.clear < LEAST_CLEAR:
            borders.append(None)
        elif _lighter_inside(light, border, near.mean(axis=0)):
            borders.append(moved(border, first))
        else:
            return None
    if borders.count(None) > MOST_CURLED:
        return None
    sides = zip(borders, quad, np.roll(quad, -1, axis=0), strict=True)
    corners = corners_between([np.array([a, b]) if border is None else border.points for border, a, b in sides])
    papers = _papers(corners, size_px, focal_px)
    paper = said or next(iter(papers), None)
    if paper is None or paper not in papers:
        return None
    width, height = papers[paper]
    if width < height:  # its longer side is made the first
        corners, borders, width, height = np.roll(corners, -1, axis=0), borders[1:] + borders[:1], height, width
    own = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float32)
    rough = cv2.getPerspectiveTransform(corners.astype(np.float32), own)
    observed = _observed(borders, width, height, np.asarray(rough, dtype=float))
    seen = len(borders) - borders.count(None)
    if said is None:
        return FoundPage(observed, corners, tuple(papers), seen)
    return FoundPage(_of_size(observed, said), corners, tuple(papers), seen, f"sheet of {NAMES[said]} paper")


def _lighter_inside(light: NDArray[np.float32], border: Border, centre: Floats) -> bool:
    """Whether paper lies on the inner side: lighter, all along the border."""
    inward = centre - border.points.mean(axis=0)
    along = border.points[-1] - border.points[0]
    normal = np.array([-along[1], along[0]]) / np.hypot(*along)
    normal *= np.sign(normal @ inward)
    sides = []
    for way in (1, -1):
        at = (border.points + way * _BESIDE_PX * normal).astype(np.float32)
        seen = cv2.remap(light, at[None, :, 0], at[None, :, 1], cv2.INTER_LINEAR)[0]
        sides.append(seen @ LUMINANCE)
    return bool(np.mean(sides[0] > LIGHTER * sides[1]) >= LEAST_CLEAR)


def _papers(corners: Floats, size_px: tuple[int, int], focal_px: float | None) -> dict[str, tuple[float, float]]:
    """The papers that the corners can be, likeliest first: mm of the first side and the second.

    Each by its chi-squared, of the focal length that it asks for and of the proportions left over.
    """
    focal, sigma = focal_prior(size_px, focal_px)
    best: dict[str, tuple[float, tuple[float, float]]] = {}
    for lying in lies_as(corners, size_px):
        of_focal = (math.log(lying.focal_px / focal) / sigma) ** 2
        for paper, (short, long) in PAPERS.items():
            for sides in ((long, short), (short, long)):
                off = of_focal + (math.log(lying.aspect * sides[1] / sides[0]) / ASPECT_SIGMA) ** 2
                if off < best.get(paper, (MOST_OFF, sides))[0]:
                    best[paper] = (off, sides)
    least = min((off for off, _ in best.values()), default=0.0)
    ranked = sorted(best.items(), key=lambda item: item[1][0])
    return {paper: sides for paper, (off, sides) in ranked if off - least <= TOLD_APART}


def _observed(borders: list[Border | None], width: float, height: float, rough: Floats) -> Observed:
    """Lower, right, upper, left edge: lines y = 0, x = width, y = height, x = 0, each plus an unknown offset.

    An edge that is not there, or not straight, tells nothing.
    """
    lines = zip((ACROSS, ALONG, ACROSS, ALONG), (0.0, width, height, 0.0), borders, strict=True)
    seen = [(axis, place, border) for axis, place, border in lines if border is not None]
    counts = [len(border.points) for *_, border in seen]
    total = sum(counts)
    return Observed(
        kind="page",
        points_px=np.concatenate([border.points for *_, border in seen]),
        axis=np.repeat([axis for axis, *_ in seen], counts),
        nominal_mm=np.repeat([place for _, place, _ in seen], counts),
        edge=np.repeat(np.arange(len(seen)), counts),
        mark=np.arange(total),  # a wavering cut: what one point has of it, the next has not
        sigma_px=np.repeat([border.sigma_px for *_, border in seen], counts),
        mark_sigma_mm=MARK_SIGMA_MM,
        scale_sigma=float("inf"),
        height_mm=0.0,
        height_sigma_mm=FLAT_SIGMA_MM,
        rough=rough,
    )


def _of_size(observed: Observed, paper: str) -> Observed:
    """The same edges at the places that the paper's size gives them; each direction's size errs by itself."""
    sigma = cut_sigma(paper)
    return evolve(
        observed,
        edge=np.full(len(observed.edge), KNOWN),
        scale_sigma=sigma / math.sqrt(2),
        aspect_sigma=sigma * math.sqrt(2),
    )
