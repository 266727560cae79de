"""The line of many sets: each set goes through the whole line by itself, and an index is made of them all.

``work_set`` is a function of values alone, so that it can run in any process on any machine; it has a scratch
folder for a job and hands back the job's files. Only ``fill_archive`` writes the archive, one whole set at a
time.
"""

import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from attrs import evolve, field, frozen

from seamsurvey import __version__
from seamsurvey.archive.database import index_sqlite
from seamsurvey.archive.duplicates import find_alike
from seamsurvey.archive.page import index_html
from seamsurvey.archive.table import index_csv
from seamsurvey.archive_model import (
    DONE,
    FAILED,
    TO_DECIDE,
    Archive,
    EdgeRecord,
    PieceRecord,
    Problem,
    SetRecord,
    TemplateRecord,
)
from seamsurvey.convert import FOUNDATION, LAYOUT, MEASURED, Line, overlay_name, summed_up
from seamsurvey.errors import CannotWriteError, Exit, InputError, SeamsurveyError
from seamsurvey.job.archive_folder import ArchiveFolder
from seamsurvey.job.folder import JobFolder, content_hash, stage_key
from seamsurvey.job.inputs import PhotoFile, read_photos
from seamsurvey.job.layout_file import size_text
from seamsurvey.job.sets import FoundSet
from seamsurvey.job.wishes_file import FILE, merged, read_wishes, write_wishes
from seamsurvey.model import Block, FoundationPlan, Template, TemplateSet
from seamsurvey.runners.outcome import Outcome, Runner
from seamsurvey.sheets.colours import block_colours
from seamsurvey.units import nearest

_DECIMALS = 4  # of a millimetre in the index: finer than anything measured, and the same on every machine


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
    peak_bytes: int = 0
    disk: str = ""


@frozen
class Step:
    """What the batch tells while it runs: one set of so many, done, to decide, failed, or kept as it was."""

    number: int
    total: int
    name: str
    state: str  # a state of archive_model, or "kept"
    text: str
    seconds: float = 0.0
    peak_bytes: int = 0


# --- the archive as a whole ---------------------------------------------------------------------------------


def fill_archive(
    archive: ArchiveFolder,
    sets: Sequence[FoundSet],
    run: Runner,
    *,
    tell: Callable[[Step], None],
    force: bool = False,
) -> Archive:
    """Do every set that is new or changed, then make the index. The archive must be held (`ArchiveFolder.held`).

    A set that can't be done is kept with its problem and stops no other. CannotWriteError when the archive's
    own disk refuses; what was done is kept.
    """
    told = 0

    def step(name: str, state: str, text: str, seconds: float = 0.0, peak: int = 0) -> None:
        nonlocal told
        told += 1
        tell(Step(told, len(sets), name, state, text, seconds, peak))

    def works() -> Iterator[SetWork]:
        for found in sets:
            try:
                work = _work_of(found, archive, force=force)
            except InputError as error:
                record = _failed(found.name, found.source, error)
                archive.keep(found.folder, "", record, archive.files(found.folder))
                step(found.name, FAILED, error.what)
                continue
            if not force and archive.is_fresh(work.folder, work.key):
                step(found.name, "kept", "nothing changed since it was last done")
                continue
            yield work

    for outcome in run(work_set, works()):
        work, done = outcome.work, _done_of(outcome)
        # A set whose process died may well go through when it is tried again; one that was refused won't.
        key = work.key if outcome.result is not None else ""
        archive.keep(work.folder, key, done.record, done.files)
        step(work.name, done.record.state, said_of(done.record), done.seconds, done.peak_bytes)
    return write_index(archive)


def write_index(archive: ArchiveFolder) -> Archive:
    """Make index.html, index.csv and index.sqlite from what the archive holds."""
    records = archive.records()
    whole = Archive(sets=tuple(records), alike=find_alike(records))
    title = archive.path.resolve().name
    archive.write_index(
        {
            "index.csv": index_csv(whole).encode(),
            "index.sqlite": index_sqlite(whole),
            "index.html": index_html(whole, title=title).encode(),
        }
    )
    return whole


def said_of(record: SetRecord) -> str:
    """A set in half a line: its size and pieces, or what keeps it from being done."""
    if record.state == DONE:
        counted = (_counted(len(record.pieces), "piece"), _counted(record.sections or 0, "section"))
        return ", ".join((record.size_text, *counted))
    return record.problem.what if record.problem else record.state


def _counted(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _work_of(found: FoundSet, archive: ArchiveFolder, *, force: bool) -> SetWork:
    photos = tuple(read_photos(list(found.photos)))
    files = archive.files(found.folder)
    if found.measured is not None:
        files[MEASURED] = JobFolder(found.measured.parent).read(found.measured.name) or b""
    wishes = {"title": found.name.rpartition("/")[2], **found.wishes}
    key = stage_key(
        __version__, [photo.sha256 for photo in photos], [photo.name for photo in photos],
        content_hash(files[MEASURED]) if found.measured is not None else "",
        found.source, repr(sorted(wishes.items())),
    )  # fmt: skip
    return SetWork(
        name=found.name, folder=found.folder, key=key, wishes=wishes, source=found.source, photos=photos,
        files=files, force=force,
    )  # fmt: skip


def _done_of(outcome: Outcome[SetWork, SetDone]) -> SetDone:
    work, done = outcome.work, outcome.result
    if done is None:
        error = InputError(
            "set-lost",
            f"This set could not be finished: {outcome.died}.",
            likely="The pictures need more memory than there is, or somebody ended the process.",
            todo="Run the same command again; with --jobs 1 a set has all the memory to itself.",
        )
        return SetDone(record=_failed(work.name, work.source, error), files=work.files)
    if done.disk:
        raise CannotWriteError(
            "worker-disk",
            f"A process could not write its scratch files: {done.disk}",
            where=work.name,
            likely="The disk with the temporary files is full.",
            todo="Make room there, or set TMPDIR to another disk; then run the same command again.",
        )
    return done


# --- one set, in any process --------------------------------------------------------------------------------


def work_set(work: SetWork) -> SetDone:
    """The whole line for one set; its errors are part of the result."""
    began = time.monotonic()
    try:
        with tempfile.TemporaryDirectory(prefix="seamsurvey-") as scratch:
            record, files = _through_the_line(work, JobFolder(Path(scratch) / "set"))
    except CannotWriteError as error:
        record, files = _failed(work.name, work.source, error), dict(work.files)
        return SetDone(record=record, files=files, disk=error.what)
    except OSError as error:
        return SetDone(record=_failed_by_bug(work, error), files=dict(work.files), disk=str(error))
    return SetDone(record=record, files=files, seconds=time.monotonic() - began, peak_bytes=_peak_bytes())


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
            (job.path / FILE).write_bytes(write_wishes(wishes))
        line = Line(job, wishes, force=work.force)
        problem: Problem | None = None
        try:
            line.convert(work.photos)
        except CannotWriteError:
            raise
        except SeamsurveyError as error:
            problem = _problem(error, job.path)
        record = record_of(line, work, problem)
    except CannotWriteError:
        raise
    except SeamsurveyError as error:
        record = evolve(_failed(work.name, work.source, error), problem=_problem(error, job.path))
    except Exception as error:
        record = _failed_by_bug(work, error)
    files = {path.name: path.read_bytes() for path in sorted(job.path.iterdir()) if path.is_file()}
    return record, files


def _problem(error: SeamsurveyError, scratch: Path) -> Problem:
    """The error in the words of the archive: the scratch folder is nowhere any more when a person reads it."""

    def here(text: str) -> str:
        return text.replace(f"{scratch}/", "").replace(str(scratch), "this folder")

    return Problem(
        code=error.code,
        what=here(error.what),
        likely=here(error.likely),
        todo=here(error.todo),
        exit=int(error.exit),
    )


def _failed(name: str, source: str, error: SeamsurveyError) -> SetRecord:
    problem = Problem(code=error.code, what=error.what, likely=error.likely, todo=error.todo, exit=int(error.exit))
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


# --- what the index says of a set ---------------------------------------------------------------------------


def record_of(line: Line, work: SetWork, problem: Problem | None) -> SetRecord:
    """The record of a job as far as it went."""
    templates = line.measured() if _is_measured(line, work) else None
    # After a problem only what an undecided layout leaves is of this run.
    undecided = problem is not None and problem.exit == Exit.UNDECIDED
    block = line.layout() if _has(line, LAYOUT) and (problem is None or undecided) else None
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
        layouts=_layouts(line) if block else 0,
        sections=sum(section.copies for section in plan.sections) if plan else None,
        joins=len(plan.joins) if plan else None,
        templates=tuple(_template(template, units) for template in templates.templates) if templates else (),
        pieces=_pieces(block, line) if block else (),
        warnings=_warnings(templates, block, plan),
        problem=problem,
    )


def _is_measured(line: Line, work: SetWork) -> bool:
    """Whether the templates in the job are those of these photos, and not of an earlier run's."""
    return _has(line, MEASURED) and (not work.photos or evolve(line, force=False).outlook(work.photos)[0][1])


def _has(line: Line, name: str) -> bool:
    return line.job.read(name) is not None


def _layouts(line: Line) -> int:
    count = 1
    while _has(line, f"layout-{count + 1}.json"):
        count += 1
    return count


def _template(template: Template, units: str) -> TemplateRecord:
    edges = []
    for edge in template.edges:
        name, off = nearest(edge.length_mm, units, edge.u_mm)
        edges.append(EdgeRecord(_rounded(edge.length_mm), _rounded(edge.u_mm), name, _rounded(off)))
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
    colours = block_colours(block, line.wishes.colours)
    return tuple(
        PieceRecord(
            template=piece.template, colour=colours[piece.template], outline_mm=np.round(piece.outline, _DECIMALS)
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
