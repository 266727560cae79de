"""Edges that can meet, judged by their joint uncertainty."""

import numpy as np
from attrs import evolve

from seamsurvey.block.lengths import matches
from seamsurvey.model import Template
from tests.block.sets import template, template_set


def rectangle(name: str, width: float, height: float) -> Template:
    """A rectangle with corners good to 0.05 mm."""
    return template(name, np.array([[0, 0], [width, 0], [width, height], [0, height]]), 0.05, None, None)


def test_a_long_edge_meets_the_sum_of_short_ones() -> None:
    """100 mm meets 100 mm and 60 + 40, and not 97 or 60 + 37."""
    pairs = (("T1", 100.0, 300.0), ("T2", 60.0, 310.0), ("T3", 40.0, 320.0), ("T4", 97.0, 333.0))
    shapes = template_set(*(rectangle(*pair) for pair in pairs))
    found = {match.others for match in matches(shapes, 2) if (match.template, match.edge) == ("T1", 0)}
    assert (("T1", 2),) in found
    assert {tuple(sorted({name for name, _ in others})) for others in found if len(others) == 2} == {("T2", "T3")}
    assert not any("T4" in {name for name, _ in others} for others in found)


def test_a_shared_scale_error_does_not_hide_a_mismatch() -> None:
    """A scale known to 1 % moves two edges alike: 50.0 and 50.5 mm, each good to 0.05 mm, still don't meet."""
    pair = [rectangle("T1", 50.0, 80.0), rectangle("T2", 50.5, 80.0)]
    scaled = [evolve(one, sensitivity=one.finished_outline.reshape(-1, 1)) for one in pair]
    shared = evolve(template_set(*scaled), shared_covariance=np.array([[0.01**2]]))
    off = {((m.template, m.edge), m.others) for m in matches(shared, 1)}
    assert (("T1", 1), (("T2", 1),)) in off
    assert not any(edge == ("T1", 0) and others[0] in (("T2", 0), ("T2", 2)) for edge, others in off)


def test_every_pair_is_reported_from_both_sides() -> None:
    """What one edge can meet can meet it: the report of single edges is symmetric."""
    pairs = (("T1", 100.0, 60.0), ("T2", 60.0, 40.0))
    found = {((m.template, m.edge), m.others[0]) for m in matches(template_set(*(rectangle(*p) for p in pairs)), 1)}
    assert found == {(b, a) for a, b in found}
    assert (("T1", 1), ("T2", 0)) in found
