"""Verdicts of a check on sets with planted errors: no false "right", and how often nothing can be told."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from seamsurvey.check_model import CANT_TELL, OFF, RIGHT
from seamsurvey.checking.compare import compare_shapes
from seamsurvey.checking.shapes import wanted_from_set
from seamsurvey.checking.verdict import RISK, TOLERANCE_MM
from seamsurvey.model import Array, TemplateSet
from seamsurvey.photo.plane import find_plane
from seamsurvey.photo.read import read_picture
from seamsurvey.templates.measure import measure_templates
from tests.benchmarks.table import Table
from tests.checking.sets import measured
from tests.scene.cards import Cutting
from tests.scene.families import Family, random_family
from tests.scene.make import render_scan
from tests.scene.rulers import RULERS
from tests.scene.scan import BEDS, Scanner
from tests.scene.scatter import DoesNotFitError
from tests.scene.scene import Layout

PLANTED_MM = (0.5, 3.0)


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


def checks(count: int = 300) -> Table:
    """The table: ``count`` scenes of each class, and a tenth as many rendered scans."""
    rows = [_row(kind.name, list(_drawn(kind, count))) for kind in KINDS]
    rows.append(_row("rendered 300 dpi scans", list(_rendered(max(1, count // 75)))))
    return Table(
        heading="Checks: verdicts on planted errors",
        command=f"python -m tests.benchmarks checks --count {count}",
        about=(
            f"In each scene one edge of a random set is {PLANTED_MM[0]:g} to {PLANTED_MM[1]:g} mm wrong, and the "
            "set is compared with what it should be, known as well as an earlier scan would have it. Tolerance "
            f"{TOLERANCE_MM:g} mm, risk {100 * RISK:g} %. Measured values are drawn from the model of the class; "
            "of the rendered scans the wanted outline is wrong instead of the card, which is the same."
        ),
        columns=(
            "class",
            "scenes",
            "planted: off",
            "can't tell",
            "false right",
            "others: right",
            "can't tell",
            "false off",
        ),
        rows=rows,
    )


Verdicts = tuple[str, list[str]]  # of the planted edge, and of the edges that are as they should be


def _drawn(kind: Kind, count: int) -> Iterator[Verdicts]:
    for seed in range(count):
        rng = np.random.default_rng([seed, round(1e5 * kind.scale)])
        true = [template.finished for template in random_family(seed).templates]
        wrong, k = _planted(true, rng)
        found = measured(wrong, own_mm=kind.own_mm, scale=kind.scale, rng=rng)
        yield _verdicts(found, true, f"T{k + 1}", rng)


def _rendered(count: int) -> Iterator[Verdicts]:
    seed = 0
    while count:
        seed += 1
        family: Family = random_family(seed)
        rulers = (RULERS["steel-6in"], RULERS["plastic-15cm"])
        try:
            scan = render_scan(family, Cutting(), Layout(rulers), Scanner(), BEDS["full"], seed=seed)
        except DoesNotFitError:
            continue
        count -= 1
        picture = read_picture("scan.jpg", scan.jpeg)
        found = measure_templates([(picture, find_plane(picture))], allowance_mm=0.0)
        rng = np.random.default_rng([seed, 5])
        wanted, k = _planted([template.finished for template in family.templates], rng)
        yield _verdicts(found, wanted, f"T{k + 1}", rng, planted_in_wanted=True)


def _planted(outlines: list[Array], rng: np.random.Generator) -> tuple[list[Array], int]:
    wrong = [outline.copy() for outline in outlines]
    k = int(rng.integers(len(wrong)))
    way = wrong[k][1] - wrong[k][0]
    off = float(rng.choice([-1, 1])) * rng.uniform(*PLANTED_MM)
    wrong[k][1] += off * way / np.hypot(*way)
    return wrong, k


def _verdicts(
    found: TemplateSet,
    should_be: list[Array],
    planted: str,
    rng: np.random.Generator,
    *,
    planted_in_wanted: bool = False,
) -> Verdicts:
    wanted = wanted_from_set(measured(should_be, own_mm=0.03, scale=0.0004, rng=rng))
    report = compare_shapes(found, wanted, tolerance_mm=TOLERANCE_MM, risk=RISK)
    edges = [c for c in report.lengths if c.what.startswith("edge")]
    mine = [c for c in edges if (c.wanted if planted_in_wanted else c.name) == planted]
    # The moved corner changes one edge by all of it, the next one by a part.
    worst = max(mine, key=lambda c: abs(c.off_mm), default=None)
    return (worst.verdict if worst else CANT_TELL), [c.verdict for c in edges if c not in mine]


def _row(name: str, scenes: list[Verdicts]) -> list[str]:
    planted = [verdict for verdict, _ in scenes]
    others = [verdict for _, rest in scenes for verdict in rest]

    def share(verdicts: list[str], verdict: str) -> str:
        return f"{verdicts.count(verdict) / max(1, len(verdicts)):.1%}"

    return [
        name, str(len(scenes)), *(share(planted, verdict) for verdict in (OFF, CANT_TELL, RIGHT)),
        *(share(others, verdict) for verdict in (RIGHT, CANT_TELL, OFF)),
    ]  # fmt: skip
