"""Templates on photos, from picture to lengths: edges and corners against the truth, cards missed or made up."""

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from seamsurvey.errors import SeamsurveyError
from seamsurvey.photo.plane import find_plane
from seamsurvey.photo.read import read_picture
from seamsurvey.templates.measure import measure_templates
from tests.benchmarks.photo_kinds import KINDS, render
from tests.benchmarks.table import Table
from tests.compare import Compared, compare_templates
from tests.scene.truth import read_truth

COUNT = 34  # of each class: 170 photos and 34 scans
CORNER_GOAL_MM = EDGE_GOAL_MM = 0.15
COLUMNS = (
    "photos",
    "templates",
    "found, right edges",
    "made up",
    "edges",
    "rms mm",
    "95 % mm",
    "max mm",
    "within U",
    "meant within U",
    "median U mm",
    "corners 95 % mm",
    "corners within 0.15 mm",
    "refused",
)


@dataclass(frozen=True)
class Outcome:
    """What became of one picture: compared with its truth, or the code it was refused with."""

    name: str
    ground: str
    stock: str
    cards: int
    compared: Compared | None
    refused: str = ""


def measured(name: str, folder: Path) -> Outcome:
    """Measure the picture in a folder as a person would who told card and ruler thickness to 0.1 mm."""
    truth = read_truth(folder / "truth.json")
    told = truth.raw.get("told", {})
    ground, stock = told.get("ground", ""), told.get("stock", "")
    cards = len(truth.placed)
    thickness = round(truth.placed[0].thickness, 1)
    file = folder / str(truth.raw["image"]["file"])
    picture = read_picture(file.name, file.read_bytes())
    try:
        plane = find_plane(picture, thickness_mm=thickness, ruler_thickness_mm=told.get("ruler_mm"))
        found = measure_templates(
            [(picture, plane)], allowance_mm=truth.allowance, thickness_mm=thickness, every_card=True
        )
    except SeamsurveyError as error:
        return Outcome(name, ground, stock, cards, None, error.code)
    return Outcome(name, ground, stock, cards, compare_templates(found, truth))


def photos(count: int = COUNT, keep: Path | None = None) -> Table:
    """So many pictures of each class, and the photos by another renderer, where they are.

    ``keep``: a folder that rendered pictures are kept in, and taken from where they are there already.
    """
    outcomes: dict[str, list[Outcome]] = {kind.name: [] for kind in KINDS}
    with tempfile.TemporaryDirectory() as scratch:
        for seed in range(count):
            for kind in KINDS:
                folder = (keep or Path(scratch)) / f"{kind.name}-{seed}"
                if not (folder / "truth.json").exists():
                    render(kind, seed, folder)
                outcomes[kind.name].append(measured(kind.name, folder))
    everything = [outcome for of_kind in outcomes.values() for outcome in of_kind]
    rows = [_row(f"{kind.name}: {kind.about}", outcomes[kind.name]) for kind in KINDS]
    of_photos = [outcome for outcome in everything if outcome.name != "scan"]
    rows.append(_row("**all photos**", of_photos))
    rows += [
        _row(f"on {ground}", [outcome for outcome in of_photos if outcome.ground == ground])
        for ground in sorted({outcome.ground for outcome in of_photos})
    ]
    rows += [
        _row(f"{stock} card", [outcome for outcome in of_photos if outcome.stock == stock])
        for stock in sorted({outcome.stock for outcome in of_photos})
    ]
    rows += [_row(path.parent.name, [measured(path.parent.name, path.parent)]) for path in _given()]
    about = (
        "Rendered 12 MP photos and 300 dpi scans with unseen seeds: random family, card, ground, light, lens; "
        f"{count} of each class. Card and ruler thickness told to 0.1 mm. Errors are those of the edges as cut; U "
        "holds for the edges as meant, from which the cut strays. A corner is where two cut edges' lines meet. The "
        "last rows are single photos by another renderer, ruler thickness not told."
    )
    command = ".venv/bin/python -m tests.benchmarks photos"
    return Table("Templates on photos", command, about, ("class", *COLUMNS), rows, _summary(of_photos))


def _given() -> Sequence[Path]:
    given = Path(__file__).parents[3] / "shared" / "scenes"
    return sorted(given.glob("*/photo.jpg"))


def _row(name: str, outcomes: list[Outcome]) -> list[str]:
    compared = [outcome.compared for outcome in outcomes if outcome.compared]
    edges = [edge for each in compared for edge in each.edges]
    errors = np.abs([edge.error for edge in edges])
    corners = np.array([off for each in compared for off in each.corners])
    seen = sum(outcome.cards for outcome in outcomes if outcome.compared)
    right = seen - sum(len(each.missing) for each in compared)
    miscounted = sum(len(each.miscounted) for each in compared)
    refused = sorted(outcome.refused for outcome in outcomes if outcome.refused)
    codes = [f"{refused.count(code)} {code}" for code in sorted(set(refused))]
    head = [name, str(len(outcomes)), str(sum(outcome.cards for outcome in outcomes))]
    found = f"{right} of {seen}" + (f" ({miscounted} miscounted)" if miscounted else "")
    head += [found, str(sum(len(each.invented) for each in compared)), str(len(edges))]
    if not edges:
        return [*head, *8 * ["–"], ", ".join(codes)]
    return [
        *head,
        f"{np.sqrt(np.mean(errors**2)):.3f}",
        f"{np.quantile(errors, 0.95):.3f}",
        f"{errors.max():.3f}",
        f"{np.mean([abs(edge.error) <= edge.u for edge in edges]):.1%}",
        f"{np.mean([abs(edge.off_meant) <= edge.u for edge in edges]):.1%}",
        f"{np.median([edge.u for edge in edges]):.2f}",
        f"{np.quantile(corners, 0.95):.3f}",
        f"{np.mean(corners <= CORNER_GOAL_MM):.1%}",
        ", ".join(codes),
    ]


def _summary(outcomes: list[Outcome]) -> str:
    compared = [outcome.compared for outcome in outcomes if outcome.compared]
    seen = sum(outcome.cards for outcome in outcomes if outcome.compared)
    right = seen - sum(len(each.missing) for each in compared)
    edges = [edge for each in compared for edge in each.edges]
    corners = np.array([off for each in compared for off in each.corners])
    if not edges:
        return f"{len(outcomes)} photos, all refused."
    made_up = sum(len(each.invented) for each in compared)
    near = np.mean([abs(edge.error) <= EDGE_GOAL_MM for edge in edges])
    return (
        f"{len(outcomes)} photos, {len(outcomes) - len(compared)} refused. {right} of {seen} templates found with "
        f"the right number of edges ({right / seen:.1%}), {made_up} made up; "
        f"{near:.1%} of {len(edges)} lengths within {EDGE_GOAL_MM} mm, "
        f"{np.mean([abs(edge.error) <= edge.u for edge in edges]):.1%} within U (k = 2); "
        f"{np.mean(corners <= CORNER_GOAL_MM):.1%} of corners within {CORNER_GOAL_MM} mm."
    )
