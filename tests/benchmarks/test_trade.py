"""The benchmark of the trade's blocks: that a worker's answer is that of the search, and none stops the table."""

import pytest

from tests.benchmarks import trade
from tests.benchmarks.trade import Outcome, outcome, outcomes, sharing_cards
from tests.scene.trade_blocks import TRADE_BLOCKS, TradeBlock, trade_block

TWO = [trade_block(name) for name in ("pandora's box", "spool")]


def test_a_worker_answers_what_the_search_does(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two blocks in two processes end as they do in this one, but for the time."""
    monkeypatch.setattr(trade, "WORKERS", 2)
    apart = outcomes(TWO, counted=True)
    here = [outcome(block, counted=True) for block in TWO]
    assert [(one.place, one.offered, one.layouts_found) for one in apart] == [
        (one.place, one.offered, one.layouts_found) for one in here
    ]


def _endless(block: TradeBlock, *, counted: bool, catalogue: object) -> Outcome:
    if block.name == "spool":
        while catalogue is None:
            counted = not counted
    return Outcome(1, 1, True, 1, 0.0)


def test_a_search_that_does_not_end_is_a_timeout(monkeypatch: pytest.MonkeyPatch) -> None:
    """Once its time on the processor is over it is ended, and the other block has its row."""
    monkeypatch.setattr(trade, "outcome", _endless)
    monkeypatch.setattr(trade, "LIMIT_S", 1)
    assert [one.place for one in outcomes(TWO, counted=True)] == ["1", "timeout"]


def _broken(block: TradeBlock, *, counted: bool, catalogue: object) -> Outcome:
    raise ValueError(f"{block.name} {counted} {catalogue}")


def test_a_worker_that_fails_is_no_timeout(monkeypatch: pytest.MonkeyPatch) -> None:
    """A bug stops the table and says of which block."""
    monkeypatch.setattr(trade, "outcome", _broken)
    with pytest.raises(RuntimeError, match="pandora's box"):
        outcomes(TWO[:1], counted=True)


def test_blocks_that_are_cut_from_the_same_cards() -> None:
    """The pairs among the trade's blocks are those that their counts of squares, triangles and diamonds say."""
    assert set(sharing_cards(TRADE_BLOCKS)) == {
        ("friendship star", "shoofly"),
        ("building blocks", "six-pointed star"),
    }
