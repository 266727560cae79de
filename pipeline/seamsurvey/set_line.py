"""The line of one set of many: pictures and wishes in, the job's files and the index's record out.

``work_set`` is a function of values alone, so that it can run in any process on any machine; it has a scratch
folder for a job and knows no archive.
"""

import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from attrs import evolve, field, frozen

from seamsurvey.archive_model import (
    DONE,
    FAILED,
    TO_DECIDE,
    EdgeRecord,
    PieceRecord,
    Problem,
    SetRecord,
    TemplateRecord,
)
from seamsurvey.convert import Line
from seamsurvey.errors import CannotWriteError, Exit, SeamsurveyError, plain
from seamsurvey.job.answers import first_file, with_answers
from seamsurvey.job.folder import JobFolder
from seamsurvey.job.inputs import PhotoFile
from seamsurvey.job.layout_file import size_text
from seamsurvey.job.said import overlay_name, summed_up
from seamsurvey.job.wish_texts import toml_values
from seamsurvey.job.wishes_file import FILE, merged, read_wishes
from seamsurvey.model import Block, FoundationPlan, Template, TemplateSet
from seamsurvey.sheets.colours import block_colours
from seamsurvey.stage_keys import FOUNDATION, LAYOUT, MEASURED
from seamsurvey.units import nearest

_DECIMALS = 4  # of a millimetre in the index: finer than anything measured, and the same on every machine
_BULGE_DECIMALS = 6  # over the longest edge of a quilt's block still finer than that


@frozen(kw_only=True)
class SetWork:
    """One set on its way to a process: its pictures, its wishes, and the files its folder holds so far."""

    name: str
    folder: str
    key: str
    wishes: Mapping[str, Any]
    source: str = ""
    photos: tuple[PhotoFile, ...] = ()
    files: Mapping[str, bytes] = field(factory=dict, repr=False)
    force: bool = False


@frozen(kw_only=True)
class SetDone:
    """What came of it; ``disk`` is the error of a worker whose disk refused, which is no fault of the set."""

    record: SetRecord
    files: Mapping[str, bytes] = field(repr=False)
    seconds: float = 0.0
    processor_s: float = 0.0
    peak_bytes: int = 0
    disk: str = ""


def work_set(work: SetWork) -> SetDone:
    """The whole line for one set; its errors are part of the result."""
    began, processor = time.monotonic(), time.process_time()
    try:
        with tempfile.TemporaryDirectory(prefix="seamsurvey-") as scratch:
            record, files = _through_the_line(work, JobFolder(Path(scratch) / "set"))
    except CannotWriteError as error:
        record, files = failed(work.name, work.source, error), dict(work.files)
        return SetDone(record=record, files=files, disk=error.what)
    except OSError as error:
        return SetDone(record=_failed_by_bug(work, error), files=dict(work.files), disk=str(error))
    return SetDone(
        record=record,
        files=files,
        seconds=time.monotonic() - began,
        processor_s=time.process_time() - processor,
        peak_bytes=_peak_bytes(),
    )


def _peak_bytes() -> int:
    """The most memory this process has had; 0 where the system does not tell."""
    if sys.platform == "win32":
        return 0
    import resource  # noqa: PLC0415 (not on Windows)

    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak if sys.platform == "darwin" else peak * 1024


def _through_the_line(work: SetWork, job: JobFolder) -> tuple[SetRecord, dict[str, bytes]]:
    job.create()
    for name, content in work.files.items():
        (job.path / name).write_bytes(content)
    try:
        written = job.read(FILE)
        # The manifest is the batch's command line: it comes before what the set's job.toml says.
        wishes = merged(read_wishes(written, FILE) if written is not None else {}, dict(work.wishes))
        if written is None:
            job.write(FILE, with_answers(first_file(), toml_values(work.wishes), "from the manifest"))
        line = Line(job, wishes, force=work.force)
        problem: Problem | None = None
        try:
            line = line.placed()
            line.convert(work.photos)
        except CannotWriteError:
            raise
        except SeamsurveyError as error:
            problem = _problem(error, job.path, work.folder)
        record = record_of(line, work, problem)
    except CannotWriteError:
        raise
    except SeamsurveyError as error:
        record = evolve(failed(work.name, work.source, error), problem=_problem(error, job.path, work.folder))
    except Exception as error:
        record = _failed_by_bug(work, error)
    files = {path.name: path.read_bytes() for path in sorted(job.path.iterdir()) if path.is_file()}
    return record, files


def _problem(error: SeamsurveyError, scratch: Path, folder: str) -> Problem:
    """The error in the words of the archive, seen from it: the scratch folder is nowhere any more by then."""

    def here(text: str) -> str:
        return plain(text.replace(f"{scratch}/", "").replace(str(scratch), f"sets/{folder}"))

    return Problem(
        code=error.code,
        what=here(error.what),
        likely=here(error.likely),
        todo=here(error.todo),
        exit=int(error.exit),
    )


def failed(name: str, source: str, error: SeamsurveyError) -> SetRecord:
    """The record of a set that an error kept from being done."""
    problem = Problem(
        code=error.code, what=error.what, likely=error.likely, todo=plain(error.todo), exit=int(error.exit)
    )
    return SetRecord(name=name, title=name.rpartition("/")[2], state=FAILED, source=source, problem=problem)


def _failed_by_bug(work: SetWork, error: Exception) -> SetRecord:
    problem = Problem(
        code="bug",
        what=f"A bug of ours: {type(error).__name__}: {error}",
        todo="Convert this set by itself with --debug, and report what it prints together with the photo.",
        exit=int(Exit.BUG),
    )
    return SetRecord(
        name=work.name, title=str(work.wishes.get("title", work.name)), state=FAILED, source=work.source,
        problem=problem,
    )  # fmt: skip


# --- what the index says of a set ---


def record_of(line: Line, work: SetWork, problem: Problem | None) -> SetRecord:
    """The record of a job as far as it went."""
    templates = line.measured() if _is_measured(line, work) else None
    # After a problem no layout and no plan in the folder is known to be of this run.
    undecided = problem is not None and problem.exit == Exit.UNDECIDED
    block = line.layout() if _has(line, LAYOUT) and problem is None else None
    plan = line.plan() if _has(line, FOUNDATION) and problem is None else None
    units = line.units(templates)
    photos = tuple(photo.name for photo in templates.photos) if templates else ()
    return SetRecord(
        name=work.name,
        title=line.title(),
        state=TO_DECIDE if undecided else FAILED if problem else DONE,
        units=units,
        source=work.source,
        photos=photos,
        overlays=tuple(overlay_name(photo) for photo in photos if _has(line, overlay_name(photo))),
        size_mm=(_rounded(block.width), _rounded(block.height)) if block else None,
        size_u_mm=_rounded(block.size_u_mm) if block else 0.0,
        size_text=size_text(block.width, block.height, units) if block else "",
        symmetry=block.symmetry if block else "",
        layouts=_layouts(line, block) if block else 0,
        layout_taken=line.wishes.layout if block else None,
        sections=sum(section.copies for section in plan.sections) if plan else None,
        joins=len(plan.joins) if plan else None,
        templates=tuple(_template(template, units) for template in templates.templates) if templates else (),
        pieces=_pieces(block, line) if block else (),
        warnings=_warnings(templates, block, plan),
        problem=problem,
    )


def _is_measured(line: Line, work: SetWork) -> bool:
    """Whether the templates in the job are those of these photos, and not of an earlier run's."""
    return _has(line, MEASURED) and (not work.photos or line.is_measured(work.photos))


def _has(line: Line, name: str) -> bool:
    return line.job.read(name) is not None


def _layouts(line: Line, block: Block) -> int:
    """How many fit: those that are drawn, and those that are only counted."""
    return max(len(line.layouts()), block.proof.layouts_found, 1)


def _template(template: Template, units: str) -> TemplateRecord:
    edges = []
    for edge in template.edges:
        name, off = nearest(edge.length_mm, units, edge.u_mm)
        edges.append(
            EdgeRecord(
                _rounded(edge.length_mm), _rounded(edge.u_mm), name, _rounded(off), edge.set_by_person,
                radius_mm=_rounded(edge.curve.radius_mm) if edge.curve else None,
                sweep_deg=_rounded(edge.curve.sweep_deg) if edge.curve else None,
            )
        )  # fmt: skip
    return TemplateRecord(
        name=template.name,
        outline_mm=np.round(template.finished_outline, _DECIMALS),
        edges=tuple(edges),
        allowance_mm=template.allowance_mm,
        count=template.count,
        reversed_count=template.reversed_count,
        copies_seen=template.copies_seen,
    )


def _pieces(block: Block, line: Line) -> tuple[PieceRecord, ...]:
    colours = block_colours(block, line.named_wishes().colours)
    return tuple(
        PieceRecord(
            template=piece.template,
            colour=colours[piece.template],
            outline_mm=np.round(piece.outline, _DECIMALS),
            bulges=tuple(round(float(bulge), _BULGE_DECIMALS) for bulge in piece.bulges),
        )
        for piece in block.pieces
    )


def _warnings(templates: TemplateSet | None, block: Block | None, plan: FoundationPlan | None) -> tuple[str, ...]:
    of_photos = [warning for photo in templates.photos for warning in photo.warnings] if templates else []
    return (
        *of_photos,
        *(templates.warnings if templates else ()),
        *(block.warnings if block else ()),
        *(suspect.text for suspect in (block.closure.suspect_edges if block else ())),
        *(summed_up(plan.advice) if plan else ()),
    )


def _rounded(length: float) -> float:
    return round(float(length), _DECIMALS)
