"""Verdicts of a check on sets with planted errors: no false "right", and how often nothing can be told."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from seamsurvey.check_model import CANT_TELL, NOTHING_TO_COMPARE, OFF, RIGHT
from seamsurvey.checking.compare import compare_shapes
from seamsurvey.checking.shapes import wanted_from_set
from seamsurvey.checking.verdict import RISK, TOLERANCE_MM
from seamsurvey.model import Array
from tests.benchmarks.photo_kinds import KINDS as PICTURE_KINDS
from tests.benchmarks.pictures import Measured, measured_pictures
from tests.benchmarks.table import Table
from tests.checking.sets import measured
from tests.compare import compare_templates
from tests.scene.families import random_family

PLANTED_MM = (0.5, 3.0)
COUNT = 300


@dataclass(frozen=True)
class Kind:
    """A class of measurements: each corner's own error and the scale's, one standard deviation."""

    name: str
    own_mm: float
    scale: float


KINDS = (
    Kind("a scan along a good ruler", 0.03, 0.0004),
    Kind("a photo from straight above", 0.06, 0.001),
    Kind("a scan across its only ruler", 0.04, 0.002),
)


def checks(count: int = COUNT, keep: Path | None = None) -> Table:
    """The table: ``count`` sets drawn from each class's model, and ``count`` rendered pictures in all.

    ``keep``: a folder that rendered pictures are kept in, and taken from where they are there already.
    """
    rows = [_row(f"drawn: {kind.name}", list(_drawn(kind, count))) for kind in KINDS]
    each = -(-count // len(PICTURE_KINDS))
    rng = np.random.default_rng(each)
    rendered = {
        kind: [_of_picture(picture, rng) for picture in pictures]
        for kind, pictures in measured_pictures(each, keep).items()
    }
    rows += [_row(f"{kind.name}: {kind.about}", verdicts) for kind, verdicts in rendered.items()]
    rows.append(_row("**all pictures**", [one for verdicts in rendered.values() for one in verdicts]))
    return Table(
        heading="Checks: verdicts on planted errors",
        command=f"python -m tests.benchmarks checks --count {count}",
        about=(
            f"In each scene one edge of a random set is {PLANTED_MM[0]:g} to {PLANTED_MM[1]:g} mm wrong, and the "
            "set is compared with what it should be, known as well as an earlier scan would have it. Tolerance "
            f"{TOLERANCE_MM:g} mm, risk {100 * RISK:g} %. Of the first rows measured values are drawn from the "
            "model of the class. The others are rendered pictures, those of the table of templates on photos; "
            "there the wanted outline, known exactly, is wrong instead of the card, which is the same, and every "
            "edge counts as wrong that is cut more than the tolerance from it, by the cards' true outlines."
        ),
        columns=(
            "class",
            "scenes",
            "refused",
            "wrong edges",
            "off",
            "can't tell",
            "false right",
            "right edges",
            "right",
            "can't tell",
            "false off",
        ),
        rows=rows,
    )


Verdicts = tuple[list[str], list[str]]  # of the edges that are wrong, and of those as they should be


def _drawn(kind: Kind, count: int) -> Iterator[Verdicts]:
    for seed in range(count):
        rng = np.random.default_rng([seed, round(1e5 * kind.scale)])
        true = [template.finished for template in random_family(seed).templates]
        wrong, k = _planted(true, rng)
        found = measured(wrong, own_mm=kind.own_mm, scale=kind.scale, rng=rng)
        wanted = wanted_from_set(measured(true, own_mm=0.03, scale=0.0004, rng=rng))
        report = compare_shapes(found, wanted, tolerance_mm=TOLERANCE_MM, risk=RISK)
        edges = [c for c in report.lengths if c.what.startswith("edge")]
        mine = [c for c in edges if c.name == f"T{k + 1}"]
        # The moved corner changes one edge by all of it, the next one by a part.
        worst = max(mine, key=lambda c: abs(c.off_mm), default=None)
        yield [worst.verdict if worst else CANT_TELL], [c.verdict for c in edges if c not in mine]


def _of_picture(picture: Measured, rng: np.random.Generator) -> Verdicts | None:
    """What is said of the edges of a rendered picture, which the truth sorts; None when it was refused."""
    found, truth = picture.found, picture.truth
    if found is None:
        return None
    shapes = {placed.template: truth.template(placed.template).finished for placed in truth.placed}
    wanted, _ = _planted(list(shapes.values()), rng)
    report = compare_shapes(
        found,
        wanted_from_set(measured(wanted, own_mm=0.0, scale=0.0, rng=None)),
        tolerance_mm=TOLERANCE_MM,
        risk=RISK,
    )
    errors = {(edge.found, f"edge {edge.number}"): edge.error for edge in compare_templates(found, truth).edges}
    beyond: list[str] = []
    within: list[str] = []
    for checked in report.lengths:
        if (checked.name, checked.what) in errors and checked.verdict != NOTHING_TO_COMPARE:
            # The card's own length, as it was cut: the verdict is on that, whoever's the error is.
            truly_off = checked.off_mm - errors[checked.name, checked.what]
            (beyond if abs(truly_off) > TOLERANCE_MM else within).append(checked.verdict)
    return beyond, within


def _planted(outlines: list[Array], rng: np.random.Generator) -> tuple[list[Array], int]:
    wrong = [outline.copy() for outline in outlines]
    k = int(rng.integers(len(wrong)))
    way = wrong[k][1] - wrong[k][0]
    off = float(rng.choice([-1, 1])) * rng.uniform(*PLANTED_MM)
    wrong[k][1] += off * way / np.hypot(*way)
    return wrong, k


def _row(name: str, scenes: Sequence[Verdicts | None]) -> list[str]:
    judged = [scene for scene in scenes if scene is not None]
    wrong = [verdict for one, _ in judged for verdict in one]
    others = [verdict for _, rest in judged for verdict in rest]

    def share(verdicts: list[str], verdict: str) -> str:
        number = verdicts.count(verdict)
        return f"{number / max(1, len(verdicts)):.1%}" + (
            f" ({number})" if number and verdict in (OFF, RIGHT) else ""
        )

    return [
        name, str(len(scenes)), str(len(scenes) - len(judged)),
        str(len(wrong)), *(share(wrong, verdict) for verdict in (OFF, CANT_TELL, RIGHT)),
        str(len(others)), *(share(others, verdict) for verdict in (RIGHT, CANT_TELL, OFF)),
    ]  # fmt: skip
