"""Cards that were seen and not measured are asked about until a person says that they are none."""

import shlex
from pathlib import Path

import attrs
import numpy as np
import pytest
from shapely import Polygon

from seamsurvey.errors import UndecidedError, UsageError, plain
from seamsurvey.job.corrections import parse_drawn
from seamsurvey.job.layout_wishes import parse_ignored, read_ignore
from seamsurvey.job.unclear import nothing_numbered, places_of, refuse_ignored_card, refuse_unclear
from seamsurvey.model import LeftOut, TemplateSet
from tests.sheets.examples import forked_road, templates_for

HERE = Path("job")
RING = np.array([[100, 100], [300, 100], [300, 120], [120, 120], [120, 300], [100, 300.0]])  # hollow: an L
SQUARE = np.array([[400, 400], [500, 400], [500, 500], [400, 500.0]])


def seen() -> TemplateSet:
    """A set with three things left out: the first two may be templates."""
    left_out = tuple(
        LeftOut(photo=0, outline_px=outline, why=why)
        for outline, why in (
            (RING, "its edges are unclear"),
            (SQUARE, "it touches another"),
            (SQUARE + 300, "a coin"),
        )
    )
    return attrs.evolve(templates_for(forked_road()[0]), left_out=left_out)


def test_each_is_asked_about_with_its_number_its_place_and_what_to_do() -> None:
    """The error names both by the overlay's numbers, with place and reason, and every answer as typed."""
    with pytest.raises(UndecidedError) as caught:
        refuse_unclear(seen(), [0, 1], (), HERE)
    error = caught.value
    assert error.code == "card-unclear"
    assert "×1 in bench-scan.png" in error.where
    assert "×2 in bench-scan.png, round 450, 450" in error.where
    assert str(HERE / "overlay-bench-scan.png.png") in error.where
    assert error.likely == "×1: its edges are unclear; ×2: it touches another."
    said = plain(error.todo)
    assert "--confirm 1 --confirm 2" in said
    assert "--ignore 1 --ignore 2" in said
    assert "take the picture again" in said


def test_a_reason_that_several_have_is_said_once() -> None:
    """With the numbers of all that it is of, in their order."""
    few = seen()
    third = attrs.evolve(few.left_out[2], why=few.left_out[0].why)
    with pytest.raises(UndecidedError) as caught:
        refuse_unclear(attrs.evolve(few, left_out=(*few.left_out[:2], third)), [0, 1, 2], (), HERE)
    assert caught.value.likely == "×1, ×3: its edges are unclear; ×2: it touches another."


def test_the_drawing_that_is_offered_can_be_typed_as_it_stands() -> None:
    """What the error says behind --drawn is read as a card whose corners are those of the thing."""
    with pytest.raises(UndecidedError) as caught:
        refuse_unclear(seen(), [1], (), HERE)
    words = shlex.split(plain(caught.value.todo).partition("--drawn ")[2])
    card = parse_drawn(words[0].removesuffix("."))
    assert card.photo == "bench-scan.png"
    corners = Polygon([(corner.x, corner.y) for corner in card.corners])
    assert corners.equals(Polygon(SQUARE))


@pytest.mark.parametrize("by_place", [False, True])
def test_what_is_ignored_is_asked_about_no_more(by_place: bool) -> None:
    """By number or by place, each is let pass by itself; the place lies inside even a hollow outline."""
    numbers = ("1", "2")
    said = places_of(seen(), numbers) if by_place else numbers
    refuse_unclear(seen(), [0, 1], said, HERE)
    for k in (0, 1):
        with pytest.raises(UndecidedError, match="Something lies"):
            refuse_unclear(seen(), [0, 1], said[k : k + 1], HERE)


def test_a_place_means_the_thing_and_not_its_number() -> None:
    """With another thing before it, and in a photo of another name, the place counts where the thing lies."""
    said = places_of(seen(), ("2", "2"))
    assert said == ("bench-scan.png 450 450",)
    before = attrs.evolve(seen(), left_out=seen().left_out[::-1])
    refuse_unclear(before, [1], said, HERE)
    elsewhere = attrs.evolve(seen(), photos=(attrs.evolve(seen().photos[0], name="other.png"),))
    with pytest.raises(UndecidedError):
        refuse_unclear(elsewhere, [1], said, HERE)


def test_a_number_that_nothing_has_is_refused() -> None:
    """Number 4 of three is no thing."""
    with pytest.raises(UsageError, match="has the number 4"):
        refuse_unclear(seen(), [0], ("4",), HERE)


def test_a_place_of_a_measured_card_is_refused_with_its_name() -> None:
    """What is said to be no template but was measured is never left in by a silent mistake."""
    templates = seen()
    lead = templates.templates[-1]
    x, y = lead.corners_px.mean(axis=0)
    with pytest.raises(UsageError, match=lead.name) as caught:
        refuse_ignored_card(templates, [f"bench-scan.png {x:.0f} {y:.0f}"], HERE)
    assert caught.value.code == "ignored-card"
    assert f"{lead.name}.exclude=true" in plain(caught.value.todo)
    refuse_ignored_card(templates, [f"other.png {x:.0f} {y:.0f}", "bench-scan.png 450 450", "2"], HERE)


def test_a_number_before_anything_was_measured_is_refused() -> None:
    """Nothing has a number then, and the error says where numbers come from."""
    assert nothing_numbered().code == "no-such-thing"


def test_numbers_and_places_are_read_and_nothing_else() -> None:
    """job.toml takes both in one list; a word alone, nought and a fraction are refused."""
    assert read_ignore([3, "×4", "my scan.jpg 310 420"]) == ("3", "4", "my scan.jpg 310 420")
    for wrong in (0, 1.5, "scan.jpg", "scan.jpg 3", "", None, True):
        with pytest.raises(ValueError, match="expected"):
            read_ignore([wrong])
    with pytest.raises(ValueError, match="expected"):
        parse_ignored("-1")
