"""The search against counts from outside: a classic dissection, an exact cover by another method, an area."""

import itertools
import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

from seamsurvey.block.assemble import assemble
from seamsurvey.block.outlines import HEXAGON, SQUARE, Outline
from seamsurvey.block.rank import ranked
from seamsurvey.block.search import Budget, Layout, Search, Task
from seamsurvey.block.shapes import Shapes, shapes_of
from seamsurvey.block.work import Work
from seamsurvey.model import TemplateSet
from tests.block.sets import measured, template, template_set
from tests.scene.families import family

UNIT = 40.0  # mm


def outlines(*shapes: list[tuple[float, float]]) -> TemplateSet:
    """Exact templates, in units, one of each."""
    return template_set(
        *(template(f"T{k}", np.array(shape) * UNIT, 0.01, None, None) for k, shape in enumerate(shapes, start=1))
    )


def all_layouts(
    templates: TemplateSet, counts: tuple[int, ...], outline: Outline = SQUARE, over: int | None = None
) -> tuple[Shapes, list[Layout]]:
    """Every layout in an outline that the search meets, either face up or ``over`` of each template reversed."""
    shapes = shapes_of(templates)
    area = sum(c * a for c, a in zip(counts, shapes.areas, strict=True))
    task = Task(counts, (over,) * len(counts), "none", outline, area)
    search = Search(shapes, task, 0.5, Budget(Work(60), 100_000))
    layouts = list(search.run())
    assert search.finished
    return shapes, layouts


def test_tangram_fills_its_square_in_one_way() -> None:
    """The seven tangram pieces fill their square in one way, met as its eight turned and mirrored images."""
    # One arrangement: computed by an independent program, no printed source. The pieces are the classic dissection
    # of a square of side 2√2 (common knowledge).
    root = math.sqrt(2)
    tans = outlines(
        [(0, 0), (2 * root, 0), (root, root)],
        [(0, 0), (root, 0), (0, root)],
        [(0, 0), (root, 0), (root / 2, root / 2)],
        [(0, 0), (1, 0), (1, 1), (0, 1)],
        [(0, 0), (root, 0), (1.5 * root, root / 2), (root / 2, root / 2)],
    )
    shapes, layouts = all_layouts(tans, (2, 1, 2, 1, 1))
    assert len(layouts) == 8
    assert len(ranked(shapes, layouts)) == 1
    _, face_up = all_layouts(tans, (2, 1, 2, 1, 1), over=0)
    assert len(face_up) == 4  # no mirrored images: the one piece with two faces is never reversed


def covers(side: int, bars: list[tuple[int, int, int]]) -> int:
    """Exact covers of a grid square by (width, height, count) bars, either way, by integer programs."""
    placements: list[NDArray[np.float64]] = []
    owner: list[int] = []
    for k, (width, height, _) in enumerate(bars):
        for w, h in {(width, height), (height, width)}:
            for x, y in itertools.product(range(side - w + 1), range(side - h + 1)):
                cells = np.zeros((side, side))
                cells[x : x + w, y : y + h] = 1
                placements.append(cells.ravel())
                owner.append(k)
    cover = np.array(placements).T
    counts = np.array([[o == k for o in owner] for k in range(len(bars))], dtype=float)
    wanted = np.array([n for _, _, n in bars], dtype=float)
    one = np.ones(side**2)
    rules = [LinearConstraint(cover, one, one), LinearConstraint(counts, wanted, wanted)]
    found = 0
    while True:
        result = milp(
            np.zeros(len(owner)), constraints=rules, bounds=Bounds(0, 1), integrality=np.ones(len(owner), dtype=int)
        )
        if result.x is None:
            return found
        found += 1
        chosen = np.round(result.x)
        rules.append(LinearConstraint(chosen, np.array([-np.inf]), np.array([chosen.sum() - 1])))


def test_as_many_layouts_as_an_exact_cover_by_integer_programming() -> None:
    """A square of nine cells in three kinds of bars has as many layouts as scipy's integer programs find covers."""
    bars = [(3, 1, 1), (2, 1, 2), (1, 1, 2)]
    shapes = [[(0.0, 0.0), (float(w), 0.0), (float(w), float(h)), (0.0, float(h))] for w, h, _ in bars]
    _, layouts = all_layouts(outlines(*shapes), tuple(n for *_, n in bars))
    assert len(layouts) == covers(3, bars)


def test_the_eight_pointed_star_has_the_size_its_areas_give() -> None:
    """Eight diamonds of side d, four squares and four triangles make a block of 8 d² sin 45° + 4 d² + 2 d² = B²."""
    star = family("eight-lights")
    block = assemble(measured(star))[0]
    d = float(np.hypot(*(star.templates[0].finished[1] - star.templates[0].finished[0])))
    side = math.sqrt(8 * d**2 * math.sin(math.radians(45)) + 4 * d**2 + 2 * d**2)
    assert (block.width, block.height) == pytest.approx((side, side), abs=1e-6)


@pytest.mark.parametrize(("side", "published"), [(1, 2), (2, 20)])
def test_rhombs_fill_a_hexagon_in_as_many_ways_as_macmahon_counts(side: int, published: int) -> None:
    """60 degree rhombs fill a hexagon of side 1 in 2 ways and of side 2 in 20: the plane partitions in a box."""
    # P. A. MacMahon, Combinatory Analysis, vol. 2 (1916), section 429; OEIS A008793: 1, 2, 20, 980, ... (M)
    half = math.sqrt(3) / 2
    rhomb = outlines([(0, 0), (1, 0), (1.5, half), (0.5, half)])
    _, layouts = all_layouts(rhomb, (3 * side**2,), HEXAGON)
    assert len(layouts) == published
