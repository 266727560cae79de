"""An ID-1 card in a photo, beside a template of its size."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from scipy.spatial import cKDTree

from seamsurvey.photo.id_card import find_id_cards
from tests.photo.flat_things import (
    CARD_MM,
    CASES,
    OTHERS,
    SAMPLES,
    THICKNESS_MM,
    Photo,
    other_picture,
    rectangle,
    taken,
)


@pytest.fixture(params=CASES)
def photo(request: pytest.FixtureRequest) -> Photo:
    """Each picture."""
    return taken(request.param)


def test_the_card_is_found_and_a_template_of_its_size_is_not(photo: Photo) -> None:
    """One card, its edges to a tenth of a pixel; the rectangle with sharper corners is left alone."""
    (card,) = find_id_cards(photo.pixels)
    truth = photo.seen(rectangle(*CARD_MM), photo.card, THICKNESS_MM)
    apart, _ = cKDTree(truth).query(card.observed.points_px)
    assert np.sqrt(np.mean(apart**2)) < 0.1
    assert np.abs(apart).max() < 0.4
    assert np.abs(np.sort(card.outline_px, axis=0) - np.sort(truth[::4000], axis=0)).max() < 1.5


def test_the_cards_edges_stand_where_the_standard_says(photo: Photo) -> None:
    """Two lines across at 0 and 53.98, two along at 0 and 85.60, in a frame of its own that is not mirrored."""
    (card,) = find_id_cards(photo.pixels)
    observed = card.observed
    assert observed.edges == 0
    assert {(int(a), float(v)) for a, v in zip(observed.axis, observed.nominal_mm, strict=True)} == {
        (0, 0.0), (0, CARD_MM[0]), (1, 0.0), (1, CARD_MM[1])
    }  # fmt: skip
    own = np.column_stack([observed.points_px, np.ones(len(observed.axis))]) @ observed.rough.T
    own = own[:, :2] / own[:, 2:]
    assert np.abs(own[np.arange(len(own)), observed.axis] - observed.nominal_mm).max() < 0.5
    middle = card.outline_px.mean(axis=0)
    step = np.array([middle, middle + np.array([1.0, 0.0]), middle + np.array([0.0, 1.0])])
    to = np.column_stack([step, np.ones(3)]) @ observed.rough.T
    to = to[:, :2] / to[:, 2:]
    assert np.linalg.det(to[1:] - to[0]) < 0  # y runs down in the picture and up on the card


@pytest.mark.parametrize("path", SAMPLES, ids=[path.parent.name for path in SAMPLES])
def test_no_template_or_ruler_is_taken_for_a_card(path: Path) -> None:
    """Scans of templates beside rulers hold none."""
    assert find_id_cards(np.asarray(Image.open(path).convert("RGB"))) == []


@pytest.mark.parametrize("name", OTHERS)
def test_no_other_picture_shows_a_card(name: str) -> None:
    """Pictures that ship with scikit-image hold none."""
    assert find_id_cards(other_picture(name)) == []
