"""``seamsurvey convert``: everything, photo to printed sheets."""

from pathlib import Path
from typing import Any

import click

from seamsurvey.job.inputs import read_photos
from seamsurvey_cli import options, results
from seamsurvey_cli.job_run import run


@click.command("convert")
@options.photos_and_job
@options.measuring
@options.saying_what_lies_there
@options.assembling
@options.sectioning
@options.drawing
@options.on_a_job
def command(photos: tuple[Path, ...], into: Path, **chosen: Any) -> None:
    """Do everything: from the photos to printed sheets.

    A job that exists goes on from what is there: only what changed is done again, from the picture on. Without a
    PHOTO it goes on with those that the job knows, or with what was measured by hand.
    """
    run(
        into, chosen, lambda line, files: line.convert(files), results.whole_lines,
        photos=read_photos(list(photos)),
    )  # fmt: skip
