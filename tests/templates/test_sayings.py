"""What the looks at one card, and the cards of a job, say together: clear only where nothing speaks against it."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from seamsurvey.model import Count
from seamsurvey.ocr import Reading
from seamsurvey.templates.labels import ALLOWANCE, COUNT, INCLUDED, NAME
from seamsurvey.templates.said_by_cards import CardSays, CardsSay, Said, Saying, names_of, says, together
from seamsurvey.templates.writing import Seen


def seen(
    *texts: str, sure: float = 1.0, letters: int = 0, otherwise: tuple[str, ...] = (), crossed: bool = False
) -> Seen:
    """A line whose looks read these texts, each letter equally sure; of one text, all looks read it."""
    looks = texts if len(texts) == 3 else texts * 3
    return Seen(
        tuple(Reading(text, (sure,) * len(text)) for text in looks),
        tuple(Reading(text, (sure,) * len(text)) for text in otherwise),
        letters,
        crossed,
    )


def of(card: CardSays, kind: str) -> Saying:
    """What the card says of a kind."""
    (saying,) = [each for each in card.sayings if each.kind == kind]
    return saying


def test_looks_that_agree_are_clear() -> None:
    """Three sure looks alike are clear, and the other lines are kept as they were read."""
    card = says([seen("B2"), seen("cut 4 + 4R", "cut4+4R", "Cut 4 + 4 R"), seen("best before"), seen("--")])
    assert (of(card, NAME).value, of(card, COUNT).value) == ("B2", Count(4, 4))
    assert of(card, NAME).is_clear
    assert of(card, COUNT).is_clear
    assert of(card, COUNT).text == "cut 4 + 4R"
    assert [line.text for line in card.other_lines] == ["best before"]


@pytest.mark.parametrize(
    "line",
    [
        seen("cut 4", "cut 4", "cut 9"),  # a look that reads another number
        seen("cut 4", "cut 4", "cat 4"),  # one that reads no number
        seen("cut 4", sure=0.4),  # letters that may be others
        seen("cut 4", letters=5),  # a letter that no look has read: "cut 14"
        seen("cut 4", crossed=True),  # the seam line runs through it
        seen("cut 7"),  # what may as well be a 1
        seen("cut 1", "cut 1", "cut 7"),
        seen("cut 2 of each"),
    ],
)
def test_a_count_with_any_doubt_is_not_clear(line: Seen) -> None:
    """Whatever speaks against a count keeps it from being used; it is still told."""
    assert not of(says([line]), COUNT).is_clear


def test_a_letter_alone_may_be_another_from_another_side() -> None:
    """What it is in other directions is kept, as far as it may be a name."""
    card = says([seen("C", otherwise=("U", "c", "0", "C", "つ"))])
    assert of(card, NAME).others == ("U",)
    assert not of(card, NAME).is_clear


def saying(value: str | Count | float | None, probability: float, kind: str = COUNT, *others: str) -> Saying:
    """What a card says, without its text."""
    return Saying(kind=kind, value=value, text="", probability=probability, others=others)


def test_copies_confirm_or_contradict_one_another() -> None:
    """Two likely cards alike are clear together; one that likely says otherwise takes a clear one back."""
    four, eight = Count(4), Count(8)
    assert together([saying(four, 0.95), saying(four, 0.95)]) == (four, True)
    assert together([saying(four, 0.95)]) == (four, False)
    assert together([saying(four, 0.999), saying(eight, 0.6)]) == (four, False)
    assert together([saying(four, 0.999), saying(eight, 0.2), saying(None, 0.0)]) == (four, True)
    assert together([]) == (None, False)


def test_an_allowance_counts_when_no_card_says_another() -> None:
    """One card that says it speaks for all; two that differ decide nothing."""

    def job(*values: float | str) -> CardsSay:
        return CardsSay(tuple(CardSays((saying(value, 0.999, ALLOWANCE),)) for value in values))

    assert job(6.35).allowance == 6.35
    assert job(0.0, 0.0).allowance == 0
    assert job(INCLUDED).allowance == INCLUDED
    assert job(6.35, 0.0).allowance is None
    assert CardsSay().allowance is None


def lettered(*choices: str) -> list[Said]:
    """Templates whose only card has one letter, sure but for its direction."""
    return [
        Said(f"T{k}", ((f"T{k}", CardSays((saying(letters[0], 0.999, NAME, *letters[1:]),))),))
        for k, letters in enumerate(choices, 1)
    ]


def test_names_are_used_when_all_have_one_and_no_two_the_same() -> None:
    """A name missing, doubled, or like another card's first name leaves the first names."""
    assert names_of(lettered("B", "K"), {}) == {"T1": "B", "T2": "K"}
    assert names_of(lettered("B", "B"), {}) == {}
    assert names_of([*lettered("B"), Said("T2", (("T2", CardSays()),))], {}) == {}
    assert names_of([*lettered("B"), Said("T2", (("T2", CardSays()),))], {"T2": "kite"}) == {"T1": "B"}
    assert names_of(lettered("B"), {"T2": "B"}) == {}
    clash = [
        Said(f"T{k}", ((f"T{k}", CardSays((saying(name, 0.999, NAME),))),)) for k, name in ((1, "T2"), (2, "B"))
    ]
    assert names_of(clash, {}) == {}
    assert names_of([], {}) == {}


@given(st.lists(st.lists(st.sampled_from("ABCDE"), min_size=1, max_size=3, unique=True), min_size=1, max_size=5))
def test_lone_letters_are_told_by_the_alphabet(choices: list[str]) -> None:
    """They are taken as the first letters of the alphabet in the one way there is, by trying all orders."""
    letters = "ABCDE"[: len(choices)]
    fitting = [
        order
        for order in itertools.permutations(letters)
        if all(a in b for a, b in zip(order, choices, strict=True))
    ]
    found = names_of(lettered(*("".join(each) for each in choices)), {})
    if any(len(each) > 1 for each in choices):
        expected = dict(zip((f"T{k}" for k in range(1, 6)), fitting[0], strict=False)) if len(fitting) == 1 else {}
        assert found == expected
