"""A set of written cards from scan to templates: what they say is used, told, and gives way to a person's word."""

from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from seamsurvey.job.said import in_names_now, with_counts
from seamsurvey.model import Correction, Corrections, Count, Picture, Plane, TemplateSet, Wishes
from seamsurvey.templates.all_cards import Cards
from seamsurvey.templates.card_notes import with_card_notes
from seamsurvey.templates.measure import measure_cards
from seamsurvey.templates.said_by_cards import CardsSay, read_cards
from seamsurvey.units import INCH
from tests.looked import look_and_measure, look_and_outline
from tests.scene.cards import Cutting
from tests.scene.families import family
from tests.scene.scan import Scanner, scan
from tests.scene.scene import Layout, lay_out
from tests.templates.written_cards import plane_of

ROOM = (215.0, 270.0)
LINES = {
    "A": ("A", "cut 4", "1/4 in seam included"),
    "B": ("B", "cut 2 + 2R"),
    "C": ("C", "cut 7"),
}


@cache
def pictured() -> tuple[Picture, Plane]:
    """Three cards with an allowance on a scanner's glass, two of A; no seam line, only the writing tells."""
    layout = Layout((), hand="delius", lines=LINES, copies={"A": 2})
    cut = Cutting(allowance=INCH / 4)
    scene = lay_out(family("pantry-tiles"), cut, layout, ROOM, name="written", seed=4)
    scanner = Scanner(dpi=200)
    pixels = scan(replace(scene, cutting=Cutting()), scanner)
    return Picture("scan.jpg", "0" * 64, pixels, (200, 200)), plane_of(scanner.to_image(ROOM))


@cache
def outlined() -> Cards:
    """Its cards."""
    return look_and_outline([pictured()])


@cache
def spoken() -> CardsSay:
    """What is read on them."""
    return read_cards(outlined().pictures, outlined().outlined)


def measured(allowance_mm: float | None = None, *, cards_say: CardsSay | None = None, **said: Any) -> TemplateSet:
    """The templates of the scan, nothing said but what is given."""
    return measure_cards(outlined(), allowance_mm=allowance_mm, cards_say=cards_say or spoken(), **said)


def quoted(writing: str, notes: Iterable[str]) -> list[str]:
    """The notes that quote this, but for blanks and capitals: how wide a gap is, and how high a c, is a hand's."""

    def plain(text: str) -> str:
        return text.casefold().replace(" ", "")

    return [note for note in notes if plain(f"“{writing}”") in plain(note)]


def test_what_is_clear_is_used() -> None:
    """Names, counts and the allowance are the cards'; what was read stands beside them with its probability."""
    found = look_and_measure([pictured()], allowance_mm=None, writing=True)
    assert sorted(template.name for template in found.templates) == ["A", "B", "C"]
    a, b = found.named("A"), found.named("B")
    assert (a.count, a.reversed_count, a.copies_seen) == (4, 0, 2)
    assert (b.count, b.reversed_count) == (2, 2)
    assert {template.allowance_from for template in found.templates} == {"card"}
    assert a.allowance_mm == pytest.approx(INCH / 4)
    assert a.as_cards_say == "cut 4"
    assert b.as_cards_say == "cut 2 and 2 reversed"
    assert a.first_name != "A"
    assert a.named_by_card
    assert {writing.card for writing in a.said_by_card} == {a.first_name, a.copies[0].name}
    assert all(writing.clear and writing.probability > 0.98 for writing in a.said_by_card)


def test_what_is_unclear_is_offered() -> None:
    """A 7 is not used, and the note says how to say it."""
    found = measured()
    c = found.named("C")
    assert c.count is None
    assert c.as_cards_say == ""
    assert [writing.may_mean for writing in c.said_by_card if writing.kind == "count"] == [("7", "1")]
    assert ["--count C=7 or --count C=1" in note for note in quoted("cut 7", found.warnings)] == [True]
    used = next(text for text in found.warnings if text.startswith("Read on the cards"))
    assert "is called A, cut 4" in used
    assert "--cards ignore" in used


def test_a_persons_word_comes_first() -> None:
    """Counts by either name, a name of one's own, an allowance: what the cards say gives way, and that is told."""
    first = measured().named("A").first_name
    for name in ("A", first):
        found = measured(0.0, counts={name: Count(8)})
        a = found.named("A")
        assert (a.count, a.allowance_mm, a.allowance_from, a.as_cards_say) == (8, 0.0, "given", "")
        assert ["You count 8 of A; its card says" in note for note in quoted("cut 4", found.warnings)] == [True]
        assert ["--allowance 1/4in" in note for note in quoted("1/4 in seam included", found.warnings)] == [True]
    kite = Corrections({first: Correction(name="kite")})
    found = measured(0.0, corrections=kite)
    assert sorted(template.name for template in found.templates) == ["B", "C", "kite"]
    assert not found.named("kite").named_by_card


def test_a_count_said_after_the_measuring_changes_the_notes_alike() -> None:
    """The notes of a set measured without counts become those of one measured with them; none is left over."""
    counts = {"A": Count(8), "C": Count(6)}
    before = measured(0.0)
    at_once = measured(0.0, counts=counts)
    assert set(with_card_notes(before, counts).warnings) == set(at_once.warnings) != set(before.warnings)
    assert set(with_card_notes(at_once, counts).warnings) == set(at_once.warnings)


def test_without_reading_nothing_is_said() -> None:
    """With the writing left aside, templates are T1, T2, ... and nothing is known of counts."""
    found = measured(cards_say=CardsSay())
    assert sorted(template.name for template in found.templates) == ["T1", "T2", "T3"]
    assert all(t.said_by_card == () and t.count is None for t in found.templates)
    assert {template.allowance_from for template in found.templates} == {"open"}


def test_wishes_may_use_the_first_names() -> None:
    """Counts, colours, fabrics and pieces by the first names mean the templates that are called otherwise now."""
    found = measured()
    a = found.named("A")
    first = a.first_name
    wishes = Wishes(
        counts={first: Count(2)},
        colours={f"{first}-2": "#112233", "B": "#445566"},
        fabrics={first: "blue"},
        never_cut=(first, f"{first}-1", "T1x"),
    )
    named = in_names_now(wishes, found)
    assert named.counts == {"A": Count(2)}
    assert named.colours == {"A-2": "#112233", "B": "#445566"}
    assert named.fabrics == {"A": "blue"}
    assert named.never_cut == ("A", "A-1", "T1x")
    assert with_counts(found, wishes).named("A").count == 2
