"""Rulers: that every mark stands where its value says."""

import numpy as np
import pytest
import shapely

from tests.scene.plates import CLEAR
from tests.scene.rulers import (
    RULERS,
    UNIT_MM,
    RulerKind,
    figures_of,
    grid_of,
    holes_of,
    marks_of,
    outline_of,
    word_of,
)

KINDS = list(RULERS.values())


def named(kind: RulerKind) -> str:
    """The ruler's name, for the test's."""
    return kind.name


def test_units_are_the_legal_ones() -> None:
    """One inch is 25.4 mm exactly (NBS Circular 572, addendum 1960), a centimetre ten."""
    assert UNIT_MM == {"inch": 25.4, "cm": 10.0}


@pytest.mark.parametrize("kind", KINDS, ids=named)
def test_marks_stand_at_their_values(kind: RulerKind) -> None:
    """Each mark's middle is the value's distance from zero, square to the edge and inside the ruler."""
    body = shapely.Polygon(outline_of(kind)).buffer(0.9)  # marks may reach into a rounded corner
    for scale in kind.scales:
        marks = marks_of(kind, scale)
        values = np.array([mark.value for mark in marks])
        middles = np.array([mark.outline.mean(axis=0)[0] for mark in marks])
        sign = -1.0 if scale.backwards else 1.0
        assert middles == pytest.approx(scale.zero + sign * UNIT_MM[scale.unit] * values, abs=1e-9)
        assert all(body.contains(shapely.Polygon(mark.outline)) for mark in marks)
        finest = 1.0 / scale.levels[-1][0]
        assert np.diff(values) == pytest.approx(np.full(len(values) - 1, finest), abs=1e-12)


@pytest.mark.parametrize("kind", KINDS, ids=named)
def test_coarser_marks_are_longer(kind: RulerKind) -> None:
    """The length of a mark falls with its level, whole units the longest: the hierarchy that tells units."""
    for scale in kind.scales:
        lengths: dict[int, set[float]] = {}
        for mark in marks_of(kind, scale):
            lengths.setdefault(mark.level, set()).add(round(float(np.ptp(mark.outline[:, 1])), 9))
        assert all(len(found) == 1 for found in lengths.values())
        in_order = [lengths[level].pop() for level in sorted(lengths)]
        assert in_order == sorted(in_order, reverse=True)
        assert min(-np.diff(in_order)) > 0.5


@pytest.mark.parametrize("kind", KINDS, ids=named)
def test_print_on_a_ruler_does_not_run_into_other_print(kind: RulerKind) -> None:
    """Figures, words and holes keep off the marks, print keeps off other print, and all stays on the ruler."""
    body = shapely.Polygon(outline_of(kind))
    marks = shapely.union_all([shapely.Polygon(m.outline) for s in kind.scales for m in marks_of(kind, s)])
    prints = [shapely.union_all([shapely.Polygon(p) for p in figures_of(kind, s)]) for s in kind.scales]
    if word_of(kind):
        prints.append(shapely.union_all([shapely.Polygon(p) for p in word_of(kind)]))
    for k, figures in enumerate(prints):
        assert body.contains(figures)
        assert figures.distance(marks) > 0.2
        assert all(figures.distance(other) > 0.2 for other in prints[:k])
    assert all(marks.distance(shapely.Polygon(hole)) > 0.2 for hole in holes_of(kind))


def test_sixteenths_have_their_five_levels() -> None:
    """Between two inches of a ruler in sixteenths stand 1 half, 2 quarters, 4 eighths and 8 sixteenths."""
    kind = RULERS["wood-12in-cm"]
    inside = [mark.level for mark in marks_of(kind, kind.scales[0]) if 3.0 < mark.value < 4.0]
    assert [inside.count(level) for level in range(5)] == [0, 1, 2, 4, 8]


def test_the_second_edge_can_run_the_other_way() -> None:
    """On the wooden ruler inches grow to the right on one edge and centimetres to the left on the other."""
    kind = RULERS["wood-12in-cm"]
    inch, cm = ([mark.foot for mark in marks_of(kind, scale)] for scale in kind.scales)
    assert np.all(np.diff([foot[0] for foot in inch]) > 0)
    assert np.all(np.diff([foot[0] for foot in cm]) < 0)
    assert {foot[1] for foot in inch} == {kind.width}
    assert {foot[1] for foot in cm} == {0.0}


def test_a_plates_sides_count_from_its_corner() -> None:
    """On a clear plate's short sides the marks stand at their values up the side and run inward from it."""
    kind = CLEAR["clear-6x12"]
    for scale in kind.scales[2:]:
        marks = marks_of(kind, scale)
        middles = np.array([mark.outline.mean(axis=0) for mark in marks])
        assert middles[:, 1] == pytest.approx([25.4 * mark.value for mark in marks], abs=1e-9)
        assert {round(float(mark.foot[0]), 9) for mark in marks} == {0.0 if scale.edge == "left" else 304.8}
        assert middles[:, 0].min() > 0.0
        assert middles[:, 0].max() < 304.8


def test_a_plates_grid_lies_on_whole_and_half_inches() -> None:
    """The solid lines of a clear plate's grid stand at whole inches, the dashes at the halves between them."""
    for lines, axis, sides in zip(grid_of(CLEAR["clear-6x12"]), (0, 1), ((12, 6), (6, 12)), strict=True):
        at = {round(float(line[:, axis].mean()) / 12.7, 6) for line in lines}
        assert at == set(range(1, 2 * sides[0]))
        solid = [line for line in lines if np.ptp(line[:, 1 - axis]) > 100.0]
        assert [round(float(line[:, axis].mean()) / 25.4, 6) for line in solid] == list(range(1, sides[0]))
        assert all(np.ptp(line[:, 1 - axis]) == pytest.approx(25.4 * sides[1]) for line in solid)
