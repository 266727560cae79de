"""The whole of stage 4: a block that tiles exactly becomes sections, an order to sew them in, and joins."""

from collections.abc import Mapping, Sequence

import numpy as np

from seamsurvey.errors import UsageError
from seamsurvey.foundation.advice import advise
from seamsurvey.foundation.arrangement import Arrangement, arrange
from seamsurvey.foundation.joins import Unit, join_up, take_apart
from seamsurvey.foundation.motions import Motions
from seamsurvey.foundation.order import Peeling, sewing_order
from seamsurvey.foundation.ranks import reading_order
from seamsurvey.foundation.sections import REGIONS_PER_SECOND, Sectioning
from seamsurvey.geometry import centroid
from seamsurvey.model import Block, FoundationPlan, Place, PlanProof, Section, SectionPiece

PREFERENCES = ("fewest-sections", "fewest-papers")


def plan_foundation(
    block: Block,
    *,
    prefer: str = "fewest-sections",
    time_limit_s: float = 30.0,
    colours: Mapping[str, str] | None = None,
    units: str = "inch",
) -> FoundationPlan:
    """Take a block apart into sections that are sewn straight, and say how to put them together.

    ``prefer`` is "fewest-sections", or "fewest-papers" for the fewest sections and different sections together.
    ``time_limit_s`` is turned into a budget of work, so that the same block always gets the same plan.
    ``colours`` gives "#rrggbb" by template; where the order is free, the darker is sewn later. ``units`` ("inch" or
    "mm") is what advice is written in.

    Every block gets a complete plan. Where no straight cut parts the pieces, the joins say "set-in" and the advice
    names each such point. InputError when the pieces don't tile the block, UsageError for an unknown preference.
    """
    _check_wishes(prefer, units)
    net = arrange(block)
    templates = [block.piece(name).template for name in net.ids]
    motions, peeling = Motions(net, templates), Peeling(net)
    sectioning = Sectioning(net, motions, peeling, prefer, budget=max(1, round(time_limit_s * REGIONS_PER_SECOND)))
    whole = take_apart(sectioning, net.everything)
    prints = _prints(net, motions, whole)
    names = _place_names(prints)
    sections = tuple(
        _section(net, motions, regions, names, sewing_order(peeling, regions[0], templates, colours or {}))
        for regions in prints
    )
    proof = _proof(sectioning, whole)
    return FoundationPlan(
        sections=sections,
        joins=join_up(net, whole, names),
        advice=advise(net, block, whole, proof, units),
        proof=proof,
    )


def _check_wishes(prefer: str, units: str) -> None:
    for value, known, what in ((prefer, PREFERENCES, "preference"), (units, ("inch", "mm"), "unit")):
        if value not in known:
            raise UsageError(
                "wish-unknown", f"“{value}” is not a {what} I know.", todo=f"Take one of: {', '.join(known)}."
            )


def _prints(net: Arrangement, motions: Motions, whole: Unit) -> list[list[int]]:
    """The sections as lists of copies: each list is one print; prints and copies in reading order."""
    regions = whole.sections()
    middles = np.array([centroid(net.outline(region)) for region in regions])
    prints: dict[int, list[int]] = {}
    for k in reading_order(middles):
        prints.setdefault(motions.first_image(regions[k])[0], []).append(regions[k])
    return list(prints.values())


def section_name(number: int) -> str:
    """A, B, ... Z, AA, AB, ... for 0, 1, ..."""
    name = ""
    number += 1
    while number:
        number, letter = divmod(number - 1, 26)
        name = chr(ord("A") + letter) + name
    return name


def _place_names(prints: Sequence[Sequence[int]]) -> dict[int, str]:
    """The name of each section's place by its region: "A" where there is one, else "A-1", "A-2"."""
    return {
        region: section_name(number) if len(regions) == 1 else f"{section_name(number)}-{copy}"
        for number, regions in enumerate(prints)
        for copy, region in enumerate(regions, start=1)
    }


def _section(
    net: Arrangement, motions: Motions, regions: Sequence[int], names: Mapping[int, str], order: Sequence[int]
) -> Section:
    first = regions[0]
    name = names[first].partition("-")[0]
    places = []
    for region in regions:
        turn, shift = motions.between(first, region)
        places.append(Place(names[region], turn, shift))
    return Section(
        name=name,
        outline=net.outline(first),
        pieces=tuple(
            SectionPiece(label=f"{name}{k}", piece=net.ids[piece], outline=net.outlines[piece])
            for k, piece in enumerate(order, start=1)
        ),
        places=tuple(places),
    )


def _proof(sectioning: Sectioning, whole: Unit) -> PlanProof:
    best = sectioning.best(whole.region)
    return PlanProof(
        fewest_sections=best.sections,
        lower_bound=2 if best.set_ins else best.least,
        searched_all=best.proved,
    )
