"""Cards by a person's word: confirmed or drawn, measured in the picture, and no other one's name changes."""

from collections.abc import Sequence

import attrs
import numpy as np
import pytest
from numpy.typing import NDArray
from shapely import Polygon

from seamsurvey.errors import UsageError
from seamsurvey.geometry import edge_lengths
from seamsurvey.model import Corrections, Picture, Plane, SetCorner, Template, TemplateSet
from seamsurvey.seen_model import Seen, SeenCard
from seamsurvey.templates.by_person import ALL_THE_SAME
from seamsurvey.templates.cards import UNCLEAR, may_be_templates
from seamsurvey.templates.measure import measure_templates
from seamsurvey.templates.said import YOUR_CORNER
from seamsurvey.wishes import DrawnCard
from tests.templates import drawing as d

Floats = NDArray[np.float64]

SQUARE = d.turned([[0, 0], [30, 0], [30, 30], [0, 30]], 7, (28, 62))
KITE = d.turned([[0, 0], [36, 4], [30, 28], [4, 24]], -11, (84, 60))
TRIANGLE = d.turned([[0, 0], [44, 0], [0, 30]], 19, (60, 22))


def seen_as(picture: Picture, plane: Plane, chances: Sequence[tuple[Floats, float]]) -> Picture:
    """The picture as an eye would see it that is this sure of these outlines ((n, 2) plane mm) alone."""
    cards = tuple(SeenCard(outline_px=plane.to_px(outline)[::-1], chance=chance) for outline, chance in chances)
    scale = 0.25
    maps = np.zeros((7, round(picture.height * scale), round(picture.width * scale)), np.float32)
    return attrs.evolve(picture, seen=Seen(maps=maps, scale=scale, cards=cards))


def measured(picture: Picture, plane: Plane, said: Corrections | None = None) -> TemplateSet:
    """Finished size, each card a template; what is written on them is nothing."""
    return measure_templates([(picture, plane)], allowance_mm=0.0, corrections=said, templates_are="cards")


def place(plane: Plane, outline: Floats) -> str:
    """A place on a card, as job.toml has it."""
    x, y = plane.to_px(outline).mean(axis=0)
    return f"scan.png {x:.0f} {y:.0f}"


def drawn(plane: Plane, outline: Floats, off_px: float = 0.0, u_px: float = 2.0) -> DrawnCard:
    """A card drawn with each corner a little off, in turn to all sides."""
    ways = np.array([[1.0, 1], [-1, 1], [-1, -1], [1, -1]])
    px = plane.to_px(outline) + off_px * ways[np.arange(len(outline)) % 4]
    return DrawnCard("scan.png", tuple(SetCorner(float(x), float(y), u_px) for x, y in px))


def assert_true(template: Template, outline: Floats) -> None:
    """Its lengths are the card's, whichever edge is the first, within U."""
    true = edge_lengths(outline)
    found = np.array([edge.length_mm for edge in template.edges])
    u = np.array([edge.u_mm for edge in template.edges])
    assert len(found) == len(true)
    assert any(np.all(np.abs(np.roll(found, k) - true) < np.roll(u, k)) for k in range(len(true))), (found, true, u)


@pytest.fixture(scope="module")
def three() -> tuple[Picture, Plane]:
    """A square, a kite and a triangle on a scanner's lid."""
    return d.scan([SQUARE, KITE, TRIANGLE], shadow_mm=1.0)


def test_a_thing_that_is_confirmed_is_measured_as_any_card(three: tuple[Picture, Plane]) -> None:
    """It has the edges that it has where the eye is sure, and comes behind all others: no name changes."""
    picture, plane = three
    doubted = seen_as(picture, plane, [(SQUARE, 0.2), (KITE, 0.9), (TRIANGLE, 0.9)])
    before = measured(doubted, plane)
    assert [left.why for left in before.left_out] == [UNCLEAR]
    found = measured(doubted, plane, Corrections(confirmed=(place(plane, SQUARE),)))
    assert not found.left_out
    sure = measured(seen_as(picture, plane, [(SQUARE, 0.9), (KITE, 0.9), (TRIANGLE, 0.9)]), plane)
    lengths = {t.name: [edge.length_mm for edge in t.edges] for t in found.templates}
    assert lengths["T3"] == pytest.approx([edge.length_mm for edge in sure.named("T1").edges], abs=1e-6)
    for template in before.templates:
        assert lengths[template.name] == pytest.approx([edge.length_mm for edge in template.edges], abs=1e-6)


def test_what_cannot_be_followed_is_asked_about_again_with_the_true_reason(three: tuple[Picture, Plane]) -> None:
    """Nothing lies where a card is confirmed but lid: it is left out for what is wrong, and says to draw it."""
    picture, plane = three
    nothing = d.turned(SQUARE, 0, (100, 20))
    doubted = seen_as(picture, plane, [(nothing, 0.2), (KITE, 0.9)])
    found = measured(doubted, plane, Corrections(confirmed=(place(plane, nothing),)))
    (left,) = found.left_out
    assert left.why.endswith(ALL_THE_SAME)
    assert UNCLEAR not in left.why
    assert may_be_templates(found) == [0]


def test_a_place_where_nothing_was_seen_is_refused(three: tuple[Picture, Plane]) -> None:
    """A block would be made without what a person says is a template; on a card that was measured it is no news."""
    picture, plane = three
    looked = seen_as(picture, plane, [(KITE, 0.9)])
    with pytest.raises(UsageError) as caught:
        measured(looked, plane, Corrections(confirmed=(place(plane, SQUARE),)))
    assert caught.value.code == "no-such-thing"
    assert len(measured(looked, plane, Corrections(confirmed=(place(plane, KITE),))).templates) == 1


@pytest.mark.parametrize("off_px", [0.0, 2.0, 6.0])
def test_a_card_that_was_not_seen_is_measured_from_its_drawing(three: tuple[Picture, Plane], off_px: float) -> None:
    """Drawn off by what is said of it, its edges are found in the picture: true lengths, known as any card's."""
    picture, plane = three
    looked = seen_as(picture, plane, [(KITE, 0.9), (TRIANGLE, 0.9)])
    found = measured(looked, plane, Corrections(drawn=(drawn(plane, SQUARE, off_px, max(2.0, 1.5 * off_px)),)))
    template = found.named("T3")
    assert_true(template, SQUARE)
    sure = measured(seen_as(picture, plane, [(SQUARE, 0.9)]), plane).templates[0]
    assert max(edge.u_mm for edge in template.edges) < 1.5 * max(edge.u_mm for edge in sure.edges)
    assert not any(edge.set_by_person for edge in template.edges)


def test_a_drawing_takes_the_place_of_what_was_seen_wrongly(three: tuple[Picture, Plane]) -> None:
    """A square seen as a triangle and drawn as it is keeps its name; what was left out there is gone."""
    picture, plane = three
    wrong = [(SQUARE[:3], 0.9), (SQUARE[[0, 2, 3]] - 0.5, 0.3), (KITE, 0.9), (TRIANGLE, 0.9)]
    looked = seen_as(picture, plane, wrong)
    before = measured(looked, plane)
    found = measured(looked, plane, Corrections(drawn=(drawn(plane, SQUARE, 2.0),)))
    assert not found.left_out
    by_shape = {len(t.edges): t for t in found.templates}
    assert_true(by_shape[3], TRIANGLE)
    squares = [
        t for t in found.templates if len(t.edges) == 4 and Polygon(t.cut_outline).intersects(Polygon(SQUARE))
    ]
    assert_true(squares[0], SQUARE)
    kites = [
        t for each in (before, found) for t in each.templates if Polygon(t.cut_outline).intersects(Polygon(KITE))
    ]
    assert len({round(t.edges[0].length_mm, 6) for t in kites}) == 1


def test_an_edge_that_the_picture_does_not_show_lies_where_it_was_drawn(three: tuple[Picture, Plane]) -> None:
    """With one side hidden its corners are the person's, to their ±, and marked so; the far edge is not."""
    picture, plane = three
    x, y = plane.to_px(SQUARE).T
    pixels = picture.pixels.copy()
    pixels[int(y.min()) - 30 : int(y.max()) + 30, int(np.sort(x)[2]) - 40 : int(x.max()) + 60] = (205, 190, 160)
    hidden = seen_as(attrs.evolve(picture, pixels=pixels), plane, [(KITE, 0.9)])
    found = measured(hidden, plane, Corrections(drawn=(drawn(plane, SQUARE),)))
    template = found.named("T2")
    assert_true(template, SQUARE)
    marks = [edge.set_by_person for edge in template.edges]
    assert marks.count("corner") == 3
    worst = max(template.edges, key=lambda edge: edge.u_mm)
    assert worst.dominant_term == YOUR_CORNER
    assert worst.u_mm > 2.0 / d.PX_PER_MM  # a corner alone is known to 2 px


def test_a_card_of_which_nothing_is_seen_is_as_good_as_its_drawing(three: tuple[Picture, Plane]) -> None:
    """On bare lid every edge is the drawn one, each length known to the root of two corners' 2 px or worse."""
    picture, plane = three
    nowhere = np.array([[90.0, 8.0], [112.0, 8.0], [112.0, 30.0], [90.0, 30.0]])
    looked = seen_as(picture, plane, [(KITE, 0.9)])
    template = measured(looked, plane, Corrections(drawn=(drawn(plane, nowhere),))).named("T2")
    for edge in template.edges:
        assert edge.length_mm == pytest.approx(22.0, abs=1e-6)
        assert edge.set_by_person == "corner"
        assert edge.u_mm > 0.99 * 2**0.5 * 2.0 / d.PX_PER_MM


def test_a_line_beside_an_edge_does_not_pass_for_it() -> None:
    """A card that is drawn 1.2 mm larger than the one there, good to 2 px, is as it was drawn."""
    picture, plane = d.scan([SQUARE, KITE])
    larger = np.asarray(Polygon(SQUARE).buffer(1.2, join_style="mitre").exterior.coords)[:-1][::-1]
    looked = seen_as(picture, plane, [(KITE, 0.9)])
    template = measured(looked, plane, Corrections(drawn=(drawn(plane, larger),))).named("T2")
    for edge in template.edges:
        assert edge.length_mm == pytest.approx(32.4, abs=1e-6)
        assert edge.set_by_person == "corner"


def test_what_is_drawn_again_counts_as_it_was_drawn_last(three: tuple[Picture, Plane]) -> None:
    """Two drawings over one card are one card."""
    picture, plane = three
    looked = seen_as(picture, plane, [(KITE, 0.9)])
    said = Corrections(drawn=(drawn(plane, SQUARE[:3]), drawn(plane, SQUARE)))
    found = measured(looked, plane, said)
    assert len(found.templates) == 2
    assert_true(found.named("T2"), SQUARE)


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        ([(100, 100), (300, 300), (300, 100), (100, 300)], "crosses itself"),
        ([(100, 100), (300, 100), (200, 100)], "holds nothing"),
        ([(100, 100), (3000, 100), (100, 300)], "runs off the picture"),
        ([(0, 100), (300, 100), (0, 300)], "picture's border"),
    ],
)
def test_a_drawing_that_is_no_card_is_refused(
    three: tuple[Picture, Plane], corners: list[tuple[int, int]], words: str
) -> None:
    """What crosses itself, holds nothing or is not all in the picture is told with its corners."""
    picture, plane = three
    card = DrawnCard("scan.png", tuple(SetCorner(float(x), float(y)) for x, y in corners))
    with pytest.raises(UsageError, match=words) as caught:
        measured(seen_as(picture, plane, [(KITE, 0.9)]), plane, Corrections(drawn=(card,)))
    assert caught.value.code == "correction-impossible"
    assert f"{corners[1][0]} {corners[1][1]}" in caught.value.where


def test_a_photo_that_is_none_of_the_jobs_is_refused(three: tuple[Picture, Plane]) -> None:
    """A name that was mistyped would let a card be forgotten."""
    picture, plane = three
    for said in (Corrections(confirmed=("skan.png 10 10",)), Corrections(drawn=(DrawnCard("skan.png", ()),))):
        with pytest.raises(UsageError, match=r"skan\.png") as caught:
            measured(seen_as(picture, plane, [(KITE, 0.9)]), plane, said)
        assert caught.value.code == "unknown-photo"
