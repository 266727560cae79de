"""The report of a job as one HTML file: the block, what to do next, every file; how it was measured folded away."""

from collections.abc import Mapping, Sequence

from seamsurvey.model import Block, FoundationPlan, TemplateSet
from seamsurvey.sheets.block_figure import block_marks, piece_colours
from seamsurvey.sheets.edges_table import edges_table
from seamsurvey.sheets.fabric import CuttingList
from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.markup import Html, Part, drawing, element, folded, inline_svg, joined, link, listed, page
from seamsurvey.sheets.quilt import QuiltDesign
from seamsurvey.sheets.report_layout import reasons_part, rivals_part
from seamsurvey.sheets.report_measured import fit_part, measured_part, photo_part
from seamsurvey.sheets.report_sewing import (
    counted_sections,
    cutting_part,
    joining_part,
    other_ways_part,
    sections_part,
)
from seamsurvey.sheets.rivals import Rivals
from seamsurvey.sheets.words import count_text, size_text
from seamsurvey.units import INCH, doubt_text

_PICTURE_MM = 150.0
_QUILT_MM = 120.0
# More shapes than this make a page that scrolls slowly; quilt.png shows them.
_QUILT_SHAPES = 3000
_NO_COLOURS: Mapping[str, str] = {}

FILES = {
    "booklet.pdf": "the whole pattern as a booklet",
    "foundations.pdf": "the papers to sew on, with a short guide",
    "templates.pdf": "the templates, true size, with allowance",
    "cutting-list.csv": "what to cut, as a table",
    "block.svg": "the block as a drawing, true size",
    "quilt.png": "the quilt as a picture",
    "quilt.svg": "the quilt as a drawing",
    "foundations.svg": "the sections as a drawing, true size",
    "foundations.dxf": "the same for cutting machines",
}


def report_html(
    templates: TemplateSet | None, block: Block, plan: FoundationPlan, cutting: CuttingList,
    fabrics: Mapping[str, Fabric], *, title: str, units: str, blocks: int, overlays: Mapping[str, bytes],
    allowance_mm: float = INCH / 4, rivals: Rivals | None = None, colours: Mapping[str, str] = _NO_COLOURS,
    quilt: QuiltDesign | None = None, files: Sequence[str] = (),
) -> str:  # fmt: skip
    """One HTML file with everything inside, no scripts and nothing from the network.

    ``templates`` is None for a block drawn elsewhere. ``overlays`` are PNGs by photo name; ``fabrics``
    are by piece. ``units`` is "inch" or "mm". ``rivals`` are all layouts, where more than one fits, drawn in the
    ``colours`` that the person gave. ``files`` are the names of those that lie beside it.
    """
    parts: list[Part] = [
        rivals_part(rivals, colours),
        _block(block, plan, piece_colours(fabrics), units),
        _next(blocks),
        _files(files),
        _warnings(templates, block),
        _quilt(quilt),
        cutting_part(cutting, units, allowance_mm),
        sections_part(block, plan, fabrics),
        joining_part(block, plan, fabrics),
        other_ways_part(plan),
        folded("Why this layout", joined([reasons_part(block)])) if block.reasons else Html(""),
        folded("How it was measured", _measured(templates, block, overlays, units, rivals)),
    ]
    size = size_text(block.width, block.height, units)
    under = f"{size} finished, {count_text(len(block.pieces), 'piece', 'pieces')}, {counted_sections(plan)}"
    if block.known_as:
        under += f"; quilters know it as {block.known_as}"
    return page(title, under, parts, "Lengths in this report are finished sizes. Made by seamsurvey.")


def _block(block: Block, plan: FoundationPlan, colours: Mapping[str, str], units: str) -> Html:
    scale = _PICTURE_MM / max(block.width, block.height)
    marks = block_marks(block, plan, colours, scale=scale)
    size = size_text(block.width, block.height, units)
    svg = inline_svg(marks, block.width * scale, block.height * scale, f"The block, {size}, in colour", "block-")
    caption = (
        f"From the finished side, {size}. Heavy lines: borders of sections; a letter and a number: the section, "
        "and the place in its sewing order, as on the papers."
    )
    return joined([element("h2", "Your block"), drawing(svg, caption, "block")])


def _next(blocks: int) -> Html:
    steps = [
        "Open booklet.pdf, or foundations.pdf for the papers alone, and read the first pages.",
        "Print at 100 %, without fit to page, and hold a ruler to both bars: 99.5 to 100.5 mm is good.",
        "Cut the patches of the cutting chart, then sew section by section in the order of the numbers.",
    ]
    if blocks > 1:
        steps[1] += f" Print the foundations {blocks} times, once for each block."
    return element("div", element("p", element("strong", "What to do")), listed(steps, "ol"), css="next")


def _files(files: Sequence[str]) -> Html:
    """Links to everything that lies beside the report."""
    if not files:
        return Html("")
    known = [name for name in FILES if name in files]
    more = sorted(name for name in files if name not in FILES)
    items: list[Part] = [
        joined([link(name), Html(f": {FILES[name]}" if name in FILES else "")]) for name in [*known, *more]
    ]
    return joined([element("h2", "Files"), listed(items)])


def _warnings(templates: TemplateSet | None, block: Block) -> Html:
    texts = [*(templates.warnings if templates else ()), *block.warnings]
    texts += [
        f"{photo.name}: {text}" for photo in (templates.photos if templates else ()) for text in photo.warnings
    ]
    if not texts:
        return Html("")
    return element("div", element("p", element("strong", "Please read")), listed(texts), css="warning")


def _quilt(quilt: QuiltDesign | None) -> Html:
    if quilt is None or len(quilt.marks) > _QUILT_SHAPES:
        return Html("")
    scale = _QUILT_MM / max(quilt.width, quilt.height)
    marks = [*quilt.drawn(scale)]
    svg = inline_svg(marks, quilt.width * scale, quilt.height * scale, "The quilt in colour", "quilt-")
    return joined([element("h2", "The quilt"), drawing(svg, " ".join(quilt.words), "block")])


def _measured(
    templates: TemplateSet | None, block: Block, overlays: Mapping[str, bytes], units: str, rivals: Rivals | None
) -> Html:
    """Photos, lengths and misfits: all that says how far the sizes can be trusted."""
    parts: list[Part] = []
    if templates is not None:
        for index, report in enumerate(templates.photos):
            seen = [template for template in templates.templates if template.photo == index]
            parts.append(photo_part(report, seen, overlays.get(report.name), units))
        parts.append(measured_part(templates, units))
    symmetry = "no symmetry" if block.symmetry == "none" else f"symmetry: {block.symmetry}"
    parts.append(element("p", f"The block's size is right to ± {doubt_text(block.size_u_mm, units)}; {symmetry}."))
    parts += [fit_part(block, units, rivals.number if rivals else 1), edges_table(block)]
    return joined(parts)
