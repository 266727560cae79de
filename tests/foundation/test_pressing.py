"""Pressing: where seams meet across a join, their allowances lie side by side."""

from itertools import product

import numpy as np
import pytest
import shapely
from shapely.affinity import rotate, translate

from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.model import Block, FoundationPlan, Place
from tests.foundation.blocks import grid, of_family
from tests.foundation.set_in_blocks import y_cells
from tests.scene.families import family


def patches(plan: FoundationPlan) -> list[tuple[str, int, shapely.Polygon]]:
    """Every patch where it lies: its place's name, its number in the sewing order, its shape."""
    return [
        (
            place.name,
            number,
            translate(rotate(shapely.Polygon(p.outline), place.turn_deg, origin=(0, 0)), *place.shift_mm),
        )
        for section in plan.sections
        for place in section.places
        for number, p in enumerate(section.pieces)
    ]


def _carried(outline: np.ndarray, place: Place) -> shapely.Polygon:
    return translate(rotate(shapely.Polygon(outline), place.turn_deg, origin=(0, 0)), *place.shift_mm)


def nested(plan: FoundationPlan, towards: list[str | None]) -> int:
    """How many crossings nest if the joins are pressed so; found from shapes alone, by shapely."""
    lying = patches(plan)
    unit = {name: {name} for name, _, _ in lying}
    for join in plan.joins:
        unit[join.result] = unit[join.parts[0]] | unit[join.parts[1]]
    count = 0
    for join in plan.joins:
        line = shapely.LineString([join.start, join.end])
        along = np.array(join.end) - np.array(join.start)
        sides: dict[tuple[float, float], tuple[list[bool], list[bool]]] = {}
        for k, part in enumerate(join.parts):
            own = [p for p in lying if p[0] in unit[part]]
            for a, b in ((a, b) for i, a in enumerate(own) for b in own[i + 1 :]):
                seam = a[2].buffer(1e-6).intersection(b[2].buffer(1e-6))
                if seam.length < 1 or seam.distance(line) > 1e-3:
                    continue
                point = shapely.intersection(seam.buffer(1e-3), line).centroid
                forward = bool(np.dot(np.subtract(*(np.array(q[2].centroid.coords[0]) for q in (b, a))), along) > 0)
                if a[0] == b[0]:
                    pressed = forward == (b[1] > a[1])
                else:
                    (inner,) = (j for j in plan.joins if _joins(unit, j.parts, a[0], b[0]))
                    target = towards[inner.step - 1]
                    assert target is not None
                    pressed = forward == (b[0] in unit[target])
                key = round(point.x, 1), round(point.y, 1)
                sides.setdefault(key, ([], []))[k].append(pressed)
        count += sum(x != y for one, other in sides.values() for x in one for y in other)
    return count


def _joins(unit: dict[str, set[str]], parts: tuple[str, str], one: str, other: str) -> bool:
    """Whether two places come together by the join of these parts."""
    first, second = (unit[part] for part in parts)
    return (one in first and other in second) or (one in second and other in first)


@pytest.mark.parametrize("block", [of_family(family("weathervane-turn")), y_cells(2, 2)], ids=["vane", "Y cells"])
def test_no_other_pressing_nests_more(block: Block) -> None:
    """As many crossings nest as in the best of all combinations, where the worst has fewer."""
    plan = plan_foundation(block)
    every = [nested(plan, list(way)) for way in product(*(join.parts for join in plan.joins))]
    assert min(every) < max(every)
    assert nested(plan, [join.press_towards for join in plan.joins]) == max(every)


def test_every_straight_join_is_pressed_to_one_of_its_parts() -> None:
    """Rows of a grid: whatever nests, each join names a part."""
    plan = plan_foundation(grid(5, 4))
    assert all(join.press_towards in join.parts for join in plan.joins)
