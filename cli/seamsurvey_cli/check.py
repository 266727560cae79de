"""``seamsurvey check``: whether what lies in a photo has the size it should have."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from seamsurvey.errors import CannotWriteError, Exit, UsageError
from seamsurvey.units import parse_length
from seamsurvey_cli import console, option_types, options

if TYPE_CHECKING:
    from seamsurvey.check_line import Against, CheckDone
    from seamsurvey.check_model import CheckReport
    from seamsurvey.model import Wishes


class _Sizes(click.ParamType[tuple[float, ...]]):
    """Lengths with commas between: 2 1/2 in, 5 1/2 in."""

    name = "length, ..."

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, ...]:
        """Return millimetres."""
        if isinstance(value, tuple):
            return value
        try:
            return tuple(parse_length(part) for part in str(value).split(",") if part.strip())
        except UsageError as error:
            self.fail(f"{error.what} {error.todo}", param, ctx)


@click.command("check")
@click.argument("photos", nargs=-1, type=click.Path(path_type=Path), metavar="PHOTO...")
@click.option("--against", type=click.Path(path_type=Path, exists=True), metavar="JOB|CSV|PHOTO",
              help="What it should be like: an earlier job, a table of sizes, another photo.")  # fmt: skip
@click.option("--size", "sizes", type=_Sizes(), help='The lengths its edges should have: "2 1/2 in, 5 1/2 in".')
@click.option("--page/--templates", default=None,
              help="The photo shows a printed sheet of the job, or templates.  [default: find out]")  # fmt: skip
@click.option(
    "--box", type=option_types.Bars(), help="No photo: width and height of a box on a screen or sheet, measured."
)
@click.option("--box-should-be", type=option_types.Bars(), default="100mm x 100mm", show_default=True,
              help="What that box should measure; the bars on every sheet are 100 mm long.")  # fmt: skip
@click.option(
    "--tolerance",
    type=option_types.Length(),
    help="How far a length may be off and still be right.  [default: 0.4 mm]",
)
@click.option("--risk", type=click.FloatRange(0.0001, 0.4), default=0.05, show_default=True,
              help="How often a length called right may be off by more than the tolerance.")  # fmt: skip
@click.option("--into", type=option_types.FolderPath(), metavar="FOLDER", default=Path(),
              help="Where check-PHOTO.png is written.  [default: here]")  # fmt: skip
@options.measuring
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
@click.option("-q", "--quiet", is_flag=True, help="The verdict only.")
@click.option("--no-color", is_flag=True, help="No colours.")
@click.option("--debug", is_flag=True, help="A traceback where the program itself fails.")
def command(photos: tuple[Path, ...], **chosen: Any) -> None:
    """Measure what lies in PHOTO beside a ruler, and say of each length whether it is right.

    A length is right, off by so much, or can't be told from this photo, and then what to change is said.
    check-PHOTO.png shows every length on its edge.

    Exit code 0: every length is right (or nothing was named to compare with); 3: some are off; 4: none is off, but
    some can't be told or were not seen.
    """
    report = _box(chosen) if chosen["box"] else _photos(photos, chosen)
    compared = bool(chosen["box"] or chosen["against"] or chosen["sizes"])
    from seamsurvey_cli.check_results import check_lines, envelope

    if chosen["as_json"]:
        console.result([json.dumps(envelope(report, compared=compared), ensure_ascii=False)])
    else:
        console.result(check_lines(report, compared=compared, quiet=chosen["quiet"]))
    code = {"off": Exit.INPUT, "can't tell": Exit.UNDECIDED}.get(report.verdict) if compared else None
    if code:
        raise SystemExit(code)


def _box(chosen: dict[str, Any]) -> "CheckReport":
    from seamsurvey.checking.box import check_box

    return check_box(chosen["box"], chosen["box_should_be"])


def _photos(photos: tuple[Path, ...], chosen: dict[str, Any]) -> "CheckReport":
    if not photos:
        raise click.UsageError("Name at least one photo, or give --box.")
    if chosen["against"] and chosen["sizes"]:
        raise click.UsageError("Give --against or --size, not both.")
    if chosen["page"] and not (chosen["against"] and chosen["against"].is_dir() and len(photos) == 1):
        raise click.UsageError("--page takes one PHOTO and --against JOB, the job the page was printed from.")
    from seamsurvey.job.inputs import read_photos
    from seamsurvey.job.wishes_file import merged

    files = read_photos(list(photos))
    wishes = merged(options.wished(chosen))
    from seamsurvey.check_line import check
    from seamsurvey.check_page_line import check_page_of, has_sheets, sheet_in
    from seamsurvey.checking.verdict import TOLERANCE_MM

    if chosen["page"]:
        done = check_page_of(files[0], chosen["against"], wishes, risk=chosen["risk"])
        _write(chosen["into"], done)
        return done.report
    if chosen["page"] is None and len(files) == 1 and has_sheets(chosen["against"]):
        page = sheet_in(files[0], chosen["against"], wishes, risk=chosen["risk"])
        if page is not None:
            _write(chosen["into"], page)
            return page.report
    done = check(
        files,
        _against(chosen, wishes),
        wishes,
        tolerance_mm=chosen["tolerance"] or TOLERANCE_MM,
        risk=chosen["risk"],
    )
    _write(chosen["into"], done)
    return done.report


def _write(folder: Path, done: "CheckDone") -> None:
    from PIL import Image

    from seamsurvey.job.folder import JobFolder
    from seamsurvey.job.writing import write_atomically

    JobFolder(folder).create()
    files = {folder / f"check-{name}.png": content for name, content in done.overlays.items()}
    for path in files:
        if not path.exists():
            continue
        try:
            with Image.open(path) as there:
                ours = there.info.get("Software") == "seamsurvey"
        except OSError:
            ours = False
        if not ours:
            raise CannotWriteError(
                "file-exists",
                f"{path} is not a picture of this program's, so it is left alone.",
                where=str(path),
                todo="Move it away, or name another folder with --into.",
            )
    write_atomically(files)


def _against(chosen: dict[str, Any], wishes: "Wishes") -> "Against":
    from seamsurvey.check_line import Against, against_path

    if chosen["against"]:
        return against_path(chosen["against"], wishes)
    return Against(sizes_mm=chosen["sizes"] or ())
