"""The learned eye on pictures drawn by hand: it is no proof of what it sees, but of frames, bytes and refusals."""

from importlib.resources import files

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey.sight.choose import Sighted, cards
from seamsurvey.sight.evidence import Evidence, maps, session
from seamsurvey.sight.traits import NAMES

CARDS = (
    np.array([[60.0, 50.0], [200.0, 70.0], [180.0, 190.0], [50.0, 170.0]]),
    np.array([[260.0, 60.0], [390.0, 60.0], [260.0, 190.0]]),
)


def drawn(scale: float) -> NDArray[np.uint8]:
    """Two pale cards on a dark blue table, each corner at `scale` times its place; 448 by 256 px at scale 1."""
    height, width = round(256 * scale), round(448 * scale)
    rng = np.random.default_rng(5)
    picture = np.full((height, width, 3), (40, 50, 80), np.float64)
    for card in CARDS:
        outline = (card + 0.5) * scale - 0.5
        cv2.fillPoly(picture, [np.rint(outline * 16).astype(np.int32)], (225, 222, 210), cv2.LINE_AA, 4)
    return np.clip(cv2.GaussianBlur(picture, (3, 3), 0) + rng.normal(0, 2, picture.shape), 0, 255).astype(np.uint8)


@pytest.fixture(scope="module")
def evidence() -> Evidence:
    """What the network makes of the small picture."""
    return maps(drawn(1.0))


def overlaps(found: list[Sighted], scale: float) -> list[float]:
    """Each card's best overlap with one of the outlines, counted in pixels."""
    shape = drawn(scale).shape[:2]
    masks = []
    for outline in [*((card + 0.5) * scale - 0.5 for card in CARDS), *(s.outline for s in found)]:
        mask = np.zeros(shape, np.uint8)
        masks.append(cv2.fillPoly(mask, [np.rint(outline * 16).astype(np.int32)], 1, shift=4).astype(bool))
    wanted, given = masks[: len(CARDS)], masks[len(CARDS) :]
    return [max((float((w & g).sum() / (w | g).sum()) for g in given), default=0.0) for w in wanted]


def test_chances_sum_to_one(evidence: Evidence) -> None:
    """Every pixel has the seven chances of a whole, in float32, at the picture's own size where it is small."""
    assert evidence.maps.shape == (7, 256, 448)
    assert evidence.maps.dtype == np.float32
    assert evidence.scale == 1.0
    np.testing.assert_allclose(evidence.maps.sum(0), 1.0, atol=1e-5)


def test_the_same_picture_gives_the_same_bytes(evidence: Evidence) -> None:
    """A second run gives the very same bytes."""
    assert maps(drawn(1.0)).maps.tobytes() == evidence.maps.tobytes()


@pytest.mark.parametrize("scale", [1.0, 4.0])
def test_outlines_stand_in_the_pictures_own_frame(scale: float) -> None:
    """Two plain cards are found, and no third, whether the picture is shown as it is or made smaller first.

    Outlines and cards agree in more than nine tenths of their area, which is what a card found means.
    """
    found = cards(drawn(scale))
    assert len(found) == len(CARDS)
    assert min(overlaps(found, scale)) > 0.9


def test_the_chooser_was_trained_on_these_very_traits() -> None:
    """The shipped chooser names the traits it was trained on: the same, in the same order, as are computed."""
    chooser = session("chooser.onnx")
    assert chooser.get_modelmeta().custom_metadata_map["traits"].split() == list(NAMES)
    assert chooser.get_inputs()[0].shape[1] == len(NAMES)


def test_other_arrays_are_refused() -> None:
    """A grey picture, and one of floats, are no pictures here."""
    with pytest.raises(TypeError, match="uint8"):
        maps(np.zeros((64, 64), np.uint8))
    with pytest.raises(TypeError, match="uint8"):
        maps(np.zeros((64, 64, 3)))  # type: ignore[arg-type]


def test_what_is_learned_is_small() -> None:
    """All trained files together are at most 10 MB of the wheel."""
    learned = [f for f in files("seamsurvey.sight").iterdir() if f.name.endswith(".onnx")]
    assert len(learned) == 2
    assert sum(len(f.read_bytes()) for f in learned) <= 10_000_000
