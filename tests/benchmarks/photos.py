"""Templates on photos, from picture to lengths: every edge against the truth, and cards missed or made up."""

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from seamsurvey.errors import SeamsurveyError
from seamsurvey.photo.plane import find_plane
from seamsurvey.photo.read import read_picture
from seamsurvey.templates.measure import measure_templates
from tests.benchmarks.phones import LONG_RULERS, random_exposure, random_phone
from tests.benchmarks.table import Table
from tests.compare import Compared, compare_templates
from tests.scene.cards import Cutting
from tests.scene.families import random_family
from tests.scene.grounds import GROUNDS, MATS
from tests.scene.looks import CARDS
from tests.scene.make import make_photo
from tests.scene.rulers import RULERS
from tests.scene.scatter import DoesNotFitError
from tests.scene.scene import Layout
from tests.scene.truth import read_truth

Draw = Callable[[np.random.Generator], float]
COLUMNS = ("photo", "templates", "missed", "made up", "edges", "rms mm", "max mm", "within U", "refused")


@dataclass(frozen=True)
class Kind:
    """A class of photos; ``scissors``: cut by hand with a wobble of 0.2 mm over 8 mm."""

    name: str
    tilt: tuple[float, float]
    rulers: int = 1
    mat: bool = False
    scissors: bool = False


KINDS = (
    Kind("straight down, one ruler", (0.0, 3.0)),
    Kind("about 25°, mat and ruler", (22.0, 28.0), mat=True),
    Kind("8° to 32°, two rulers, cut with scissors", (8.0, 32.0), rulers=2, scissors=True),
)


@dataclass(frozen=True)
class Outcome:
    """What became of one photo: compared with its truth, or the code it was refused with."""

    name: str
    cards: int
    compared: Compared | None
    refused: str = ""

    def row(self) -> list[str]:
        """The outcome as a row of the table."""
        edges = self.compared.edges if self.compared else ()
        errors = np.array([edge.error for edge in edges])
        inside = sum(abs(edge.error) <= edge.u for edge in edges)
        return [
            self.name,
            str(self.cards),
            str(len(self.compared.missing)) if self.compared else "–",
            str(len(self.compared.invented)) if self.compared else "–",
            str(len(edges)),
            f"{np.sqrt(np.mean(errors**2)):.3f}" if len(edges) else "–",
            f"{np.abs(errors).max():.3f}" if len(edges) else "–",
            f"{inside} of {len(edges)}",
            self.refused,
        ]


def measured(name: str, folder: Path, ruler_mm: float | None) -> Outcome:
    """Measure the photo in a folder as a person would who told card and ruler thickness to 0.1 mm."""
    truth = read_truth(folder / "truth.json")
    cards = len(truth.placed)
    picture = read_picture("photo.jpg", (folder / "photo.jpg").read_bytes())
    thickness = round(truth.placed[0].thickness, 1)
    try:
        plane = find_plane(
            picture,
            thickness_mm=thickness,
            ruler_thickness_mm=None if ruler_mm is None else round(ruler_mm, 1),
        )
        found = measure_templates([(picture, plane)], allowance_mm=truth.allowance, thickness_mm=thickness)
    except SeamsurveyError as error:
        return Outcome(name, cards, None, error.code)
    return Outcome(name, cards, compare_templates(found, truth))


def rendered(kind: Kind, seed: int) -> Outcome:
    """One random photo of the class: another family, card, ground, light and lens each time."""
    rng = np.random.default_rng([seed, 91])
    while True:
        phone, exposure = random_phone(rng, kind.tilt), random_exposure(rng, GROUNDS)
        wobble = (0.2, 8.0) if kind.scissors else (float(rng.uniform(0.02, 0.08)), 20.0)
        cutting = Cutting(float(rng.choice([0.0, 6.35, 6.0])), None, *wobble, float(rng.uniform(0.2, 0.8)))
        rulers = tuple(RULERS[str(rng.choice(LONG_RULERS))] for _ in range(kind.rulers))
        layout = Layout(
            rulers,
            stock=str(rng.choice(sorted(CARDS))),
            thickness=float(rng.uniform(0.3, 1.7)),
            mat=MATS[str(rng.choice(sorted(MATS)))] if kind.mat else None,
        )
        family = random_family(int(rng.integers(1, 10_000)))
        with tempfile.TemporaryDirectory() as folder:
            into = Path(folder)
            try:
                make_photo(family, cutting, layout, phone, exposure, seed=seed, into=into)
            except DoesNotFitError:
                continue
            ground = layout.mat.name if layout.mat else exposure.ground
            return measured(f"{seed}: {layout.stock} on {ground}", into, rulers[0].thickness)


def photos(count: int = 30) -> Table:
    """So many photos of each class, and the pictures by another renderer, where they are."""
    rows, outcomes = [], []
    for index, kind in enumerate(KINDS):
        of_kind = [rendered(kind, 1000 * index + seed) for seed in range(count)]
        rows.append([f"{kind.name}: {count} photos", *_summed(of_kind)])
        outcomes += of_kind
    given = Path(__file__).parents[3] / "shared" / "scenes"
    rows += [
        measured(path.parent.name, path.parent, None).row()
        for path in sorted(given.glob("*/photo.jpg"))
        if not path.parent.name.startswith("scan")
    ]
    about = (
        "Rendered 12 MP photos with unseen seeds: random family, card, ground, light, lens. Card and ruler "
        "thickness told to 0.1 mm. The last rows are single pictures by another renderer, ruler thickness not told."
    )
    command = ".venv/bin/python -m tests.benchmarks photos"
    return Table("Templates on photos", command, about, COLUMNS, rows, "; ".join(_summed(outcomes)))


def _summed(outcomes: list[Outcome]) -> list[str]:
    compared = [outcome.compared for outcome in outcomes if outcome.compared]
    edges = [edge for each in compared for edge in each.edges]
    errors = np.array([edge.error for edge in edges])
    refused = sorted(outcome.refused for outcome in outcomes if outcome.refused)
    return [
        str(sum(outcome.cards for outcome in outcomes)),
        str(sum(len(each.missing) for each in compared)),
        str(sum(len(each.invented) for each in compared)),
        str(len(edges)),
        f"{np.sqrt(np.mean(errors**2)):.3f}" if edges else "–",
        f"{np.abs(errors).max():.3f}" if edges else "–",
        f"{np.mean([abs(edge.error) <= edge.u for edge in edges]):.1%}" if edges else "–",
        ", ".join(refused),
    ]
