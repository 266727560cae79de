"""Everything in a photo that tells of its scale or its shape, found kind by kind."""

from collections.abc import Collection

import attrs
import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.model import Picture
from seamsurvey.photo import id_card, page
from seamsurvey.photo.mat import FoundMat, find_mats
from seamsurvey.photo.observed import Observed
from seamsurvey.photo.quads import find_quads
from seamsurvey.photo.target import FoundTarget, find_targets
from seamsurvey.photo.windows import LIKELY
from seamsurvey.seen_model import REFERENCE
from seamsurvey.units import PAPERS

Floats = NDArray[np.float64]

# How a sheet's two directions may differ in scale. A printer feeds paper with some tenths of a percent of slip;
# a mat is printed from one screen (common practice, no source). A ruler, a cut page and a card know only their own.
PRINTED_ASPECT = 0.002
MAT_ASPECT = 0.0005
# Of a grid the eye took for a ruler: measured on nine mats, 0.05 at most, and on two clear rulers, 0.98 at least.
_OF_RULER = 0.5


@frozen(eq=False, kw_only=True)
class Evidence:
    """One reference: what it tells, and how it is drawn. ``mark`` (n,) are those of ``observed`` that are drawn."""

    observed: Observed
    graduation: str
    unit: str = ""
    step_mm: float = 0.0
    outline_px: Floats
    marks: NDArray[np.intp]
    marks_px: Floats  # (n, 2) image
    mark_ends_px: Floats  # (n, 2) image

    @property
    def has_scale(self) -> bool:
        """Whether it can give a scale; else it tells the shape alone."""
        return bool(np.isfinite(self.observed.scale_sigma))

    def residuals(self, of_points: Floats) -> Floats:
        """(n,) of each drawn mark: the mean of its points' residuals."""
        own = self.observed.mark
        return np.array([float(np.mean(of_points[own == mark])) for mark in self.marks])

    def places_mm(self) -> Floats:
        """(n,) nominal place of each drawn mark, from the least of its direction."""
        first = [int(np.flatnonzero(self.observed.mark == mark)[0]) for mark in self.marks]
        axis, nominal = self.observed.axis[first], self.observed.nominal_mm[first]
        least = np.array([nominal[axis == a].min() if np.any(axis == a) else 0.0 for a in (0, 1)])
        return np.asarray(nominal - least[axis])


def find_sheets(picture: Picture, light: NDArray[np.float32], kinds: Collection[str]) -> list[Evidence]:
    """Mats, targets, sheets of paper and ID-1 cards of the wanted ``kinds``; ``light`` (h, w) linear luminance.

    "a4" and "letter" among the kinds are sheets whose size a person said.
    """
    found: list[Evidence] = []
    said = next((kind for kind in kinds if kind in PAPERS), None)
    if "mat" in kinds:
        found += [_of_mat(mat) for mat in find_mats(light) if not _is_of_ruler(picture, mat)]
    if "target" in kinds:
        found += [_of_target(target) for target in find_targets(picture.pixels)]
    if any(each.observed.kind == "target" for each in found):
        # The target's own squares are an even grid too, of no mat and of no unit.
        found = [each for each in found if each.observed.kind != "mat" or each.unit]
    # A page beside a target is the target's own paper, and a page under a mat's grid is the mat.
    pages = said is not None or (
        "page" in kinds and not any(each.observed.kind in ("mat", "target") for each in found)
    )
    if "card" not in kinds and not pages:
        return found
    pixels = picture.pixels
    quads = find_quads(pixels, id_card.LEAST_SHARE, page.MOST_SHARE)
    if "card" in kinds:
        found += [
            _of_edges(card.observed, card.text, card.outline_px, (id_card.WIDTH_MM, id_card.HEIGHT_MM))
            for card in id_card.find_id_cards(pixels, quads)
        ]
    if pages:
        found += [
            _of_edges(sheet.observed, sheet.text, sheet.outline_px, None)
            for sheet in page.find_pages(
                pixels,
                quads,
                said=said,
                focal_px=picture.focal_px,
                least_share=page.LEAST_SHARE if said is None else page.LEAST_SHARE_SAID,
            )
        ]
    return found


def _is_of_ruler(picture: Picture, mat: FoundMat) -> bool:
    """Whether the eye sees a ruler where the grid is: a clear one has a grid, and its marks not on the table."""
    if picture.seen is None:
        return False
    place = np.zeros(picture.seen.maps.shape[1:], np.uint8)
    cv2.fillPoly(place, [np.rint(picture.seen.to_small(mat.outline_px)).astype(np.int32)], (1,))
    on_it = picture.seen.maps[REFERENCE][place > 0]
    return bool(len(on_it) and np.mean(on_it > LIKELY) > _OF_RULER)


def _of_mat(mat: FoundMat) -> Evidence:
    observed = attrs.evolve(mat.observed, aspect_sigma=MAT_ASPECT)
    marks, starts, ends = _lines(observed)
    step = float(np.min(np.diff(np.unique(observed.nominal_mm))))
    if mat.unit is None:
        text = "mat, grid of unknown unit: shape only"
    else:
        text = f"mat, squares of {'1 inch' if mat.unit == 'inch' else '1 cm'}"
    return Evidence(
        observed=observed,
        graduation=text,
        unit=mat.unit or "",
        step_mm=step if mat.unit else 0.0,
        outline_px=mat.outline_px,
        marks=marks,
        marks_px=starts,
        mark_ends_px=ends,
    )


def _of_target(target: FoundTarget) -> Evidence:
    observed = attrs.evolve(target.observed, aspect_sigma=PRINTED_ASPECT)
    count = len(target.corners_px)
    return Evidence(
        observed=observed,
        graduation=target.text,
        outline_px=target.outline_px,
        marks=np.arange(2 * count, dtype=np.intp),
        marks_px=np.concatenate([target.corners_px, target.corners_px]),
        mark_ends_px=np.concatenate([target.corners_px, target.corners_px]),
    )


def _of_edges(observed: Observed, text: str, outline_px: Floats, size: tuple[float, float] | None) -> Evidence:
    """A page or a card: its four edges are its marks."""
    after = np.roll(outline_px, -1, axis=0)
    if size is None:  # every point of a page's edge is a mark of its own; draw the edges alone
        return Evidence(
            observed=observed, graduation=text, outline_px=outline_px,
            marks=observed.mark, marks_px=observed.points_px, mark_ends_px=observed.points_px,
        )  # fmt: skip
    return Evidence(
        observed=observed, graduation=text, outline_px=outline_px, marks=np.arange(4, dtype=np.intp),
        marks_px=outline_px, mark_ends_px=after,
    )  # fmt: skip


def _lines(observed: Observed) -> tuple[NDArray[np.intp], Floats, Floats]:
    """Each mark that is a line of points, and its two outermost points."""
    marks, starts, ends = [], [], []
    for mark in np.unique(observed.mark):
        points = observed.points_px[observed.mark == mark]
        along = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)[2][0]
        place = points @ along
        marks.append(int(mark))
        starts.append(points[int(np.argmin(place))])
        ends.append(points[int(np.argmax(place))])
    return np.array(marks, dtype=np.intp), np.array(starts), np.array(ends)
