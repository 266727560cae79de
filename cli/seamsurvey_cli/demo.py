"""``seamsurvey demo``: the whole line on a scan that ships with the program."""

from pathlib import Path
from typing import Any

import click

from seamsurvey.job.inputs import read_photos
from seamsurvey_cli import option_types, options, results
from seamsurvey_cli.job_run import run

_PACKAGED = Path(__file__).parent / "demo_scan"
_IN_THE_REPOSITORY = Path(__file__).parents[2] / "sample_scans" / "millrace-star"


@click.command("demo")
@click.option("--into", type=option_types.FolderPath(), default=Path("demo-output"), metavar="JOB",
              show_default=True, help="The job's folder.")  # fmt: skip
@options.drawing
@options.on_a_job
def command(into: Path, **chosen: Any) -> None:
    """Convert the scan of an invented set, one of each template beside a ruler, into printed foundations."""
    folder = _PACKAGED if _PACKAGED.is_dir() else _IN_THE_REPOSITORY
    # What its maker would know: finished size, four quarters alike. Everything else is found.
    known = {"title": "Millrace star", "allowance": 0.0, "symmetry": "quarter-turn"}
    chosen = {**known, **{k: v for k, v in chosen.items() if v is not None}}
    photos = read_photos([folder / "scan.jpg"])
    run(into, chosen, lambda line, files: line.convert(files), results.whole_lines, photos=photos)
