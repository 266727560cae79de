"""``seamsurvey set``: wishes and answers written into a job's job.toml."""

import json
from datetime import date
from pathlib import Path
from typing import Any

import click
from click.shell_completion import CompletionItem

from seamsurvey.job.answers import first_file, with_answers
from seamsurvey.job.folder import JobFolder
from seamsurvey.job.hold import held
from seamsurvey.job.setting import completions, parse_setting
from seamsurvey.job.wishes_file import FILE, merged, read_wishes
from seamsurvey.model import Wishes
from seamsurvey_cli import console, option_types


class _Setting(click.ParamType[str]):
    """KEY=VALUE, completed from the keys there are and the job's templates."""

    name = "key=value"

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        """Offer keys, then values."""
        del param
        job = ctx.params.get("job")
        names = _template_names(JobFolder(Path(job))) if job else []
        return [CompletionItem(each) for each in completions(incomplete, names)]


@click.command("set")
@click.argument("job", type=option_types.FolderPath(exists=True))
@click.argument("settings", nargs=-1, required=True, type=_Setting(), metavar="KEY=VALUE...")
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
@click.option("--debug", is_flag=True, help="A traceback where the program itself fails.")
def command(job: Path, settings: tuple[str, ...], as_json: bool, debug: bool) -> None:
    """Write wishes into JOB's job.toml: allowance=1/4in, T3.count=4, T3.edges.1="2 1/4 in", quilt.across=5.

    A key is one of job.toml's, or a template's or piece's name with .count, .colour, .fabric, .name, .exclude,
    .allowance, .edges.N or .corners.N. Nothing after the = takes back what was said. The other lines stay as they
    are. Nothing is done again before the next run.
    """
    del debug  # main.py looks for it
    folder = JobFolder(job)
    folder.create()
    with held(job, "seamsurvey set", console.stderr_console(no_color=False).print):
        wishes, answers = _write(folder, settings)
    from seamsurvey.convert import Line
    from seamsurvey.status_line import CALLED, standings

    again = [each.name for each in standings(Line(folder, wishes)) if each.again]
    said = {".".join(path): value for path, value in answers.items() if path != ("taken",)}
    if as_json:
        envelope = {"format": "seamsurvey.set-wishes/1", "job": str(job), "said": said, "again": again}
        console.result([json.dumps(envelope, ensure_ascii=False)])
        return
    console.result(
        [
            *(f"{key} = {value!r}" if value is not None else f"{key} taken back" for key, value in said.items()),
            f"The next run does again: {', '.join(CALLED[name] for name in again)}."
            if again
            else "Nothing has to be done again.",
        ]
    )


def _write(folder: JobFolder, settings: tuple[str, ...]) -> tuple[Wishes, dict[tuple[str, ...], Any]]:
    """Write the settings down; the wishes as they are then, and what was written."""
    names = _template_names(folder)
    answers: dict[tuple[str, ...], Any] = {}
    for text in settings:
        path, value = parse_setting(text, names)
        answers[path] = value
        if path == ("layout",):
            answers["taken",] = None  # a number said now means the layouts as they are now
    written = folder.read(FILE) or first_file()
    read_wishes(written, str(folder.path / FILE))
    content = with_answers(written, answers, f"said {date.today()} with set")
    wishes = merged(read_wishes(content, str(folder.path / FILE)))
    folder.write(FILE, content)
    return wishes, answers


def _template_names(folder: JobFolder) -> list[str]:
    """The names of the job's templates, and those they were found under; read quickly, for completion's sake."""
    try:
        templates = json.loads(folder.read("measured.json") or b"{}").get("templates", [])
        both = [name for each in templates for name in (each["name"], each.get("found_as", "")) if name]
    except (ValueError, LookupError, TypeError, AttributeError):
        return []
    return list(dict.fromkeys(both))
