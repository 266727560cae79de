"""Sets that are alike, planted among many that are not: how many are found, and how many pairs are false."""

import resource
import time
from functools import cache

import attrs
import numpy as np
from numpy.typing import NDArray

from seamsurvey.archive.duplicates import MIRRORED_BLOCK, SAME_BLOCK, find_alike
from seamsurvey.archive.shape import ALLOWED_MM, ALLOWED_SHARE
from seamsurvey.archive_model import SetRecord
from tests.archive.drawn import record
from tests.benchmarks.layout_blocks import KINDS, block
from tests.benchmarks.table import Table
from tests.scene.families import Family, random_family
from tests.scene.geometry import signed_area

SIGMAS_MM = (0.05, 0.15, 0.3)  # of each corner: a scan of well-cut cards, hand-cut cards, badly worn ones
LEAST_DIFFERENCE = 0.025
SIZES = (0.5, 0.6, 0.75, 0.8, 1.0, 1.25, 1.5, 2.0)


def duplicates(count: int = 200) -> Table:
    """The table: ``count`` sets each, a quarter of them planted copies of others."""
    return Table(
        heading="Archives: sets that are alike",
        command=f"python -m tests.benchmarks duplicates --count {count}",
        about=(
            f"{count} sets of random blocks as they would be measured (corners off by the sigma given), a quarter "
            "of them planted copies of others: at another size from half to double, turned by quarters, half of "
            f"them mirrored. Two sets are called alike when no corner is off by more than {ALLOWED_MM:g} mm, nor "
            f"by more than {100 * ALLOWED_SHARE:g} % of its template's width, at the smaller one's size. Two "
            "thirds of the blocks are cut up at random; the others are variations of a few designs, no two nearer "
            "to one another than the threshold by their exact drawings."
        ),
        columns=("sigma mm", "sets", "pairs alike", "found", "kind right", "false pairs", "seconds"),
        rows=[_row(count, sigma) for sigma in SIGMAS_MM],
    )


def _row(count: int, sigma: float) -> list[str]:
    rng = np.random.default_rng([count, round(1000 * sigma)])
    originals = _originals(count - count // 4)
    chosen = [(family, 1.0, False, 0) for family in originals]
    planted = []
    for k in rng.choice(len(originals), count // 4, replace=False):
        planted.append((int(k), len(chosen)))
        size = float(rng.choice(SIZES)) * float(rng.uniform(0.97, 1.03))
        chosen.append((originals[k], size, bool(rng.random() < 0.5), int(rng.integers(4))))
    records = [
        record(family, f"{n:05d}", size=size, mirrored=mirrored, turned=turned, sigma_mm=sigma, seed=n)
        for n, (family, size, mirrored, turned) in enumerate(chosen)
    ]
    began = time.monotonic()
    found = {(pair.first, pair.second): pair for pair in find_alike(records)}
    seconds = time.monotonic() - began
    true = {(records[i].name, records[j].name): chosen[j][2] for i, j in planted}
    hits = [pair for pair in true if pair in found]
    kinds = [found[pair].kind in ((MIRRORED_BLOCK, SAME_BLOCK) if true[pair] else (SAME_BLOCK,)) for pair in hits]
    return [
        f"{sigma:g}", str(count), str(len(true)), f"{len(hits)} ({len(hits) / max(1, len(true)):.1%})",
        f"{sum(kinds)} of {len(hits)}", str(len(found.keys() - true.keys())), f"{seconds:.1f}",
    ]  # fmt: skip


@cache
def _originals(count: int) -> tuple[Family, ...]:
    """Blocks that all differ: of two with equally many corners some sorted side differs by 2.5 % of the block's."""
    found: list[Family] = []
    prints: dict[int, list[NDArray[np.float64]]] = {}
    seed = 0
    while len(found) < count:
        seed += 1
        family = random_family(seed) if seed % 3 == 0 else block(KINDS[seed % len(KINDS)], 4 + seed % 13, seed)
        sides = np.sort(np.concatenate([_sides(t.finished) for t in family.templates]))
        sides /= np.sqrt(sum(signed_area(t.finished) for t in family.templates))
        earlier = prints.setdefault(len(sides), [])
        if all(np.abs(sides - other).max() > LEAST_DIFFERENCE for other in earlier):
            earlier.append(sides)
            found.append(family)
    return tuple(found)


def _sides(outline: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.hypot(*(np.roll(outline, -1, axis=0) - outline).T))


def index_cost(count: int = 10_000) -> Table:
    """What the index costs: alike sets found and all three files made, for ever more sets."""
    from seamsurvey.archive.database import index_sqlite
    from seamsurvey.archive.page import index_html
    from seamsurvey.archive.table import index_csv
    from seamsurvey.archive_model import Archive

    base = [record(random_family(seed), f"{seed:05d}", sigma_mm=0.1, seed=seed) for seed in range(60)]
    rows = []
    for number in sorted({min(count, n) for n in (100, 1000, 10_000)} | {count}):
        rng = np.random.default_rng(number)
        sets = tuple(_stretched(base[k % len(base)], f"{k:05d}", rng) for k in range(number))
        began = time.monotonic()
        archive = Archive(sets=sets, alike=find_alike(sets))
        alike = time.monotonic() - began
        sizes = [len(index_html(archive, title="x")), len(index_csv(archive)), len(index_sqlite(archive))]
        files = time.monotonic() - began - alike
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024  # kilobytes, getrusage(2) on Linux
        figures = (alike, files, *(size / 1e6 for size in (*sizes, memory)))
        rows.append([f"{number}", *(f"{figure:.1f}" for figure in figures)])
    return Table(
        heading="Archives: the index of many sets",
        command=f"python -m tests.benchmarks archive-index --count {count}",
        about="Sixty random blocks as they would be measured, each stretched at random; no pictures.",
        columns=(
            "sets",
            "alike: seconds",
            "files: seconds",
            "index.html MB",
            "index.csv MB",
            "index.sqlite MB",
            "peak MB",
        ),
        rows=rows,
    )


def _stretched(made: SetRecord, name: str, rng: np.random.Generator) -> SetRecord:
    """Another block: the same one stretched along x by up to a half."""
    along = np.array([float(rng.uniform(1.0, 1.5)), 1.0])
    width, height = made.size_mm or (1.0, 1.0)
    return attrs.evolve(
        made,
        name=name,
        size_mm=(width * along[0], height),
        templates=tuple(attrs.evolve(t, outline_mm=t.outline_mm * along) for t in made.templates),
        pieces=tuple(attrs.evolve(p, outline_mm=p.outline_mm * along) for p in made.pieces),
    )
