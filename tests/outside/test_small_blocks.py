"""Small blocks of turned pieces: as many layouts as scipy's integer programs find exact covers on a lattice."""

import numpy as np
import pytest

from seamsurvey.block.outlines import SQUARE, TRIANGLE, Outline, box
from seamsurvey.block.search import Budget, Search, Task
from seamsurvey.block.shapes import shapes_of
from seamsurvey.block.work import Work
from tests.block.sets import template, template_set
from tests.outside.exact_cover import Shape, cover

UNIT = 30.0  # mm
# The classic dissection of a square of side 4 (common knowledge).
TANS: tuple[Shape, ...] = (
    ((0, 0), (4, 0), (2, 2)),
    ((0, 0), (2, 0), (0, 2)),
    ((0, 0), (2, 0), (1, 1)),
    ((1, 0), (2, 1), (1, 2), (0, 1)),
    ((0, 0), (2, 0), (3, 1), (1, 1)),
)
TAN_COUNTS = (2, 1, 2, 1, 1)
# Halves of a rectangle of 1 by 2, and squares.
HALVES: tuple[Shape, ...] = (((0, 0), (2, 0), (0, 1)), ((0, 0), (1, 0), (1, 1), (0, 1)))


@pytest.mark.parametrize(
    ("shapes", "counts", "region", "outline"),
    [
        (TANS, TAN_COUNTS, ((0, 0), (4, 0), (4, 4), (0, 4)), SQUARE),
        (TANS, TAN_COUNTS, ((0, 0), (8, 0), (4, 4)), TRIANGLE),
        (TANS, TAN_COUNTS, ((2, 0), (6, 4), (4, 6), (0, 2)), box(0.5)),
        (HALVES, (4, 2), ((0, 0), (3, 0), (3, 2), (0, 2)), box(2 / 3)),
    ],
    ids=["tangram square", "tangram triangle", "tangram rectangle", "halves"],
)
def test_as_many_layouts_as_integer_programs_find(
    shapes: tuple[Shape, ...], counts: tuple[int, ...], region: Shape, outline: Outline
) -> None:
    """The search, which knows of no lattice, meets as many layouts as there are exact covers, and each once."""
    prepared = shapes_of(
        template_set(
            *(
                template(f"T{k}", np.array(shape) * UNIT, 0.01, None, None)
                for k, shape in enumerate(shapes, start=1)
            )
        )
    )
    area = sum(count * one for count, one in zip(counts, prepared.areas, strict=True))
    task = Task(counts, (None,) * len(counts), "none", outline, area)
    search = Search(prepared, task, 0.5, Budget(Work(120), 10**6))
    layouts = list(search.run())
    assert search.finished
    covers = cover(region, shapes, counts).fillings_by_programs()
    assert len(layouts) == len(covers) > 0
