"""The command: `python -m tests.traced --seed N --count K --out FOLDER`."""

import argparse
import sys
import time
from pathlib import Path

from .make import make_picture


def main() -> None:
    """Make the pictures, one folder each; one line on the error output tells of each."""
    asked = argparse.ArgumentParser(prog="python -m tests.traced", description=__doc__)
    asked.add_argument("--seed", type=int, required=True)
    asked.add_argument("--count", type=int, default=1)
    asked.add_argument("--first", type=int, default=0, help="number of the first picture")
    asked.add_argument("--out", type=Path, required=True)
    asked.add_argument("--samples", type=int, default=4, help="camera rays a pixel, before denoising")
    asked.add_argument("--threads", type=int, default=2)
    said = asked.parse_args()
    for number in range(said.first, said.first + said.count):
        begun = time.monotonic()
        folder, about = make_picture(said.seed, number, said.out, said.samples, said.threads)
        print(f"{folder.name}: {about} ({time.monotonic() - begun:.0f} s)", file=sys.stderr, flush=True)


main()
