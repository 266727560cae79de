"""Old blocks that nothing in the search was tuned on: as if the catalogue had none of them, and known.

The blocks are those of ``tests/scene/trade_further.py``, in an order drawn by lot; they are the catalogue's last.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from seamsurvey.block.tradition import Known, tradition
from tests.benchmarks.table import Table
from tests.benchmarks.trade import ABOUT, SHOWN, Outcome, outcomes, share
from tests.scene.trade_block import TradeBlock
from tests.scene.trade_further import FAMILIES, HELD_BACK, further_blocks
from tests.write_tradition import named

COUNT = 50  # what can be measured in a quarter of an hour
_ORDER = 1  # the seed of the order

Some = Sequence[tuple[str, TradeBlock]]  # blocks, each with its family
Way = tuple[str, bool, Some, Sequence[Outcome]]  # "not known" or "known", whether counts are, and what came of each


def trade_new(count: int = COUNT) -> Table:
    """So many of the blocks, counts known and not, the catalogue without all of them and with them."""
    some = drawn_by_lot(count)
    rest = without_further(tradition())
    ways: list[Way] = []
    for word, able, catalogue in (("not known", some, lambda _: rest), ("known", let_in(some), None)):
        for counted in (True, False):
            found = outcomes([block for _, block in able], counted=counted, catalogue=catalogue)
            ways.append((word, counted, able, found))
    return table_of(some, ways)


def let_in(some: Some) -> Some:
    """Those of the blocks that are in the catalogue."""
    return [(family, block) for family, block in some if block.name not in HELD_BACK]


def drawn_by_lot(count: int | None) -> list[tuple[str, TradeBlock]]:
    """The first so many blocks in the order drawn, or all, each with its family."""
    every = [(family, block) for family, blocks in FAMILIES.items() for block in blocks()]
    order = np.random.default_rng(_ORDER).permutation(len(every))
    return [every[k] for k in order[:count]]


def without_further(catalogue: Sequence[Known]) -> tuple[Known, ...]:
    """The catalogue before these blocks came into it. Raises ValueError where they are not its last."""
    names = [named(block) for block in further_blocks()]
    if [known.name for known in catalogue[-len(names) :]] != names:
        raise ValueError(
            "the further blocks are not the last of the catalogue: run python -m tests.write_tradition"
        )
    return tuple(catalogue[: -len(names)])


def table_of(some: Some, ways: Sequence[Way]) -> Table:
    """What came of each family in each way; and which blocks were not found."""
    return Table(
        heading="Blocks that nothing was tuned on",
        command=f"python -m tests.benchmarks trade-new --count {len(some)} --write",
        about=f"{ABOUT} {len(some)} of {len(drawn_by_lot(None))} blocks (tests/scene/trade_further.py), drawn by "
        "lot: as if the catalogue of known blocks had none of all those (not known); and with them in it, but for "
        "those held back, whose names only say what is drawn. Missing: not among those offered, or refused.",
        columns=(
            "family",
            "catalogue",
            "counts",
            "blocks",
            "first",
            f"among the first {SHOWN}",
            "missing",
            "median s",
        ),
        rows=[_row(family, way) for way in ways for family in FAMILIES],
        summary="\n\n".join(map(_summary, ways)),
    )


def _row(family: str, way: Way) -> list[str]:
    word, counted, some, found = way
    mine = [one for (its, _), one in zip(some, found, strict=True) if its == family]
    ranks = [one.rank for one in mine if one.rank is not None]
    return [
        family, word, "known" if counted else "unknown", str(len(mine)), str(ranks.count(1)),
        str(sum(rank <= SHOWN for rank in ranks)), str(len(mine) - len(ranks)),
        f"{np.median([one.seconds for one in mine]):.1f}" if mine else "",
    ]  # fmt: skip


def _summary(way: Way) -> str:
    word, counted, some, found = way
    missing = "; ".join(_missing(some, found)) or "none"
    return f"{word.capitalize()}, counts {'known' if counted else 'unknown'}: {share(found)} Missing: {missing}."


def _missing(some: Some, found: Sequence[Outcome]) -> Iterator[str]:
    for (_, block), one in zip(some, found, strict=True):
        if one.rank is None:
            yield f"{block.name} ({one.refused})" if one.refused else block.name
