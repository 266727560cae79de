"""Every file of the sheets stage, from one plan: what is drawn, cut, printed and looked at."""

from collections.abc import Mapping, Sequence

from seamsurvey.model import Block, FoundationPlan, TemplateSet, Wishes
from seamsurvey.sheets.cutting_csv import cutting_list_csv
from seamsurvey.sheets.dxf import write_dxf
from seamsurvey.sheets.fabric import cutting_list
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.needs import Widths
from seamsurvey.sheets.page import Imprint
from seamsurvey.sheets.pdf import foundations_pdf, write_pdf
from seamsurvey.sheets.png import write_png
from seamsurvey.sheets.quilt import quilt_design, quilt_picture
from seamsurvey.sheets.report import report_html
from seamsurvey.sheets.rivals import Rivals
from seamsurvey.sheets.sections_drawing import sections_drawing
from seamsurvey.sheets.svg import block_svg, write_svg
from seamsurvey.sheets.template_pages import template_pages
from seamsurvey.sheets.words import length_text


def sheet_files(
    templates: TemplateSet | None, block: Block, plan: FoundationPlan, wishes: Wishes, *, title: str, units: str,
    job_hash: str, overlays: Mapping[str, bytes], rivals: Rivals | None = None,
) -> dict[str, bytes]:  # fmt: skip
    """The content of each file by its name. ``templates`` is None for a block drawn elsewhere.

    ``rivals`` are all layouts, where more than one fits.
    """
    allowance = wishes.seam_allowance_mm
    fabrics = fabrics_of(block, wishes.colours, wishes.fabrics)
    cutting = cutting_list(
        plan, block, templates, fabrics, units=units, blocks=wishes.blocks, allowance_mm=allowance,
        oversize_mm=wishes.oversize_mm, widths=widths_of(wishes, units),
    )  # fmt: skip
    imprint = Imprint(title=title, paper=wishes.paper, job_hash=job_hash, print_scale=wishes.print_scale)
    quilt = quilt_design(block, fabrics, wishes.quilt, wishes.colours, units=units, allowance_mm=allowance)
    pdf = foundations_pdf(
        plan, block, cutting, fabrics, imprint=imprint, units=units, allowance_mm=allowance, blocks=wishes.blocks,
        came_from=came_from(templates, wishes), quilt=quilt, rivals=rivals, colours=wishes.colours,
    )  # fmt: skip
    sections = sections_drawing(plan, block, fabrics, allowance_mm=allowance)
    report = report_html(
        templates, block, plan, cutting, fabrics, title=title, units=units, blocks=wishes.blocks, overlays=overlays,
        allowance_mm=allowance, rivals=rivals, colours=wishes.colours,
    )  # fmt: skip
    picture = quilt_picture(quilt, title)
    margin = f"allowance {length_text(allowance, units)}"
    return {
        "foundations.pdf": pdf,
        "foundations.svg": write_svg(sections, f"{title}: sections, mirrored, {margin}").encode(),
        "foundations.dxf": write_dxf(sections),
        "templates.pdf": write_pdf(
            template_pages(block, plan, imprint=imprint, allowance_mm=allowance), f"{title}: templates"
        ),
        "block.svg": block_svg(block, plan, title=title, fabrics=fabrics).encode(),
        "quilt.svg": write_svg(picture, title).encode(),
        "quilt.png": write_png(picture),
        "cutting-list.csv": cutting_list_csv(cutting, units).encode(),
        "report.html": report.encode(),
    }


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
