"""Printed pages: outlines as line art measured by the middles of their strokes, and told from cut cards."""

from functools import cache

import numpy as np
import pytest
from shapely import LinearRing, Polygon

from seamsurvey.errors import InputError, UndecidedError
from seamsurvey.model import Picture, Plane, TemplateSet
from seamsurvey.seen_model import GROUND, Seen, SeenCard
from seamsurvey.sight.look import looked_at
from seamsurvey.templates.cards import FRAME
from seamsurvey.templates.page_or_cards import page_in
from seamsurvey.templates.printed_page import printed_templates
from tests.looked import look_and_measure
from tests.scene.geometry import edge_lengths, with_margin
from tests.scene.printed import Page, Pen
from tests.templates import drawing as d
from tests.templates.pages import DIAMOND, SIZE, SQUARE, TRIANGLE, Floats, drawn, scanned, usual_page

NEAR_MM = 0.05  # what is promised of a 300 dpi scan


def sides(outline: Floats) -> Floats:
    """The edge lengths, from the shortest: whatever corner comes first."""
    return np.sort(edge_lengths(outline))


def measured(found: TemplateSet) -> list[Floats]:
    """The edge lengths of each template, as ``sides``."""
    return [np.sort([edge.length_mm for edge in template.edges]) for template in found.templates]


@cache
def usual() -> TemplateSet:
    """The usual page, measured; nothing is told but the picture."""
    return look_and_measure([scanned(usual_page())], allowance_mm=None)


def test_seam_lines_dashed_thin_and_notched_are_the_finished_outlines() -> None:
    """Each drawn template comes back once, at its finished size, within the promise and within its U."""
    found = usual()
    wanted = [SQUARE, TRIANGLE, DIAMOND]
    assert len(found.templates) == 3
    for template, shape in zip(found.templates, wanted, strict=True):
        lengths = sorted(template.edges, key=lambda edge: edge.length_mm)
        for edge, length in zip(lengths, sides(shape), strict=True):
            assert abs(edge.length_mm - length) < min(NEAR_MM, edge.u_mm)
        assert Polygon(template.finished_outline).symmetric_difference(Polygon(shape)).area < NEAR_MM * sum(
            sides(shape)
        )


def test_the_cut_line_lies_an_allowance_outside() -> None:
    """The allowance is the distance of the two lines, and the cut outline is the outer one."""
    for template, shape in zip(usual().templates, (SQUARE, TRIANGLE, DIAMOND), strict=True):
        assert (template.allowance_from, template.allowance_mm) == ("seam line", 6.35)
        cut = Polygon(with_margin(shape, 6.35))
        assert Polygon(template.cut_outline).symmetric_difference(cut).area < NEAR_MM * cut.length


def test_a_stroke_has_no_edge_bias() -> None:
    """The budget of a printed edge has nothing for an edge seen too far out: both sides of a stroke move alike."""
    assert all(edge.budget_mm["edge bias"] == 0.0 for t in usual().templates for edge in t.edges)


def test_a_page_is_said_to_be_one() -> None:
    """That lines were measured, and not cards, is said, with the option that says otherwise."""
    assert any("--templates-are cards" in warning for warning in usual().warnings)


@pytest.mark.parametrize(("step", "ink"), [(15.0, 0.6), (5.0, 0.6), (25.4 / 4, 0.45)])
def test_a_grid_is_no_template(step: float, ink: float) -> None:
    """On squared paper the templates are found, and none of the squares, with the same lengths."""
    found = look_and_measure([scanned(usual_page(grid=step, grid_pen=Pen(0.2, None, ink)))], allowance_mm=None)
    for lengths, shape in zip(measured(found), (SQUARE, TRIANGLE, DIAMOND), strict=True):
        assert lengths == pytest.approx(sides(shape), abs=NEAR_MM)


def test_a_border_is_left_out_with_its_reason() -> None:
    """A frame round the templates is no template; what was left out says why."""
    picture, plane = scanned(usual_page(frame=4.0))
    printed = printed_templates(picture, plane)
    assert len(printed.outlined) == 3
    assert [each.why for each in printed.left_out] == [FRAME]


def test_single_outlines_are_finished_size_unless_an_allowance_is_said() -> None:
    """Without seam lines the outline is the finished one, which is said; a given allowance is taken off."""
    page = Page(
        drawn=tuple(drawn(shape, "A", allowance=0.0, inner=None) for shape in (SQUARE, TRIANGLE)), size=(150, 110)
    )
    picture = scanned(page)
    plain = look_and_measure([picture], allowance_mm=None)
    assert [t.allowance_from for t in plain.templates] == ["printed", "printed"]
    assert any("finished size" in warning for warning in plain.warnings)
    assert measured(plain)[0] == pytest.approx(sides(SQUARE), abs=NEAR_MM)
    given = look_and_measure([picture], allowance_mm=5.0)
    assert measured(given)[0] == pytest.approx(sides(SQUARE) - 10.0, abs=NEAR_MM)


def test_shapes_that_share_a_line_are_two_templates() -> None:
    """A square cut in two by its diagonal, drawn with one stroke, is two triangles of full size."""
    a, b, c, e = d.turned([[0, 0], [50, 0], [50, 50], [0, 50]], 5, (75, 55))
    halves = (np.array([a, b, c]), np.array([a, c, e]))
    page = Page(drawn=tuple(drawn(h, "A", allowance=0.0, inner=None) for h in halves), size=(150, 110))
    found = look_and_measure([scanned(page)], allowance_mm=None, every_card=True)
    assert len(found.templates) == 2
    for lengths in measured(found):
        assert lengths == pytest.approx([50, 50, 50 * 2**0.5], abs=NEAR_MM)


def test_a_page_printed_too_small_is_found_out() -> None:
    """At 97 % every length is that of the paper, and the narrow allowance is pointed out with the percentage."""
    found = look_and_measure([scanned(usual_page(scale=0.97))], allowance_mm=None)
    assert measured(found)[0] == pytest.approx(0.97 * sides(SQUARE), abs=NEAR_MM)
    assert any("97.0%" in warning for warning in found.warnings)


def test_cards_with_seam_lines_are_no_page() -> None:
    """Cards on a lid are cards, also with a whole dark line drawn all round inside them."""
    ring = with_margin(SQUARE, -5.0)
    lines = [(ring[k - 1], ring[k]) for k in range(4)]
    picture, plane = d.scan([SQUARE, TRIANGLE], size_mm=(150, 110), lines=lines, card=d.CREAM)
    assert page_in(picture, plane, 0, are="auto", thickness_mm=None) is None


def _with_rings(picture: Picture, plane: Plane, shapes: list[Floats]) -> Picture:
    """The picture with a thin dark line along each outline (n, 2) plane mm."""
    light = picture.pixels.astype(float)
    for shape in shapes:
        band = LinearRing(shape).buffer(0.2)
        outer, inner = (np.array(ring.coords[:-1]) for ring in (band.exterior, band.interiors[0]))
        size = picture.pixels.shape[:2]
        covered = (d.coverage(outer, size, plane).whole - d.coverage(inner, size, plane).whole)[..., None]
        light = light * (1 - covered) + 40 * covered
    return Picture("rings.png", "0" * 64, np.round(light).astype(np.uint8), (d.DPI, d.DPI))


def test_one_straight_outline_among_many_that_are_none_makes_no_page() -> None:
    """What a cloth's threads enclose may have straight sides by chance: no template is made up of it."""
    blank, plane = d.scan([], size_mm=(150, 110))
    square = d.turned([[0, 0], [22, 0], [22, 22], [0, 22]], 10, (20, 20))
    rng, turn = np.random.default_rng(4), np.linspace(0, 2 * np.pi, 120, endpoint=False)
    round_about = np.column_stack([np.cos(turn), np.sin(turn)])

    def blob() -> Floats:
        waves = [rng.normal(0, 0.7) * np.cos(k * turn + rng.uniform(0, 2 * np.pi)) for k in range(2, 12)]
        return np.asarray((9 + np.sum(waves, axis=0))[:, None] * round_about)

    places = [np.array([20.0 + 27 * k, 20.0 + 30 * row]) for row in range(3) for k in range(5)]
    alone = printed_templates(_with_rings(blank, plane, [square]), plane)
    assert (alone.is_page, len(alone.outlined)) == (True, 1)
    among = printed_templates(_with_rings(blank, plane, [square, *(blob() + at for at in places[1:])]), plane)
    assert not among.is_page


def test_a_person_decides() -> None:
    """Where cards are said to be printed, or a page to be cards, it is tried as said, and an error says why not."""
    cards = d.scan([SQUARE, TRIANGLE], size_mm=(150, 110))
    with pytest.raises(InputError) as refused:
        page_in(*cards, 0, are="printed", thickness_mm=None)
    assert refused.value.code == "no-outlines"
    assert page_in(*scanned(usual_page()), 0, are="cards", thickness_mm=None) is None


def test_a_card_on_a_page_is_asked_about() -> None:
    """A dark card on a printed page leaves open which are the templates, and nothing is guessed."""
    picture, plane = scanned(usual_page())
    card = d.turned([[0, 0], [28, 0], [28, 28], [0, 28]], 8, (122, 19))
    covered = d.coverage(card, picture.pixels.shape[:2], plane).whole[..., None]
    pixels = np.round(picture.pixels * (1 - covered) + np.array([40, 90, 160]) * covered).astype(np.uint8)
    both = Picture("both.png", "0" * 64, pixels, (d.DPI, d.DPI))
    with pytest.raises(UndecidedError) as asked:
        page_in(looked_at(both), plane, 0, are="auto", thickness_mm=None)
    assert asked.value.code == "cards-or-page"


@pytest.mark.parametrize(("paler", "is_page"), [((), True), ((TRIANGLE,), True), ((TRIANGLE, DIAMOND), False)])
def test_more_cards_than_outlines_are_no_page(paler: tuple[Floats, ...], *, is_page: bool) -> None:
    """Beside one closed line cards that are seen, though they hardly differ from the ground, count when more."""
    picture, plane = scanned(Page(drawn=(drawn(SQUARE, "A"),), size=SIZE))
    pixels = picture.pixels.astype(float)
    for card in paler:
        pixels *= 1 - 0.01 * d.coverage(card, picture.pixels.shape[:2], plane).whole[..., None]
    cards = tuple(SeenCard(outline_px=plane.to_px(card)[::-1], chance=0.95) for card in paler)
    ground = np.zeros((7, picture.height // 4, picture.width // 4), np.float32)
    ground[GROUND] = 1
    seen = Picture("seen.png", "0" * 64, np.round(pixels).astype(np.uint8), (d.DPI, d.DPI), seen=Seen(
        maps=ground, scale=0.25, cards=cards))  # fmt: skip
    assert (page_in(seen, plane, 0, are="auto", thickness_mm=None) is not None) == is_page


def test_a_grid_of_which_hardly_a_square_is_whole_is_none_the_less_a_grid() -> None:
    """Inch lines across a small page leave few squares between the templates, and none is measured."""
    found = look_and_measure([scanned(usual_page(grid=25.4, grid_pen=Pen(0.2, None, 0.6)))], allowance_mm=None)
    assert len(found.templates) == 3
    for lengths, shape in zip(measured(found), (SQUARE, TRIANGLE, DIAMOND), strict=True):
        assert lengths == pytest.approx(sides(shape), abs=NEAR_MM)
