"""The Stomachion, fourteen pieces in a square, against the number of its fillings that others have counted.

536 fillings but for turns, mirrors and swaps of equal pieces: B. Cutler, 2003, in E. Pegg Jr., The Loculus of
Archimedes, Solved (Math Games, 17 November 2003), and MathWorld, "Stomachion". The pieces' corners on the lattice
of 12 x 12 units: J. Burkardt's drawing of Archimedes's figure (stomachion.plot, 2006); their areas: MathWorld.
"""

import numpy as np
import pytest

from seamsurvey.block.choices import Choice
from seamsurvey.block.outlines import SQUARE
from seamsurvey.block.search import Budget, Layout, Partial, Search, Task
from seamsurvey.block.shapes import Shapes, area_of, as_complex, shapes_of
from seamsurvey.block.work import Work
from tests.block.sets import template, template_set
from tests.outside.exact_cover import Cover, Filling, Shape, cover

UNIT = 25.0  # mm
BOARD: Shape = ((0, 0), (12, 0), (12, 12), (0, 12))
LARGEST: Shape = ((0, 6), (0, 0), (4, 0), (6, 3))
NEXT_TO_IT: Shape = ((0, 6), (6, 3), (8, 4), (6, 6))
PIECES: tuple[Shape, ...] = (
    LARGEST,
    NEXT_TO_IT,
    ((0, 12), (2, 10), (12, 12)),
    ((2, 10), (4, 8), (12, 12)),
    ((0, 12), (0, 6), (4, 8)),
    ((0, 6), (6, 6), (4, 8)),
    ((4, 0), (6, 0), (6, 3)),
    ((6, 3), (6, 0), (12, 0)),
    ((6, 3), (12, 0), (8, 4)),
    ((12, 9), (6, 9), (4, 8), (6, 6), (12, 6)),
    ((6, 9), (12, 9), (8, 10)),
    ((8, 10), (12, 9), (12, 12)),
)
COUNTS = (1, 1, 1, 1, 2, 2, 1, 1, 1, 1, 1, 1)
# The largest piece lies in one of sixteen ways: eight images of each of these two.
LARGEST_LIES: tuple[Shape, Shape] = (LARGEST, ((0, 0), (6, 0), (6, 4), (3, 6)))


@pytest.fixture(scope="module")
def placements() -> Cover:
    """All placements of the fourteen pieces."""
    return cover(BOARD, PIECES, COUNTS)


@pytest.fixture(scope="module")
def shapes() -> Shapes:
    """The templates as they lie in Archimedes's figure, exact."""
    return shapes_of(
        template_set(
            *(
                template(f"T{k}", np.array(shape) * UNIT, 0.01, None, None)
                for k, shape in enumerate(PIECES, start=1)
            )
        )
    )


class Begun(Search):
    """A search from a block in which some pieces lie already, as in Archimedes's figure."""

    def __init__(self, shapes: Shapes, fixed: tuple[int, ...]) -> None:
        area = sum(count * area for count, area in zip(COUNTS, shapes.areas, strict=True))
        task = Task(COUNTS, (None,) * len(COUNTS), "none", SQUARE, area)
        super().__init__(shapes, task, 0.5, Budget(Work(300), 10**6))
        self.fixed = fixed

    def start(self) -> Partial:
        """The block with the pieces laid, each at the first of its corners that the opening has."""
        partial = super().start()
        for kind in self.fixed:
            face = self.shapes.face(kind, False)
            at = [partial.frontier.at[v] for v in partial.frontier.loops[0]]
            corners = [complex(x, y) * UNIT for x, y in PIECES[kind]]
            corner, vertex = next(
                (c, v) for c, here in enumerate(corners) for v, there in enumerate(at) if abs(here - there) < 0.1
            )
            assert self.place(partial, (0, vertex), face, Choice(face, corner, 1 + 0j, 0.0))
            assert self.settles(partial)
        return partial


def as_filling(layout: Layout) -> Filling:
    """A layout's pieces, their corners in whole units; each lies on the lattice."""
    pieces = []
    for kind, _, corners in layout.pieces:
        units = np.array([(layout.at[v].real, layout.at[v].imag) for v in corners]) / UNIT
        assert np.abs(units - units.round()).max() < 1e-4
        pieces.append((kind, frozenset((int(x), int(y)) for x, y in units.round())))
    return frozenset(pieces)


def test_the_pieces_are_those_whose_fillings_were_counted(placements: Cover) -> None:
    """The pieces have the published areas, and an exact cover finds Cutler's 536 fillings with them."""
    areas = [
        area_of(as_complex(np.array(p, dtype=float))) for p, n in zip(PIECES, COUNTS, strict=True) for _ in range(n)
    ]
    assert sorted(areas) == [3, 3, 6, 6, 6, 6, 9, 12, 12, 12, 12, 12, 21, 24]
    largest = [p for p, owner in zip(placements.laid, placements.owner, strict=True) if owner == 0]
    found = [len(placements.within([lies]).fillings()) for lies in LARGEST_LIES]
    assert all(any(set(p) == set(lies) for p in largest) for lies in LARGEST_LIES)
    # The largest piece, alone of its kind, is never its own image under the square's symmetries: each filling has
    # just one image in which it lies in one of these two ways.
    assert sum(found) == 536


def test_the_search_finds_every_filling_around_two_pieces(placements: Cover, shapes: Shapes) -> None:
    """With its two pieces at the lower left as in Archimedes's figure, the search meets each filling once."""
    search = Begun(shapes, (0, 1))
    layouts = [as_filling(layout) for layout in search.run()]
    assert search.finished
    assert len(layouts) == len(set(layouts))
    fixed = {(kind, frozenset(PIECES[kind])) for kind in search.fixed}
    rest = {filling - fixed for filling in layouts}
    assert rest == placements.within([LARGEST, NEXT_TO_IT]).fillings()
    assert len(rest) == 68


def test_integer_programs_find_the_same_fillings(placements: Cover, shapes: Shapes) -> None:
    """Around six pieces of Archimedes's figure the search meets the fillings that scipy's integer programs find."""
    search = Begun(shapes, (0, 6, 1, 7, 8, 9))
    layouts = {as_filling(layout) for layout in search.run()}
    assert search.finished
    fixed = frozenset((kind, frozenset(PIECES[kind])) for kind in search.fixed)
    left = placements.within([PIECES[kind] for kind in search.fixed])
    assert {filling - fixed for filling in layouts} == left.fillings_by_programs()
