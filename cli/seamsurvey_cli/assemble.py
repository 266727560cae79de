"""``seamsurvey assemble``: the block from its measured templates."""

from pathlib import Path
from typing import Any

import click

from seamsurvey_cli import option_types, options, results
from seamsurvey_cli.job_run import run


@click.command("assemble")
@click.argument("job", type=option_types.FolderPath(exists=True))
@options.assembling
@options.on_a_job
def command(job: Path, **chosen: Any) -> None:
    """Put the block of JOB together from its templates, measured here or written by hand into measured.json."""
    run(job, chosen, lambda line, _: line.assemble(line.measure()), results.block_lines, only="layout")
