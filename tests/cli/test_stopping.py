"""Ctrl-C once takes the best layout so far, twice interrupts."""

import os
import signal

import pytest

from seamsurvey.block.assemble import assemble
from seamsurvey_cli.console import Reporter
from tests.block.sets import measured
from tests.scene.trade_block import is_right_block
from tests.scene.trade_blocks import trade_block


def test_the_first_interrupt_asks_and_the_second_interrupts(capsys: pytest.CaptureFixture[str]) -> None:
    """Between the two the search is told to stop, and the person what happens; afterwards all is as it was."""
    before = signal.getsignal(signal.SIGINT)
    reporter = Reporter(quiet=False, verbose=False, no_color=True)
    with reporter.stopping() as stop:
        assert not stop()
        os.kill(os.getpid(), signal.SIGINT)
        assert stop()
        with pytest.raises(KeyboardInterrupt):
            os.kill(os.getpid(), signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is before
    assert "best layout found so far" in capsys.readouterr().err


def test_a_search_that_is_stopped_gives_what_it_has() -> None:
    """An Ohio star's search, which goes on for seconds, is stopped soon: the star is there, without a proof."""
    asked = iter(range(10**9))
    block = trade_block("ohio star")
    first = assemble(measured(block, 0.05, 1), stop=lambda: next(asked) > 300)[0]
    assert is_right_block(block, first)
    assert not first.proof.searched_all
    assert first.proof.work_s < 1.0
