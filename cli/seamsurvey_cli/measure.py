"""``seamsurvey measure``: what each template measures."""

from pathlib import Path
from typing import Any

import click

from seamsurvey.job.inputs import read_photos
from seamsurvey_cli import options, results
from seamsurvey_cli.job_run import run


@click.command("measure")
@options.photos_and_job
@options.measuring
@options.saying_what_lies_there
@options.on_a_job
def command(photos: tuple[Path, ...], into: Path, **chosen: Any) -> None:
    """Measure each template in the photos, and go no further. Without a PHOTO, in those that the job knows."""
    if not photos and not into.is_dir():
        raise click.UsageError("Name at least one photo.")
    run(
        into, chosen, lambda line, files: line.measure(files), results.measured_lines,
        photos=read_photos(list(photos)), only="measured",
    )  # fmt: skip
