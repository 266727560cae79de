"""The judge of the benchmark of real pictures: it must tell what was found from what was lost or made up."""

import json
from pathlib import Path

import numpy as np
import pytest
from shapely import Polygon

from seamsurvey.model import Wishes
from tests.benchmarks.real_judge import (
    LOST,
    RIGHT,
    TAKEN,
    TOLD,
    WRONG,
    Floats,
    Judged,
    as_expected,
    judge,
    scale_of,
)
from tests.benchmarks.real_photos import outcome_of, real_photos
from tests.benchmarks.real_truth import KINDS, OWN, THING, Known, Lying, RealTruth, read_truths

SQUARE = np.array([[100.0, 100.0], [200.0, 100.0], [200.0, 200.0], [100.0, 200.0]])
RIGHT_OF_IT = SQUARE + np.array([110.0, 0.0])  # ten px between the two
FAR = SQUARE + 400.0
SHEET = np.array([[0.0, 0.0], [1000.0, 0.0], [1000.0, 800.0], [0.0, 800.0]])


def _judge(*templates: Floats, left_out: tuple[Floats, ...] = (), kinds: tuple[str, ...] = ("straight",)) -> Judged:
    places = (SQUARE, RIGHT_OF_IT, SHEET)
    lying = [Lying(kind, place) for kind, place in zip(kinds, places, strict=False)]
    return judge(lying, templates, left_out)


def _about_middle(scale: float) -> Floats:
    return np.asarray((SQUARE - 150) * scale + 150)


def test_a_piece_is_right_only_with_its_outline_and_its_edges() -> None:
    """An outline 4 % short passes; 6 % short, a corner too many, or one edge off by a sixth do not."""
    house = np.insert(SQUARE, 1, [150.0, 99.0], axis=0)
    skewed = SQUARE + np.array([[0.0, 0.0], [17.0, 0.0], [17.0, 0.0], [0.0, 0.0]])
    assert _judge(_about_middle(0.96)).fates == [RIGHT]
    assert [_judge(each).fates for each in (_about_middle(0.94), house, skewed)] == [[WRONG]] * 3
    assert _judge(SQUARE[::-1]).fates == [RIGHT], "whichever way round"


def test_what_is_said_of_a_piece_is_told_from_silence() -> None:
    """What is left out names the piece that it covers in good part; a speck or the sheet below doesn't."""
    part, speck = SQUARE * np.array([1.0, 0.4]) + np.array([0.0, 60.0]), _about_middle(0.2)
    both = np.array([[100.0, 100.0], [310.0, 100.0], [310.0, 200.0], [100.0, 200.0]])
    assert _judge().fates == [LOST]
    assert [_judge(left_out=(each,)).fates for each in (SQUARE, part)] == [[TOLD]] * 2
    assert [_judge(left_out=(each,)).fates for each in (speck, FAR, SHEET)] == [[LOST]] * 3
    assert _judge(left_out=(both,), kinds=("straight", "touching")).fates == [TOLD, TOLD]
    assert _judge(SQUARE, left_out=(SQUARE,)).fates == [RIGHT], "said or not, it was found"


def test_a_piece_that_gives_the_scale_is_not_lost() -> None:
    """A piece that the tool took for a reference is told from one it never saw, and from its neighbour."""
    lying = [Lying("straight", SQUARE), Lying("straight", RIGHT_OF_IT)]
    assert judge(lying, (), (), (SQUARE + 2.0, SHEET)).fates == [TAKEN, LOST]
    assert judge(lying, (SQUARE,), (), (SQUARE,)).fates == [RIGHT, LOST]


def test_two_pieces_taken_for_one_are_wrong_not_lost() -> None:
    """One outline round two neighbours is wrong of both; round one of them it says nothing of the other."""
    both = np.array([[100.0, 100.0], [310.0, 100.0], [310.0, 200.0], [100.0, 200.0]])
    kinds = ("straight", "touching")
    assert _judge(both, kinds=kinds) == Judged([WRONG, WRONG], 0)
    assert _judge(SQUARE, kinds=kinds) == Judged([RIGHT, LOST], 0)


def test_templates_on_nothing_are_made_up() -> None:
    """A template on the bare table, the sheet, ink on a piece, and a second on one piece are made up."""
    assert [_judge(SQUARE, each).made_up for each in (FAR, SHEET, _about_middle(0.3), SQUARE + 1.0)] == [1] * 4
    assert _judge(SHEET).fates == [LOST], "the sheet under a piece is no outline of it"
    assert _judge(SQUARE).made_up == 0


def test_a_thing_may_be_measured_or_not() -> None:
    """A sheet that is known to lie there has no fate, measured or not, and is not made up."""
    kinds = ("straight", "straight", THING)
    assert _judge(SQUARE, SHEET, kinds=kinds) == Judged([RIGHT, LOST, ""], 0, 1)
    assert _judge(SQUARE, RIGHT_OF_IT, kinds=kinds) == Judged([RIGHT, RIGHT, ""], 0, 0)


@pytest.mark.parametrize(
    ("expect", "known", "measured_mm", "refusal", "scale", "good"),
    [
        ("measured", True, 101.0, "", "right", True),
        ("measured", True, 103.0, "", "wrong", False),
        ("measured", True, 39.4, "", "wrong", False),
        ("measured", True, float("nan"), "", "wrong", False),
        ("measured", True, None, "asked", "asked", False),
        ("measured", False, None, "", "unchecked", True),
        ("ask", False, None, "asked", "asked", True),
        ("ask", False, None, "", "wrong", False),
        ("ask", False, None, "refused", "refused", False),
        ("refuse", False, None, "refused", "refused", True),
        ("refuse", False, None, "", "wrong", False),
        ("refuse", True, 100.0, "", "right", True),
    ],
)
def test_a_scale_is_right_only_where_it_is_known_or_told(
    expect: str, known: bool, measured_mm: float | None, refusal: str, scale: str, good: bool
) -> None:
    """A scale off by 3 %, in another unit, beyond the horizon, or out of a picture that tells none is wrong."""
    ends = Known(np.array([[0.0, 0.0], [500.0, 0.0]]), 100.0) if known else None
    truth = RealTruth("a.jpg", "", "", [], expect, "", ends)
    assert scale_of(truth, measured_mm, refusal) == scale
    assert as_expected(truth.expect, scale) == good


def test_another_picture_of_the_name_is_not_judged(tmp_path: Path) -> None:
    """A folder that lacks the pictures, or has others of their names, gives rows that say so, and no figures."""
    truth = read_truths(tmp_path)[0]
    (tmp_path / truth.file).write_bytes(b"another picture")
    assert outcome_of(truth, tmp_path).judged is None
    table = real_photos(tmp_path)
    assert [row[-1] for row in table.rows[:-1]] == [
        f"not in the folder: {each.source}" for each in read_truths(tmp_path)
    ]
    assert table.summary.startswith("0 pictures.")


def test_the_truths_are_whole(tmp_path: Path) -> None:
    """Outlines are simple polygons of known kinds, sources commits, known distances between two points."""
    raw = json.loads(OWN.read_text(encoding="utf-8"))["pictures"]
    truths = read_truths(tmp_path)
    assert len(truths) == len(raw) == len({truth.sha256 for truth in truths})
    for truth in truths:
        assert len(raw[truth.file]["source"]["commit"]) == 40
        assert truth.expect in ("measured", "ask", "refuse")
        assert (truth.wishes == Wishes()) == (not truth.word)
        assert {each.kind for each in truth.lying} <= set(KINDS)
        assert all(Polygon(each.outline).is_valid for each in truth.lying), truth.file
        assert truth.known is None or (truth.known.points.shape == (2, 2) and truth.known.mm > 0)
