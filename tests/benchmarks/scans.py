"""Flatbed scans, from picture to PDF: every edge, the block's size and the layout against the truth."""

import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from attrs import evolve

from seamsurvey.convert import Line
from seamsurvey.errors import SeamsurveyError
from seamsurvey.job.folder import JobFolder
from seamsurvey.job.inputs import PhotoFile, read_photos
from seamsurvey.job.layout_file import read_layout
from seamsurvey.model import Block, Wishes
from tests.benchmarks.table import Table
from tests.compare import Compared, compare_templates, counts_on_cards, same_layout
from tests.scene.cards import Cutting
from tests.scene.families import random_family
from tests.scene.make import make_scan
from tests.scene.rulers import RULERS
from tests.scene.scan import BEDS, Scanner
from tests.scene.scatter import DoesNotFitError
from tests.scene.scene import Layout
from tests.scene.truth import Truth, read_truth

EDGE_GOAL_MM = 0.10
SIZE_GOAL_MM = 0.2
LIMIT_WITHOUT_COUNTS_S = 20.0
COLUMNS = (
    "scan",
    "pieces",
    "edges",
    "rms mm",
    "max mm",
    "within U",
    "block size off mm",
    "layout",
    "without counts",
    "seconds",
)


@dataclass(frozen=True)
class Outcome:
    """What became of one scan: with the counts that stand on the cards, and without them.

    ``refused`` and ``refused_without`` are the codes of the errors it ended with; ``offered`` are the layouts
    offered without counts.
    """

    name: str
    truth: Truth
    compared: Compared | None
    block: Block | None
    refused: str
    offered: tuple[Block, ...]
    refused_without: str
    seconds: float

    @property
    def size_off(self) -> float:
        """Width and height against the truth, the worse of both, mm; the block may lie on its side."""
        assert self.block is not None
        true, found = sorted(self.truth.block_size), sorted((self.block.width, self.block.height))
        return max(abs(a - b) for a, b in zip(true, found, strict=True))

    @property
    def layout(self) -> str:
        """With counts: right, wrong, asked (several fit), or the reason for the refusal."""
        if self.block is None:
            return f"refused: {self.refused}"
        if self.refused == "several-layouts":
            return "asked"
        return "right" if same_layout(self.block, self.truth) else "WRONG"

    @property
    def without_counts(self) -> str:
        """The same, without counts; when asked, whether the right one was among those offered."""
        if not self.offered:
            return f"refused: {self.refused_without}"
        right = any(same_layout(block, self.truth) for block in self.offered)
        if self.refused_without == "several-layouts":
            return "asked, right one offered" if right else "asked"
        return "right" if right else "WRONG"

    def row(self) -> list[str]:
        """The outcome as a row of the table."""
        edges = self.compared.edges if self.compared else ()
        errors = np.array([edge.error for edge in edges])
        inside = sum(abs(edge.error) <= edge.u for edge in edges)
        lost = f" ({len(self.compared.missing)} lost)" if self.compared and self.compared.missing else ""
        return [
            self.name,
            str(len(self.truth.pieces)),
            f"{len(edges)}{lost}",
            f"{np.sqrt(np.mean(errors**2)):.3f}" if len(edges) else "–",
            f"{np.abs(errors).max():.3f}" if len(edges) else "–",
            f"{inside} of {len(edges)}",
            f"{self.size_off:.2f}" if self.block else "–",
            self.layout,
            self.without_counts,
            f"{self.seconds:.1f}",
        ]


def run(name: str, photo: PhotoFile, truth: Truth, folder: Path, wishes: Wishes) -> Outcome:
    """Take one picture through the whole line; a refusal is an outcome like any other."""
    job = JobFolder(folder / "job")
    job.create()
    begun = time.perf_counter()
    try:
        templates = Line(job, wishes).measure([photo])
    except SeamsurveyError as error:
        seconds = time.perf_counter() - begun
        return Outcome(name, truth, None, None, error.code, (), error.code, seconds)
    compared = compare_templates(templates, truth)
    refused = _convert(Line(job, evolve(wishes, counts=counts_on_cards(templates, truth))))
    seconds = time.perf_counter() - begun
    block = read_layout(content) if (content := job.read("layout.json")) else None
    refused_without = _convert(Line(job, evolve(wishes, time_limit_s=LIMIT_WITHOUT_COUNTS_S)))
    names = ["layout.json", *(f"layout-{rank}.json" for rank in range(2, 20))]
    offered = tuple(read_layout(content) for name in names if (content := job.read(name)))
    if refused_without not in ("", "several-layouts"):
        offered = ()
    return Outcome(name, truth, compared, block, refused, offered, refused_without, seconds)


def _convert(line: Line) -> str:
    try:
        line.convert([])
    except SeamsurveyError as error:
        return error.code
    return ""


def rendered(
    seeds: Sequence[int], rulers: int, axes: Callable[[np.random.Generator], tuple[float, float]]
) -> list[Outcome]:
    """Random families, rulers, stocks and allowances; a scene that does not fit the glass takes the next seed."""
    outcomes = []
    for seed in seeds:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            scene = _scene(seed, rulers, axes, folder)
            truth = read_truth(folder / "truth.json")
            wishes = Wishes(allowance_mm=truth.allowance, cards="ignore")
            outcomes.append(run(scene, read_photos([folder / "scan.jpg"])[0], truth, folder, wishes))
    return outcomes


def _scene(seed: int, rulers: int, axes: Callable[[np.random.Generator], tuple[float, float]], folder: Path) -> str:
    rng = np.random.default_rng([seed, 77])
    while True:
        family = random_family(int(rng.integers(10**6)))
        kinds = [RULERS[str(rng.choice(sorted(RULERS)))] for _ in range(rulers)]
        allowance = float(rng.choice([0.0, 6.35, 6.0]))
        cutting = Cutting(allowance, wobble_sigma=0.03, wear_radius=float(rng.uniform(0.2, 0.8)))
        layout = Layout(
            tuple(kinds),
            stock=str(rng.choice(["cream", "chipboard", "blue"])),
            thickness=float(rng.uniform(0.3, 1.4)),
        )
        scanner = Scanner(
            axis_error=axes(rng), psf=float(rng.uniform(0.5, 0.9)), quality=int(rng.integers(88, 96)),
            worn=float(rng.uniform(0, 0.05)),
        )  # fmt: skip
        try:
            made = make_scan(family, cutting, layout, scanner, BEDS["full"], seed=seed, into=folder)
        except DoesNotFitError:
            continue
        return (
            f"{seed}: {family.notes.removesuffix(' with other sizes')}, {' + '.join(kind.name for kind in kinds)}"
            if made
            else ""
        )


def summary(outcomes: Sequence[Outcome]) -> str:
    """The figures that matter, in one sentence."""
    edges = [edge for outcome in outcomes if outcome.compared for edge in outcome.compared.edges]
    errors = np.array([edge.error for edge in edges])
    inside = sum(abs(edge.error) <= edge.u for edge in edges)
    within = int(np.sum(np.abs(errors) <= EDGE_GOAL_MM))
    sure = [outcome for outcome in outcomes if outcome.layout in ("right", "WRONG")]
    sizes = sum(outcome.size_off <= SIZE_GOAL_MM for outcome in sure)
    with_counts = _tally([outcome.layout for outcome in outcomes])
    without = _tally([outcome.without_counts for outcome in outcomes])
    return (
        f"{len(edges)} edges: rms {np.sqrt(np.mean(errors**2)):.3f} mm, max {np.abs(errors).max():.3f} mm, "
        f"{within} within {EDGE_GOAL_MM} mm, {inside} within U (k = 2). "
        f"{len(outcomes)} scans, counts given: {with_counts}; block size within {SIZE_GOAL_MM} mm in {sizes} of "
        f"the {len(sure)} answered. Counts not given: {without}."
    )


def _tally(words: Sequence[str]) -> str:
    return ", ".join(f"{words.count(word)} {word}" for word in sorted(set(words)))


def _table(name: str, heading: str, about: str, outcomes: Sequence[Outcome]) -> Table:
    command = f".venv/bin/python -m tests.benchmarks {name}"
    return Table(heading, command, about, COLUMNS, [o.row() for o in outcomes], summary(outcomes))


def one_ruler() -> Table:
    """20 scans with one ruler on a scanner whose axes agree."""

    def even(rng: np.random.Generator) -> tuple[float, float]:
        error = float(rng.uniform(-0.004, 0.004))
        return error, error

    about = (
        "20 rendered 300 dpi scans with unseen seeds: random family, ruler, card, allowance (given). "
        "The scanner's scale is off by up to 0.4 %, alike in both directions."
    )
    return _table("scans", "Flatbed scans, one ruler", about, rendered(range(1, 21), 1, even))


def _uneven(rng: np.random.Generator) -> tuple[float, float]:
    return float(rng.uniform(-0.003, 0.003)), float(rng.uniform(-0.003, 0.003))


def two_rulers() -> Table:
    """10 scans with two rulers on a scanner whose axes differ."""
    about = (
        "As above, with two rulers at a right angle, and a scanner whose axes are off by up to 0.3 % independently."
    )
    return _table("scans-two-rulers", "Flatbed scans, two rulers", about, rendered(range(101, 111), 2, _uneven))


def uneven_axes() -> Table:
    """10 scans with one ruler on a scanner whose axes differ: the uncertainty must say so."""
    about = (
        "One ruler, and a scanner whose axes are off by up to 0.3 % independently: lengths across the ruler can't "
        "be known better than that, and U must say so."
    )
    return _table(
        "scans-uneven-axes", "Flatbed scans, one ruler, uneven axes", about, rendered(range(201, 211), 1, _uneven)
    )


def given_pictures() -> Table:
    """Pictures by others beside the checkout (../shared/scenes), where they are."""
    folder = Path(__file__).parents[3] / "shared" / "scenes"
    outcomes = []
    for path in sorted(folder.glob("scan_*/photo.jpg")):
        truth = read_truth(path.parent / "truth.json")
        counts = Wishes(allowance_mm=truth.allowance, cards="ignore")
        with tempfile.TemporaryDirectory() as name:
            outcomes.append(run(path.parent.name, read_photos([path])[0], truth, Path(name), counts))
    about = "Physically based renderings by another renderer, each with a truth of its own."
    return _table("given-pictures", "Scans by another renderer", about, outcomes)
