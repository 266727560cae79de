"""What is printed of each section: one print for each of its colourings, and how many a block takes of it."""

from collections.abc import Mapping

from attrs import frozen

from seamsurvey.model import Block, FoundationPlan, Place, Section
from seamsurvey.sheets.fabrics import Fabric, pieces_at


@frozen
class Print:
    """A section in one of its colourings; ``colouring`` counts from 1, and is 0 where there is only one."""

    section: Section
    fabrics: tuple[Fabric, ...]  # of its pieces, in sewing order
    places: tuple[Place, ...]
    colouring: int = 0

    @property
    def suffix(self) -> str:
        """What follows the section's or a patch's name where there are several colourings."""
        return f" (colouring {self.colouring})" if self.colouring else ""

    @property
    def name(self) -> str:
        """``A``, ``A (colouring 2)``: never like a patch's, A2."""
        return self.section.name + self.suffix


def prints_of(plan: FoundationPlan, block: Block, fabrics: Mapping[str, Fabric]) -> list[Print]:
    """The prints of all sections in the plan's order; ``fabrics`` is by piece."""
    found = []
    for section in plan.sections:
        groups: dict[tuple[Fabric, ...], list[Place]] = {}
        for place, ids in zip(section.places, pieces_at(section, block), strict=True):
            groups.setdefault(tuple(fabrics[one] for one in ids), []).append(place)
        several = len(groups) > 1
        found += [
            Print(section, sewn, tuple(places), number if several else 0)
            for number, (sewn, places) in enumerate(groups.items(), start=1)
        ]
    return found
