"""The search for all layouts misses none: against a tiler that shares no code with it."""

import numpy as np
import pytest

from seamsurvey.block.classes import regular
from seamsurvey.block.every import every_layout
from seamsurvey.block.outlines import SQUARE, box
from seamsurvey.block.shapes import shapes_of
from seamsurvey.block.work import Work
from tests.block.partitions import Partition, partition
from tests.block.sets import template, template_set, turned
from tests.block.tiler import Count, distinct, ring_of, tilings

NEAR = 0.5  # mm: places of different layouts lie much farther apart


def found_and_wanted(parted: Partition) -> tuple[list[list[complex]], list[list[complex]], bool]:
    """Layouts as the middles of their pieces, the search's and the tiler's; and whether the search claims all."""
    shapes, counts = parted.templates()
    rings = [np.array(shape, float) for shape in shapes]
    templates = template_set(*(
        template(f"T{k}", turned(ring, 37.0 * k), 0.01, up, over)
        for k, (ring, (up, over)) in enumerate(zip(rings, counts, strict=True))
    ))  # fmt: skip
    outline = ring_of(parted.outline)
    width, height = (max(z.real for z in outline), max(z.imag for z in outline))
    plain = shapes_of(templates)
    every = every_layout(
        regular(templates, plain).shapes,
        tuple((up + over, 0 if plain.mirrored[k] else over) for k, (up, over) in enumerate(counts)),
        (SQUARE,) if width == height else (box(height / width),),
        0.3,
        Work(1e9),
        sweeps=(10**9,),
        most_each=10**9,
    )
    found = [[_mark(t.face.template, t.corners) for t in filled.tiles] for filled in every.layouts]
    all_counts: list[Count] = [(up, over) for up, over in counts]
    wanted = [
        [_mark(laid.kind, laid.corners) for laid in tiling]
        for tiling in distinct(tilings(shapes, all_counts, parted.outline), parted.outline)
    ]
    return found, wanted, every.all


def _mark(kind: int, corners: tuple[complex, ...]) -> complex:
    """A piece's place, and its template as a distance that no place is off by."""
    return sum(corners) / len(corners) + 10_000 * kind


def is_same(one: list[complex], other: list[complex], size: tuple[float, float]) -> bool:
    """Whether the pieces lie at the same places, up to the rectangle's turns and mirrors."""
    middle = complex(*size) / 2
    turns = (1, 1j, -1, -1j) if abs(size[0] - size[1]) < NEAR else (1, -1)
    for turn in turns:
        for over in (False, True):
            moved = []
            for z in one:
                kind = round(z.real / 10_000)
                away = z - 10_000 * kind - middle
                moved.append(10_000 * kind + middle + turn * (away.conjugate() if over else away))
            if all(min(abs(m - z) for z in other) < NEAR for m in moved):
                return True
    return False


@pytest.mark.parametrize("seed", [*range(21), 76, 79, 98, 135, 168])
def test_the_same_layouts_as_plain_exhaustion_finds(seed: int) -> None:
    """Of a square or rectangle parted at random the search finds each layout that the tiler does, and no other."""
    parted = partition(seed)
    outline = ring_of(parted.outline)
    size = max(z.real for z in outline), max(z.imag for z in outline)
    found, wanted, complete = found_and_wanted(parted)
    assert complete
    assert len(found) == len(wanted)
    assert all(any(is_same(layout, other, size) for other in wanted) for layout in found)
