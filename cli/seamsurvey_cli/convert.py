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
@options.assembling
@options.sectioning
@options.drawing
@options.running
def command(photos: tuple[Path, ...], into: Path, **chosen: Any) -> None:
    """Do everything: from the photos to printed sheets.

    A job that exists goes on from what is there: only what changed is done again. Without a PHOTO it goes on
    from what the job has measured.
    """
    files = read_photos(list(photos))
    run(into, chosen, lambda line: line.convert(files), results.whole_lines, photos=files)
