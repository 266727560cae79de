"""Every file of the sheets stage, from one plan: what is drawn, cut, printed and looked at."""

from collections.abc import Mapping, Sequence
from functools import cached_property

from seamsurvey.model import Block, FoundationPlan, TemplateSet, Wishes
from seamsurvey.sheets.booklet import Booklet, booklet_pages
from seamsurvey.sheets.cutting_csv import cutting_list_csv
from seamsurvey.sheets.dxf import write_dxf
from seamsurvey.sheets.fabric import CuttingList, cutting_list
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.foundations import print_sections
from seamsurvey.sheets.needs import Widths
from seamsurvey.sheets.page import Imprint
from seamsurvey.sheets.pdf import foundations_pdf, write_pdf
from seamsurvey.sheets.png import write_png
from seamsurvey.sheets.quilt import quilt_design, quilt_picture
from seamsurvey.sheets.quilt_needs import quilt_needs
from seamsurvey.sheets.report import report_html
from seamsurvey.sheets.rivals import Rivals
from seamsurvey.sheets.sections_drawing import sections_drawing
from seamsurvey.sheets.sketches import PrintedSections
from seamsurvey.sheets.svg import block_svg, write_svg
from seamsurvey.sheets.template_pages import TemplateFacts, template_facts, template_pages
from seamsurvey.sheets.words import length_text


def sheet_files(
    templates: TemplateSet | None, block: Block, plan: FoundationPlan, wishes: Wishes, *, title: str, units: str,
    job_hash: str, overlays: Mapping[str, bytes], rivals: Rivals | None = None,
) -> dict[str, bytes]:  # fmt: skip
    """The content of each file by its name. ``templates`` is None for a block drawn elsewhere.

    ``rivals`` are all layouts, where more than one fits. Who wishes only the foundations gets just that file.
    """
    set_of = _Set(templates, block, plan, wishes, title, units, job_hash)
    if wishes.only == "foundations":
        return {"foundations.pdf": set_of.foundations(rivals)}
    allowance = wishes.seam_allowance_mm
    sections = sections_drawing(plan, block, set_of.fabrics, allowance_mm=allowance)
    picture = quilt_picture(set_of.quilt, title)
    margin = f"allowance {length_text(allowance, units)}"
    files = {
        "booklet.pdf": set_of.booklet(),
        "foundations.pdf": set_of.foundations(rivals),
        "foundations.svg": write_svg(sections, f"{title}: sections, mirrored, {margin}").encode(),
        "foundations.dxf": write_dxf(sections),
        "templates.pdf": set_of.templates_pdf(),
        "block.svg": block_svg(block, plan, title=title, fabrics=set_of.fabrics).encode(),
        "quilt.svg": write_svg(picture, title).encode(),
        "quilt.png": write_png(picture),
        "cutting-list.csv": cutting_list_csv(set_of.cutting, units).encode(),
    }
    report = report_html(
        templates, block, plan, set_of.cutting, set_of.fabrics, title=title, units=units, blocks=wishes.blocks,
        overlays=overlays, allowance_mm=allowance, rivals=rivals, colours=wishes.colours, quilt=set_of.quilt,
        files=list(files),
    )  # fmt: skip
    return {**files, "report.html": report.encode()}


def more_size_files(
    templates: TemplateSet | None, block: Block, plan: FoundationPlan, wishes: Wishes, *, title: str, units: str,
    job_hash: str,
) -> dict[str, bytes]:  # fmt: skip
    """The files of the same block in one more finished size, which their names say: ``booklet-9in.pdf``."""
    size = (
        length_text(block.width, units).replace(" ", "-").replace("/", "_").removesuffix("-in").removesuffix("-mm")
    )
    size += "in" if units == "inch" else "mm"
    set_of = _Set(templates, block, plan, wishes, f"{title}, {length_text(block.width, units)}", units, job_hash)
    foundations = {f"foundations-{size}.pdf": set_of.foundations(None)}
    if wishes.only == "foundations":
        return foundations
    return {
        f"booklet-{size}.pdf": set_of.booklet(),
        **foundations,
        f"templates-{size}.pdf": set_of.templates_pdf(),
        f"cutting-list-{size}.csv": cutting_list_csv(set_of.cutting, units).encode(),
    }


class _Set:
    """What the files of one block in one size share, each worked out once."""

    def __init__(
        self, templates: TemplateSet | None, block: Block, plan: FoundationPlan, wishes: Wishes, title: str,
        units: str, job_hash: str,
    ) -> None:  # fmt: skip
        self._templates, self._block, self._plan, self._wishes = templates, block, plan, wishes
        self._title, self._units, self._allowance = title, units, wishes.seam_allowance_mm
        self.fabrics = fabrics_of(block, wishes.colours, wishes.fabrics)
        self._imprint = Imprint(
            title=title, paper=wishes.paper, job_hash=job_hash, print_scale=wishes.print_scale
        )  # fmt: skip
        self.quilt = quilt_design(
            block, self.fabrics, wishes.quilt, wishes.colours, units=units, allowance_mm=self._allowance
        )
        self._came_from = came_from(templates, wishes)

    @cached_property
    def cutting(self) -> CuttingList:
        """The cutting list for the number of blocks wished for."""
        return self._cutting_for(self._wishes.blocks)

    def _cutting_for(self, blocks: int) -> CuttingList:
        return cutting_list(
            self._plan, self._block, self._templates, self.fabrics, units=self._units, blocks=blocks,
            allowance_mm=self._allowance, oversize_mm=self._wishes.oversize_mm,
            widths=widths_of(self._wishes, self._units),
        )  # fmt: skip

    @cached_property
    def _sections(self) -> PrintedSections:
        return print_sections(
            self._plan, self._block, self.fabrics, paper=self._wishes.paper, allowance_mm=self._allowance,
            title=self._title, print_scale=self._wishes.print_scale,
        )  # fmt: skip

    @cached_property
    def _facts(self) -> TemplateFacts:
        return template_facts(self._block, self._plan, self.fabrics, self._units)

    def foundations(self, rivals: Rivals | None) -> bytes:
        """The papers with a short guide."""
        return foundations_pdf(
            self._plan, self._block, self.cutting, self.fabrics, imprint=self._imprint, units=self._units,
            allowance_mm=self._allowance, blocks=self._wishes.blocks, came_from=self._came_from, quilt=self.quilt,
            rivals=rivals, colours=self._wishes.colours, sections=self._sections,
        )  # fmt: skip

    def templates_pdf(self) -> bytes:
        """The templates, true size."""
        pages = template_pages(
            self._block, self._plan, imprint=self._imprint, allowance_mm=self._allowance, facts=self._facts
        )
        return write_pdf(pages, f"{self._title}: templates")

    def booklet(self) -> bytes:
        """The whole pattern; without a wish for a number of blocks, for all of the quilt."""
        blocks = self._wishes.blocks if self._wishes.blocks > 1 else self.quilt.blocks
        widths = widths_of(self._wishes, self._units)
        book = Booklet(
            templates=self._templates, block=self._block, plan=self._plan, cutting=self._cutting_for(blocks),
            fabrics=self.fabrics, sections=self._sections, quilt=self.quilt,
            needs=quilt_needs(
                self._block, self.quilt, widths, units=self._units, allowance_mm=self._allowance
            ),
            came_from=self._came_from, imprint=self._imprint, units=self._units, allowance_mm=self._allowance,
            facts=self._facts,
        )  # fmt: skip
        return write_pdf(booklet_pages(book), self._title)


def widths_of(wishes: Wishes, units: str) -> Widths:
    """What the person's fabric gives."""
    return Widths.usual(units, wishes.fabric_width_mm, wishes.fabric_reserve)


def came_from(templates: TemplateSet | None, wishes: Wishes) -> Sequence[str]:
    """What is known of the pattern's origin: the person's words, and what it was measured from."""
    lines = [wishes.came_from] if wishes.came_from else []
    for photo in templates.photos if templates else ():
        graduations = ", ".join(reference.graduation for reference in photo.plane.references)
        lines.append(f"Measured from {photo.name}" + (f" by: {graduations}." if graduations else "."))
    return lines
