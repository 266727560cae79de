"""What cards say of names, counts and the allowance: one card by all looks at it, and all cards of a job together.

A wrong count that is used is worse than none. So copies must not contradict one another, names are used only when
all templates have one and no two the same, and an allowance only when no card says another.
"""

from collections import Counter
from collections.abc import Mapping, Sequence

import attrs
from attrs import field, frozen

from seamsurvey.model import CardWriting, Count, Picture, Plane, Template
from seamsurvey.ocr import Reading
from seamsurvey.templates.hypotheses import option_text
from seamsurvey.templates.ink import ink_on
from seamsurvey.templates.labels import ALLOWANCE, COUNT, NAME, label_of
from seamsurvey.templates.outlined import Outlined
from seamsurvey.templates.regroup import NamedCard
from seamsurvey.templates.writing import LOOKS, Seen, read_card

Value = str | Count | float | None

KINDS = (NAME, COUNT, ALLOWANCE)
CLEAR = 0.97  # of probability: what is used without asking
_GUESSED = 0.5  # of sureness: a letter less sure than this, in another direction, is none
_SPOKEN = 3  # letters that a line which means nothing must have to be kept, and
_LEGIBLE = 0.5  # the least sureness of them
# The probability that a meaning is right where all looks agree on it, by the mean of their sureness, and where they
# don't. Of 800 rendered cards in eight hands, names among them, by the rule of succession: 971 of 975 readings were
# right, 81 of 82, 25 of 25; and 76 of 90. No count or allowance was among the wrong ones.
_BY_SURENESS = ((0.8, 0.995), (0.6, 0.976), (0.0, 0.963))
_DIVIDED = 0.8
_LIKELY = 0.5  # of probability: what is more likely than not contradicts what is clear


@frozen
class Saying:
    """What a card says of one kind; ``value`` None: that can't be told.

    ``sure``: nothing in it may as well be something else, however well it is read. ``others``: the names that a
    letter alone on a card may be when it is seen in another direction.
    """

    kind: str
    value: Value
    text: str
    probability: float
    sure: bool = True
    others: tuple[str, ...] = ()

    @property
    def is_clear(self) -> bool:
        """Whether it stands by itself."""
        return self.value is not None and self.sure and not self.others and self.probability >= CLEAR


@frozen
class CardSays:
    """What one card says, and its other lines as they were read, each with the least sureness of its letters."""

    sayings: tuple[Saying, ...] = ()
    other_lines: tuple[Reading, ...] = field(default=())


def read_outlined(card: Outlined, picture: Picture, plane: Plane) -> CardSays:
    """What is written on a card; nothing is read on a frame, through whose window the table shows."""
    ink = None if card.window else ink_on(picture, plane, card.drawn)
    return says(read_card(ink)) if ink is not None else CardSays()


def says(lines: Sequence[Seen]) -> CardSays:
    """What the lines of a card mean by all looks together."""
    labels = [label_of([line.look(k).text for line in lines]) for k in range(LOOKS)]
    sayings = []
    spoken: set[int] = set()
    for kind in KINDS:
        of_kind = [label.lines.get(kind, ()) for label in labels]
        mentioned = next((numbers for numbers in of_kind if numbers), ())
        if not mentioned:
            continue
        spoken.update(mentioned)
        votes: list[tuple[Value, float]] = []
        for k, (label, numbers) in enumerate(zip(labels, of_kind, strict=True)):
            looked_at = [lines[n] for n in numbers]
            whole = all(
                len(line.look(k).text.replace(" ", "")) >= line.letters and not line.crossed for line in looked_at
            )
            least = min((line.look(k).least for line in looked_at), default=0.0)
            votes.append((label.value(kind) if whole else None, least))
        counted = Counter(value for value, _ in votes if value is not None)
        value = counted.most_common(1)[0][0] if counted else None
        agreed = [least for voted, least in votes if value is not None and voted == value]
        sayings.append(
            Saying(
                kind=kind,
                value=value,
                text=" ".join(lines[n].text for n in mentioned),
                probability=_probability(agreed),
                sure=not any(kind in label.unclear and label.value(kind) is not None for label in labels),
                others=_otherwise([lines[n] for n in mentioned], value) if kind == NAME else (),
            )
        )
    rest = [line.looks[0] for n, line in enumerate(lines) if n not in spoken]
    legible = [r for r in rest if len(r.text.replace(" ", "")) >= _SPOKEN and r.least >= _LEGIBLE]
    return CardSays(tuple(sayings), tuple(legible))


def _otherwise(lines: Sequence[Seen], value: Value) -> tuple[str, ...]:
    """The other names that a lone letter may be: names are written in capitals."""
    texts = {r.text for line in lines for r in line.otherwise if r.least >= _GUESSED and r.text.isupper()}
    names = {label_of([text]).name for text in texts}
    return tuple(sorted(name for name in names if name and name != value))


def _probability(agreed: Sequence[float]) -> float:
    """By the least sureness of each look that agrees; 0 where nothing was understood."""
    if len(agreed) < LOOKS:
        return _DIVIDED if agreed else 0.0
    mean = sum(agreed) / LOOKS
    return next(probability for least, probability in _BY_SURENESS if mean >= least)


# --- all cards of a job ---


@frozen
class CardsSay:
    """What each card says, by its place among all cards; none where nothing was read."""

    cards: tuple[CardSays, ...] = ()

    @property
    def allowance(self) -> float | str | None:
        """The allowance in mm, 0 for none; INCLUDED where its size isn't said; None where they don't tell."""
        all_of_it = [saying for card in self.cards for saying in card.sayings if saying.kind == ALLOWANCE]
        value, clear = together(all_of_it)
        return value if clear and not isinstance(value, Count) else None


def read_cards(pictures: Sequence[tuple[Picture, Plane]], outlined: Sequence[Outlined]) -> CardsSay:
    """Everything written on the cards."""
    return CardsSay(tuple(read_outlined(card, *pictures[card.photo]) for card in outlined))


def together(sayings: Sequence[Saying]) -> tuple[Value, bool]:
    """What several cards say of one thing, and whether it is clear: one at least is, or all together are."""
    said = [saying for saying in sayings if saying.value is not None]
    if not said:
        return None, False
    best = max(said, key=lambda saying: saying.probability)
    doubt = 1.0
    for saying in said:
        if saying.value == best.value and not saying.others:
            doubt *= 1 - saying.probability
    contradicted = any(
        s.value != best.value and s.probability > _LIKELY and best.value not in s.others for s in said
    )
    return best.value, all(s.sure for s in said) and not contradicted and 1 - doubt >= CLEAR


@frozen
class Said:
    """What the cards of one template say: its first name, its cards' names with what each says."""

    name: str
    cards: tuple[tuple[str, CardSays], ...] = field(default=())

    def of(self, kind: str) -> list[Saying]:
        """All that its cards say of a kind."""
        return [saying for _, card in self.cards for saying in card.sayings if saying.kind == kind]


def names_of(said: Sequence[Said], given: Mapping[str, str]) -> dict[str, str]:
    """The name that each template's card says, by first names; none unless all have one and no two the same.

    ``given`` are the names that a person gave, by first names. A letter alone on a card may be another in another
    direction: then the letters that the cards agree on run from A without a gap, in one way only.
    """
    asked = [each for each in said if each.name not in given]
    if not asked:
        return {}
    read = [together(each.of(NAME)) for each in asked]
    clear = [str(name) for name, is_clear in read if is_clear]
    found: Sequence[str] | None = clear
    if len(clear) < len(asked):
        found = _from_a_on(
            [
                [str(name)] if is_clear else _lone_letters(each.of(NAME))
                for each, (name, is_clear) in zip(asked, read, strict=True)
            ]
        )
    names = {each.name: name for each, name in zip(asked, found, strict=True)} if found else {}
    taken = {*given.values(), *(card for each in said for card, _ in each.cards)}
    unique = len(set(names.values())) == len(asked) and not taken & set(names.values())
    return names if unique else {}


def _lone_letters(sayings: Sequence[Saying]) -> list[str]:
    """What a letter that was read well may be, from whichever side it is seen."""
    sets = [
        {str(s.value), *s.others} for s in sayings if s.value is not None and s.others and s.probability >= CLEAR
    ]
    common = set.intersection(*sets) if sets else set()
    return sorted(name for name in common if len(name) == 1 and name.isalpha())


def _from_a_on(choices: Sequence[Sequence[str]]) -> list[str] | None:
    """The one way to take a letter of each so that they are the first of the alphabet; None if none or several."""
    letters = [chr(ord("A") + k) for k in range(len(choices))]
    found: list[list[str]] = []

    def take(taken: list[str]) -> None:
        if len(taken) == len(choices):
            found.append(taken)
        elif len(found) < 2:
            for letter in choices[len(taken)]:
                if letter in letters and letter not in taken:
                    take([*taken, letter])

    take([])
    return found[0] if len(found) == 1 else None


def said_by(groups: Sequence[Sequence[NamedCard]], said: CardsSay) -> list[Said]:
    """What the cards of each template say, a group of cards each; nothing where nothing was read."""
    return [
        Said(group[0].name, tuple((card.name, said.cards[card.index]) for card in group) if said.cards else ())
        for group in groups
    ]


def with_writing(
    templates: Sequence[Template], said: Sequence[Said], counts: Mapping[str, Count]
) -> list[Template]:
    """The templates with what was read on their cards; with their count where a person gave none in ``counts``."""
    return [_with_writing(template, each, counts) for template, each in zip(templates, said, strict=True)]


def _with_writing(template: Template, said: Said, counts: Mapping[str, Count]) -> Template:
    count, count_clear = together(said.of(COUNT))
    writings = []
    for card, says in said.cards:
        for saying in says.sayings:
            called = template.name != template.first_name and template.name in (saying.value, *saying.others)
            used = {NAME: called, COUNT: count_clear, ALLOWANCE: saying.is_clear}
            writings.append(
                CardWriting(
                    card=card,
                    text=saying.text,
                    probability=round(saying.probability, 4),
                    kind=saying.kind,
                    means=template.name if saying.kind == NAME and called else means_text(saying.value),
                    clear=used[saying.kind] and saying.value is not None,
                )
            )
        writings += [
            CardWriting(card=card, text=line.text, probability=round(line.least, 4)) for line in says.other_lines
        ]
    template = attrs.evolve(template, said_by_card=tuple(writings))
    if count_clear and isinstance(count, Count) and not {template.name, template.first_name} & counts.keys():
        return attrs.evolve(template, count=count.face_up, reversed_count=count.reversed)
    return template


def means_text(value: Value) -> str:
    """A value as a person would write it in job.toml."""
    if isinstance(value, Count):
        return value.plain
    if isinstance(value, float):
        return option_text(value)
    return value or ""
