"""Templates on photos, from picture to lengths: edges and corners against the truth, cards missed or made up."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.benchmarks.photo_kinds import KINDS
from tests.benchmarks.pictures import Measured, measured, measured_pictures
from tests.benchmarks.table import Table
from tests.compare import Compared, compare_templates

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


def _outcome(name: str, picture: Measured) -> Outcome:
    truth = picture.truth
    told = truth.raw.get("told", {})
    compared = None if picture.found is None else compare_templates(picture.found, truth)
    return Outcome(
        name, told.get("ground", ""), told.get("stock", ""), len(truth.placed), compared, picture.refused
    )


def photos(count: int = COUNT, keep: Path | None = None, first: int = 0) -> Table:
    """So many pictures of each class, and the photos by another renderer, where they are.

    ``first``: the first of the seeds, so that a table can be of pictures that nobody tuned on.
    ``keep``: a folder that rendered pictures are kept in, and taken from where they are there already.
    """
    outcomes = {
        kind.name: [_outcome(kind.name, picture) for picture in pictures]
        for kind, pictures in measured_pictures(count, keep, first).items()
    }
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
    rows += [_row(path.parent.name, [_outcome(path.parent.name, measured(path.parent))]) for path in _given()]
    about = (
        f"Rendered 12 MP photos and 300 dpi scans of random seeds from {first} on: "
        "random family, card, ground, light, lens; "
        f"{count} of each class. Card and ruler thickness told to 0.1 mm. Errors are those of the edges as cut; U "
        "holds for the edges as meant, from which the cut strays. A corner is where two cut edges' lines meet. The "
        "last rows are single photos by another renderer, ruler thickness not told."
    )
    of_first = f" --first {first}" if first else ""
    command = f".venv/bin/python -m tests.benchmarks photos --count {count}{of_first}"
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
