"""``seamsurvey status``: how a job stands."""

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from seamsurvey.errors import command as command_text
from seamsurvey.errors import plain
from seamsurvey.job.folder import JobFolder, State
from seamsurvey.job.wishes_file import FILE, merged, read_wishes
from seamsurvey_cli import console, option_types

if TYPE_CHECKING:
    from seamsurvey.convert import Line
    from seamsurvey.status_line import Standing, Waiting

_STATES = {
    State.FRESH: "as they should be",
    State.EDITED: "yours, and used so",
    State.FOREIGN: "yours, and used so",
    State.STALE: "to be done",
    State.CONFLICT: "yours, and to be made anew: --force keeps yours in old",
}


@click.command("status")
@click.argument("job", type=option_types.FolderPath(exists=True))
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
@click.option("--debug", is_flag=True, help="A traceback where the program itself fails.")
def command(job: Path, as_json: bool, debug: bool) -> None:
    """Say how JOB stands: what is as it should be, what the next run does again, what waits for an answer."""
    del debug  # main.py looks for it
    from seamsurvey.convert import Line
    from seamsurvey.status_line import standings, waiting

    folder = JobFolder(job)
    line = Line(folder, merged(read_wishes(folder.read(FILE) or b"", str(job / FILE))))
    stages, asked = standings(line), waiting(line)
    if as_json:
        console.result([json.dumps(_envelope(line, stages, asked), ensure_ascii=False)])
    else:
        console.result(_lines(line, stages, asked))


def _envelope(line: "Line", stages: "list[Standing]", asked: "list[Waiting]") -> dict[str, object]:
    return {
        "format": "seamsurvey.status/1",
        "job": str(line.job.path),
        "photos": [{"file": photo.name, "gone": photo.gone} for photo in line.photos()],
        "stages": [{"name": each.name, "state": each.state.value, "why": each.why} for each in stages],
        "waiting": [
            {"code": each.code, "what": each.what, "todo": plain(each.todo, console.program())} for each in asked
        ],
    }


def _lines(line: "Line", stages: "list[Standing]", asked: "list[Waiting]") -> list[str]:
    from seamsurvey.status_line import CALLED

    lines = _wrapped("Job", f"{line.job.path}, “{line.title()}”")
    for photo in line.photos():
        lines += _wrapped(
            "Photo", f"{photo.path or photo.name}{', which is not there any more' if photo.gone else ''}"
        )
    for each in stages:
        lines += _wrapped(
            CALLED[each.name].capitalize(), f"{_STATES[each.state]}{f' ({each.why})' if each.why else ''}"
        )
    for one in asked:
        lines += _wrapped("Answer", f"{one.what} {one.todo}")
    again = [CALLED[each.name] for each in stages if each.again]
    if again:
        lines += _wrapped("Next", f"{', '.join(again)}: {command_text('convert', '--into', line.job.path)}")
    return lines


def _wrapped(word: str, text: str) -> list[str]:
    return console.wrapped(text, f"{word:<13}", " " * 13)
