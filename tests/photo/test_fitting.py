"""The fit of a photo's references: what is believed of the camera before anything was seen."""

from collections.abc import Sequence
from typing import Any

import attrs
import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey import camera
from seamsurvey.errors import InputError
from seamsurvey.model import Picture
from seamsurvey.photo.adjust import Fit, NoCameraError, adjust
from seamsurvey.photo.evidence import Evidence
from seamsurvey.photo.fitting import adjust_all, doubted_cards
from seamsurvey.photo.observed import ACROSS, ALONG, KNOWN, Observed

Array = NDArray[np.float64]

FOCAL = 3000.0
ENDS = np.array([(-60, -40), (60, -40), (60, 80), (-60, 80), (0, 20)], dtype=float)  # of lengths, on the table


def photographed(points: Array, cut_from: tuple[int, int]) -> Array:
    """(n, 2) px by OpenCV: 480 mm over a table tilted by 18 degrees; the picture begins at that pixel."""
    turn = cv2.Rodrigues(np.radians(18) * np.array([np.cos(0.7), np.sin(0.7), 0]))[0] @ np.diag([1.0, -1.0, -1.0])
    inside = np.array([[FOCAL, 0, 1999.5 - cut_from[0]], [0, FOCAL, 1499.5 - cut_from[1]], [0, 0, 1]])
    raised = np.column_stack([points, np.zeros(len(points))])
    seen, _ = cv2.projectPoints(raised, cv2.Rodrigues(turn)[0], np.array([2.0, 5.0, 480.0]), inside, np.zeros(5))
    return np.asarray(seen, dtype=np.float64).reshape(-1, 2)


def ruler(cut_from: tuple[int, int]) -> Evidence:
    """A ruler of 240 mm with marks 5 mm apart, 5 mm long, and its graduated edge."""
    marks = [(5.0 * k, -y, ALONG, 5.0 * k, KNOWN, k) for k in range(49) for y in (0.5, 3.0, 5.5)]
    edge = [(x, 0.0, ACROSS, 0.0, 0, 100) for x in np.linspace(0, 240, 25)]
    own, (axis, nominal, offset, mark) = np.array([r[:2] for r in marks + edge]), np.array(marks + edge).T[2:]
    seen = photographed(own - np.array([120, 90]), cut_from) + np.random.default_rng(3).normal(0, 0.05, own.shape)
    observed = Observed(
        kind="ruler",
        points_px=seen,
        axis=axis.astype(int),
        nominal_mm=nominal,
        edge=offset.astype(int),
        mark=mark.astype(int),
        sigma_px=np.full(len(own), 0.05),
        mark_sigma_mm=0.02,
        scale_sigma=5e-4,
        height_mm=0.0,
        height_sigma_mm=0.0,
        rough=np.asarray(cv2.findHomography(seen, own)[0]),
    )
    none = np.zeros((0, 2))
    return Evidence(
        observed=observed,
        graduation="cm",
        outline_px=none,
        marks=np.zeros(0, int),
        marks_px=none,
        mark_ends_px=none,
    )


def test_one_thing_that_fits_nothing_is_left_out_and_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two rulers and one that no camera could see so: the two give the scale that they give alone."""
    picture = Picture(name="", sha256="", pixels=np.zeros((3000, 4000, 0), np.uint8), focal_px=FOCAL)
    true = [ruler((0, 0)), attrs.evolve(ruler((0, 0)), graduation="the same again")]
    bent = attrs.evolve(true[0], graduation="no ruler")

    def adjusted(size: Any, observed: Sequence[Observed], prior: Any, start: Array) -> Fit:
        if any(one is bent.observed for one in observed):
            raise NoCameraError
        return adjust(size, observed, prior, start)

    bent = attrs.evolve(bent, observed=attrs.evolve(bent.observed, mark_sigma_mm=0.03))
    monkeypatch.setattr("seamsurvey.photo.fitting.adjust", adjusted)
    monkeypatch.setattr("seamsurvey.photo.fitting._refuse_misread", lambda *_: None)
    fit, used, left_out = adjust_all(picture, [true[0], bent, true[1]])
    assert left_out == "no ruler"
    assert [each.graduation for each in used] == ["cm", "the same again"]
    assert fit.theta == pytest.approx(adjust_all(picture, true)[0].theta)
    with pytest.raises(InputError) as refused:
        adjust_all(picture, [bent])
    assert refused.value.code == "no-camera"
    assert refused.value.what.startswith("The ruler in the photo can't lie flat")


@pytest.mark.parametrize(
    ("cut_from", "size"), [((600, 0), (3400, 3000)), ((700, 500), (2900, 2500)), ((0, 400), (4000, 2600))]
)
def test_a_cut_picture_s_lengths_are_no_surer_than_its_lens_s_axis(
    cut_from: tuple[int, int], size: tuple[int, int]
) -> None:
    """With the axis far from the middle, lengths keep to three of their standard deviations if the cut is known.

    The same picture taken for a whole one is off by more than three: the cut does matter.
    """
    worst = {}
    for cut in (True, False):
        picture = Picture(name="", sha256="", pixels=np.zeros((size[1], size[0], 0), np.uint8), cut=cut)
        fit, _, left_out = adjust_all(picture, [ruler(cut_from)])
        assert not left_out
        ends = photographed(ENDS, cut_from)
        table, moves = camera.to_table(fit.theta, ends, size), camera.sensitivity(fit.theta, ends, size)
        i, j = np.triu_indices(len(ENDS), 1)
        way = table[j] - table[i]
        long, true = np.hypot(*way.T), np.hypot(*(ENDS[j] - ENDS[i]).T)
        slope = np.einsum("ni,nip->np", way / long[:, None], moves[j] - moves[i])
        sigma = np.sqrt(np.einsum("np,pq,nq->n", slope, fit.camera_covariance, slope))
        worst[cut] = float(np.abs((long - true) / sigma).max())
    assert worst[True] < 3 < worst[False]


def card(width: float, height: float, turn: float, at: tuple[float, float]) -> Evidence:
    """What is taken for an ID-1 card, its size in mm: twelve points on each edge."""
    share = np.linspace(0.1, 0.9, 12)
    sides = [(width * share, 0 * share), (0 * share + width, height * share)]
    sides += [(width * share, 0 * share + height), (0 * share, height * share)]
    points = np.concatenate([np.column_stack(side) for side in sides])
    c, s = np.cos(turn), np.sin(turn)
    seen = photographed(points @ np.array([[c, s], [-s, c]]) + at, (0, 0))
    seen += np.random.default_rng(5).normal(0, 0.05, seen.shape)
    observed = Observed(
        kind="card",
        points_px=seen,
        axis=np.repeat([ACROSS, ALONG, ACROSS, ALONG], 12),
        nominal_mm=np.repeat([0.0, 85.60, 53.98, 0.0], 12),
        edge=np.full(48, KNOWN),
        mark=np.repeat(np.arange(4), 12),
        sigma_px=np.full(48, 0.1),
        mark_sigma_mm=0.06,
        scale_sigma=0.0015,
        height_mm=0.0,
        height_sigma_mm=0.38,
        rough=np.asarray(cv2.findHomography(seen, points * [85.60 / width, 53.98 / height])[0]),
    )
    return attrs.evolve(ruler((0, 0)), observed=observed, graduation="ID-1 card")


def test_a_bank_card_is_told_from_a_playing_card_by_its_proportions() -> None:
    """Two bank cards count; two of 57.15 x 88.9 mm do not, not even where a person says so.

    One seen by a lens that nobody knows could be either, until a person says it.
    """
    known = Picture(name="", sha256="", pixels=np.zeros((3000, 4000, 0), np.uint8), focal_px=FOCAL)
    unknown = attrs.evolve(known, focal_px=None)
    banks = [card(85.60, 53.98, 0.3, (-70.0, -20.0)), card(85.60, 53.98, 1.4, (60.0, 10.0))]
    playing = [card(88.9, 57.15, 0.3, (-70.0, -20.0)), card(88.9, 57.15, 1.4, (60.0, 10.0))]
    assert doubted_cards(known, banks, said=False) is None
    assert doubted_cards(known, [ruler((0, 0))], said=False) is None
    for said in (False, True):
        doubt = doubted_cards(known, playing, said=said)
        assert doubt is not None
        assert "1.55" in doubt.what
        assert "--reference card" not in doubt.todo
    doubt = doubted_cards(unknown, banks[:1], said=False)
    assert doubt is not None
    assert "--reference card" in doubt.todo
    assert doubted_cards(unknown, banks[:1], said=True) is None
