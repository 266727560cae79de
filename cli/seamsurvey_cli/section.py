"""``seamsurvey section``: the block as sections to sew."""

from pathlib import Path
from typing import Any

import click

from seamsurvey_cli import option_types, options, results
from seamsurvey_cli.job_run import run


@click.command("section")
@click.argument("job", type=option_types.FolderPath(exists=True))
@options.sectioning
@options.on_a_job
def command(job: Path, **chosen: Any) -> None:
    """Split the block of JOB, assembled here or drawn elsewhere into layout.json, into sections."""
    run(job, chosen, lambda line, _: line.section(line.block()), results.plan_lines, only="foundation")
