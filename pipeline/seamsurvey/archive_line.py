"""The line of many sets: each set goes through the whole line by itself, and an index is made of them all.

The sets' work is done by a runner, wherever that may be; only ``fill_archive`` writes the archive, one whole set
at a time.
"""

from collections.abc import Callable, Iterator, Sequence

from attrs import frozen

from seamsurvey import __version__
from seamsurvey.archive.database import index_sqlite
from seamsurvey.archive.duplicates import find_alike
from seamsurvey.archive.page import index_html
from seamsurvey.archive.table import index_csv
from seamsurvey.archive_model import DONE, FAILED, Archive, SetRecord
from seamsurvey.errors import CannotWriteError, InputError
from seamsurvey.job.archive_folder import ArchiveFolder
from seamsurvey.job.folder import JobFolder, stage_key
from seamsurvey.job.inputs import read_photos
from seamsurvey.job.sets import FoundSet
from seamsurvey.job.writing import content_hash
from seamsurvey.runners.outcome import Outcome, Runner
from seamsurvey.set_line import SetDone, SetWork, failed, work_set
from seamsurvey.stage_keys import MEASURED


@frozen
class Step:
    """What the batch tells while it runs: one set of so many, done, to decide, failed, or kept as it was."""

    number: int
    total: int
    name: str
    state: str  # a state of archive_model, or "kept"
    text: str
    seconds: float = 0.0
    processor_s: float = 0.0
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

    def step(name: str, state: str, text: str, done: SetDone | None = None) -> None:
        nonlocal told
        told += 1
        cost = (done.seconds, done.processor_s, done.peak_bytes) if done else ()
        tell(Step(told, len(sets), name, state, text, *cost))

    def works() -> Iterator[SetWork]:
        for found in sets:
            try:
                work = _work_of(found, archive, force=force)
            except InputError as error:
                record = failed(found.name, found.source, error)
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
        step(work.name, done.record.state, said_of(done.record), done)
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
        counted = [_counted(len(record.pieces), "piece"), _counted(record.sections or 0, "section")]
        if others := record.others_fit:
            counted.append(f"{_counted(others, 'other layout')} {'fits' if others == 1 else 'fit'}")
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
        return SetDone(record=failed(work.name, work.source, error), files=work.files)
    if done.disk:
        raise CannotWriteError(
            "worker-disk",
            f"A process could not write its scratch files: {done.disk}",
            where=work.name,
            likely="The disk with the temporary files is full.",
            todo="Make room there, or set TMPDIR to another disk; then run the same command again.",
        )
    return done
