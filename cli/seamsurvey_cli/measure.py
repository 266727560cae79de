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
@options.running
def command(photos: tuple[Path, ...], into: Path, **chosen: Any) -> None:
    """Measure each template in the photos, and go no further."""
    if not photos:
        raise click.UsageError("Name at least one photo.")
    files = read_photos(list(photos))
    run(into, chosen, lambda line: line.measure(files), results.measured_lines, photos=files, only="measured")
