"""What counted work takes on this machine: the costs in ``block/work.py`` fitted to measured times."""

import contextlib
import time
from collections.abc import Callable
from unittest import mock

import numpy as np
from attrs import evolve
from scipy.optimize import nnls

from seamsurvey.block.assemble import assemble
from seamsurvey.block.work import SECONDS, Work
from seamsurvey.errors import SeamsurveyError
from seamsurvey.model import TemplateSet
from tests.benchmarks.layout_blocks import KINDS, block
from tests.benchmarks.table import Table
from tests.block.sets import measured
from tests.scene.families import random_family

LIMIT_S = 20.0
NOISES_MM = (0.1, 0.3)


def _sets(count: int) -> list[TemplateSet]:
    """Random blocks, counts known and not, every fifth with a template left out; and large ones."""
    sets = []
    for seed in range(count):
        one = measured(random_family(seed), NOISES_MM[seed % 2] / np.sqrt(2), seed, seed % 3 != 0)
        sets.append(evolve(one, templates=one.templates[1:]) if seed % 5 == 0 and len(one.templates) > 2 else one)
    large = [block(kind, pieces, 2) for kind in KINDS[:6] for pieces in kind.sizes if 12 <= pieces <= 61]
    return sets + [measured(one, 0.3 / np.sqrt(2), seed) for seed, one in enumerate(large)]


def work(count: int = 40) -> Table:
    """Counted against measured seconds of so many searches, and the costs that would fit best here."""
    made: list[Work] = []

    class Seen(Work):
        def __init__(self, limit_s: float, stop: Callable[[], bool] | None = None) -> None:
            super().__init__(limit_s, stop)
            made.append(self)

    took = []
    with mock.patch("seamsurvey.block.assemble.Work", Seen):
        for templates in _sets(count):
            begun = time.process_time()
            with contextlib.suppress(SeamsurveyError):
                assemble(templates, time_limit_s=LIMIT_S)
            took.append(time.process_time() - begun)
    seconds = np.array(took)
    counted = np.array([each.done_s for each in made])
    units = np.array([[each.units[kind] for kind in SECONDS] for each in made], dtype=float)
    # Long searches matter, and their share, not their seconds.
    weight = 1 / np.maximum(seconds, 0.3)
    scale = np.maximum(units.max(axis=0), 1.0)
    fitted = nnls(units / scale * weight[:, None], seconds * weight)[0] / scale
    ratio = (seconds / np.maximum(counted, 1e-3))[seconds > 1.0]
    rows = [
        [kind, f"{units[:, k].sum():.3g}", f"{cost:.2g}", f"{fitted[k]:.2g}"]
        for k, (kind, cost) in enumerate(SECONDS.items())
    ]
    return Table(
        heading="Counted work",
        command="python -m tests.benchmarks work --write",
        about=f"{len(made)} searches for random blocks, counts known or not, some large, some lacking a template, "
        f"limited to {LIMIT_S:.0f} s of counted work; one core.",
        columns=("kind", "units", "seconds a unit, as counted", "best here"),
        rows=rows,
        summary=f"{len(ratio)} searches took more than 1 s here: {np.median(ratio):.2f} of what was counted "
        f"(median; {ratio.min():.2f} to {ratio.max():.2f})." if len(ratio) else "",
    )  # fmt: skip
