"""What a person says of a template, in place of what was measured."""

import itertools
from typing import Any

import attrs
import numpy as np
import pytest
from numpy.typing import NDArray
from shapely import Polygon

from seamsurvey.errors import UsageError
from seamsurvey.geometry import edge_lengths, offset_polygon
from seamsurvey.model import Correction, Corrections, SetCorner, SetLength, TemplateSet
from tests.looked import look_and_measure
from tests.templates import drawing as d

Floats = NDArray[np.float64]

SQUARE = d.turned([[0, 0], [30, 0], [30, 30], [0, 30]], 7, (28, 66))
COPY = d.turned([[0, 0], [30, 0], [30, 30], [0, 30]], 40, (28, 24))
KITE = d.turned([[0, 0], [26, -9], [40, 12], [9, 26]], 15, (70, 45))
SCAN = d.scan([SQUARE, COPY, KITE], card=d.DARK)


def measured(**said: Any) -> TemplateSet:
    """The templates of the scan; T1 with its copy T1b, and T2, as they lie."""
    return look_and_measure([SCAN], allowance_mm=0.0, corrections=Corrections(**said))


PLAIN = measured()
NAMES = [template.name for template in PLAIN.templates]
SQUARES = next(t for t in PLAIN.templates if t.copies_seen == 2)
OTHER = next(t for t in PLAIN.templates if t.copies_seen == 1)


def lengths(templates: TemplateSet, name: str) -> Floats:
    """Edge lengths of a template."""
    (found,) = [t for t in templates.templates if t.name == name]
    return np.array([edge.length_mm for edge in found.edges])


def test_copies_have_names_of_their_own() -> None:
    """The better card of two bears the template's name, the other a letter more, and its place in the photo."""
    assert sorted(NAMES) == ["T1", "T2"]
    (copy,) = SQUARES.copies
    assert copy.name == f"{SQUARES.name}b"
    both = [Polygon(SQUARES.corners_px), Polygon(copy.corners_px)]
    middles = sorted((int(p.centroid.x / d.PX_PER_MM), int(p.centroid.y / d.PX_PER_MM)) for p in both)
    assert len(set(middles)) == 2


def test_a_name_is_given_and_the_first_one_remembered() -> None:
    """The template is called otherwise everywhere; corrections still find it by its first name."""
    found = measured(templates={OTHER.name: Correction(name="kite", edges={1: SetLength(30.0)})})
    (kite,) = [t for t in found.templates if t.name == "kite"]
    assert kite.found_as == kite.first_name == OTHER.name
    assert kite.edges[0].length_mm == pytest.approx(30.0, abs=0.001)


def test_splitting_and_merging_are_each_other_s_way_back() -> None:
    """A copy split off is a template under its own name, the others keep theirs; merged it is a copy again."""
    copy = SQUARES.copies[0].name
    apart = measured(split=(copy,))
    assert {t.name for t in apart.templates} == {SQUARES.name, copy, OTHER.name}
    assert not any("one shape" in text for text in apart.warnings)
    again = measured(split=(copy,), merge=((SQUARES.name, copy),))
    assert {t.name: t.copies_seen for t in again.templates} == {SQUARES.name: 2, OTHER.name: 1}
    assert [c.name for c in next(t for t in again.templates if t.copies).copies] == [copy]


def test_what_is_excluded_is_drawn_as_left_out_and_nothing_is_renumbered() -> None:
    """The card moves to the left-out ones with the reason; the rest keep their names."""
    found = measured(templates={SQUARES.name: Correction(exclude=True)})
    assert [t.name for t in found.templates] == [OTHER.name]
    assert sum("job.toml" in left.why for left in found.left_out) == 2


def test_a_placed_corner_moves_its_two_edges_and_no_other() -> None:
    """A corner put 20 px outwards stands just there; its edges are marked, the far ones stay, U grows as said."""
    k = 2
    at = OTHER.corners_px[k] + np.array([14.0, -14.0])
    found = measured(
        templates={OTHER.name: Correction(corners={k + 1: SetCorner(float(at[0]), float(at[1]), u_px=8.0)})}
    )
    (template,) = [t for t in found.templates if t.name == OTHER.name]
    np.testing.assert_allclose(template.corners_px[k], at, atol=1e-6)
    moved = np.delete(np.arange(4), k)
    np.testing.assert_allclose(template.cut_outline[moved], OTHER.cut_outline[moved], atol=1e-9)
    assert [edge.set_by_person for edge in template.edges] == ["", "corner", "corner", ""]
    # U of a length whose one end is known to 8 px (k = 2) along it, the other as before.
    for edge in (1, 2):
        assert template.edges[edge].u_mm == pytest.approx(8.0 / d.PX_PER_MM, rel=0.05)
        assert template.edges[edge].dominant_term == "your corner"
    assert template.edges[0].u_mm == pytest.approx(OTHER.edges[0].u_mm, rel=1e-6)


def test_a_set_length_is_kept_and_the_outline_stays_closed() -> None:
    """Said 0.6 mm longer, the edge is that within its U, its angles hardly turn, and the change is told."""
    wanted = OTHER.edges[1].length_mm + 0.6
    found = measured(templates={OTHER.name: Correction(edges={2: SetLength(wanted, 0.05)})})
    (template,) = [t for t in found.templates if t.name == OTHER.name]
    assert template.edges[1].length_mm == pytest.approx(wanted, abs=0.001)
    assert template.edges[1].u_mm == pytest.approx(0.05, rel=0.01)
    assert template.edges[1].set_by_person == "length"
    np.testing.assert_allclose(edge_lengths(template.finished_outline), lengths(found, OTHER.name), atol=1e-9)
    told = [text for text in found.warnings if "because you say so" in text]
    assert len(told) == 1
    assert "more than the two uncertainties explain" in told[0]


def test_a_set_length_that_agrees_lowers_the_doubt_of_its_neighbours() -> None:
    """A length known better than the photo knows it never makes any edge less certain."""
    exact = SetLength(30.0, 0.002)
    found = measured(templates={SQUARES.name: Correction(edges={1: exact})})
    (template,) = [t for t in found.templates if t.name == SQUARES.name]
    assert template.edges[0].u_mm < 0.01
    for before, after in itertools.islice(zip(SQUARES.edges, template.edges, strict=True), 1, None):
        assert after.u_mm <= before.u_mm + 1e-3


def test_an_allowance_of_one_edge_is_taken_off_that_edge() -> None:
    """6 mm off the first edge only: the finished outline is shapely's difference, the cut one as it was."""
    found = measured(templates={OTHER.name: Correction(allowances_mm={1: 6.0})})
    (template,) = [t for t in found.templates if t.name == OTHER.name]
    expected = offset_polygon(OTHER.cut_outline, [-6.0, 0.0, 0.0, 0.0])
    np.testing.assert_allclose(template.finished_outline, expected, atol=1e-9)
    assert template.edge_allowances_mm == (6.0, 0.0, 0.0, 0.0)
    start, along = OTHER.cut_outline[0], OTHER.cut_outline[1] - OTHER.cut_outline[0]
    strip = Polygon([start, start + along, start + along + 6 * _left(along), start + 6 * _left(along)]).buffer(1e-9)
    wide = Polygon(
        [start - along, start + 2 * along, start + 2 * along + 6 * _left(along), start - along + 6 * _left(along)]
    )
    left = Polygon(OTHER.cut_outline).difference(wide)
    assert Polygon(template.finished_outline).symmetric_difference(left).area < 1e-6
    assert strip.intersects(left)


def _left(along: Floats) -> Floats:
    return np.asarray(np.array([-along[1], along[0]]) / np.hypot(*along))


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ({"templates": {"T9": Correction(name="x")}}, "unknown-template"),
        ({"split": (OTHER.name,)}, "correction-impossible"),
        ({"templates": {OTHER.name: Correction(edges={5: SetLength(30.0)})}}, "no-such-part"),
        ({"templates": {OTHER.name: Correction(corners={5: SetCorner(0, 0)})}}, "no-such-part"),
        ({"templates": {OTHER.name: Correction(edges={1: SetLength(300.0)})}}, "correction-impossible"),
        ({"templates": {OTHER.name: Correction(name=SQUARES.name)}}, "correction-impossible"),
        ({"templates": {n: Correction(exclude=True) for n in NAMES}}, "correction-impossible"),
        ({"templates": {SQUARES.copies[0].name: Correction(name="spare")}}, "correction-impossible"),
    ],
)
def test_what_can_t_be_is_refused(said: dict[str, Any], code: str) -> None:
    """Unknown names and parts, outlines that can't close, names twice: refused with a message, never forced."""
    with pytest.raises(UsageError) as caught:
        measured(**said)
    assert caught.value.code == code
    assert "job.toml" in (caught.value.where or "")


def test_no_correction_changes_nothing() -> None:
    """An empty table measures exactly as none."""
    assert (
        attrs.asdict(measured(templates={OTHER.name: Correction()}).templates[0])["edges"]
        == attrs.asdict(PLAIN.templates[0])["edges"]
    )
