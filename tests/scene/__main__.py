"""Make a scene and its truth: `python -m tests.scene --family millrace-star --seed 1 --into FOLDER`."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from .camera import Phone
from .cards import Cutting
from .families import designs, family
from .grounds import GROUNDS, MATS
from .looks import CARDS, LIDS
from .make import make_photo, make_scan
from .photo import Exposure
from .rulers import RULERS
from .scan import BEDS, Scanner
from .scatter import DoesNotFitError
from .scene import Layout


def parser() -> argparse.ArgumentParser:
    """The options of the command."""
    p = argparse.ArgumentParser(
        prog="python -m tests.scene",
        description="Make a picture of templates beside a ruler, a scan or with --photo a photo, and its truth.",
    )
    p.add_argument("--family", required=True, help=f"random-N, or one of: {', '.join(designs())}")
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--into", type=Path, required=True, metavar="FOLDER")
    p.add_argument("--photo", action="store_true", help="seen by a phone's camera, not by a scanner")
    what = p.add_argument_group("what lies there")
    what.add_argument("--ruler", nargs="*", choices=sorted(RULERS), default=["wood-12in-cm"], metavar="KIND",
                      help=f"none, one, or two at a right angle, of: {', '.join(RULERS)}")  # fmt: skip
    what.add_argument("--ruler-turn", type=float, metavar="DEGREES", help="any angle; default: nearly along a side")
    what.add_argument("--ruler-at", type=float, nargs=2, metavar=("X", "Y"), help="its middle, shares of the room")
    what.add_argument("--mat", choices=sorted(MATS), help="a cutting mat under it all (photos)")
    what.add_argument("--allowance", type=float, default=0.0, metavar="MM")
    what.add_argument("--tips-at", type=float, metavar="MM", help="trim tips this far from the finished corner")
    what.add_argument("--stock", choices=sorted(CARDS), default="cream")
    what.add_argument("--thickness", type=float, default=0.5, metavar="MM")
    what.add_argument("--face-down", nargs="*", default=[], metavar="NAME")
    what.add_argument("--wobble", type=float, default=0.04, metavar="MM", help="deviation of the hand-cut edges")
    what.add_argument("--wobble-length", type=float, default=20.0, metavar="MM")
    what.add_argument("--wear", type=float, default=0.4, metavar="MM", help="radius of the worn corners")
    what.add_argument("--gap", type=float, default=7.0, metavar="MM")
    both = p.add_argument_group("scanner and phone")
    both.add_argument("--psf", type=float, default=0.65, metavar="PX", help="deviation of the blur")
    both.add_argument("--worn", type=float, default=0.0, help="share of the ruler's marks that are gone")
    both.add_argument("--quality", type=int, default=91)
    how = p.add_argument_group("the scanner")
    how.add_argument("--bed", choices=sorted(BEDS), default="full")
    how.add_argument("--lid", choices=sorted(LIDS), default="white")
    how.add_argument("--dpi", type=int, default=300)
    how.add_argument("--axis-error", type=float, nargs=2, default=(0.0, 0.0), metavar=("X", "Y"), help="percent")
    how.add_argument("--skew", type=float, default=0.0, help="percent")
    held = p.add_argument_group("the phone")
    held.add_argument("--ground", choices=sorted(GROUNDS), default="oak")
    held.add_argument("--size", type=int, nargs=2, default=(4000, 3000), metavar=("W", "H"), help="px")
    held.add_argument("--focal", type=float, default=26.0, metavar="MM", help="35 mm equivalent")
    held.add_argument("--distance", type=float, default=480.0, metavar="MM")
    held.add_argument("--tilt", type=float, default=0.0, metavar="DEGREES")
    held.add_argument("--azimuth", type=float, default=-90.0, metavar="DEGREES", help="of the tilt")
    held.add_argument("--roll", type=float, default=0.0, metavar="DEGREES")
    held.add_argument("--distortion", type=float, nargs=2, default=(0.0, 0.0), metavar=("K1", "K2"))
    held.add_argument(
        "--principal", type=float, nargs=2, default=(0.0, 0.0), metavar=("X", "Y"), help="px off centre"
    )
    held.add_argument("--orientation", type=int, choices=(1, 3, 6, 8), default=1, help="EXIF")
    held.add_argument("--no-focal", action="store_true", help="leave the focal length out of the EXIF")
    return p


def main(arguments: list[str] | None = None) -> int:
    """Run the command; the exit code."""
    a = parser().parse_args(arguments)
    try:
        block = family(a.family)
        cutting = Cutting(a.allowance, a.tips_at, a.wobble, a.wobble_length, a.wear)
        if a.photo:
            make_photo(block, cutting, _layout(a), _phone(a), _exposure(a), seed=a.seed, into=a.into)
        else:
            make_scan(block, cutting, _layout(a), _scanner(a), BEDS[a.bed], seed=a.seed, into=a.into)
    except (DoesNotFitError, KeyError) as problem:
        print(f"python -m tests.scene: {problem}", file=sys.stderr)
        return 2
    return 0


def _layout(a: argparse.Namespace) -> Layout:
    return Layout(
        rulers=tuple(RULERS[name] for name in a.ruler),
        ruler_turn=a.ruler_turn,
        ruler_at=tuple(a.ruler_at) if a.ruler_at else None,
        face_down=tuple(a.face_down),
        thickness=a.thickness,
        stock=a.stock,
        gap=a.gap,
        mat=MATS[a.mat] if a.mat else None,
    )


def _scanner(a: argparse.Namespace) -> Scanner:
    return Scanner(
        dpi=a.dpi,
        lid=a.lid,
        axis_error=(a.axis_error[0] / 100.0, a.axis_error[1] / 100.0),
        skew=a.skew / 100.0,
        psf=a.psf,
        worn=a.worn,
        quality=a.quality,
    )


def _phone(a: argparse.Namespace) -> Phone:
    return Phone(
        focal_35mm=a.focal,
        size=tuple(a.size),
        principal=tuple(a.principal),
        k1=a.distortion[0],
        k2=a.distortion[1],
        distance=a.distance,
        tilt=a.tilt,
        azimuth=a.azimuth,
        roll=a.roll,
    )


def _exposure(a: argparse.Namespace) -> Exposure:
    return Exposure(
        ground=a.ground,
        psf=a.psf,
        worn=a.worn,
        quality=a.quality,
        orientation=a.orientation,
        tells_focal=not a.no_focal,
    )


if __name__ == "__main__":
    sys.exit(main())
