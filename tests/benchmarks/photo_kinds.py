"""The classes of pictures templates are measured on, over all grounds and cards, and how one is drawn at random."""

import json
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from tests.benchmarks.phones import LONG_RULERS, random_exposure, random_phone
from tests.scene.cards import Cutting
from tests.scene.families import random_family
from tests.scene.grounds import GROUNDS, MATS, PAPERS
from tests.scene.looks import CARDS, LIDS
from tests.scene.make import make_photo, make_scan
from tests.scene.rulers import RULERS
from tests.scene.scan import BEDS, Scanner
from tests.scene.scatter import DoesNotFitError
from tests.scene.scene import Layout

_THINGS = ("coin", "pencil", "hand")


@dataclass(frozen=True)
class Kind:
    """A class of pictures; ``tilt`` None: a flatbed scan. ``scissors``: a wobble of 0.2 mm over 8 mm."""

    name: str
    about: str
    tilt: tuple[float, float] | None
    rulers: int = 1
    mat: bool = False
    scissors: bool = False
    clutter: bool = False


KINDS = (
    Kind("down", "within 3° of straight down, one ruler", (0.0, 3.0)),
    Kind("tilted", "5° to 30°, two rulers", (5.0, 30.0), rulers=2),
    Kind("mat", "0° to 28°, on a mat, one ruler", (0.0, 28.0), mat=True),
    Kind("scissors", "within 3°, cut with a wobble of 0.2 mm over 8 mm", (0.0, 3.0), scissors=True),
    Kind("littered", "within 3°, hard shadow, coin, pencil, hand, holes, grain lines", (0.0, 3.0), clutter=True),
    Kind("scan", "flatbed, 300 dpi, two rulers", None, rulers=2),
)


def render(kind: Kind, seed: int, folder: Path) -> None:
    """One random picture of the class, with its truth: another family, card, ground, light and lens each time.

    What a person would tell of it is added to the truth as ``told``.
    """
    rng = np.random.default_rng([KINDS.index(kind), seed, 2611])
    while True:
        family = random_family(int(rng.integers(1, 10_000)))
        wobble = (0.2, 8.0) if kind.scissors else (float(rng.uniform(0.02, 0.08)), 20.0)
        cutting = Cutting(float(rng.choice([0.0, 6.35, 6.0])), None, *wobble, float(rng.uniform(0.2, 0.8)))
        if kind.clutter:
            cutting = replace(
                cutting, grain_line=bool(rng.random() < 0.5), holes=float(rng.choice([0.0, 2.0, 3.2]))
            )
        names = LONG_RULERS if kind.tilt else ("plastic-15cm", "steel-6in", "plastic-6in-eighths", "dark-15cm")
        layout = Layout(
            rulers=tuple(RULERS[str(rng.choice(names))] for _ in range(kind.rulers)),
            stock=str(rng.choice(sorted(CARDS))),
            thickness=float(rng.uniform(0.3, 1.7)),
            mat=MATS[str(rng.choice(sorted(MATS)))] if kind.mat else None,
            things=tuple(name for name in _THINGS if rng.random() < 0.6) if kind.clutter else (),
        )
        try:
            if kind.tilt is None:
                scanner = Scanner(
                    lid=str(rng.choice(sorted(LIDS))),
                    axis_error=(float(rng.uniform(-0.003, 0.003)), float(rng.uniform(-0.003, 0.003))),
                    psf=float(rng.uniform(0.5, 0.9)),
                    lamp_above=bool(rng.random() < 0.5),
                )
                make_scan(family, cutting, layout, scanner, BEDS["full"], seed=seed, into=folder)
                ground = f"{scanner.lid} lid"
            else:
                phone, exposure = random_phone(rng, kind.tilt), random_exposure(rng, (*GROUNDS, *PAPERS))
                if kind.clutter and rng.random() < 0.7:
                    shade, turn = float(rng.uniform(0.35, 0.7)), float(rng.uniform(0, 180))
                    exposure = replace(exposure, shade=shade, shade_turn=turn)
                make_photo(family, cutting, layout, phone, exposure, seed=seed, into=folder)
                ground = layout.mat.name if layout.mat else exposure.ground
        except DoesNotFitError:
            continue
        path = folder / "truth.json"
        told = {"ground": ground, "stock": layout.stock, "ruler_mm": round(layout.rulers[0].thickness, 1)}
        path.write_text(
            json.dumps({**json.loads(path.read_text(encoding="utf-8")), "told": told}), encoding="utf-8"
        )
        return
