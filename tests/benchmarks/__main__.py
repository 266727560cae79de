"""Run benchmarks: `python -m tests.benchmarks NAME... [--write]`; without a name, list them."""

import argparse
from collections.abc import Callable
from pathlib import Path

from tests.benchmarks import (
    allowances,
    archive,
    checks,
    complete,
    duplicates,
    edits,
    layouts,
    meaning,
    one_command,
    photos,
    planes,
    printed_pages,
    real_photos,
    rulers,
    scans,
    sections,
    sheets,
    stage_one,
    touching,
    traced,
    trade,
    trade_new,
    work,
    writing,
)
from tests.benchmarks.table import Table, write_into_page

BENCHMARKS = {
    "scans": scans.one_ruler,
    "scans-two-rulers": scans.two_rulers,
    "scans-uneven-axes": scans.uneven_axes,
    "given-pictures": scans.given_pictures,
    "photos": photos.photos,
    "allowances": allowances.allowances,
    "planes": planes.planes,
    "printed-pages": printed_pages.printed_pages,
    "rulers": rulers.rulers,
    "stage-one": stage_one.stage_one,
    "sections": sections.sections,
    "sheets": sheets.sheets,
    "partitions": sections.four_by_four,
    "layouts": layouts.layouts,
    "layouts-of-few": layouts.layouts_of_few,
    "blunders": layouts.blunders,
    "archive": archive.archive,
    "archive-index": duplicates.index_cost,
    "duplicates": duplicates.duplicates,
    "checks": checks.checks,
    "edits": edits.edited,
    "work": work.work,
    "complete": complete.complete,
    "traced": traced.traced,
    "trade": trade.trade,
    "trade-uncounted": trade.trade_uncounted,
    "trade-unknown": trade.trade_unknown,
    "trade-designs": trade.trade_designs,
    "trade-new": trade_new.trade_new,
    "meaning": meaning.meaning,
    "one-command": one_command.one_command,
    "writing": writing.writing,
    "touching": touching.touching,
}
OF_A_FOLDER: dict[str, Callable[[Path], Table]] = {"real-photos": real_photos.real_photos}


def main() -> None:
    """Print the tables asked for, and put them into the documentation with --write."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"one of {', '.join((*BENCHMARKS, *OF_A_FOLDER))}")
    parser.add_argument("--write", action="store_true", help="put the table into docs/reference/benchmarks.md")
    parser.add_argument("--count", type=int, help="how many photos, sets or scenes, for a quick look")
    parser.add_argument("--first", type=int, default=0, help="of photos: the first of the pictures' seeds")
    parser.add_argument(
        "--keep",
        type=Path,
        help="of photos, checks and one-command: where the rendered pictures are kept, and used again",
    )
    parser.add_argument(
        "--pictures", type=Path, help="of real-photos: a folder with the pictures that real_photos.json tells of"
    )
    arguments = parser.parse_args()
    for name in arguments.names or []:
        counted: dict[str, Callable[[int], Table]] = {
            "rulers": rulers.rulers, "archive": archive.archive,
            "archive-index": duplicates.index_cost, "duplicates": duplicates.duplicates,
            "allowances": allowances.allowances, "printed-pages": printed_pages.printed_pages,
            "work": work.work, "complete": complete.complete,
            "trade": trade.trade, "trade-uncounted": trade.trade_uncounted,
            "trade-unknown": trade.trade_unknown, "trade-designs": trade.trade_designs,
            "trade-new": trade_new.trade_new, "meaning": meaning.meaning, "writing": writing.writing,
            "touching": touching.touching,
        }  # fmt: skip
        quick = counted if arguments.count else {}
        if name == "photos":
            table = photos.photos(arguments.count or photos.COUNT, arguments.keep, arguments.first)
        elif name == "one-command":
            table = one_command.one_command(arguments.count or one_command.COUNT, arguments.keep)
        elif name == "checks":
            table = checks.checks(arguments.count or checks.COUNT, arguments.keep)
        elif name in OF_A_FOLDER:
            if arguments.pictures is None:
                parser.error(f"{name}: say --pictures FOLDER; tests/benchmarks/real_photos.json says what is in it")
            table = OF_A_FOLDER[name](arguments.pictures)
        else:
            table = quick[name](arguments.count) if name in quick else BENCHMARKS[name]()
        print(table.markdown(), flush=True)
        if arguments.write:
            write_into_page(table)
    if not arguments.names:
        print("\n".join((*BENCHMARKS, *OF_A_FOLDER)))


if __name__ == "__main__":
    main()
