"""``seamsurvey demo``: the whole line on a scan that ships with the program."""

from pathlib import Path
from typing import Any

import click

from seamsurvey.job.inputs import read_photos
from seamsurvey_cli import options, results
from seamsurvey_cli.job_run import run

_PACKAGED = Path(__file__).parent / "demo_scan"
_IN_THE_REPOSITORY = Path(__file__).parents[2] / "sample_scans" / "millrace-star"


@click.command("demo")
@click.option("--into", type=click.Path(path_type=Path), default=Path("demo-output"), metavar="JOB",
              show_default=True, help="The job's folder.")  # fmt: skip
@options.drawing
@options.running
def command(into: Path, **chosen: Any) -> None:
    """Convert the scan of an invented set, one of each template beside a ruler, into printed foundations."""
    folder = _PACKAGED if _PACKAGED.is_dir() else _IN_THE_REPOSITORY
    files = read_photos([folder / "scan.jpg"])
    # What its maker would know: finished size, four quarters alike. The quarter is a square and could be turned
    # four ways; of those the likeliest, a star round the middle, is taken. Everything else is found.
    known = {"title": "Millrace star", "allowance": 0.0, "symmetry": "quarter-turn", "layout": 1}
    chosen = {**known, **{k: v for k, v in chosen.items() if v is not None}}
    run(into, chosen, lambda line: line.convert(files), results.whole_lines, photos=files)
