"""The whole of stage 4: a block that tiles exactly becomes sections, an order to sew them in, and joins."""

from collections.abc import Collection, Mapping, Sequence

import numpy as np
from attrs import evolve

from seamsurvey.errors import UsageError
from seamsurvey.foundation.advice import advise
from seamsurvey.foundation.arrangement import members
from seamsurvey.foundation.choose import Choice, choose
from seamsurvey.foundation.grain import grain_deg
from seamsurvey.foundation.joins import Joined, join_up
from seamsurvey.foundation.order import sewing_order
from seamsurvey.foundation.pressing import press_towards
from seamsurvey.foundation.ranks import reading_order
from seamsurvey.foundation.sections import REGIONS_PER_SECOND
from seamsurvey.foundation.tiling import check_tiling
from seamsurvey.foundation.ways import Wanted, Way
from seamsurvey.geometry import centroid
from seamsurvey.model import (
    CURES,
    PIECED_STARTS,
    PREFERENCES,
    Block,
    FoundationPlan,
    Join,
    Place,
    PlanProof,
    Section,
    SectionPiece,
)


def plan_foundation(
    block: Block,
    *,
    prefer: str = "fewest-sections",
    pieced_start: str = "never",
    cure: str = "auto",
    never_cut: Collection[str] = (),
    room_mm: tuple[float, float] | None = None,
    time_limit_s: float = 30.0,
    colours: Mapping[str, str] | None = None,
    units: str = "inch",
) -> FoundationPlan:
    """Take a block apart into sections that are sewn straight, and say how to put them together.

    ``prefer`` is "fewest-sections", "fewest-papers" for the fewest sections and different sections together, or
    "fits-page" for sections that fit a page whole: ``room_mm`` is what it holds of a section, width and height.
    ``pieced_start`` "when-it-helps" lets a joined unit be a section's first patch where that saves two sections.
    ``cure`` is what to do about set-in seams: "auto" takes the best, "added-seam", "partial" or "set-in" that one
    where it is possible. ``never_cut`` names pieces, or templates for all their pieces, that no added seam may cut.
    ``time_limit_s`` is turned into a budget of work, so that the same block always gets the same plan.
    ``colours`` gives "#rrggbb" by template; where the order is free, the darker is sewn later. ``units`` ("inch" or
    "mm") is what advice is written in.

    Every block gets a complete plan. Where set-in seams stay, the joins say "set-in" and the advice names each such
    point. InputError when the pieces don't tile the block, UsageError for an unknown wish.
    """
    _check(prefer, PREFERENCES, "preference")
    _check(pieced_start, PIECED_STARTS, "choice for pieced starts")
    _check(cure, CURES, "way to sew Y-seams")
    _check(units, ("inch", "mm"), "unit")
    _check_names(block, never_cut)
    check_tiling(block)
    wanted = Wanted(
        prefer=prefer,
        pieced_start=pieced_start == "when-it-helps",
        room_mm=room_mm if prefer == "fits-page" else None,
        budget=max(1, round(time_limit_s * REGIONS_PER_SECOND)),
    )
    return _written(choose(block, wanted, cure, frozenset(never_cut)), colours or {}, units)


def _check(value: str, known: Sequence[str], what: str) -> None:
    if value not in known:
        raise UsageError(
            "wish-unknown", f"“{value}” is not a {what} I know.", todo=f"Take one of: {', '.join(known)}."
        )


def _check_names(block: Block, never_cut: Collection[str]) -> None:
    names = {piece.id for piece in block.pieces} | {piece.template for piece in block.pieces}
    for name in never_cut:
        if name not in names:
            raise UsageError(
                "wish-unknown",
                f"“{name}” is to be never cut, but the block has no piece or template of that name.",
                todo=f"Name pieces or templates of the block: {', '.join(sorted(names))}.",
            )


def _written(choice: Choice, colours: Mapping[str, str], units: str) -> FoundationPlan:
    way = choice.way
    prints = _prints(way)
    names = _place_names(prints)
    templates = [way.block.piece(name).template for name in way.net.ids]
    cores = way.whole.cores()
    orders: dict[int, Sequence[int]] = {}
    for first, *others in prints:
        core = cores[first].region if first in cores else 0
        orders[first] = sewing_order(way.peeling, first, templates, colours, core)
        for other in others:
            landing = way.motions.landing(first, other)
            orders[other] = [landing[piece] for piece in orders[first]]
    joined = join_up(way.sewn, way.whole, names, way.slits)
    proof = _proof(way)
    sections = tuple(_section(way, regions, names, orders[regions[0]], joined) for regions in prints)
    labels = dict[int, str]()
    for section, regions in zip(sections, prints, strict=True):
        sewn = [piece.label for piece in section.pieces if piece.unit is None]
        labels |= {piece: label for region in regions for piece, label in zip(orders[region], sewn, strict=True)}
    return FoundationPlan(
        sections=sections,
        joins=_pressed(way, joined, orders),
        added_seams=choice.added_seams,
        advice=advise(way, choice.drawn, joined, proof, units, [labels[k] for k in range(len(way.net.ids))]),
        proof=proof,
        cures=choice.cures,
    )


def _prints(way: Way) -> list[list[int]]:
    """The sections as lists of copies: each list is one print; prints and copies in reading order."""
    regions = way.whole.sections()
    cores = way.whole.cores()
    middles = np.array([centroid(way.net.outline(region)) for region in regions])
    prints: dict[tuple[int, int], list[int]] = {}
    for k in reading_order(middles):
        core = cores[regions[k]].region if regions[k] in cores else 0
        image, motion = way.motions.first_image(regions[k])
        prints.setdefault((image, motion.image(core)), []).append(regions[k])
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
    way: Way, regions: Sequence[int], names: Mapping[int, str], order: Sequence[int], joined: Joined
) -> Section:
    first = regions[0]
    outline, bulges = way.net.curved_outline(first)
    name = names[first].partition("-")[0]
    places = tuple(Place(names[region], *way.motions.between(first, region)) for region in regions)
    core = way.whole.cores().get(first)
    pieces: list[SectionPiece] = []
    if core is not None:
        piece, _ = _origin(way, next(members(core.region)))
        pieces.append(
            SectionPiece(
                label=f"{name}1",
                piece=piece,
                outline=way.net.curved_outline(core.region)[0],
                unit=joined.named[core.region],
                bulges=way.net.curved_outline(core.region)[1],
            )
        )
    for index in order:
        piece, part = _origin(way, index)
        pieces.append(
            SectionPiece(
                label=f"{name}{len(pieces) + 1}",
                piece=piece,
                outline=way.net.outlines[index],
                part=part,
                grain_deg=grain_deg(
                    way.net.outlines[index], np.asarray(way.block.outline), places, way.net.bulges[index]
                ),
                bulges=way.net.bulges[index],
            )
        )
    return Section(name=name, outline=outline, pieces=tuple(pieces), places=places, bulges=bulges)


def _origin(way: Way, index: int) -> tuple[str, int | None]:
    """The piece of the block that a piece of the net is, and which part of it."""
    name = way.net.ids[index]
    return way.parts.get(name, (name, None))


def _pressed(way: Way, joined: Joined, orders: Mapping[int, Sequence[int]]) -> tuple[Join, ...]:
    pairs = way.whole.joins()
    towards = {
        frozenset(joined.named[unit.region] for unit in pair): joined.named[pair[side].region]
        for pair, side in zip(pairs, press_towards(way.sewn, pairs, orders), strict=True)
    }
    return tuple(
        join if join.kind == "set-in" else evolve(join, press_towards=towards[frozenset(join.parts)])
        for join in joined.joins
    )


def _proof(way: Way) -> PlanProof:
    return PlanProof(
        fewest_sections=way.best.sections,
        lower_bound=2 if way.best.set_ins else way.best.least,
        searched_all=way.best.proved,
    )
