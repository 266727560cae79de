"""Stage 2 from end to end, on small scans with exact truth."""

from typing import Any

import attrs
import numpy as np
import pytest
import shapely
import skimage.data
import skimage.measure
from numpy.typing import NDArray
from shapely import Polygon

from seamsurvey.errors import InputError, UsageError
from seamsurvey.geometry import edge_lengths, offset_polygon
from seamsurvey.model import Closure, Count, Picture, Template, TemplateSet
from seamsurvey.templates.cards import CUT_OFF, NO_ROOM, TOUCHING, may_be_templates
from seamsurvey.templates.hypotheses import Closing
from tests.looked import look_and_measure
from tests.templates import drawing as d

Floats = NDArray[np.float64]

INCH = 25.4  # NBS Circular 572, addendum 1960
S = INCH / 4
SIXTHS = np.arange(6) * np.pi / 3
EIGHTHS = np.arange(8) * np.pi / 4 + 0.1

SQUARE = d.turned([[0, 0], [36, 0], [36, 36], [0, 36]], 7, (28, 45))
TRIANGLE = d.turned([[0, 0], [44, 0], [0, 44]], 31, (83, 46))
CHEVRON = d.turned([[0, 0], [30, 0], [30, 15], [50, 15], [50, 45], [0, 45]], 12, (60, 45))


def measured(*cards: Floats, allowance_mm: float | None = 0.0, **how: object) -> TemplateSet:
    """The templates of a scan of these cards."""
    return look_and_measure([d.scan(cards, **how)], allowance_mm=allowance_mm)  # type: ignore[arg-type]


def matched(outline: Floats, truth: Floats) -> Floats:
    """The truth's corners in the outline's order."""
    near = np.argmin(np.hypot(*(outline[:, None] - truth[None]).transpose(2, 0, 1)), axis=1)
    assert sorted(near) == list(range(len(truth)))
    return np.asarray(truth[near])


def lengths(template: Template) -> Floats:
    """The template's finished lengths, mm."""
    return np.array([edge.length_mm for edge in template.edges])


@pytest.mark.parametrize(
    ("lid", "card", "shadow_mm"),
    [
        (d.WHITE, d.CREAM, 1.2),
        (d.WHITE, d.CHIPBOARD, 1.2),
        (d.GREY, d.BLUE, 0.8),
        (d.BLACK, d.CREAM, 0.0),
    ],
)
def test_edges_on_every_lid(lid: Floats, card: Floats, shadow_mm: float) -> None:
    """Edges come out within 0.03 mm (0.05 beside a shadow), and the stated uncertainty covers them."""
    templates = measured(SQUARE, TRIANGLE, lid=lid, card=card, shadow_mm=shadow_mm).templates
    assert [template.name for template in templates] == ["T1", "T2"]
    for template, truth in zip(templates, (SQUARE, TRIANGLE), strict=True):
        aligned = matched(template.cut_outline, truth)
        # A tip of 45 degrees moves 1 / sin 22.5 = 2.6 times as far as its edges.
        np.testing.assert_allclose(template.cut_outline, aligned, atol=0.04)
        errors = lengths(template) - edge_lengths(aligned)
        # A shadow's beginning is told from the edge to 0.1 px, which a 45 degree triangle's edge takes 4.8 times.
        assert np.all(np.abs(errors) < (0.05 if shadow_mm else 0.03))
        assert np.all(np.abs(errors) <= [edge.u_mm for edge in template.edges])


def test_area_against_outside_measures() -> None:
    """The area agrees with shapely's of the truth and with scikit-image's half-level contour of the picture."""
    scan, plane = d.scan([TRIANGLE], card=d.DARK)
    template = look_and_measure([(scan, plane)], allowance_mm=0.0).templates[0]
    assert Polygon(template.cut_outline).area == pytest.approx(Polygon(TRIANGLE).area, rel=1e-3)
    level = ((scan.pixels[..., 1] / 255 + 0.055) / 1.055) ** 2.4  # sRGB, IEC 61966-2-1, above its straight foot
    contours: Any = skimage.measure
    area_px = Polygon(max(contours.find_contours(level, 0.40), key=len)).area
    assert Polygon(template.cut_outline).area == pytest.approx(area_px / d.PX_PER_MM**2, rel=2e-3)


def test_hollow_corner_is_kept() -> None:
    """A card with a hollow corner is one template, not two that touch."""
    template = measured(CHEVRON, card=d.CHIPBOARD).templates[0]
    np.testing.assert_allclose(template.cut_outline, matched(template.cut_outline, CHEVRON), atol=0.04)


def test_quarter_turn_of_the_picture_changes_nothing() -> None:
    """A scan turned by 90 degrees gives the same lengths: nothing depends on rows and columns."""
    scan, _ = d.scan([TRIANGLE, SQUARE], card=d.BLUE)
    turned = attrs.evolve(scan, pixels=np.ascontiguousarray(np.rot90(scan.pixels)))
    sets = [
        look_and_measure([(each, d.plane_of(each.height))], allowance_mm=0.0).templates for each in (scan, turned)
    ]
    for before in sets[0]:
        after = next(t for t in sets[1] if len(t.edges) == len(before.edges))
        np.testing.assert_allclose(np.sort(lengths(after)), np.sort(lengths(before)), atol=0.01)


def triangle_cut(leg: float) -> Floats:
    """A half-square triangle by its leg, turned."""
    return d.turned(np.array([[0.0, 0], [leg, 0], [0, leg]]), 20, (60, 45))


@pytest.mark.parametrize(
    ("finished_in", "cut"),
    [
        # K. Combs, Formulas for Quilters (2002): half-square triangle, leg + 7/8 in (rounded up from 0.8536).
        (2.0, triangle_cut(2.875 * INCH)),
        # L. Clements, The Quilter's Bible: hexagon flat to flat + 1/2 in; side 1 in is cut at 1.2887 in.
        (
            1.0,
            d.turned(
                1.2887 * INCH * np.column_stack([np.cos(SIXTHS), np.sin(SIXTHS)]),
                5,
                (60, 45),
            ),
        ),
    ],
)
def test_templates_cut_by_the_rules_of_the_trade(finished_in: float, cut: Floats) -> None:
    """A template cut by a published rule comes back as its finished size, to the rule's own rounding."""
    template = measured(cut, allowance_mm=S).templates[0]
    short = lengths(template)[lengths(template) < 1.2 * lengths(template).min()]
    rounding = 0.03 * INCH  # 7/8 in stands for 0.8536
    assert np.all(np.abs(short - finished_in * INCH) < rounding + 0.03)
    assert template.allowance_from == "given"
    np.testing.assert_allclose(offset_polygon(template.finished_outline, S), template.cut_outline, atol=1e-9)


def test_trimmed_tips_are_undone_and_true_short_edges_kept() -> None:
    """With an allowance a trimmed tip is prolonged to its point; a short edge that is left when it is off stays."""
    finished = np.array([[0.0, 0], [50, 0], [0, 50]])
    cut = offset_polygon(finished, S)
    # Trimmed 1.1 allowances beyond the finished tip, square to its middle line.
    tip, way = finished[1], np.array([np.cos(np.radians(-22.5)), np.sin(np.radians(-22.5))])
    across = np.array([-way[1], way[0]])
    far = tip + 1.1 * S * way
    half = Polygon(
        [far + 99 * across, far - 99 * across, far - 99 * across - 99 * way, far + 99 * across - 99 * way]
    )
    trimmed = shapely.get_coordinates(Polygon(cut).intersection(half))[:-1]
    assert len(trimmed) == 4
    template = measured(d.turned(trimmed, 15, (60, 45)), allowance_mm=S).templates[0]
    np.testing.assert_allclose(np.sort(lengths(template)), [50, 50, 50 * np.sqrt(2)], atol=0.05)

    blunt = np.array([[0.0, 0], [60, 0], [36, 36], [24, 36]])
    kept = measured(d.turned(offset_polygon(blunt, S), 15, (60, 45)), allowance_mm=S).templates[0]
    np.testing.assert_allclose(np.sort(lengths(kept)), np.sort(edge_lengths(blunt)), atol=0.05)


def test_copies_mirror_images_and_near_copies() -> None:
    """Copies are kept once, a mirror image points to its twin, and a near copy is kept apart with a warning."""
    kite = np.array([[0.0, 0], [30, 0], [22, 20], [0, 16]])
    flipped = (kite * [-1, 1])[::-1]
    nearly = kite + np.array([[0, 0], [1.5, 0], [0, 0], [0, 0]])
    places = ((28, 70), (75, 70), (28, 25), (75, 25))
    cards = [
        d.turned(card, turn, at)
        for card, turn, at in zip((kite, kite, flipped, nearly), (3, 131, 60, 200), places, strict=True)
    ]
    result = measured(*cards, card=d.CHIPBOARD)
    assert [(t.name, t.copies_seen, t.reversed_twin_of) for t in result.templates] == [
        ("T1", 2, None),
        ("T2", 1, "T1"),
        ("T3", 1, None),
    ]
    assert any("T1 and T3 are nearly the same" in warning for warning in result.warnings)
    assert all(t.count is None for t in result.templates)


def test_counts_reach_their_templates() -> None:
    """A count is filled in by name, and a name that is not there is refused with the names that are."""
    scans = [d.scan([SQUARE, TRIANGLE], card=d.CHIPBOARD)]
    done = look_and_measure(scans, allowance_mm=0.0, counts={"T2": Count(4, 2)})
    assert [(t.count, t.reversed_count) for t in done.templates] == [(None, None), (4, 2)]
    with pytest.raises(UsageError) as caught:
        look_and_measure(scans, allowance_mm=0.0, counts={"T9": Count(1)})
    assert caught.value.code == "unknown-template"
    assert "T1, T2" in caught.value.where


def test_stars_of_twelve_points_and_strips_of_twenty_to_one_are_cards() -> None:
    """24 edges of a star and the four of a strip come out within 0.03 mm."""
    turn = np.radians(5) + np.arange(24) * np.pi / 12
    star = np.where(np.arange(24) % 2, 28, 42)[:, None] * np.column_stack([np.cos(turn), np.sin(turn)]) + (60, 45)
    strip = d.turned([[0, 0], [200, 0], [200, 10], [0, 10]], 3, (115, 70))
    for card, size_mm in ((star, (120.0, 90.0)), (strip, (230.0, 140.0))):
        (template,) = measured(card, card=d.CHIPBOARD, size_mm=size_mm).templates
        np.testing.assert_allclose(np.sort(lengths(template)), np.sort(edge_lengths(card)), atol=0.03)


def test_drawn_seam_line_decides() -> None:
    """A dashed line inside tells the allowance, and agrees or not with one that is given."""
    cut = d.turned([[0, 0], [60, 0], [60, 50], [0, 50]], 4, (60, 45))
    inner = offset_polygon(cut, -S)
    strokes = [stroke for k in range(4) for stroke in d.dashes(inner[k], inner[(k + 1) % 4])]
    found = measured(cut, allowance_mm=None, card=d.CHIPBOARD, lines=strokes)
    assert [(t.allowance_mm, t.allowance_from) for t in found.templates] == [(S, "seam line")]
    assert "--allowance none" in found.warnings[0]
    assert measured(cut, allowance_mm=S, card=d.CHIPBOARD, lines=strokes).warnings == ()
    doubted = measured(cut, allowance_mm=3.0, card=d.CHIPBOARD, lines=strokes).warnings
    assert len(doubted) == 1
    assert "check which" in doubted[0]


def test_a_seam_line_midway_means_the_usual_allowance_unless_the_block_says_otherwise() -> None:
    """6.18 mm is as near to 6 mm as to 1/4 in: that is taken, the other named; a block at 6 mm alone decides."""
    cut = d.turned([[0, 0], [60, 0], [60, 50], [0, 50]], 4, (60, 45))
    inner = offset_polygon(cut, -6.18)
    strokes = [stroke for k in range(4) for stroke in d.dashes(inner[k], inner[(k + 1) % 4])]
    found = measured(cut, allowance_mm=None, card=d.CHIPBOARD, lines=strokes)
    assert [(t.allowance_mm, t.allowance_from) for t in found.templates] == [(S, "seam line")]
    assert "6 mm would lie as near" in found.warnings[0]
    tried = []

    def at_six(templates: TemplateSet, _seconds: float) -> Closing | None:
        tried.append(templates.templates[0].allowance_mm)
        return Closing(Closure(0.0, 0.1, 1.0, conditions=3)) if tried[-1] == 6.0 else None

    scan = d.scan([cut], card=d.CHIPBOARD, lines=strokes)
    found = look_and_measure([scan], allowance_mm=None, closes=at_six)
    assert [(t.allowance_mm, t.allowance_from) for t in found.templates] == [(6.0, "decided")]
    assert set(tried) == {6.0, S}


def test_the_seam_line_is_the_dark_one() -> None:
    """Beside a dark line drawn by hand the card looks light, but never there is the seam line found."""
    for seed in range(12):
        stray = 0.1 * np.random.default_rng(seed).normal(size=(4, 2, 2))
        cut = d.turned([[0, 0], [60, 0], [60, 50], [0, 50]], 7 * seed, (60, 60))
        inner = offset_polygon(cut, -S)
        ends = [(inner[k] + stray[k, 0], inner[(k + 1) % 4] + stray[k, 1]) for k in range(4)]
        scan = d.scan(
            [cut], size_mm=(120, 120), card=d.CHIPBOARD, lines=[dash for pair in ends for dash in d.dashes(*pair)]
        )
        (template,) = look_and_measure([scan], allowance_mm=None).templates
        assert (template.allowance_mm, template.allowance_from) == (S, "seam line"), seed


def test_an_unknown_allowance_stays_open_and_is_said() -> None:
    """Without an allowance, a drawn line or a block the templates are measured as they were cut, with a warning."""
    result = measured(SQUARE, allowance_mm=None, card=d.CHIPBOARD)
    assert (result.templates[0].allowance_mm, result.templates[0].allowance_from) == (0.0, "open")
    assert "--allowance" in result.warnings[0]


def square(side: float, x: float, y: float) -> Floats:
    """A square by its side and its lower left corner."""
    return np.array([[x, y], [x + side, y], [x + side, y + side], [x, y + side]])


def reasons(*cards: Floats, **how: Any) -> list[str]:
    """Why things in a scan of these cards were left out."""
    return [each.why for each in measured(*cards, card=d.CHIPBOARD, **how).left_out]


def test_what_cannot_be_measured_is_left_out_and_named() -> None:
    """A card over the border and cards that touch are named, and cost no other; a huge allowance is refused."""
    assert reasons(SQUARE, d.turned(TRIANGLE, 0, (105, 50))) == [CUT_OFF]
    assert TOUCHING in reasons(square(30, 20, 20), square(30, 49.5, 49.5), square(20, 90, 10))
    with pytest.raises(UsageError) as caught:
        measured(square(30, 40, 30), allowance_mm=20.0, card=d.CHIPBOARD)
    assert caught.value.code == "allowance-too-large"


def test_a_card_without_room_for_the_allowance_that_is_drawn_costs_no_other() -> None:
    """Where nobody said the allowance, it is the small card that is doubted; where a person said it, all stops."""
    large, small = square(40, 15, 30), square(10, 80, 15) * [1, 6] - [0, 75]
    inner = square(40 - 12.7, 15 + 6.35, 30 + 6.35)
    lines = [stroke for a, b in zip(inner, np.roll(inner, -1, 0), strict=True) for stroke in d.dashes(a, b)]
    found = measured(large, small, card=d.CHIPBOARD, lines=lines, allowance_mm=None)
    assert [template.allowance_mm for template in found.templates] == [6.35]
    assert [each.why for each in found.left_out] == [NO_ROOM]
    assert may_be_templates(found) == [0]
    with pytest.raises(UsageError) as caught:
        measured(large, small, card=d.CHIPBOARD, lines=lines, allowance_mm=6.35)
    assert caught.value.code == "allowance-too-large"


def test_abutting_cards_are_named() -> None:
    """Two cards laid edge to edge, a hair's shadow between them, are not measured, and both named."""
    gap = [((50.05, 24.0), (50.05, 44.0))]
    found = measured(square(30, 20, 20), square(20, 50.1, 24), square(20, 90, 10), card=d.CHIPBOARD, lines=gap)
    assert [template.edges[0].length_mm for template in found.templates] == pytest.approx([20.0], abs=0.1)
    named = shapely.union_all([Polygon(found.photos[0].plane.to_mm(each.outline_px)) for each in found.left_out])
    assert named.intersection(shapely.box(20, 20, 70.1, 50)).area > 0.8 * (900 + 400)


@pytest.mark.parametrize("name", ["chelsea", "page", "coins"])
def test_pictures_without_templates(name: str) -> None:
    """A cat, a page of text and a heap of coins (scikit-image's own pictures) give no template."""
    pixels = getattr(skimage.data, name)()
    if pixels.ndim == 2:
        pixels = np.repeat(pixels[..., None], 3, axis=2)
    photo = Picture(f"{name}.png", "0" * 64, pixels, None)
    with pytest.raises(InputError) as caught:
        look_and_measure([(photo, d.plane_of(photo.height, 3.0))], allowance_mm=0.0)
    assert caught.value.code == "no-templates"


def test_a_set_with_an_octagon_is_measured() -> None:
    """An octagon turns by 45 degrees only, and is a card like any other: its edges come back to 0.1 mm."""
    octagon = 24.0 * np.column_stack([np.cos(EIGHTHS), np.sin(EIGHTHS)]) + (60, 45)
    (template,) = measured(octagon, card=d.CHIPBOARD).templates
    true = edge_lengths(octagon)
    np.testing.assert_allclose([edge.length_mm for edge in template.edges], true, atol=0.1)
