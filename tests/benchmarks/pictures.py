"""The rendered pictures of all classes, measured side by side; once for all tables that are asked for together."""

import os
import tempfile
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from seamsurvey.errors import SeamsurveyError
from seamsurvey.model import TemplateSet
from seamsurvey.photo.plane import find_plane
from seamsurvey.photo.read import read_picture
from tests.benchmarks.photo_kinds import KINDS, Kind, render
from tests.looked import look_and_measure
from tests.scene.truth import Truth, read_truth


@dataclass(frozen=True)
class Measured:
    """A picture's truth, what was found in it, and the code it was refused with where nothing was."""

    truth: Truth
    found: TemplateSet | None
    refused: str = ""


@cache
def measured_pictures(count: int, keep: Path | None, first: int = 0) -> dict[Kind, Sequence[Measured]]:
    """``count`` pictures of each class, measured; of the seeds from ``first`` on.

    ``keep``: a folder that rendered pictures are kept in, and taken from where they are there already.
    """
    seeds = range(first, first + count)
    processes = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    with tempfile.TemporaryDirectory() as scratch, ProcessPoolExecutor(processes) as pool:
        asked = {
            (kind, seed): pool.submit(_rendered, kind, seed, (keep or Path(scratch)) / f"{kind.name}-{seed}")
            for seed in seeds
            for kind in KINDS
        }
        return {kind: [asked[kind, seed].result() for seed in seeds] for kind in KINDS}


def _rendered(kind: Kind, seed: int, folder: Path) -> Measured:
    if not (folder / "truth.json").exists():
        render(kind, seed, folder)
    return measured(folder)


def measured(folder: Path) -> Measured:
    """The picture in a folder, measured as a person would who told card and ruler thickness to 0.1 mm."""
    truth = read_truth(folder / "truth.json")
    thickness = round(truth.placed[0].thickness, 1)
    named = folder / str(truth.raw["image"]["file"])
    file = named if named.exists() else folder / "photo.jpg"  # as the given scenes are kept
    picture = read_picture(file.name, file.read_bytes())
    ruler_mm = truth.raw.get("told", {}).get("ruler_mm")
    try:
        plane = find_plane(picture, thickness_mm=thickness, ruler_thickness_mm=ruler_mm)
        found = look_and_measure(
            [(picture, plane)], allowance_mm=truth.allowance, thickness_mm=thickness, every_card=True
        )
    except SeamsurveyError as error:
        return Measured(truth, None, error.code)
    return Measured(truth, found)
