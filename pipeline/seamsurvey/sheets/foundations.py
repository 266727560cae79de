"""The pages of the foundations file: guide pages, then every section at true size."""

from collections import defaultdict
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from attrs import frozen

from seamsurvey.model import Array, Block, FoundationPlan, Place
from seamsurvey.sheets.block_figure import places_of
from seamsurvey.sheets.drawing import HAIR, Drawing, Mark, Pen, polygon
from seamsurvey.sheets.fabric import CuttingList
from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.guide import Gluing, guide_pages
from seamsurvey.sheets.motif import Motif
from seamsurvey.sheets.page import SKETCH_MM, Imprint, body, sheet
from seamsurvey.sheets.part_names import part_names
from seamsurvey.sheets.prints import Print, prints_of
from seamsurvey.sheets.quilt import QuiltDesign
from seamsurvey.sheets.seams import at_place, straightened
from seamsurvey.sheets.section_figure import section_motif
from seamsurvey.sheets.true_size import Pages, pages_of
from seamsurvey.sheets.words import count_text

_GUIDE = "Guide: pictures show the finished side of the block, as you will see it."
_BACK = (
    "Printed side up: the back of the block, mirrored. Sew on the solid lines with the fabric underneath; trim on "
    "the dashed line."
)


@frozen
class PrintedSections:
    """The motifs of all sections, the places each is printed for, and the pages they are laid on."""

    motifs: tuple[tuple[Motif, tuple[Place, ...]], ...]
    pages: Pages


def section_motifs(
    plan: FoundationPlan, block: Block, fabrics: Mapping[str, Fabric], *, allowance_mm: float
) -> tuple[tuple[Motif, tuple[Place, ...]], ...]:
    """Each section as a motif, with the places it is for: places where its fabrics differ are motifs apart."""
    parts = part_names(plan, block)
    return tuple(
        (
            section_motif(
                one.section,
                block,
                plan,
                one.fabrics,
                allowance_mm=allowance_mm,
                captions=_captions(one),
                parts=parts,
            ),
            one.places,
        )
        for one in prints_of(plan, block, fabrics)
    )


def _captions(one: Print) -> tuple[str, ...]:
    if one.section.copies == 1:
        return (f"Section {one.name}", one.name)
    make = f"make {len(one.places)}"
    return (f"Section {one.name}: {make}", f"{one.name}: {make}", one.section.name)


def print_sections(
    plan: FoundationPlan, block: Block, fabrics: Mapping[str, Fabric], *, paper: str, allowance_mm: float,
    print_scale: tuple[float, float] = (1.0, 1.0),
) -> PrintedSections:  # fmt: skip
    """Every copy of every section of one block, laid on as few pages as were found."""
    motifs = section_motifs(plan, block, fabrics, allowance_mm=allowance_mm)
    pages = pages_of([(motif, len(places)) for motif, places in motifs], body(paper, print_scale))
    return PrintedSections(motifs, pages)


def foundation_pages(
    plan: FoundationPlan, block: Block, cutting: CuttingList, fabrics: Mapping[str, Fabric], *, imprint: Imprint,
    units: str, allowance_mm: float, blocks: int, came_from: Sequence[str] = (), quilt: QuiltDesign | None = None,
) -> list[Drawing]:  # fmt: skip
    """All pages for one block, in order; for more blocks the file is printed again."""
    sections = print_sections(
        plan, block, fabrics, paper=imprint.paper, allowance_mm=allowance_mm, print_scale=imprint.print_scale
    )
    gluing = [
        Gluing(sections.motifs[k][0].name, parting.turn_deg, parting.shapes)
        for k, parting in sorted(sections.pages.parted.items())
    ]
    gluing = list({one.name: one for one in gluing}.values())
    # The guide names pages, and how many it takes itself does not depend on the numbers: set it twice.
    guide: list[tuple[Mark, ...]] = []
    for _ in range(2):
        guide = guide_pages(
            plan, block, cutting, fabrics, _page_numbers(plan, sections, len(guide)),
            region=body(imprint.paper, imprint.print_scale), units=units, allowance_mm=allowance_mm, blocks=blocks,
            came_from=came_from, gluing=gluing, quilt=quilt,
        )  # fmt: skip
    again = f" Print the pages once for each of the {count_text(blocks, 'block', 'blocks')}." if blocks > 1 else ""
    sheets: list[tuple[tuple[Mark, ...], str, tuple[Mark, ...]]] = [(marks, _GUIDE + again, ()) for marks in guide]
    sheets += [
        (page.marks, _BACK, sketch)
        for page, sketch in zip(sections.pages.pages, _sketches(plan, block, sections), strict=True)
    ]
    return [
        sheet(imprint, marks, page=k, pages=len(sheets), note=note, sketch=sketch)
        for k, (marks, note, sketch) in enumerate(sheets, start=1)
    ]


def _sketches(plan: FoundationPlan, block: Block, sections: PrintedSections) -> list[tuple[Mark, ...]]:
    """For each page the whole block from the printed side, what is on the page filled."""
    scale = min(SKETCH_MM / block.height, 2.2 * SKETCH_MM / block.width)
    outlines = places_of(plan)
    used: dict[tuple[int, int | None], int] = defaultdict(int)

    def small(points: Array) -> Array:
        mirrored = (points * np.array([-1.0, 1.0]))[::-1]  # x from -width to 0: drawn leftwards from the origin
        return np.asarray(mirrored * scale)

    found = []
    for page in sections.pages.pages:
        marks: list[Mark] = []
        for one in page.motifs:
            motif, places = sections.motifs[one.index]
            place = places[used[one.index, one.part]]
            used[one.index, one.part] += 1
            shown = shapely.Polygon(one.shown).intersection(shapely.Polygon(motif.outline))
            for part in getattr(shown, "geoms", [shown]):
                if part.geom_type == "Polygon" and not part.is_empty:
                    at_first = (np.asarray(part.exterior.coords)[:-1] * np.array([-1.0, 1.0]))[::-1]
                    marks.append(polygon(small(at_place(at_first, place)), fill="#5f6368", layer="sketch"))
        marks += [polygon(small(o), pen=Pen(0.13, HAIR), layer="sketch") for o in outlines.values()]
        marks.append(polygon(small(straightened(block.outline)), pen=Pen(0.25, "#5f6368"), layer="sketch"))
        found.append(tuple(marks))
    return found


def _page_numbers(plan: FoundationPlan, sections: PrintedSections, before: int) -> dict[str, str]:
    """For each section: "page 3", "pages 3 and 5" or "pages 3 to 6"."""
    found: dict[str, list[int]] = defaultdict(list)
    for number, page in enumerate(sections.pages.pages, start=before + 1):
        for one in page.motifs:
            name = sections.motifs[one.index][0].name
            if number not in found[name]:
                found[name].append(number)
    return {section.name: _listed(found[section.name]) for section in plan.sections}


def _listed(numbers: Sequence[int]) -> str:
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"pages {numbers[0]} to {numbers[-1]}"
    *most, last = map(str, numbers)
    return f"pages {', '.join(most)} and {last}" if most else f"page {last}"
