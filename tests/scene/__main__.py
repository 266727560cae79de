"""Make a scene and its truth: `python -m tests.scene --family millrace-star --seed 1 --into FOLDER`."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from .cards import Cutting
from .families import designs, family
from .looks import CARDS, LIDS
from .make import make_scan
from .rulers import RULERS
from .scan import BEDS, Scanner
from .scatter import DoesNotFitError
from .scene import Layout


def parser() -> argparse.ArgumentParser:
    """The options of the command."""
    p = argparse.ArgumentParser(
        prog="python -m tests.scene", description="Make a picture of templates and its truth."
    )
    p.add_argument("--family", required=True, help=f"random-N, or one of: {', '.join(designs())}")
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--into", type=Path, required=True, metavar="FOLDER")
    p.add_argument("--file", default="scan.jpg", help="name of the picture in the folder")
    what = p.add_argument_group("what lies there")
    what.add_argument("--ruler", choices=sorted(RULERS), default="wood-12in-cm")
    what.add_argument("--ruler-turn", type=float, metavar="DEGREES", help="any angle; default: nearly along a side")
    what.add_argument(
        "--ruler-at", type=float, nargs=2, metavar=("X", "Y"), help="its middle, as shares of the bed"
    )
    what.add_argument("--allowance", type=float, default=0.0, metavar="MM")
    what.add_argument("--tips-at", type=float, metavar="MM", help="trim tips this far from the finished corner")
    what.add_argument("--stock", choices=sorted(CARDS), default="cream")
    what.add_argument("--thickness", type=float, default=0.5, metavar="MM")
    what.add_argument("--face-down", nargs="*", default=[], metavar="NAME")
    what.add_argument("--wobble", type=float, default=0.04, metavar="MM", help="deviation of the hand-cut edges")
    what.add_argument("--wobble-length", type=float, default=20.0, metavar="MM")
    what.add_argument("--wear", type=float, default=0.4, metavar="MM", help="radius of the worn corners")
    what.add_argument("--gap", type=float, default=7.0, metavar="MM")
    how = p.add_argument_group("the scanner")
    how.add_argument("--bed", choices=sorted(BEDS), default="full")
    how.add_argument("--lid", choices=sorted(LIDS), default="white")
    how.add_argument("--dpi", type=int, default=300)
    how.add_argument("--axis-error", type=float, nargs=2, default=(0.0, 0.0), metavar=("X", "Y"), help="percent")
    how.add_argument("--skew", type=float, default=0.0, help="percent")
    how.add_argument("--psf", type=float, default=0.65, metavar="PX")
    how.add_argument("--worn", type=float, default=0.0, help="share of the ruler's marks that are gone")
    how.add_argument("--quality", type=int, default=91)
    return p


def main(arguments: list[str] | None = None) -> int:
    """Run the command; the exit code."""
    a = parser().parse_args(arguments)
    cutting = Cutting(a.allowance, a.tips_at, a.wobble, a.wobble_length, a.wear)
    layout = Layout(
        rulers=(RULERS[a.ruler],),
        ruler_turn=a.ruler_turn,
        ruler_at=tuple(a.ruler_at) if a.ruler_at else None,
        face_down=tuple(a.face_down),
        thickness=a.thickness,
        stock=a.stock,
        gap=a.gap,
    )
    scanner = Scanner(
        dpi=a.dpi,
        lid=a.lid,
        axis_error=(a.axis_error[0] / 100.0, a.axis_error[1] / 100.0),
        skew=a.skew / 100.0,
        psf=a.psf,
        worn=a.worn,
        quality=a.quality,
    )
    try:
        make_scan(family(a.family), cutting, layout, scanner, BEDS[a.bed], seed=a.seed, into=a.into, file=a.file)
    except (DoesNotFitError, KeyError) as problem:
        print(f"python -m tests.scene: {problem}", file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
