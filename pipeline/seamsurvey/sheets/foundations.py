"""The pages of the foundations file: guide pages, then every section at true size."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

from seamsurvey.model import Block, FoundationPlan, Place
from seamsurvey.sheets.drawing import Drawing, Mark
from seamsurvey.sheets.fabric import CuttingList
from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.guide import Gluing, guide_pages
from seamsurvey.sheets.joining import unit_names
from seamsurvey.sheets.motif import Motif
from seamsurvey.sheets.neighbours import neighbours
from seamsurvey.sheets.page import PAGE, Imprint, body, sheet
from seamsurvey.sheets.part_names import part_names
from seamsurvey.sheets.prints import Print, prints_of
from seamsurvey.sheets.quilt import QuiltDesign
from seamsurvey.sheets.rivals import Rivals
from seamsurvey.sheets.section_figure import section_motif
from seamsurvey.sheets.sketches import PrintedSections, sketches
from seamsurvey.sheets.true_size import pages_of
from seamsurvey.sheets.type import SMALLEST_PT, cut_short
from seamsurvey.sheets.words import count_text

_TITLE_MM, _SHORT_MM = 45.0, 16.0  # of a paper the block's name takes, at most
_GUIDE = "Guide: pictures show the finished side of the block, as you will see it."
_BACK = (
    "Printed side up: the back of the block, mirrored. Sew on solid lines, fabric underneath; trim on the dashed "
    "line."
)
_ADDED = "Long dashes: an added seam."


def section_motifs(
    plan: FoundationPlan, block: Block, fabrics: Mapping[str, Fabric], *, allowance_mm: float, title: str = ""
) -> tuple[tuple[Motif, tuple[Place, ...]], ...]:
    """Each section as a motif, with the places it is for: places where its fabrics differ are motifs apart.

    With a ``title`` each says of what block it is, and on which page it stands.
    """
    parts, meets = part_names(plan, block), neighbours(plan)
    pieced = any(piece.unit for section in plan.sections for piece in section.pieces)
    made = unit_names(plan, block, fabrics) if pieced else {}
    return tuple(
        (
            section_motif(
                one.section, block, plan, one.fabrics, allowance_mm=allowance_mm, captions=_captions(one, title),
                parts=parts, made=made, meets=meets[one.section.name],
            ),
            one.places,
        )
        for one in prints_of(plan, block, fabrics)
    )  # fmt: skip


def _captions(one: Print, title: str) -> tuple[tuple[str, ...], ...]:
    """What a paper says of itself, in ever fewer words: it must be known again when it is cut out."""
    make, plain = f"make {len(one.places)}", len(one.section.pieces) == 1
    what = f"{one.name}, a plain patch" if plain else f"section {one.name}"
    if not title:
        return ((f"{what} · {make}",), (f"{one.name} · {make}",), (one.section.name,))
    page, short = f"page {PAGE}", cut_short(title, SMALLEST_PT, _SHORT_MM)
    title = cut_short(title, SMALLEST_PT, _TITLE_MM)
    return (
        (f"{title} · {what} · {make} · {page}",),
        (title, f"{what} · {make} · {page}"),
        (title, f"{one.name} · {make}", page),
        (short, f"{one.name} · {make}", page),
        (f"{one.name} · {make} · {page}",),
        (f"{one.name} · {make}", page),
        (one.section.name,),
    )


def print_sections(
    plan: FoundationPlan, block: Block, fabrics: Mapping[str, Fabric], *, paper: str, allowance_mm: float,
    title: str, print_scale: tuple[float, float] = (1.0, 1.0),
) -> PrintedSections:  # fmt: skip
    """Every copy of every section of one block, laid on as few pages as were found."""
    motifs = section_motifs(plan, block, fabrics, allowance_mm=allowance_mm, title=" ".join(title.split()))
    pages = pages_of([(motif, len(places)) for motif, places in motifs], body(paper, print_scale))
    return PrintedSections(motifs, pages)


def foundation_pages(
    plan: FoundationPlan, block: Block, cutting: CuttingList, fabrics: Mapping[str, Fabric], *, imprint: Imprint,
    units: str, allowance_mm: float, blocks: int, came_from: Sequence[str] = (), quilt: QuiltDesign | None = None,
    rivals: Rivals | None = None, colours: Mapping[str, str], sections: PrintedSections | None = None,
) -> list[Drawing]:  # fmt: skip
    """All pages for one block, in order; for more blocks the file is printed again.

    ``sections`` are the papers where they were laid before.
    """
    sections = sections or print_sections(
        plan, block, fabrics, paper=imprint.paper, allowance_mm=allowance_mm, title=imprint.title,
        print_scale=imprint.print_scale,
    )  # fmt: skip
    region = body(imprint.paper, imprint.print_scale)
    # The guide names pages, and how many it takes itself does not depend on the numbers: set it twice.
    guide: list[tuple[Mark, ...]] = []
    for _ in range(2):
        guide = guide_pages(
            plan, block, cutting, fabrics, page_numbers(plan, sections, len(guide)),
            region=region, units=units, allowance_mm=allowance_mm, blocks=blocks, came_from=came_from,
            gluing=gluing_of(sections), quilt=quilt, rivals=rivals, colours=colours,
        )  # fmt: skip
    again = f" Print the pages once for each of the {count_text(blocks, 'block', 'blocks')}." if blocks > 1 else ""
    sheets: list[tuple[tuple[Mark, ...], str, tuple[Mark, ...]]] = [(marks, _GUIDE + again, ()) for marks in guide]
    sheets += paper_sheets(plan, block, sections, imprint)
    return [
        sheet(imprint, marks, page=k, pages=len(sheets), note=note, sketch=sketch)
        for k, (marks, note, sketch) in enumerate(sheets, start=1)
    ]


def gluing_of(sections: PrintedSections) -> list[Gluing]:
    """The sections that are printed in parts, each once."""
    found = [
        Gluing(sections.motifs[k][0].name, parting.turn_deg, parting.shapes)
        for k, parting in sorted(sections.pages.parted.items())
    ]
    return list({one.name: one for one in found}.values())


def paper_sheets(
    plan: FoundationPlan, block: Block, sections: PrintedSections, imprint: Imprint
) -> Iterator[tuple[tuple[Mark, ...], str, tuple[Mark, ...]]]:
    """Of each page with papers its marks, its note, and the small picture for its foot."""
    note = f"{_BACK} {_ADDED}" if plan.added_seams else _BACK
    region = body(imprint.paper, imprint.print_scale)
    for page, sketch in zip(sections.pages.pages, sketches(plan, block, sections, region), strict=True):
        yield (*page.marks, *sketch.on_page), note, sketch.in_foot


def page_numbers(plan: FoundationPlan, sections: PrintedSections, before: int) -> dict[str, str]:
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
