"""``seamsurvey sheets``: the printed sheets and the report."""

from pathlib import Path
from typing import Any

import click

from seamsurvey_cli import option_types, options, results
from seamsurvey_cli.job_run import run


@click.command("sheets")
@click.argument("job", type=option_types.FolderPath(exists=True))
@options.drawing
@options.on_a_job
def command(job: Path, **chosen: Any) -> None:
    """Draw the sheets of JOB and whatever they need before: foundations, block, cutting list, report."""
    run(job, chosen, lambda line, _: line.convert(), results.sheet_lines, only="sheets")
