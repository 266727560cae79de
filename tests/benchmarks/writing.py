"""Handwriting on cards: what is read clearly and rightly, clearly and wrongly, unclearly, or not at all."""

import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from seamsurvey.model import Count
from seamsurvey.templates.labels import ALLOWANCE, COUNT, INCLUDED, NAME
from seamsurvey.templates.said_by_cards import KINDS
from tests.benchmarks.table import Table
from tests.scene.written import written_card
from tests.templates.written_cards import TUNED, UNSEEN, read

COUNT_OF_CARDS = 400
_FIRST_SEED = 700_000
_ENDS = ("clear and right", "clear and wrong", "unclear", "nothing")
_SAME_MM = 0.01


def writing(count: int = COUNT_OF_CARDS) -> Table:
    """So many cards, each by itself, in eight hands."""
    with ProcessPoolExecutor(2) as pool:
        done = list(pool.map(_one, range(count)))
    ends: Counter[tuple[str, str, str]] = Counter()
    for hands, kinds, _ in done:
        ends.update((hands, kind, end) for kind, end in kinds)
    rows = []
    for kind in KINDS:
        for hands in ("tuned on", "never seen"):
            of_kind = [ends[hands, kind, end] for end in _ENDS]
            rows.append([kind, hands, str(sum(of_kind)), *(str(number) for number in of_kind)])
    seconds = np.array([each for _, _, each in done])
    return Table(
        heading="Writing on cards",
        command=".venv/bin/python -m tests.benchmarks writing",
        about="Cards of random blocks in six colours of card, with one to three lines in a hand of eight, scanned "
        "at 300 dpi or seen as by a phone at 6 to 9 px per mm, at any angle, half of them with a dashed seam line. "
        "Their place is given. Unclear is what is only offered; so it should be with a tenth of the counts (“cut 2 "
        "of each colour”, “cut 7”). Names of a letter alone, which only the whole set can tell, count as unclear.",
        columns=("what", "hands", "written", *_ENDS),
        rows=rows,
        summary=f"{count} cards. Reading takes {np.mean(seconds):.2f} s of one core a card "
        f"({np.percentile(seconds, 95):.2f} s for 19 of 20), and 0.4 s once to load the networks.",
    )


def _one(number: int) -> tuple[str, list[tuple[str, str]], float]:
    hands = UNSEEN if number % 2 else TUNED
    card = written_card(_FIRST_SEED + number, hands[number // 2 % len(hands)])
    begun = time.process_time()
    says = read(card)
    seconds = time.process_time() - begun
    truth = {
        NAME: card.name,
        COUNT: Count(*card.count) if card.count else None,
        ALLOWANCE: card.allowance if card.allowance is not None else INCLUDED,
    }
    found = {saying.kind: saying for saying in says.sayings}
    kinds = []
    for kind in KINDS:
        saying = found.get(kind)
        if saying is None:
            end = "nothing"
        elif not saying.is_clear:
            end = "unclear"
        else:
            there = kind in card.said and _same(saying.value, truth[kind])
            end = "clear and right" if there else "clear and wrong"
        if kind in card.said or end == "clear and wrong":
            kinds.append((kind, end))
    return "never seen" if number % 2 else "tuned on", kinds, seconds


def _same(read_value: object, true: object) -> bool:
    if isinstance(read_value, float) and isinstance(true, float):
        return abs(read_value - true) < _SAME_MM
    return read_value == true
