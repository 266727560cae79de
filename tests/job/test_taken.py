"""A layout that was taken is found again by what it is, or missed, but never exchanged."""

from itertools import permutations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from seamsurvey.errors import UndecidedError, UsageError
from seamsurvey.job.answers import taken_value, with_answers
from seamsurvey.job.layout_wishes import read_taken
from seamsurvey.job.taken import remembered, taken_number
from seamsurvey.job.wishes_file import read_wishes
from seamsurvey.model import Block, Piece, Template, TemplateSet, Wishes
from tests.several import DRAWN, HALF, layout

NO_TEMPLATES = TemplateSet(photos=(), templates=(), shared_covariance=np.zeros((0, 0)))
HERE = Path("job")


def shaken(block: Block, off: np.ndarray, turn: int) -> Block:
    """The block with its corners moved a little and turned by quarters, its pieces in another order."""
    quarter = np.linalg.matrix_power(np.array([[0, -1], [1, 0]]), turn)
    pieces = tuple(
        Piece(id=p.id, template=p.template, reversed=False, outline=p.outline @ quarter.T + off[: len(p.outline)])
        for p in reversed(block.pieces)
    )
    return Block(outline=block.outline @ quarter.T, pieces=pieces)


@settings(deadline=None)
@given(
    order=st.permutations(range(len(DRAWN))),
    which=st.integers(0, len(DRAWN) - 1),
    off=st.lists(st.floats(-1.0, 1.0), min_size=8, max_size=8),
    turn=st.integers(0, 3),
)
def test_it_is_found_in_another_order_after_a_correction(
    order: list[int], which: int, off: list[float], turn: int
) -> None:
    """However the layouts are ranked, turned and corrected by a millimetre, the one that was taken is the one."""
    taken = remembered(which + 1, layout(DRAWN[which]), NO_TEMPLATES)
    now = [shaken(layout(DRAWN[k]), np.reshape(off, (4, 2)), turn) for k in order]
    wishes = Wishes(layout=which + 1, taken=taken)
    assert order[taken_number(now, wishes, NO_TEMPLATES, HERE) - 1] == which


def test_the_drawings_are_different_layouts() -> None:
    """None of the drawn layouts passes for another, else the test above proved nothing."""
    for one, other in permutations(DRAWN, 2):
        wishes = Wishes(layout=1, taken=remembered(1, layout(one), NO_TEMPLATES))
        with pytest.raises(UndecidedError) as caught:
            taken_number([layout(other)], wishes, NO_TEMPLATES, HERE)
        assert caught.value.code == "layout-gone"


def test_a_template_that_was_named_since_is_the_same() -> None:
    """Templates go by the names they were found under, so that a new name loses no choice."""
    taken = remembered(1, layout(DRAWN[0]), NO_TEMPLATES)
    outline = np.array([[0, 0], [1, 0], [0, 1.0]])
    kite = Template(
        name="kite", found_as=HALF, photo=0, cut_outline=outline, finished_outline=outline, corners_px=outline,
        own_covariance=np.zeros((6, 6)), sensitivity=np.zeros((6, 0)),
    )  # fmt: skip
    named = TemplateSet(photos=(), templates=(kite,), shared_covariance=np.zeros((0, 0)))
    now = [layout(each, names={HALF: "kite"}) for each in (DRAWN[1], DRAWN[0])]
    assert taken_number(now, Wishes(layout=1, taken=taken), named, HERE) == 2


def test_a_number_said_anew_means_the_layouts_as_they_are_now() -> None:
    """A number that is not the remembered one counts by itself, and one that is too large is refused."""
    now = [layout(each) for each in DRAWN]
    taken = remembered(2, now[1], NO_TEMPLATES)
    assert taken_number(now, Wishes(layout=3, taken=taken), NO_TEMPLATES, HERE) == 3
    assert taken_number(now, Wishes(), NO_TEMPLATES, HERE) == 1
    with pytest.raises(UsageError, match="no layout 5: 4 are known"):
        taken_number(now, Wishes(layout=5), NO_TEMPLATES, HERE)


def test_it_is_written_into_job_toml_and_read_back() -> None:
    """It reads back as it was; written twice the file is the same, and taken out again it is the person's own."""
    mine = b'# mine\ntitle = "Barn"  # for Ruth\n\n[counts]\n"quarter disc" = 4 # four\n'
    taken = remembered(2, layout(DRAWN[1], names={HALF: "quarter disc"}), NO_TEMPLATES)
    answers: dict[tuple[str, ...], Any] = {("layout",): 2, ("taken",): taken_value(taken)}
    written = with_answers(mine, answers, "said 2026-11-30 by a test")
    wishes = read_wishes(written)
    assert (wishes["layout"], wishes["taken"]) == (2, taken)
    assert with_answers(written, answers, "said 2026-12-01 by a test") == written
    assert with_answers(written, {("layout",): None, ("taken",): None}) == mine


@pytest.mark.parametrize(
    "broken",
    ["3", "{ layout = 1 }", '{ layout = "1", places = {} }', "{ layout = 1, places = { T1 = [[1.5, 2]] } }"],
)
def test_a_broken_table_is_told(broken: str) -> None:
    """What a hand broke is refused, not guessed at."""
    with pytest.raises(ValueError, match=r"program|whole number"):
        read_taken(tomlkit.parse(f"taken = {broken}").unwrap()["taken"])
