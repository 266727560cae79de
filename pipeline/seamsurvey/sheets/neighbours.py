"""Which section each stretch of a section's border is joined to, where that is the same for every copy."""

from collections.abc import Mapping

import numpy as np
from attrs import frozen

from seamsurvey.model import FoundationPlan
from seamsurvey.sheets.block_figure import places_of
from seamsurvey.sheets.seams import TOUCH_MM, contacts, placed_back, straightened


@frozen
class Meeting:
    """A straight stretch of a section's border, block frame at its first place, counter-clockwise round it."""

    start: tuple[float, float]
    end: tuple[float, float]
    section: str  # that it is joined to


def neighbours(plan: FoundationPlan) -> Mapping[str, tuple[Meeting, ...]]:
    """The meetings of every section by its name, curved borders left out."""
    outlines = places_of(plan)
    section_at = {place.name: section.name for section in plan.sections for place in section.places}
    found = {}
    for section in plan.sections:
        each = []
        for place in section.places if not section.bulges else ():
            others = {name: outline for name, outline in outlines.items() if name != place.name}
            own = straightened(outlines[place.name])
            each.append(
                [
                    Meeting(_point(line[0]), _point(line[1]), section_at[name])
                    for name, outline in others.items()
                    for line in (placed_back(stretch, place) for stretch in contacts(own, [outline]))
                ]
            )
        first, *rest = each or [[]]
        found[section.name] = tuple(one for one in first if all(_among(one, others) for others in rest))
    return found


def _point(point: np.ndarray) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _among(one: Meeting, others: list[Meeting]) -> bool:
    return any(
        other.section == one.section
        and np.allclose([*one.start, *one.end], [*other.start, *other.end], rtol=0, atol=TOUCH_MM)
        for other in others
    )
