"""The line of a page's check: which sheet of a job a photo shows, and whether it was printed true."""

from pathlib import Path

import numpy as np
from attrs import evolve

from seamsurvey.check_line import CheckDone
from seamsurvey.check_model import Sheet, Stroke
from seamsurvey.checking.page import PageChecked, check_page
from seamsurvey.checking.verdict import RISK
from seamsurvey.convert import Line
from seamsurvey.errors import InputError
from seamsurvey.job.folder import JobFolder
from seamsurvey.job.inputs import PhotoFile
from seamsurvey.job.wishes_file import FILE, merged, read_wishes
from seamsurvey.model import Edge, PhotoReport, Picture, Plane, Template, TemplateSet, Wishes
from seamsurvey.photo.read import read_picture
from seamsurvey.sheets.all_sheets import came_from, widths_of
from seamsurvey.sheets.drawing import HAIR, Drawing
from seamsurvey.sheets.drawing import Line as DrawnLine
from seamsurvey.sheets.fabric import cutting_list
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.foundations import foundation_pages
from seamsurvey.sheets.overlay import overlay_png
from seamsurvey.sheets.page import Imprint
from seamsurvey.sheets.quilt import quilt_design
from seamsurvey.stage_keys import FOUNDATION, MEASURED
from seamsurvey.steps import plane_of, units_of

PAPER_MM = 0.1  # thickness of office paper, 80 g/m²; common practice, no source


def check_page_of(photo: PhotoFile, job_path: Path, wishes: Wishes, *, risk: float = RISK) -> CheckDone:
    """Find which sheet of the job the photo shows, and say whether it was printed true."""
    picture = read_picture(photo.name, photo.content)
    if wishes.thickness_mm is None:
        wishes = evolve(wishes, thickness_mm=PAPER_MM)
    plane = plane_of(picture, wishes)
    done = check_page(picture, plane, sheets_of(JobFolder(job_path)), risk=risk)
    report = evolve(done.report, notes=(*done.report.notes, *plane.warnings))
    templates = _as_templates(picture, plane, done)
    overlay = overlay_png(picture, 0, templates, units=units_of(templates, wishes))
    return CheckDone(templates, report, {photo.name: overlay})


def has_sheets(path: Path | None) -> bool:
    """Whether a path is that of a job with sheets that may have been printed."""
    return path is not None and path.is_dir() and JobFolder(path).read(FOUNDATION) is not None


def sheet_in(photo: PhotoFile, job_path: Path, wishes: Wishes, *, risk: float = RISK) -> CheckDone | None:
    """The same where nobody said what the photo shows: None where no sheet of the job is found in it."""
    try:
        return check_page_of(photo, job_path, wishes, risk=risk)
    except InputError as error:
        if error.code == "page-not-found":
            return None
        raise


def sheets_of(job: JobFolder) -> tuple[Sheet, ...]:
    """The job's sheets by their solid lines, at the size they should have on paper.

    What a job draws larger or smaller to make up for its printer (``print_scale``) is taken back.
    """
    wishes = merged(read_wishes(job.read(FILE) or b"", str(job.path / FILE)))
    return tuple(
        Sheet(
            number=number,
            size_mm=(page.width_mm, page.height_mm),
            strokes=tuple(
                Stroke(points_mm=mark.points * np.array(wishes.print_scale), closed=mark.closed, layer=mark.layer)
                for mark in page.marks
                if isinstance(mark, DrawnLine) and mark.pen and not mark.pen.dash and mark.pen.colour != HAIR
            ),
        )
        for number, page in enumerate(_pages(Line(job, wishes)), 1)
    )


def _pages(line: Line) -> list[Drawing]:
    """The pages of foundations.pdf as the sheets stage draws them."""
    wishes = line.named_wishes()
    templates = line.measured() if line.job.read(MEASURED) is not None else None
    plan, block, units = line.plan(), line.layout(), line.units(templates)
    allowance = wishes.seam_allowance_mm
    fabrics = fabrics_of(block, wishes.colours, wishes.fabrics)
    cutting = cutting_list(
        plan, block, templates, fabrics, units=units, blocks=wishes.blocks, allowance_mm=allowance,
        oversize_mm=wishes.oversize_mm, widths=widths_of(wishes, units),
    )  # fmt: skip
    return foundation_pages(
        plan, block, cutting, fabrics,
        imprint=Imprint(title=line.title(), paper=wishes.paper, job_hash="", print_scale=wishes.print_scale),
        units=units, allowance_mm=allowance, blocks=wishes.blocks, came_from=came_from(templates, wishes),
        quilt=quilt_design(block, fabrics, wishes.quilt, wishes.colours, units=units, allowance_mm=allowance),
        rivals=line.rivals(), colours=wishes.colours,
    )  # fmt: skip


def _as_templates(picture: Picture, plane: Plane, done: PageChecked) -> TemplateSet:
    """The outlines found on a sheet in the form the overlay draws."""
    by_name: dict[str, list[Edge]] = {}
    for checked in done.report.lengths:
        by_name.setdefault(checked.name, []).append(Edge(checked.measured_mm, checked.u_mm, 0.0, ""))
    templates = tuple(
        Template(
            name=name.removeprefix("outline "), photo=0, cut_outline=outline, finished_outline=outline,
            corners_px=plane.to_px(outline), edges=tuple(by_name[name]),
            own_covariance=np.zeros((2 * len(outline),) * 2), sensitivity=np.zeros((2 * len(outline), 0)),
        )
        for name, outline in done.outlines
    )  # fmt: skip
    report = PhotoReport(picture.name, picture.sha256, (picture.width, picture.height), plane, plane.warnings)
    return TemplateSet(photos=(report,), templates=templates, shared_covariance=np.zeros((0, 0)))
