"""A search ends by what it has done, never by a clock."""

import ast
import itertools
import time
from pathlib import Path

import numpy as np
import pytest
from attrs import evolve

import seamsurvey.block
from seamsurvey.block.assemble import assemble
from seamsurvey.block.work import SECONDS, Work
from seamsurvey.errors import SeamsurveyError
from seamsurvey.model import Block
from tests.benchmarks.layout_blocks import KINDS, block
from tests.block.sets import measured

Ended = tuple[str, list[tuple[str, list[float]]]]


def _ended(limit_s: float) -> Ended:
    """How a search that its limit ends tells it, and the partial layout it had come to."""
    partial: list[Block] = []
    whole = measured(block(KINDS[0], 8, 1), 0.1, 1, False)
    templates = evolve(whole, templates=whole.templates[1:])  # nothing can be made of these
    with pytest.raises(SeamsurveyError) as refused:
        assemble(templates, time_limit_s=limit_s, on_partial=partial.append)
    return str(refused.value), [(p.template, p.outline.ravel().tolist()) for b in partial for p in b.pieces]


def test_a_search_comes_to_the_same_whatever_the_clock_says(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a machine a thousand times slower by its clocks the limit falls at the same place."""
    usual = _ended(0.5)
    slow = itertools.count(0, 1000)
    for clock in ("monotonic", "perf_counter", "process_time", "time"):
        monkeypatch.setattr(time, clock, lambda: float(next(slow)))
    assert _ended(0.5) == usual
    assert "the limit was reached" in usual[0]


def test_a_longer_limit_lets_a_search_do_more() -> None:
    """The limit is what ends it: with a tenth of it the search has come to less or as far, in fewer steps."""
    assert _ended(0.05) != _ended(0.5)


def test_no_module_of_the_room_reads_a_clock() -> None:
    """Nothing there can know how long it takes."""
    for path in Path(next(iter(seamsurvey.block.__path__))).glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            names = [a.name for a in node.names] if isinstance(node, ast.Import | ast.ImportFrom) else []
            module = [node.module] if isinstance(node, ast.ImportFrom) else []
            assert not {"time", "datetime"} & {*names, *module}, path.name


def test_a_part_gets_no_more_than_its_share_nor_than_is_left() -> None:
    """Shares lie within the whole, and the whole goes on after them."""
    work = Work(10 * SECONDS["sewn"])
    work.spend("sewn", 4)
    with work.at_most(3 * SECONDS["sewn"]):
        work.spend("sewn", 2)
        assert not work.over()
        work.spend("sewn")
        assert work.over()
    assert not work.over()
    with work.at_most(1000.0):
        work.spend("sewn", 3)
        assert work.over()
    assert work.over()
    assert work.units["sewn"] == 10
    assert work.done_s == pytest.approx(10 * SECONDS["sewn"])


def test_a_part_that_fails_leaves_the_limit_as_it_was() -> None:
    """An error in a share doesn't shorten the rest."""
    work = Work(1.0)
    with pytest.raises(ValueError, match="broken"), work.at_most(0.1):
        raise ValueError("broken")
    assert work.limit_s == np.float64(1.0)
