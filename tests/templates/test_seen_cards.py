"""Cards found in photos and scans: on grounds of many colours, among things that are no templates."""

from collections.abc import Callable
from typing import Any

import attrs
import cv2
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from seamsurvey import camera
from seamsurvey.geometry import edge_lengths
from seamsurvey.light import encode
from seamsurvey.model import PhotoPlane, Picture, Plane, Reference, TemplateSet
from seamsurvey.seen_model import BORDER, FACE, Seen, SeenCard
from seamsurvey.sight.look import looked_at
from seamsurvey.templates import outlined
from seamsurvey.templates.cards import (
    AT_BORDER,
    BEYOND,
    CUT_OFF,
    HARDLY,
    SIDE_BY_SIDE,
    TOUCHING,
    UNCLEAR,
    may_be_templates,
)
from seamsurvey.templates.corners import EdgeUnclearError
from seamsurvey.templates.line_art import line_art
from seamsurvey.templates.seen_cards import find_cards
from tests.looked import look_and_measure
from tests.sheets.examples import forked_road, templates_for
from tests.templates import drawing as d

Floats = NDArray[np.float64]

SIZE = (1500, 1100)
PX_PER_MM = 6.0
DISTANCE = 480.0
SQUARE = d.turned([[0, 0], [40, 0], [40, 40], [0, 40]], 9, (-70, 20))
TRIANGLE = d.turned([[0, 0], [56, 0], [0, 56]], 31, (0, -20))
DIAMOND = d.turned(np.array([[0, 0], [42, 0], [71.7, 29.7], [29.7, 29.7]]), -12, (60, 20))
TOLERANCE_MM = 0.2  # at 6 px/mm: a pixel and a bit, on grounds as light as the card here and there
CARDS = (SQUARE, TRIANGLE, DIAMOND)


def plane(tilt_deg: float = 0.0) -> PhotoPlane:
    """A camera over the table, as a fit would leave it; cards without thickness."""
    theta = camera.parameters(PX_PER_MM * DISTANCE, DISTANCE, (np.radians(tilt_deg), 0.0))
    return PhotoPlane(
        theta=theta,
        size_px=SIZE,
        covariance=np.diag([1e-10, 1e-4, 1e-4, 1e-10, 1e-10, 1e-9, 1e-9, 1e-8, 1e-6]),
        of_heights=np.zeros((9, 9)),
        axis=np.array([1.0, 0.0]),
    )


def wood(rng: np.random.Generator) -> Floats:
    """(h, w, 3) linear light: streaks along x, planks of their own shade, a dark joint between them."""
    height, width = SIZE[1], SIZE[0]
    streaks = np.repeat(rng.normal(0, 0.12, (height, width // 60 + 1)), 60, axis=1)[:, :width]
    planks = np.repeat(rng.normal(0, 0.1, height // 180 + 1), 180)[:height, None]
    joint = np.where(np.arange(height) % 180 < 3, 0.4, 1.0)[:, None]
    return np.asarray(np.array([0.32, 0.17, 0.09]) * (np.exp(streaks + planks) * joint)[..., None])


def checks(rng: np.random.Generator) -> Floats:
    """(h, w, 3) linear light: white, light blue and blue squares of 8 mm, and the cloth's threads."""
    y, x = np.indices((SIZE[1], SIZE[0]))
    blue = (((x // 48) % 2 + (y // 48) % 2) / 2.0)[..., None]
    light = (1 - blue) * np.array([0.75, 0.74, 0.70]) + blue * np.array([0.20, 0.30, 0.47])
    return np.asarray(light * (1 + rng.normal(0, 0.08, light.shape[:2]))[..., None])


def photo(
    ground: Floats, shapes: list[tuple[Floats, Floats]], view: PhotoPlane, *, shadow: bool = False
) -> Picture:
    """Shapes ((n, 2) plane mm, with (3,) linear light) on a ground, a lamp to the left, maybe a hard shadow."""
    rng = np.random.default_rng(5)
    light = ground.copy()
    for outline, colour in shapes:
        share = d.coverage(outline, light.shape[:2], view).whole[..., None]
        light = light * (1 - share) + colour * share
    x = np.linspace(-1, 1, SIZE[0])
    lamp = np.where(x > 0.55, 0.45, 1.0) if shadow else 1.0 - 0.2 * x
    light = d.blurred(light * lamp[None, :, None], 0.8) + rng.normal(0, 0.004, light.shape)
    return attrs.evolve(d.picture(light), name="photo.jpg", dpi=None)


def looked_photo(*what: Any, **how: Any) -> Picture:
    """The same, looked at."""
    return looked_at(photo(*what, **how))


def measured(picture: Picture, view: PhotoPlane) -> TemplateSet:
    """The templates of a photo of cards without allowance and without thickness."""
    return look_and_measure([(picture, view)], allowance_mm=0.0, thickness_mm=0.0)


def assert_all_found(found: TemplateSet) -> None:
    """Three templates, each with a card's edges to 0.2 mm and within twice U."""
    assert len(found.templates) == len(CARDS)
    for card in CARDS:
        lengths = np.sort(edge_lengths(card))
        alike = [
            np.array(sorted((edge.length_mm, edge.u_mm) for edge in template.edges))
            for template in found.templates
            if len(template.edges) == len(lengths)
        ]
        assert any(
            np.all(np.abs(seen[:, 0] - lengths) < np.minimum(TOLERANCE_MM, 2 * seen[:, 1])) for seen in alike
        ), (lengths, alike)


@pytest.mark.parametrize("ground", [wood, checks])
@pytest.mark.parametrize("colour", [d.CREAM, d.CHIPBOARD, d.DARK])
def test_cards_are_found_on_patterned_grounds(
    ground: Callable[[np.random.Generator], Floats], colour: tuple[float, float, float]
) -> None:
    """Every card is found on wood and checked cloth, lighter and darker than these, to 0.2 mm a length."""
    view = plane()
    picture = photo(ground(np.random.default_rng(3)), [(card, np.array(colour)) for card in CARDS], view)
    assert_all_found(measured(picture, view))


def test_a_hard_shadow_across_the_picture_is_no_edge() -> None:
    """Cards in and beside a hard shadow, and across its border's ground, are found whole."""
    view = plane(4.0)
    picture = photo(
        wood(np.random.default_rng(4)), [(card, np.array(d.CREAM)) for card in CARDS], view, shadow=True
    )
    assert_all_found(measured(picture, view))


def test_what_is_no_template_is_left_out_with_the_reason() -> None:
    """A coin and a pencil are no templates; what reaches in from the border like a card is asked about."""
    view = plane()
    turns = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    coin = np.column_stack([11 * np.cos(turns) - 60, 11 * np.sin(turns) - 50])
    pencil = d.turned([[0, 0], [70, 0], [70, 6], [0, 6]], 20, (70, -60))
    hand = np.array([[90.0, -91.0], [118.0, -91.0], [112.0, -60.0], [96.0, -55.0]])
    others = [(coin, (0.5, 0.42, 0.25)), (pencil, (0.6, 0.4, 0.02)), (hand, (0.55, 0.3, 0.2))]
    shapes = [(card, np.array(d.CREAM)) for card in CARDS] + [(o, np.array(c)) for o, c in others]
    found = measured(photo(checks(np.random.default_rng(6)), shapes, view), view)
    assert_all_found(found)
    reasons = {each.why for each in found.left_out}
    assert "it is round: without a corner no edge has a beginning" in reasons
    assert CUT_OFF in reasons


def test_cards_as_dark_as_a_hard_shadow_on_their_ground() -> None:
    """Cards that have just the colour white paper has in a hard shadow are cards: the shadow crosses the border."""
    paper = np.full((SIZE[1], SIZE[0], 3), (0.74, 0.73, 0.70))
    paper *= 1 + np.random.default_rng(3).normal(0, 0.01, paper.shape[:2])[..., None]
    view = plane()
    shapes = [(card, 0.45 * np.array([0.74, 0.73, 0.70])) for card in (SQUARE, TRIANGLE)]
    found = measured(photo(paper, shapes, view, shadow=True), view)
    lengths = [np.sort([edge.length_mm for edge in template.edges]) for template in found.templates]
    assert len(lengths) == 2
    for card in (SQUARE, TRIANGLE):
        true = np.sort(edge_lengths(card))
        assert any(len(seen) == len(true) and np.all(np.abs(seen - true) < TOLERANCE_MM) for seen in lengths)


def grid_found(outline: Floats, step_mm: float) -> Reference:
    """A grid of which (4, 2) px is the part that was found."""
    return Reference(
        kind="mat", graduation="", unit="cm", step_mm=step_mm, marks_px=outline, marks_mm=np.zeros(4),
        mark_ends_px=outline, residuals_px=np.zeros(4), outline_px=outline,
    )  # fmt: skip


def mat(rng: np.random.Generator) -> Floats:
    """(h, w, 3) linear light: a blue mat with pale grey lines every 10 mm, in the middle of a brown table."""
    light = np.full((SIZE[1], SIZE[0], 3), (0.30, 0.18, 0.09))
    high, wide = SIZE[1], SIZE[0]
    light[40 : high - 40, 60 : wide - 60] = (0.05, 0.11, 0.18)
    for x in range(120, wide - 110, 60):
        light[100 : high - 100, x : x + 3] = d.CHIPBOARD
    for y in range(100, high - 90, 60):
        light[y : y + 3, 120 : wide - 120] = d.CHIPBOARD
    return np.asarray(light * (1 + rng.normal(0, 0.03, light.shape[:2]))[..., None])


def test_cards_of_the_lines_colour_on_a_mat() -> None:
    """Cards as grey as the mat's lines are found, those on its margin whole: its found grid is not all of it."""
    grid = np.array([[120.0, 1000.0], [1380.0, 1000.0], [1380.0, 220.0], [120.0, 220.0]])
    view = attrs.evolve(plane(), references=(grid_found(grid, 10.0),))
    high = d.turned([[0, 0], [40, 0], [40, 36], [0, 36]], 0, (-20, 42))  # half on the grid, half beyond it
    cards = [DIAMOND, TRIANGLE, high]
    shapes = [(card, np.array(d.CHIPBOARD)) for card in cards]
    found = find_cards(looked_photo(mat(np.random.default_rng(7)), shapes, view), view)
    seen = [shapely.Polygon(view.to_mm(card.contour)) for card in found.cards]
    assert len(seen) == len(cards)
    for card in map(shapely.Polygon, cards):
        off_mm = min(one.symmetric_difference(card).area / card.length for one in seen)
        assert off_mm < 1.0  # where ``contour`` starts its search


def test_a_card_that_cannot_be_followed_to_the_end_costs_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a photo it is left out with the reason, when only the wobble of all cards together made it unclear."""
    view = plane()
    picture = photo(wood(np.random.default_rng(3)), [(card, np.array(d.CREAM)) for card in CARDS], view)
    usual, calls = outlined.settled, []

    def unclear_once(card: outlined.Outlined, *rest: Any) -> outlined.Outlined:
        calls.append(card)
        if len(calls) == 1:
            raise EdgeUnclearError
        return usual(card, *rest)

    monkeypatch.setattr(outlined, "settled", unclear_once)
    found = measured(picture, view)
    assert len(found.templates) == len(CARDS) - 1
    (left,) = [each for each in found.left_out if "can't be told" in each.why]
    shape, card = (shapely.Polygon(px) for px in (left.outline_px, calls[0].corners))
    assert shape.area == pytest.approx(shapely.Polygon(view.to_px(np.array(card.exterior.coords))).area, rel=0.02)


@pytest.mark.parametrize("gap_mm", [0.5, 1.0])
def test_cards_that_lie_too_near_are_left_out_and_cost_no_other(gap_mm: float) -> None:
    """Two cards 0.5 or 1 mm apart are left out whole, each or both in one, with why; the third is measured."""
    view = plane()
    beside = SQUARE + (40.0 + gap_mm) * np.array([np.cos(np.radians(9)), np.sin(np.radians(9))])
    shapes = [(card, np.array(d.CREAM)) for card in (SQUARE, beside, DIAMOND)]
    found = measured(photo(wood(np.random.default_rng(3)), shapes, view), view)
    (template,) = found.templates
    np.testing.assert_allclose(
        np.sort([edge.length_mm for edge in template.edges]), np.sort(edge_lengths(DIAMOND)), atol=TOLERANCE_MM
    )
    named = [each for each in found.left_out if each.why in (TOUCHING, SIDE_BY_SIDE)]
    both = shapely.union_all([shapely.Polygon(view.to_mm(each.outline_px)).buffer(0) for each in named])
    for card in (SQUARE, beside):
        assert both.intersection(shapely.Polygon(card)).area > 0.9 * shapely.Polygon(card).area
    assert all(any(each.why in warning for warning in found.warnings) for each in named)


def test_black_cards_on_a_black_table_half_in_a_shadow() -> None:
    """Cards half as light as a dark table are found in a hard shadow on it, and beside that."""
    dark = np.full((SIZE[1], SIZE[0], 3), (0.024, 0.024, 0.026))
    dark *= 1 + np.random.default_rng(3).normal(0, 0.05, dark.shape[:2])[..., None]
    view = plane()
    in_shade = d.turned([[0, 0], [30, 0], [30, 45], [0, 45]], 3, (85, -20))
    cards = (SQUARE, in_shade)
    found = find_cards(
        looked_photo(dark, [(card, np.array([0.011, 0.011, 0.012])) for card in cards], view, shadow=True), view
    )
    seen = [shapely.Polygon(view.to_mm(card.contour)) for card in found.cards]
    assert len(seen) == 2
    for card in map(shapely.Polygon, cards):
        assert min(one.symmetric_difference(card).area / card.length for one in seen) < 1.0


def test_squared_paper_goes_on_in_a_shadow() -> None:
    """A shadow hides the squares, but paper is paper still: cards in it and across its border are whole."""
    paper = np.full((SIZE[1], SIZE[0], 3), (0.74, 0.73, 0.70))
    for x in range(30, SIZE[0], 30):
        paper[:, x : x + 2] = (0.45, 0.55, 0.66)
    for y in range(30, SIZE[1], 30):
        paper[y : y + 2] = (0.45, 0.55, 0.66)
    lit = np.array([[30.0, 1070.0], [1100.0, 1070.0], [1100.0, 30.0], [30.0, 30.0]])
    view = attrs.evolve(plane(), references=(grid_found(lit, 5.0),))
    across = d.turned([[0, 0], [50, 0], [50, 30], [0, 30]], 14, (66, 30))
    inside = d.turned([[0, 0], [30, 0], [30, 36], [0, 36]], -8, (95, -40))
    cards = (SQUARE, across, inside)
    shapes = [(card, 0.45 * np.array([0.74, 0.73, 0.70])) for card in cards]
    found = find_cards(looked_photo(paper, shapes, view, shadow=True), view)
    seen = [shapely.Polygon(view.to_mm(card.contour)) for card in found.cards]
    assert len(seen) == len(cards)
    for card in map(shapely.Polygon, cards):
        assert min(one.symmetric_difference(card).area / card.length for one in seen) < 1.0


def stained(card: bool) -> Picture:
    """A scanner's lid, lit unevenly, with a soft stain at its border, and a pale card on it or none."""
    y, x = np.mgrid[0:1400, 0:1000] / 1000.0
    light = 0.80 + 0.04 * x - 0.05 * y**2 - 0.12 * np.exp(-((x - 1.0) ** 2 + (y - 0.9) ** 2) / (2 * 0.1**2))
    pixels = np.repeat(light[..., None], 3, axis=2)
    if card:
        cv2.fillPoly(pixels, [np.array([[200, 150], [700, 250], [450, 600]])], (0.70, 0.68, 0.6))
    return Picture("stained.png", "0" * 64, np.rint(255 * encode(pixels)).astype(np.uint8))


@pytest.mark.parametrize("card", [False, True])
def test_a_stain_of_the_lid_is_no_card(card: bool) -> None:
    """A soft stain that runs off the picture is passed over, and nothing is said of it."""
    found = find_cards(looked_at(stained(card)), d.plane_of(1400, 10.0))
    assert (len(found.cards), found.left_out) == (int(card), ())


TWO_COLOURED = np.array([[20.0, 20.0], [80.0, 24.0], [70.0, 62.0], [24.0, 58.0]])


def of_two_colours(lid: tuple[float, float, float], shadow_mm: float) -> tuple[Picture, Plane]:
    """A card cut from a box, the left part of it cream, the right part blue."""
    (one, view), (other, _) = (
        d.scan([TWO_COLOURED], card=colour, lid=lid, shadow_mm=shadow_mm) for colour in (d.BLUE, d.CREAM)
    )
    pixels = one.pixels.copy()
    middle = int(0.45 * one.width)
    pixels[:, :middle] = other.pixels[:, :middle]
    return attrs.evolve(one, pixels=pixels), view


@pytest.mark.parametrize(("lid", "shadow_mm"), [(d.WHITE, 1.5), (d.BLACK, 0.0), (d.GREY, 1.5)])
def test_what_may_be_two_cards_edge_to_edge_is_asked_about(
    lid: tuple[float, float, float], shadow_mm: float
) -> None:
    """Of two colours that meet in a straight line half of it is never measured, and all of it is named."""
    picture, view = of_two_colours(lid, shadow_mm)
    found = find_cards(looked_at(picture), view)
    assert not found.cards
    assert TOUCHING in {each.why for each in found.left_out}
    named = shapely.union_all([shapely.Polygon(view.to_mm(each.outline_px)).buffer(0) for each in found.left_out])
    assert named.intersection(shapely.Polygon(TWO_COLOURED)).area > 0.9 * shapely.Polygon(TWO_COLOURED).area


def test_a_picture_nobody_has_looked_at_is_refused() -> None:
    """The room does not look itself: without what the eye saw there is nothing to go by."""
    with pytest.raises(ValueError, match="looked at first"):
        find_cards(stained(card=True), d.plane_of(1400, 10.0))


def test_what_seems_to_hang_above_the_horizon_is_left_out_with_the_reason() -> None:
    """A camera that leans by 85 degrees sees no table in the picture's upper part: a "card" there is none on it."""
    view = plane(-85.0)
    outline = np.array([[500.0, 20.0], [900.0, 20.0], [900.0, 140.0], [500.0, 140.0]])
    assert np.isnan(view.to_mm(outline)).all()
    card = SeenCard(outline_px=outline, chance=1.0)
    seen = Seen(maps=np.zeros((7, 110, 150), np.float32), scale=0.1, cards=(card,))
    seen.maps[FACE, 2:14, 50:90] = 1.0
    picture = attrs.evolve(photo(wood(np.random.default_rng(3)), [], view), seen=seen)
    found = find_cards(picture, view)
    assert (len(found.cards), [each.why for each in found.left_out]) == (0, [BEYOND])
    assert not line_art(picture, view).ink[: 140 // line_art(picture, view).factor].any()


CARD_CUT = np.array([[40, 0], [80, 0], [95, 30], [60, 45]])
HAND = np.array([[40, 0], [90, 0], [80, 30], [64, 40], [62, 55], [54, 55], [52, 40]])  # one finger reaching in


@pytest.mark.parametrize(("shape", "why"), [(CARD_CUT, CUT_OFF), (HAND, AT_BORDER)])
def test_a_card_that_runs_off_a_photo_is_asked_about_and_a_hand_is_not(shape: Floats, why: str) -> None:
    """What looks like card at the border, and has no outline, may be one unless it has a hollow corner.

    What has neither a border nor a colour of its own is nothing, whatever the eye takes it for.
    """
    view = plane()
    seen = Seen(maps=np.zeros((7, 110, 150), np.float32), scale=0.1)
    cv2.fillPoly(seen.maps[FACE], [shape.astype(np.int32)], (1.0,))
    bare = photo(np.full((SIZE[1], SIZE[0], 3), 0.3), [], view)
    pixels = bare.pixels.copy()
    cv2.fillPoly(pixels, [(10 * shape).astype(np.int32)], (222, 214, 190))
    (left,) = find_cards(attrs.evolve(bare, pixels=pixels, seen=seen), view).left_out
    assert left.why == why
    assert not find_cards(attrs.evolve(bare, seen=seen), view).left_out  # where nothing is to be seen, nothing is
    found = attrs.evolve(templates_for(forked_road()[0]), left_out=(left,))
    assert bool(may_be_templates(found)) == (why == CUT_OFF)


@pytest.mark.parametrize(
    ("likely", "bordered", "found"),
    [
        (True, True, {TOUCHING, UNCLEAR}),
        (True, False, {TOUCHING, UNCLEAR}),
        (False, False, {TOUCHING, HARDLY}),
        (False, True, {HARDLY}),
    ],
)
def test_a_blot_that_is_hardly_a_card_is_named_and_spoils_no_card_whose_border_is_seen(
    likely: bool, bordered: bool, found: set[str]
) -> None:
    """Beside a card lies what looks like one: the card is taken where it surely ends, if that is no likely card."""
    view = plane()
    card, blot = np.array([[40, 30], [80, 30], [80, 70], [40, 70]]), np.array([[81, 40], [98, 38], [97, 60]])
    seen = Seen(
        maps=np.zeros((7, 110, 150), np.float32),
        scale=0.1,
        cards=(SeenCard(outline_px=10.0 * card, chance=0.9),),
        outlined=np.zeros((110, 150), bool),
    )
    for shape in (card, blot):
        cv2.fillPoly(seen.maps[FACE], [shape.astype(np.int32)], (1.0,))
    if bordered:
        cv2.polylines(seen.maps[BORDER], [card.astype(np.int32)], True, (1.0,), 2)
    assert seen.outlined is not None
    seen.outlined[30:70, 82:100] = likely
    bare = photo(np.full((SIZE[1], SIZE[0], 3), 0.3), [], view)
    pixels = bare.pixels.copy()
    for shape, colour in ((card, (222, 214, 190)), (blot, (160, 40, 60))):
        cv2.fillPoly(pixels, [(10 * shape).astype(np.int32)], colour)
    seen_there = find_cards(attrs.evolve(bare, pixels=pixels, seen=seen), view)
    assert {each.why for each in seen_there.left_out} == found
    assert len(seen_there.cards) == (TOUCHING not in found)
