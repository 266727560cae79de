"""The scale that a printed page carries itself: a bar, a test square or a grid whose true measure a person tells.

A page is often printed a few percent too small. What its own bar is meant to measure then says more than a ruler
laid beside it: every length comes out as its maker meant it.
"""

import math

import attrs
import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates
from scipy.spatial.distance import cdist

from seamsurvey import camera
from seamsurvey.errors import InputError, UndecidedError
from seamsurvey.geometry import edge_vectors, interior_angles
from seamsurvey.model import PhotoPlane, Picture, Plane, ScanPlane
from seamsurvey.templates.cards import place_text
from seamsurvey.templates.line_art import LEAST_INK, LineArt
from seamsurvey.templates.outlined import Outlined
from seamsurvey.templates.page_grid import find_grid
from seamsurvey.units import mm_text

Floats = NDArray[np.float64]

BAR, SQUARE, GRID = "The page's bar", "The page's square", "The page's grid"
MOST_OFF = 0.12  # by which a page may be printed too small or too large; more, and another thing was found
SAID_OFF = 0.003  # what is off by more is worth a word
_PRINTED_SIGMA = 0.0005  # of a printed measure's own length, besides the whole page's scale, as of a ruler
_AXES_SIGMA = 0.003  # by which paper feed and print head differ (common practice, no source)
_SHEAR_SIGMA = 0.0005
_SAME_PLACE_MM = 1.0
_ALIKE = 0.005  # two bars that agree to within this tell the same
_SQUARE_DEG = 1.0
_BAR_SLENDER = 0.3  # a bar's ticks are no longer than this share of it
_TICK_SHARE = 0.5  # of a tick's usual ink


@frozen(kw_only=True)
class Measure:
    """A measure of the page: ``way`` (2, 2) plane mm, its columns the vectors that should be ``true_mm`` long.

    The second is as the first, turned, where only one direction is known (``both`` False); ``u_mm`` is one standard
    deviation of either; ``what`` it is and ``at_px`` (n, 2) where.
    """

    way: Floats
    true_mm: float
    u_mm: float
    both: bool
    what: str
    at_px: Floats

    @property
    def share(self) -> float:
        """How long the plane makes what should be 1."""
        return math.sqrt(abs(float(np.linalg.det(self.way)))) / self.true_mm


def scaled(plane: Plane, measure: Measure) -> Plane:
    """The plane in which the measure is as long as it should be, and a sentence on what it was before."""
    text = (
        f"{measure.what} of {mm_text(measure.true_mm, 2)} measures {mm_text(measure.share * measure.true_mm, 2)}"
        f" by what else tells the scale: the page stands at {measure.share:.1%} of its size. Every length here is"
        " what it is meant to be, not what it is on the paper."
    )
    if not plane.references:
        warnings: tuple[str, ...] = (
            f"No ruler was used. {measure.what} was taken to measure {mm_text(measure.true_mm, 2)}; by the"
            f" resolution that the file states it measures {mm_text(measure.share * measure.true_mm, 2)}.",
        )
    else:
        warnings = (*plane.warnings, text) if abs(measure.share - 1) > SAID_OFF else plane.warnings
    if isinstance(plane, PhotoPlane):
        return attrs.evolve(
            _photo_scaled(plane, 1 / measure.share, measure.u_mm / measure.true_mm), warnings=warnings
        )
    if isinstance(plane, ScanPlane):
        return attrs.evolve(_scan_scaled(plane, measure), warnings=warnings)
    return plane


def _photo_scaled(plane: PhotoPlane, share: float, sigma: float) -> PhotoPlane:
    """The camera farther away by a share, its tilt as it is; the measure's doubt is added to the scale's own."""
    theta = plane.theta.copy()
    theta[camera.LOG_HEIGHT] += math.log(share)
    covariance = plane.covariance.copy()
    covariance[camera.LOG_HEIGHT, camera.LOG_HEIGHT] += sigma**2 + _PRINTED_SIGMA**2
    return attrs.evolve(plane, theta=theta, face_mm=plane.face_mm * share, covariance=covariance)


def _scan_scaled(plane: ScanPlane, measure: Measure) -> ScanPlane:
    """The glass strained so that the measure's ways are square to one another and as long as they should be."""
    left, _, right = np.linalg.svd(measure.way)
    square = left @ right  # the nearest two directions at a right angle (polar decomposition)
    strain = measure.true_mm * square @ np.linalg.inv(measure.way)
    if not measure.both:
        strain = np.eye(2) / measure.share
    matrix = strain @ plane.matrix
    own = math.hypot(measure.u_mm / measure.true_mm, _PRINTED_SIGMA)
    one, two = square.T
    along, across = np.outer(one, one), np.outer(two, two)
    shear = (np.outer(one, two) + np.outer(two, one)) * _SHEAR_SIGMA
    parts = [along * own, across * own] if measure.both else [(along + across) * own, across * _AXES_SIGMA]
    moves = np.column_stack([(part @ matrix).ravel() for part in (*parts, shear)])
    return attrs.evolve(plane, matrix=matrix, covariance=moves @ moves.T, axis=one)


# --- the grid ---


def grid_measure(art: LineArt, plane: Plane, step_mm: float, picture: Picture) -> Measure:
    """The page's grid, its squares ``step_mm`` wide, or a whole part of that; InputError ``no-page-measure``."""
    grid = find_grid(art, plane)
    if grid is None or len(grid.centres) < 6:
        raise _nothing(picture, "a grid", step_mm)
    at = plane.to_mm(art.to_px(grid.centres))
    ways, spread = _lattice(at)
    side = math.sqrt(abs(float(np.linalg.det(ways))))
    parts = max(1, round(step_mm / side))
    measure = Measure(
        way=ways * parts, true_mm=step_mm, u_mm=spread * parts, both=True, what=GRID,
        at_px=art.to_px(grid.centres),
    )  # fmt: skip
    return _believable(measure, picture)


def _lattice(at: Floats) -> tuple[Floats, float]:
    """(2, 2): the two steps, as columns, of the lattice that (n, 2) points lie on; and their standard deviation."""
    apart = cdist(at, at)
    np.fill_diagonal(apart, np.inf)
    near = float(np.median(apart.min(axis=1)))
    i, j = np.nonzero(apart < 1.2 * near)
    ways = at[j] - at[i]
    turn = np.angle(np.mean(np.exp(4j * np.arctan2(ways[:, 1], ways[:, 0])))) / 4
    one = near * np.array([math.cos(turn), math.sin(turn)])
    two = np.array([-one[1], one[0]])
    basis = np.column_stack([one, two])
    # Along the way from neighbour to neighbour, so that a step that is a little off does not add up.
    number = np.full((len(at), 2), np.nan)
    waiting = [int(np.argmin(np.hypot(*(at - at.mean(axis=0)).T)))]
    number[waiting[0]] = 0
    while waiting:
        k = waiting.pop()
        for other in np.flatnonzero((apart[k] < 1.2 * near) & np.isnan(number[:, 0])):
            number[other] = number[k] + np.round(np.linalg.solve(basis, at[other] - at[k]))
            waiting.append(int(other))
    used = np.isfinite(number[:, 0])
    for _ in range(4):
        design = np.column_stack([np.ones(int(used.sum())), number[used]])
        fit = np.linalg.lstsq(design, at[used], rcond=None)[0]
        off = np.hypot(*(at - np.column_stack([np.ones(len(at)), np.nan_to_num(number)]) @ fit).T)
        usual = float(np.median(off[used]))
        used &= off < 4 * usual + 1e-6
    spread = float(np.sqrt(np.mean(off[used] ** 2) / 2))
    covariance = np.linalg.inv(design.T @ design)
    return fit[1:].T, spread * float(np.sqrt(covariance[1:, 1:].diagonal().max()))


# --- a square or a bar ---


def bar_measure(
    art: LineArt, outlines: tuple[Outlined, ...], plane: Plane, true_mm: float, picture: Picture
) -> Measure:
    """The page's scale bar, or test square, that should measure ``true_mm``.

    InputError ``no-page-measure``; UndecidedError ``several-measures`` where things of that size disagree.
    """
    found = [*_squares(outlines, plane, true_mm), *_bars(art, plane, true_mm)]
    if not found:
        raise _nothing(picture, "a bar or a square", true_mm)
    shares = [each.share for each in found]
    if max(shares) / min(shares) - 1 > _ALIKE:
        raise UndecidedError(
            "several-measures",
            f"More than one thing on the page may be what measures {mm_text(true_mm, 2)}, and they differ.",
            where="; ".join(f"{place_text(each.at_px, picture)}, {each.share:.1%}" for each in found),
            todo="Lay a ruler on the page, or tell the step of its grid with --page-grid.",
        )
    # A square tells both directions.
    return max(found, key=lambda each: each.both)


def is_measure(card: Outlined, measure: Measure, plane: Plane) -> bool:
    """Whether an outline is the page's test square itself."""
    apart = plane.to_px(card.corners).mean(axis=0) - measure.at_px.mean(axis=0)
    return measure.what == SQUARE and float(np.hypot(*apart)) * plane.mm_per_px < _SAME_PLACE_MM


def _squares(outlines: tuple[Outlined, ...], plane: Plane, true_mm: float) -> list[Measure]:
    found = []
    for card in outlines:
        if len(card.corners) != 4 or card.seam:
            continue
        if np.abs(interior_angles(card.corners) - 90).max() > _SQUARE_DEG:
            continue
        ways = edge_vectors(card.corners)
        pair = np.column_stack([(ways[0] - ways[2]) / 2, (ways[1] - ways[3]) / 2])
        if np.abs(np.hypot(*pair) / true_mm - 1).max() < MOST_OFF:
            u = max(line.own_bias_mm for line in card.edges) * math.sqrt(2)
            found.append(
                Measure(way=pair, true_mm=true_mm, u_mm=u, both=True, what=SQUARE,
                        at_px=plane.to_px(card.corners))
            )  # fmt: skip
    return found


def _bars(art: LineArt, plane: Plane, true_mm: float) -> list[Measure]:
    """Straight strokes with a tick across at both ends."""
    ink = (art.ink > LEAST_INK).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(ink, connectivity=8)
    found = []
    for label in range(1, count):
        left, top, wide, high, _ = (int(v) for v in stats[label])
        if not (1 - MOST_OFF) * true_mm < math.hypot(wide, high) / art.per_mm < (1 + MOST_OFF) * true_mm + 2:
            continue
        ys, xs = np.nonzero(labels[top : top + high, left : left + wide] == label)
        centre, (one, other), angle = cv2.minAreaRect(np.column_stack([xs, ys]).astype(np.float32))
        along = math.radians(angle if one >= other else angle + 90)
        long, short = max(one, other), min(one, other)
        if short > _BAR_SLENDER * long or short < 1.0 * art.per_mm:
            continue
        way = np.array([math.cos(along), math.sin(along)])
        ends = _tick_ends(art, np.array(centre) + np.array([left, top]), way, long, short)
        if ends is None:
            continue
        px = art.to_px(ends)
        vector = np.diff(plane.to_mm(px), axis=0)[0]
        if abs(float(np.hypot(*vector)) / true_mm - 1) < MOST_OFF:
            both = np.column_stack([vector, [-vector[1], vector[0]]])
            u = 0.1 * plane.mm_per_px * math.sqrt(2)
            found.append(Measure(way=both, true_mm=true_mm, u_mm=u, both=False, what=BAR, at_px=px))
    return found


def _tick_ends(art: LineArt, centre: Floats, way: Floats, long: float, short: float) -> Floats | None:
    """(2, 2) coarse (x, y): the middles of the ticks at both ends; None where it has none."""
    across = np.array([-way[1], way[0]])
    at = np.arange(-long / 2 - 3, long / 2 + 3.01, 0.1)
    rows = []
    for offset in (-0.32, -0.25, 0.25, 0.32):  # beside the bar's own stroke
        place = centre + at[:, None] * way + offset * short * across
        rows.append(map_coordinates(art.ink, [place[:, 1], place[:, 0]], order=3, mode="nearest"))
    profile: Floats = np.min(rows, axis=0)
    strong = profile > _TICK_SHARE * profile.max()
    if profile.max() < LEAST_INK or strong.mean() > 0.5:
        return None
    edges = np.flatnonzero(np.diff(np.concatenate([[0], strong.astype(int), [0]])))
    first, last = edges[:2], edges[-2:]
    middles = [float(np.average(at[a:b], weights=profile[a:b])) for a, b in (first, last)]
    if abs(middles[0] + long / 2) > 0.1 * long or abs(middles[1] - long / 2) > 0.1 * long:
        return None
    return np.array([centre + middle * way for middle in middles])


# --- what can go wrong ---


def _believable(measure: Measure, picture: Picture) -> Measure:
    if abs(measure.share - 1) < MOST_OFF:
        return measure
    raise InputError(
        "no-page-measure",
        f"{measure.what} measures {mm_text(measure.share * measure.true_mm, 2)}, not about"
        f" {mm_text(measure.true_mm, 2)}.",
        where=picture.name,
        likely="Its step is another than was told, or the scale from the ruler or the file is wrong.",
        todo="Look at the page, and say its step again with --page-grid.",
    )


def _nothing(picture: Picture, what: str, true_mm: float) -> InputError:
    return InputError(
        "no-page-measure",
        f"Nothing on the page is {what} of about {mm_text(true_mm, 2)}.",
        where=picture.name,
        likely="It is broken or too faint, it has no strokes across its ends, or it measures something else.",
        todo="Lay a ruler on the page and scan it again, or leave the option away.",
    )
