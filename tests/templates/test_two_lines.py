"""Edges of which some stretches show the card, and some a straight thing beside it: a line of a mat."""

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely import LineString

from seamsurvey.model import PhotoPlane, Picture
from seamsurvey.templates.corners import EdgeUnclearError, Outline
from seamsurvey.templates.fitted import corners_of
from seamsurvey.templates.lines import fit_edges, wobble_of
from seamsurvey.templates.look import Look
from seamsurvey.templates.outlined import crop_of
from seamsurvey.templates.robust_edge import step_in
from tests.templates import drawing as d
from tests.templates.test_seen_cards import SIZE, photo, plane

Floats = NDArray[np.float64]

CARD = d.turned([[0, 0], [70, 0], [86, 40], [16, 40]], 5, (10, -5))
MAT, LINE = np.array([0.03, 0.16, 0.08]), np.array([0.62, 0.62, 0.5])
LOOK = Look(blur_px=0.8, sharpened=0.0, cast=0.0, contact=0.0, height=0.05)
LEAST_MM = 0.25


def wandering(rng: np.random.Generator, count: int = 40) -> Floats:
    """(n, 2) mm: points every 2 mm on an edge that a hand cut, 0.05 mm off it, neighbours alike over 10 mm."""
    along = 2.0 * np.arange(count)
    off = np.convolve(rng.normal(size=count + 8), np.hanning(9), mode="valid")
    return np.column_stack([along, 0.05 * off / off.std() + rng.normal(0, 0.02, count)])


@pytest.mark.parametrize("at", [6, 17, 30])
@pytest.mark.parametrize("by", [0.5, -0.9])
def test_a_step_is_found_where_it_is(at: int, by: float) -> None:
    """Points that leave their line for one beside it are told apart at the very place, in seven tries of eight."""
    found = []
    for seed in range(8):
        points = wandering(np.random.default_rng(seed))
        points[at:, 1] += by
        step = step_in(points[::-1], LEAST_MM) if seed % 2 else step_in(points, LEAST_MM)
        found.append(step is not None and abs(step.at - (len(points) - at if seed % 2 else at)) <= 1)
    assert sum(found) >= 7


def test_a_hand_makes_no_step() -> None:
    """Neither wobble, nor a shallow corner, nor a nick is one."""
    for seed in range(40):
        points = wandering(np.random.default_rng([seed, 1]))
        assert step_in(points, LEAST_MM) is None
        bent = points.copy()
        bent[:, 1] += np.maximum(bent[:, 0] - 30, 0) * np.radians(1.5)
        assert step_in(bent, LEAST_MM) is None
        nicked = points.copy()
        nicked[14:17, 1] -= 0.6
        assert step_in(nicked, LEAST_MM) is None


def beside_a_line(
    slant_deg: float, width_mm: float, gap_mm: float, rough_mm: float
) -> tuple[PhotoPlane, Picture, Floats]:
    """A card and a pale line that runs from ``gap_mm`` beside one corner away from its edge; a rough outline."""
    start, end = CARD[0], CARD[1]
    along = (end - start) / np.hypot(*(end - start))
    outward = np.array([along[1], -along[0]])
    turn = np.radians(slant_deg)
    way = np.cos(turn) * along + np.sin(turn) * outward
    near, far = (0, 1) if slant_deg > 0 else (1, 0)
    middle = CARD[near] + (gap_mm + width_mm / 2) * outward
    stroke = LineString([middle - 150 * way, middle + 150 * way]).buffer(width_mm / 2, cap_style="flat")
    view = plane()
    shapes = [(np.array(stroke.exterior.coords[:-1]), LINE), (CARD, np.array(d.CHIPBOARD))]
    rough = CARD.copy()
    rough[near] += rough_mm * outward
    rough[far] -= 0.3 * outward
    return view, photo(np.broadcast_to(MAT, (SIZE[1], SIZE[0], 3)), shapes, view), rough


@pytest.mark.parametrize(
    ("slant_deg", "width_mm", "gap_mm", "rough_mm"),
    [(0.3, 1.2, 0.2, 0.8), (-0.3, 1.2, 0.2, 0.8), (-0.3, 1.2, 0.2, 1.1), (-0.3, 1.2, 0.0, 1.1)],
)
def test_an_edge_beside_a_line_of_a_mat_is_the_cards(
    slant_deg: float, width_mm: float, gap_mm: float, rough_mm: float
) -> None:
    """A pale line that runs away from a card's edge under a third of a degree never pulls it.

    The rough outline is on the line at one end and within the card at the other. Every corner comes out within
    0.25 mm, and every edge within its own U.
    """
    view, picture, rough = beside_a_line(slant_deg, width_mm, gap_mm, rough_mm)
    crop = crop_of(picture, view, view.to_px(rough))
    edges = fit_edges(crop, Outline(corners=rough), view, look=LOOK)
    assert np.hypot(*(corners_of(edges) - CARD).T).max() < 0.25
    wobble = wobble_of([edges])
    for k, fitted in enumerate(edges):
        true = (CARD[k] + CARD[(k + 1) % 4]) / 2
        assert abs((true - fitted.middle) @ fitted.outward) < 2 * np.sqrt(fitted.covariance(wobble)[0, 0])


def test_an_edge_that_half_a_line_hides_is_refused() -> None:
    """A line that the card covers at one end, and that hides its edge beyond: no length is made of both."""
    view, picture, rough = beside_a_line(0.3, 0.8, -0.3, 1.1)
    with pytest.raises(EdgeUnclearError):
        fit_edges(crop_of(picture, view, view.to_px(rough)), Outline(corners=rough), view, look=LOOK)
