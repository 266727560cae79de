"""Run benchmarks: `python -m tests.benchmarks NAME... [--write]`; without a name, list them."""

import argparse

from tests.benchmarks import layouts, planes, rulers, scans, sections, stage_one
from tests.benchmarks.table import write_into_page

BENCHMARKS = {
    "scans": scans.one_ruler,
    "scans-two-rulers": scans.two_rulers,
    "scans-uneven-axes": scans.uneven_axes,
    "given-pictures": scans.given_pictures,
    "planes": planes.planes,
    "rulers": rulers.rulers,
    "stage-one": stage_one.stage_one,
    "sections": sections.sections,
    "partitions": sections.four_by_four,
    "layouts": layouts.layouts,
    "blunders": layouts.blunders,
}


def main() -> None:
    """Print the tables asked for, and put them into the documentation with --write."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"one of {', '.join(BENCHMARKS)}")
    parser.add_argument("--write", action="store_true", help="put the table into docs/reference/benchmarks.md")
    parser.add_argument("--count", type=int, help="how many photos of rulers, for a quick look")
    arguments = parser.parse_args()
    for name in arguments.names or []:
        quick = name == "rulers" and arguments.count
        table = rulers.rulers(arguments.count) if quick else BENCHMARKS[name]()
        print(table.markdown(), flush=True)
        if arguments.write:
            write_into_page(table)
    if not arguments.names:
        print("\n".join(BENCHMARKS))


if __name__ == "__main__":
    main()
