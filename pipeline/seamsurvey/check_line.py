"""The line of a check: a photo becomes templates, and each length is held against what was wanted."""

from collections.abc import Sequence
from pathlib import Path

from attrs import evolve, frozen

from seamsurvey.check_model import CheckReport, Wanted
from seamsurvey.checking.compare import as_measured, compare_lengths, compare_shapes
from seamsurvey.checking.shapes import wanted_from_set, wanted_from_sides
from seamsurvey.checking.verdict import RISK, TOLERANCE_MM
from seamsurvey.errors import InputError, UsageError, command
from seamsurvey.job.folder import JobFolder
from seamsurvey.job.inputs import PhotoFile, read_photos
from seamsurvey.job.measured_file import read_measured
from seamsurvey.job.sizes_file import read_sizes
from seamsurvey.job.wishes_file import FILE, read_wishes
from seamsurvey.model import Picture, TemplateSet, Wishes
from seamsurvey.sheets.overlay import overlay_png
from seamsurvey.stage_keys import MEASURED
from seamsurvey.steps import picture_of, plane_of, units_of
from seamsurvey.templates.measure import measure_templates


@frozen
class Against:
    """What to compare with: nothing, shapes, or lengths. ``allowance_mm`` is the margin the compared set has."""

    shapes: tuple[Wanted, ...] = ()
    sizes_mm: tuple[float, ...] = ()
    allowance_mm: float | None = None
    words: str = ""


@frozen
class CheckDone:
    """What came of it: the templates, the verdicts, and a picture of each photo by its name."""

    templates: TemplateSet
    report: CheckReport
    overlays: dict[str, bytes]


def check(
    photos: Sequence[PhotoFile],
    against: Against,
    wishes: Wishes,
    *,
    tolerance_mm: float = TOLERANCE_MM,
    risk: float = RISK,
) -> CheckDone:
    """Measure what lies in the photos, and say of each length whether it is right."""
    if wishes.allowance_mm is None:
        # Compared is finished size with finished size: the margin the wanted set was cut with is taken off here
        # too.
        wishes = evolve(wishes, allowance_mm=against.allowance_mm)
    pictures, templates = _measured(photos, wishes)
    if templates.in_px and (against.shapes or against.sizes_mm):
        raise UsageError(
            "pixels-only",
            "Without a reference there is no scale: pixels can't be compared with lengths.",
            likely="The check was asked for with --reference none.",
            todo="Take the scale from a ruler: --reference auto.",
        )
    if against.shapes:
        report = compare_shapes(templates, against.shapes, tolerance_mm=tolerance_mm, risk=risk)
    elif against.sizes_mm:
        report = compare_lengths(templates, against.sizes_mm, tolerance_mm=tolerance_mm, risk=risk)
    else:
        report = as_measured(templates)
    report = evolve(report, notes=(*report.notes, *_warnings(templates)))
    overlays = {
        photo.name: overlay_png(picture, index, templates, units=units_of(templates, wishes))
        for index, (photo, picture) in enumerate(zip(photos, pictures, strict=True))
    }
    return CheckDone(templates, report, overlays)


def against_path(path: Path, wishes: Wishes) -> Against:
    """What a path stands for: a job's folder, a table of sizes (.csv), or another photo, measured alike.

    InputError as its readers raise it, and ``stage-missing`` for a folder with no measured.json.
    """
    if path.is_dir():
        return _against_job(path)
    if path.suffix.lower() == ".csv":
        sides = read_sizes(path)
        return Against(shapes=tuple(wanted_from_sides(name, lengths) for name, lengths in sides.items()))
    _, templates = _measured(read_photos([path]), wishes)
    return Against(shapes=tuple(wanted_from_set(templates)), words=path.name)


def _against_job(path: Path) -> Against:
    job = JobFolder(path)
    text = job.read(MEASURED)
    if text is None:
        raise InputError(
            "stage-missing",
            f"{path} has no {MEASURED}, so there is nothing to compare with.",
            where=str(path),
            todo=f"Run {command('measure', 'PHOTO', '--into', path)} first, or name another job.",
        )
    templates = read_measured(text, str(path / MEASURED))
    allowances = {template.allowance_mm for template in templates.templates}
    said = read_wishes(job.read(FILE) or b"", str(path / FILE)).get("allowance_mm")
    allowance = said if said is not None else allowances.pop() if len(allowances) == 1 else None
    return Against(shapes=tuple(wanted_from_set(templates)), allowance_mm=allowance)


def _measured(photos: Sequence[PhotoFile], wishes: Wishes) -> tuple[list[Picture], TemplateSet]:
    pictures = [picture_of(photo.name, photo.content) for photo in photos]
    templates = measure_templates(
        [(picture, plane_of(picture, wishes)) for picture in pictures],
        allowance_mm=wishes.allowance_mm,
        thickness_mm=wishes.thickness_mm,
        templates_are=wishes.templates_are,
        page_measures=(wishes.scale_bar_mm, wishes.page_grid_mm),
        every_card=True,
    )
    return pictures, templates


def _warnings(templates: TemplateSet) -> tuple[str, ...]:
    return (*(warning for photo in templates.photos for warning in photo.warnings), *templates.warnings)
