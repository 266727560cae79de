"""Curved edges: told from straight ones by evidence, fitted as arcs, finished and compared as such."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.optimize import least_squares

from seamsurvey.arcs import arc_length, bulge_of, drawn_out
from seamsurvey.curves import Curve, curves_of
from seamsurvey.model import Template
from seamsurvey.templates.corners import FreeCurveError, NoOutlineError
from seamsurvey.templates.fitted import fitted_arc
from seamsurvey.templates.sides import find_edges
from seamsurvey.templates.twins import Likeness, compare
from tests.looked import look_and_measure
from tests.templates import drawing as d

Floats = NDArray[np.float64]

QUARTER = bulge_of(90)
PIE = np.array([[0.0, 0], [50, 0], [0, 50]]), (0.0, QUARTER, 0.0)
FAN = np.array([[20.0, 0], [60, 0], [0, 60], [0, 20]]), (0.0, QUARTER, 0.0, -QUARTER)
ARCH = np.array([[0.0, 0], [50, 0], [50, 40], [0, 40]]), (0.0, 0.0, 1.0, 0.0)
LEAF = np.array([[0.0, 0], [60, 0], [60, 60], [0, 60]]), (0.0, QUARTER, 0.0, -QUARTER)


def points_along(corners: Floats, bulges: tuple[float, ...], wobble: float, seed: int) -> Floats:
    """Points every half millimetre along an outline, wandering about it with a correlation of 8 mm."""
    rng = np.random.default_rng(seed)
    parts = []
    for k, curve in enumerate(curves_of(corners, bulges)):
        chord = float(np.hypot(*(corners[(k + 1) % len(corners)] - corners[k])))
        length = arc_length(chord, bulges[k])
        count = int(length / 0.5)
        sigma = 8.0 / 0.5 / np.sqrt(2)
        wander = gaussian_filter1d(rng.normal(size=count + 400), sigma)[200 : 200 + count]
        off = wander * wobble * np.sqrt(2 * np.sqrt(np.pi) * sigma) + rng.normal(size=count) * 0.008
        on = curve.at((np.arange(count) + 0.5) * length / count)
        parts.append(on + off[:, None] * np.array([curve.outward_at(at) for at in on]))
    return np.vstack(parts)


def sweeps(bulges: tuple[float, ...]) -> list[float]:
    """Degrees, sorted."""
    return sorted(float(v) for v in np.degrees(4 * np.arctan(bulges)))


@pytest.mark.parametrize("shape", [PIE, FAN, ARCH, LEAF])
def test_arcs_are_found(shape: tuple[Floats, tuple[float, ...]]) -> None:
    """Every edge is found as what it is, line or arc, smooth joints included, on clean and on hand-cut cards."""
    for wobble, near in ((0.0, 0.5), (0.09, 4.0)):
        found = find_edges(points_along(*shape, wobble, 1))
        assert sweeps(found.bulges) == pytest.approx(sweeps(shape[1]), abs=near)


@pytest.mark.parametrize("seed", range(8))
def test_wobble_is_no_arc(seed: int) -> None:
    """Edges cut by hand with 0.2 mm of wobble over 8 mm stay straight."""
    rectangle = np.array([[0.0, 0], [100, 0], [100, 80], [0, 80]])
    found = find_edges(points_along(rectangle, (0.0,) * 4, 0.2, seed))
    assert len(found.corners) == 4
    assert found.bulges == ()


def test_round_and_free_shapes_are_left_out() -> None:
    """A disc and an oval say that they have no corner."""
    angle = np.linspace(0, 2 * np.pi, 300, endpoint=False)
    disc = 20 * np.column_stack([np.cos(angle), np.sin(angle)])
    with pytest.raises(NoOutlineError, match="round"):
        find_edges(disc)
    with pytest.raises(NoOutlineError, match="round"):
        find_edges(disc * [1.8, 1.0])


FREE_CURVES: list[Callable[[Floats], Floats]] = [
    lambda share: 15 * np.sin(2 * np.pi * share),
    lambda share: 15 * np.sin(np.pi * share) ** 2,
    lambda share: 41.6 * share * (1 - share) * (1 - 2 * share),
    lambda share: 54 * share**2 * (1 - share),
]


@pytest.mark.parametrize("high", FREE_CURVES)
def test_free_curves_are_not_cut_into_chords(high: Callable[[Floats], Floats]) -> None:
    """A card whose upper edge follows no arcs is left out, though straight lines come near it all along."""
    across, up = np.arange(0, 80, 0.5), np.arange(0, 60, 0.5)
    sides = [
        (across, 0 * across), (80 + 0 * up, up), (80 - across, 60 + high(across / 80)), (0 * up, 60 - up),
    ]  # fmt: skip
    card = np.vstack([np.column_stack(side) for side in sides])
    with pytest.raises(FreeCurveError):
        find_edges(card + np.random.default_rng(1).normal(scale=0.01, size=card.shape))


def test_circle_fit_against_scipy() -> None:
    """The arc's centre and radius are those of scipy's geometric least squares, to a micrometre."""
    rng = np.random.default_rng(4)
    turn = np.linspace(0.2, 1.5, 60)
    points = 40 * np.column_stack([np.cos(turn), np.sin(turn)]) + rng.normal(scale=0.1, size=(60, 2))

    def off(p: Floats) -> Floats:
        return np.asarray(np.hypot(*(points - p[:2]).T) - p[2])

    best = least_squares(off, [1.0, -1.0, 38.0], xtol=1e-14, ftol=1e-14)
    start = Curve(np.array([25.0, 27.0]), np.array([-0.7, 0.7]) / np.hypot(0.7, 0.7), 1 / 45)
    found = fitted_arc(points, np.ones(60), start)
    np.testing.assert_allclose([*found.centre, found.radius], best.x, atol=1e-3)


def template_of(shape: tuple[Floats, tuple[float, ...]], turn: float, allowance_mm: float = 0.0) -> Template:
    """The template of a scan of this card."""
    outline = d.turned(drawn_out(*shape, sagitta=0.004), turn, (60, 60))
    scan = d.scan([outline], size_mm=(120, 120), card=d.CHIPBOARD, shadow_mm=0.8)
    (template,) = look_and_measure([scan], allowance_mm=allowance_mm).templates
    return template


@pytest.mark.parametrize("turn", [17.0, 200.0])
def test_scanned_fan(turn: float) -> None:
    """A fan blade's radii, sweeps and lengths are within their U of the truth, and near it, however it lies."""
    template = template_of(FAN, turn)
    curved = sorted((edge for edge in template.edges if edge.curve), key=lambda edge: edge.length_mm)
    assert len(template.edges) == 4
    for edge, radius, side in zip(curved, (20.0, 60.0), (-1, 1), strict=True):
        assert edge.curve is not None
        assert abs(edge.curve.radius_mm - radius) < min(edge.curve.u_radius_mm, 0.12)
        assert abs(edge.curve.sweep_deg - side * 90) < edge.curve.u_sweep_deg
        assert abs(edge.length_mm - radius * np.pi / 2) < min(edge.u_mm, 0.12)
    for edge in (edge for edge in template.edges if not edge.curve):
        assert abs(edge.length_mm - 40) < min(edge.u_mm, 0.1)


def test_allowance_comes_off_the_radius() -> None:
    """Cut with 6 mm all round, a quarter disc comes back with its radius 6 mm less, and the cut arc is kept."""
    template = template_of(PIE, 30.0, allowance_mm=6.0)
    (arc,) = (edge.curve for edge in template.edges if edge.curve)
    assert abs(arc.radius_mm - 44) < min(arc.u_radius_mm, 0.12)
    assert sweeps(template.cut_bulges) == pytest.approx([0, 0, 90], abs=0.5)
    np.testing.assert_allclose(
        template.bulges, [bulge_of(e.curve.sweep_deg) if e.curve else 0 for e in template.edges]
    )


def test_arc_and_chord_are_never_copies() -> None:
    """Copies are told by their arcs, too: the same corners with a straight edge are another shape."""
    arch = template_of(ARCH, 10.0)
    again = template_of(ARCH, 140.0)
    straight = template_of((ARCH[0], ()), 10.0)
    shared = np.zeros((arch.sensitivity.shape[1],) * 2)
    assert compare(arch, again, shared).likeness is Likeness.EQUAL
    assert compare(arch, straight, shared).likeness is Likeness.DIFFERENT
