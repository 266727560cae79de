"""``seamsurvey target``: the page of checker corners to photograph with the templates."""

import json
from pathlib import Path

import click

from seamsurvey.errors import CannotWriteError
from seamsurvey.job.writing import write_atomically
from seamsurvey.units import PAPERS
from seamsurvey_cli import console

_TODO = (
    "  print   at 100 %, with no fit to page, on matt paper",
    "  check   both bars with a ruler: 99.5 to 100.5 mm, or 3 63/64 to 4 1/64 in",
    "  lay     the page flat, the templates inside its frame, a ruler beside it",
    "  take    the photo from above, with the whole frame in view",
)


@click.command("target")
@click.option("--paper", type=click.Choice(sorted(PAPERS, reverse=True)), default="letter", show_default=True,
              help="Paper it is printed on.")  # fmt: skip
@click.option("--into", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="The PDF to write.  [default: target-PAPER.pdf]")  # fmt: skip
@click.option("--force", is_flag=True, help="Overwrite a file that exists.")
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
def command(paper: str, into: Path | None, force: bool, as_json: bool) -> None:
    """Write the target: a page to print, lay under the templates and photograph with them.

    Its checker corners show where the camera stood and how its lens bends lines. A ruler in the picture still gives
    the scale; without one, measure the two bars and say --target-bars.
    """
    path = into or Path(f"target-{paper}.pdf")
    if path.exists() and not force:
        raise CannotWriteError(
            "file-exists",
            f"{path} exists, so it is left alone.",
            where=str(path),
            likely="The target was written before, or another file has this name.",
            todo="Use --force to overwrite it, or name another file with --into.",
        )
    from seamsurvey.sheets.target_page import target_pdf

    write_atomically({path: target_pdf(paper)})
    if as_json:
        console.result([json.dumps({"format": "seamsurvey.target/1", "paper": paper, "file": str(path)})])
    else:
        console.result([f"target  {path}", *_TODO])
