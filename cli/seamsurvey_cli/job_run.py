"""What every command on a job does: read the wishes, run the line, print the result."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from seamsurvey.job.folder import JobFolder, write_atomically
from seamsurvey.job.inputs import PhotoFile
from seamsurvey.job.wishes_file import FILE, merged, read_wishes, write_wishes
from seamsurvey.model import Wishes
from seamsurvey_cli import console
from seamsurvey_cli.options import wished

if TYPE_CHECKING:
    from seamsurvey.convert import Line


def run(
    job_path: Path,
    options: dict[str, Any],
    work: Callable[["Line"], object],
    show: Callable[["Line", bool], list[str]],
    *,
    photos: list[PhotoFile] | None = None,
    only: str | None = None,
) -> None:
    """Open the job, do ``work`` on its line with progress shown, and print what ``show`` says of it.

    On the job's first run its job.toml is written. With --dry-run nothing is done or written; ``only`` is the stage
    that the command does, if it does not do all.
    """
    job = JobFolder(job_path)
    said = wished(options)
    written = job.read(FILE)
    wishes = merged(read_wishes(written, str(job_path / FILE)) if written is not None else {}, said)
    reporter = console.Reporter(quiet=options["quiet"], verbose=options["verbose"], no_color=options["no_color"])
    if options["dry_run"]:
        console.result(_outlook(job, wishes, photos or [], force=options["force"], only=only))
        return
    job.create()
    if written is None:
        write_atomically({job_path / FILE: write_wishes(wishes)})
    with reporter.running():
        from seamsurvey.convert import Line  # here, so that the slow imports happen with the progress on show

        line = Line(job, wishes, reporter, options["force"], ask=bool(options.get("ask")))
        work(line)
    if options["as_json"]:
        console.result([json.dumps(_envelope(line), ensure_ascii=False)])
    else:
        console.result(show(line, options["verbose"]))


def _outlook(
    job: JobFolder, wishes: Wishes, photos: list[PhotoFile], *, force: bool, only: str | None
) -> list[str]:
    from seamsurvey.convert import Line

    stages = Line(job, wishes, force=force).outlook(photos)
    return [
        *(f"would read   {photo.name} ({len(photo.content) / 1e6:.1f} MB)" for photo in photos),
        *(f"would {'keep' if kept else 'make'}   {stage}" for stage, kept in stages if only in (None, stage)),
        f"would write  into {job.path}{'' if job.path.is_dir() else ', which is new'}",
        "Nothing was done (--dry-run).",
    ]


def _envelope(line: "Line") -> dict[str, Any]:
    names = ("measured.json", "layout.json", "foundation.json")
    found = {name: line.job.read(name) for name in names}
    parts = {name.removesuffix(".json"): json.loads(text) for name, text in found.items() if text is not None}
    files = sorted(path.name for path in line.job.path.iterdir() if not path.name.startswith("."))
    return {"format": "seamsurvey.result/1", "job": str(line.job.path), "files": files, **parts}
