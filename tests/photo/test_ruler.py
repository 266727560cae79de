"""Graduated edges are found on whatever level of the picture shows them, each once."""

import numpy as np
import pytest

from seamsurvey.photo import ruler
from seamsurvey.photo.combs import square_on
from seamsurvey.photo.ruler import find_graduated_edges
from tests.photo.drawn import MILLIMETRES, SIXTEENTHS, Ruler, draw


def test_a_picture_too_fine_is_measured_on_its_half_and_the_places_are_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The same marks, to a tenth of a pixel, whether or not the finest level is left out."""
    pixels = draw([Ruler(MILLIMETRES, (10.0, 8.0), 3.0)], size_mm=(125, 45), px_per_mm=(16.1, 16.1)).pixels
    (full,) = [edge for edge in find_graduated_edges(pixels) if edge.readings]
    monkeypatch.setattr(ruler, "FINEST_PIXELS", pixels.shape[0] * pixels.shape[1] // 3)
    monkeypatch.setattr(ruler, "BAND_ROWS", 64)
    monkeypatch.setattr(ruler, "LEVELS", 1)
    (half,) = [edge for edge in find_graduated_edges(pixels) if edge.readings]
    assert half.marks == full.marks == MILLIMETRES.marks
    whole, shrunk = square_on(full.comb), square_on(half.comb)
    assert np.abs((shrunk.points - whole.points) @ whole.edge).max() < 0.1
    assert shrunk.step == pytest.approx(whole.step, rel=2e-5)


def test_each_edge_is_found_once() -> None:
    """Two graduated edges are two, although far ends of marks, gaps between them and a coarser level show too."""
    pixels = draw([Ruler(MILLIMETRES, opposite=SIXTEENTHS)], px_per_mm=(11.8, 11.8)).pixels
    names = [edge.readings[0].graduation.text for edge in find_graduated_edges(pixels) if edge.readings]
    assert sorted(names) == ["cm, 1 mm", "inch, 1/16"]
