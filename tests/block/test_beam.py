"""The search that carries partial layouts on side by side, and its table of candidates."""

import itertools

import numpy as np

from seamsurvey.block.beam import Beam
from seamsurvey.block.outlines import RECTANGLE, SQUARE
from seamsurvey.block.partial import partial_block
from seamsurvey.block.rank import same_layout
from seamsurvey.block.search import Budget, Search, Task
from seamsurvey.block.shapes import Shapes, shapes_of
from seamsurvey.block.work import Work
from tests.block.sets import measured
from tests.scene.families import Family, family


def search_for(truth: Family, steps: int, noise: float = 0.1) -> tuple[Shapes, Search]:
    """A search for a family without symmetry, counts known."""
    templates = measured(truth, noise, 3)
    shapes = shapes_of(templates)
    counts = tuple(one.count + one.reversed_count for one in truth.templates)
    over = tuple(one.reversed_count for one in truth.templates)
    area = sum(c * a for c, a in zip(counts, shapes.areas, strict=True))
    outline = SQUARE if truth.size[0] == truth.size[1] else RECTANGLE
    return shapes, Search(
        shapes, Task(counts, over, "none", outline, area), 6 * shapes.sigma, Budget(Work(60), steps)
    )


def test_it_finds_what_depth_first_search_proves_to_be_all() -> None:
    """Where a search that ends finds one layout, the beam finds that one first, in squares and rectangles."""
    for name in ("harbour-fan", "ferry-panel", "metric-mosaic"):
        shapes, proving = search_for(family(name), 100_000)
        proved = list(proving.run())
        assert proving.finished
        _, search = search_for(family(name), 0)
        (first,) = itertools.islice(Beam(search, 20).run(), 1)
        assert any(same_layout(shapes, first, layout) for layout in proved)


def test_the_fullest_failure_can_be_drawn() -> None:
    """A search cut short leaves a partial block: whole pieces of the templates' sizes, inside the outline."""
    truth = family("harbour-fan")
    shapes, search = search_for(truth, 6)
    assert not list(search.run())
    block = partial_block(shapes, search.best)
    assert block is not None
    assert 0 < len(block.pieces) < len(truth.pieces)
    assert abs(block.width - block.height) < 0.1  # not adjusted
    for piece in block.pieces:
        known = next(one.finished for one in truth.templates if one.name == piece.template)
        assert np.ptp(piece.outline, axis=0).max() <= np.hypot(*np.ptp(known, axis=0)) + 1
        assert piece.outline.min() > -1
        assert piece.outline.max() < block.width + 1
