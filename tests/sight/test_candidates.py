"""Candidates from evidence made by hand: every card among them, to a fraction of a pixel."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey.seen_model import BORDER, FACE, GROUND
from seamsurvey.sight.candidates import Candidate, area_of, candidates, grown
from seamsurvey.sight.choose import fitting
from seamsurvey.sight.evidence import Evidence

SQUARE = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])


def evidence_of(cards: list[NDArray[np.float64]], size: tuple[int, int] = (160, 240)) -> Evidence:
    """As a network would see these cards: faces, their outer two pixels as border, else ground; a grey picture."""
    maps = np.zeros((7, *size), np.float32)
    for card in cards:
        whole = np.zeros(size, np.uint8)
        cv2.fillPoly(whole, [np.rint(card * 16).astype(np.int32)], 1, shift=4)
        core = cv2.erode(whole, np.ones((5, 5), np.uint8))
        maps[FACE] = np.maximum(maps[FACE], core)
        maps[BORDER] = np.maximum(maps[BORDER], whole - core)
    maps[GROUND] = 1 - maps[FACE] - maps[BORDER]
    return Evidence(maps, np.full((*size, 3), 128, np.uint8), 1.0)


def best_overlap(card: NDArray[np.float64], found: list[Candidate]) -> float:
    """The best overlap of a card with any of the outlines, on a grid of a quarter of a pixel."""
    size = (640, 960)
    mask = np.zeros(size, np.uint8)
    cv2.fillPoly(mask, [np.rint(card * 64).astype(np.int32)], 1, shift=4)
    best = 0.0
    for candidate in found:
        other = np.zeros(size, np.uint8)
        cv2.fillPoly(other, [np.rint(candidate.outline * 64).astype(np.int32)], 1, shift=4)
        best = max(best, float((mask & other).sum() / (mask | other).sum()))
    return best


def test_an_outline_grows_by_its_sides() -> None:
    """A square moved out by one on each side is two wider; its area says which way it runs."""
    assert area_of(SQUARE) == 100.0
    assert area_of(SQUARE[::-1]) == -100.0
    np.testing.assert_allclose(grown(SQUARE, 1.0), SQUARE * 1.2 - 1.0, atol=1e-12)


def test_a_sharp_tip_is_cut_short() -> None:
    """The tip of a wedge of 1.1° moves out by no more than a few times the offset, not by a hundred times it."""
    wedge = np.array([[0.0, 0.0], [100.0, -1.0], [100.0, 1.0]])
    assert np.hypot(*(grown(wedge, 1.0) - wedge)[0]) < 5.0


@pytest.mark.parametrize("gap", [0.0, 1.0, 3.0])
def test_cards_that_touch_are_both_among_the_candidates(gap: float) -> None:
    """Two cards 0 to 3 px apart are each held by a candidate of their own to a tenth of their area."""
    left = np.array([[40.0, 40.0], [90.0, 40.0], [90.0, 100.0], [40.0, 100.0]])
    right = np.array([[91.0 + gap, 40.0], [141.0 + gap, 40.0], [141.0 + gap, 100.0]])
    found = candidates(evidence_of([left, right]))
    assert best_overlap(left, found) > 0.9
    assert best_overlap(right, found) > 0.9


def test_a_face_with_a_hole_in_its_evidence_is_held() -> None:
    """A card whose middle the network does not believe in is still held, by its closed border."""
    card = np.array([[60.0, 30.0], [150.0, 45.0], [120.0, 120.0], [50.0, 110.0]])
    evidence = evidence_of([card])
    evidence.maps[FACE, 45:100, 75:115] = 0.0
    assert best_overlap(card, candidates(evidence)) > 0.9


def test_a_face_torn_by_its_print_is_held() -> None:
    """A card whose print's edges the network took for borders, its blots for ground, is held whole."""
    card = np.array([[60.0, 30.0], [150.0, 45.0], [120.0, 120.0], [50.0, 110.0]])
    evidence = evidence_of([card])
    for at in (60, 80, 100):
        stripe = np.zeros((160, 240), bool)
        stripe[at - 3 : at + 3] = evidence.maps[GROUND, at - 3 : at + 3] < 1
        for k, value in ((FACE, 0.0), (BORDER, 0.0), (GROUND, 1.0)):
            evidence.maps[k, stripe] = value
    held = [best_overlap(card, candidates(evidence)), best_overlap(card, candidates(evidence_of([card])))]
    assert min(held) > 0.9


def test_no_two_that_lie_on_each_other_are_taken() -> None:
    """Of two outlines over each other only the likelier is taken; one beside them is too; the unlikely is not."""
    found = [Candidate(SQUARE + shift, 1, 1) for shift in (0.0, 3.0, 20.0, 40.0)]
    assert fitting(found, np.array([0.8, 0.9, 0.7, 0.3])) == [1, 2]
