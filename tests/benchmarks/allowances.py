"""Whether the allowance of a set is found where nobody told it: right, open, or wrong, which must never be."""

import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from functools import partial

import numpy as np

from seamsurvey.templates.hypotheses import USUAL_MM, decide
from tests.benchmarks.layout_blocks import KINDS, block
from tests.benchmarks.table import Table
from tests.scene.families import Family, designs, family
from tests.templates.cut_sets import closes, sets

NOISES_MM = (0.03, 0.15)  # of a corner; scans and good photos lie between
MOST_PIECES = 16
COLUMNS = ("block", "pieces", "allowance mm", "noise mm", "decided", "most edges agreeing", "s")


def allowances(count: int = 100) -> Table:
    """So many sets: our families and blocks cut up at random, one of each template, counts not told."""
    with ProcessPoolExecutor(2) as pool:
        done = list(pool.map(partial(_one, _drawn()), range(count)))
    ends = Counter(end for end, _ in done)
    return Table(
        heading="Allowances that nobody told",
        command=".venv/bin/python -m tests.benchmarks allowances",
        about="One of each template, cut with an allowance drawn at random from the usual ones (half of the sets: "
        "none or 1/4 in), each corner off by the noise. `open` is a question to the person.",
        columns=COLUMNS,
        rows=[row for _, row in done],
        summary=f"{count} sets: {', '.join(f'{ends[end]} {end}' for end in ('right', 'open', 'wrong'))}.",
    )


def _drawn() -> list[Family]:
    ours = [family(name) for name in designs()]
    random = [block(kind, pieces, 7) for kind in KINDS for pieces in kind.sizes if pieces <= MOST_PIECES]
    return ours + random


def _one(drawn: list[Family], number: int) -> tuple[str, list[str]]:
    rng = np.random.default_rng([number, 31])
    one = drawn[number % len(drawn)]
    allowance = float(rng.choice(USUAL_MM[:2] if rng.random() < 0.5 else USUAL_MM))
    noise = float(rng.choice(NOISES_MM))
    begun = time.process_time()
    decision = decide(sets(one, allowance, noise, number), closes)
    found = decision.allowance_mm
    end = "open" if found is None else "right" if found == allowance else "wrong"
    decided = "open" if found is None else f"{found:.2f}" + (" (wrong)" if end == "wrong" else "")
    most = max(decision.tried, key=lambda tried: tried.agreeing)
    seconds = f"{time.process_time() - begun:.0f}"
    figures = [f"{allowance:.2f}", f"{noise:.2f}", decided, f"{most.agreeing} of {most.edges}", seconds]
    return end, [one.name, str(len(one.pieces)), *figures]
