"""``seamsurvey sheets``: the printed sheets and the report."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from seamsurvey_cli import options, results
from seamsurvey_cli.job_run import run

if TYPE_CHECKING:
    from seamsurvey.convert import Line


@click.command("sheets")
@click.argument("job", type=click.Path(path_type=Path, exists=True, file_okay=False))
@options.drawing
@options.running
def command(job: Path, **chosen: Any) -> None:
    """Draw the sheets of JOB from its plan: foundations, block, cutting list, report."""
    run(job, chosen, _draw, results.sheet_lines, only="sheets")


def _draw(line: "Line") -> None:
    templates = line.measured() if line.job.read("measured.json") is not None else None
    line.draw(templates, line.layout(), line.plan())
