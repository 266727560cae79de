"""What every command on a job does: read the wishes, run the line, keep the answers, print the result."""

import json
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from seamsurvey.errors import SeamsurveyError, UsageError
from seamsurvey.job.answers import first_file, with_answers
from seamsurvey.job.folder import JobFolder
from seamsurvey.job.hold import held
from seamsurvey.job.inputs import PhotoFile
from seamsurvey.job.own_photos import copied
from seamsurvey.job.wish_texts import toml_values
from seamsurvey.job.wishes_file import FILE, forgotten, merged, read_wishes
from seamsurvey.model import Wishes
from seamsurvey_cli import console
from seamsurvey_cli.options import said_here

if TYPE_CHECKING:
    from seamsurvey.convert import Line


_Work = Callable[["Line", list[PhotoFile]], object]
_Said = tuple[dict[str, Any], dict[str, Any]]


def run(
    job_path: Path,
    options: dict[str, Any],
    work: _Work,
    show: Callable[["Line", bool], list[str]],
    *,
    photos: list[PhotoFile] | None = None,
    only: str | None = None,
) -> None:
    """Open the job, do ``work`` on its line with progress shown, and print what ``show`` says of it.

    On the job's first run its job.toml is written; what was said on the command line is kept in it, unless it was
    refused. With --dry-run nothing is done or written; ``only`` is the stage that the command does, if it does not
    do all.
    """
    job = JobFolder(job_path)
    reporter = console.Reporter(quiet=options["quiet"], verbose=options["verbose"], no_color=options["no_color"])
    if options["dry_run"]:
        console.result(_outlook(job, _read(job, options)[0], photos or [], force=options["force"], only=only))
        return
    job.create()
    with held(job_path, f"seamsurvey {click.get_current_context().info_name}", reporter.wait):
        line = _run(job, options, work, list(photos or []), reporter)
        if options["as_json"]:
            console.result([json.dumps(_envelope(line), ensure_ascii=False)])
        else:
            console.result(show(line, options["verbose"]))


def _read(job: JobFolder, options: dict[str, Any]) -> tuple[Wishes, bytes, _Said]:
    """What is wished for, job.toml as it is once what is to be forgotten is out of it, and what was said where."""
    said, usual = said_here(options)
    text = with_answers(job.read(FILE) or first_file(), forgotten(options.get("forget") or ()))
    own = read_wishes(text, str(job.path / FILE))
    # What somebody set up for all their work comes after what they wrote for this job.
    return merged(usual, own, said), text, (said, {name: each for name, each in usual.items() if name not in own})


def _run(
    job: JobFolder, options: dict[str, Any], work: _Work, photos: list[PhotoFile], reporter: console.Reporter
) -> "Line":
    """Do the work and write down what was said, if it was not refused."""
    wishes, text, (said, usual) = _read(job, options)
    job.write(FILE, text)
    if options.get("copy_photos"):
        photos = copied(photos, job.path)
    refused = False
    with reporter.running():
        from seamsurvey.convert import Line  # here, so that the slow imports happen with the progress on show

        ask = bool(options.get("ask"))
        line = Line(job, wishes, reporter, options["force"], ask=ask, stopping=reporter.stopping)
        try:
            line = line.placed()
            work(line, photos)
        except SeamsurveyError as error:
            refused = isinstance(error, UsageError) or error.code in _REFUSED
            raise
        finally:
            if not refused:
                _keep(job, said, f"said {date.today()} on the command line")
                _keep(job, usual, f"said {date.today()} by the environment")
            line.put_away()
    return line


# Errors by which what was said is turned down: it is not what the person goes on with.
_REFUSED = ("changed-by-hand", "count-cannot-fill")


def _keep(job: JobFolder, wishes: dict[str, Any], note: str) -> None:
    """Write what was said into job.toml as it is now: a person may have written in it meanwhile."""
    values = toml_values(wishes)
    written = job.read(FILE)
    if values and written is not None:
        job.write(FILE, with_answers(written, values, note))


def _outlook(
    job: JobFolder, wishes: Wishes, photos: list[PhotoFile], *, force: bool, only: str | None
) -> list[str]:
    from seamsurvey.convert import Line
    from seamsurvey.status_line import standings

    each = standings(Line(job, wishes, force=force), photos)
    last = next((k for k, one in enumerate(each) if one.name == only), len(each) - 1)
    return [
        *(f"would read   {photo.name} ({len(photo.content) / 1e6:.1f} MB)" for photo in photos),
        *(f"would {'make' if one.again else 'keep'}   {one.name}" for one in each[: last + 1]),
        f"would write  into {job.path}{'' if job.path.is_dir() else ', which is new'}",
        "Nothing was done (--dry-run).",
    ]


def _envelope(line: "Line") -> dict[str, Any]:
    names = ("measured.json", "layout.json", "foundation.json")
    found = {name: line.job.read(name) for name in names}
    parts = {name.removesuffix(".json"): json.loads(text) for name, text in found.items() if text is not None}
    shown = (path for path in line.job.path.iterdir() if path.is_file() and not path.name.startswith("."))
    return {
        "format": "seamsurvey.result/1", "job": str(line.job.path), "files": sorted(path.name for path in shown),
        **parts,
    }  # fmt: skip
