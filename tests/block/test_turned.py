"""Rivals with a part turned: all that an exhaustive search finds, and none that it doesn't."""

import numpy as np

from seamsurvey.block.assemble import assemble
from seamsurvey.block.find import Finder
from seamsurvey.block.outlines import RECTANGLE
from seamsurvey.block.rank import same_layout
from seamsurvey.block.shapes import shapes_of
from seamsurvey.block.turned import turned_layouts
from seamsurvey.block.work import Work
from tests.benchmarks.layout_blocks import KINDS, block
from tests.block.sets import measured, template, template_set

# Two slanted strips side by side fill a rectangle together with a wedge at each side; each strip is cut in two in
# its own way, so that it can be turned half round by itself.
HEIGHT = 90.0
PIECES = [
    np.array([[0.0, 0.0], [21.0, 0.0], [47.0, HEIGHT], [0.0, HEIGHT]]),
    np.array([[21.0, 0.0], [55.0, 0.0], [55.0 + 26 * 37 / HEIGHT, 37.0], [21.0 + 26 * 24 / HEIGHT, 24.0]]),
    np.array([[21.0 + 26 * 24 / HEIGHT, 24.0], [55.0 + 26 * 37 / HEIGHT, 37.0], [81.0, HEIGHT], [47.0, HEIGHT]]),
    np.array([[55.0, 0.0], [98.0, 0.0], [98.0 + 26 * 58 / HEIGHT, 58.0], [55.0 + 26 * 71 / HEIGHT, 71.0]]),
    np.array([[55.0 + 26 * 71 / HEIGHT, 71.0], [98.0 + 26 * 58 / HEIGHT, 58.0], [124.0, HEIGHT], [81.0, HEIGHT]]),
    np.array([[98.0, 0.0], [160.0, 0.0], [160.0, HEIGHT], [124.0, HEIGHT]]),
]


def test_turning_parts_comes_to_all_that_an_exhaustive_search_finds() -> None:
    """From one layout, by one turn after another, all eight are reached, and nothing that no search finds."""
    shapes = shapes_of(template_set(*(template(f"T{k}", piece, 0.03, 1, 0) for k, piece in enumerate(PIECES))))
    exhaustive = Finder(shapes, ((1, 0),) * len(PIECES), "none", (RECTANGLE,), Work(600.0)).at(("none",), 0.5)
    assert exhaustive.searched_all
    layouts = [ranked.layout for ranked in exhaustive.layouts]
    reached, waiting = {0}, [0]
    while waiting:
        start = layouts[waiting.pop()]
        for turned in turned_layouts(shapes, start, Work(600.0)):
            (number,) = [k for k, known in enumerate(layouts) if same_layout(shapes, turned, known)]
            assert not same_layout(shapes, turned, start)
            if number not in reached:
                reached.add(number)
                waiting.append(number)
    # Each strip lies either way, and each of the two strips may be the first.
    assert reached == set(range(8))
    assert len(layouts) == 8


def test_a_large_block_with_a_turnable_strip_is_not_called_the_only_one() -> None:
    """Sixty pieces with half-turn symmetry: six of them make a strip that fits either way."""
    kind = next(kind for kind in KINDS if kind.name == "half turn")
    family = block(kind, 60, 1)
    blocks = assemble(measured(family, 0.1 / np.sqrt(2), 34), time_limit_s=5.0)
    assert not blocks[0].proof.searched_all
