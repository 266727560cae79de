"""What is written on one card, line by line, whichever way it lies.

A line of several letters is read both ways along it, and the surest of them tells which way the card's other lines
run; a single letter alone on a card is read in eight directions, for its own strokes don't tell how it stands: an
L's box lies along its diagonal. What may matter is then looked at several times, a little turned, narrower, wider:
a network is often sure of what it reads, and wrong, but seldom wrong the same way each time.
"""

import math
from collections.abc import Sequence

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey import ocr
from seamsurvey.ocr import Reading
from seamsurvey.templates.ink import CardInk
from seamsurvey.templates.labels import label_of
from seamsurvey.templates.written_lines import (
    Line,
    Strokes,
    along,
    find_written,
    is_crossed,
    is_print,
    letters_apart,
    picture_of,
    strokes_of,
)

Floats = NDArray[np.float64]

_LOOKS = ((0.0, 1.0), (-1.0, 0.85), (1.0, 1.15))  # turned one way or the other, stretched
LOOKS = len(_LOOKS)
_TURN_DEG, _RISE = 4.0, 0.35  # so far, but the ends of a long line rise or fall by no more of its height
_GUESSED = 0.4  # of sureness: as much is found in lines upside down
_SURE = 0.8  # of weight: two or three letters well read
_SEVERAL = 3  # letters of a line that tells which way is up
_AGREES = 0.5  # cosine: within 60°, lines stand the same way up
_FEW_LETTERS = 12  # what is as short may belong to a phrase: "rev.", "4 + 4R"


@frozen
class Seen:
    """One line: what each look read, the plain one first; and what a letter alone is in other directions.

    ``letters``: as many stand apart; a look that reads fewer has missed one. ``crossed``: by the seam line, with
    which a letter may have gone.
    """

    looks: tuple[Reading, ...]
    otherwise: tuple[Reading, ...] = ()
    letters: int = 0
    crossed: bool = False

    @property
    def text(self) -> str:
        """As plainly read."""
        return self.looks[0].text

    def look(self, number: int) -> Reading:
        """One of the looks; the plain one where there was no other."""
        return self.looks[number if len(self.looks) > 1 else 0]


@frozen(eq=False)
class _Turned:
    """A line as read in one direction; ``way`` (2,) is where its text runs."""

    line: Line
    way: Floats = field()
    reading: Reading

    @property
    def weight(self) -> float:
        """How much speaks for this direction: upside down a line is read as fewer letters, none of them sure.

        The network knows thousands of signs; only those that may stand on a template count.
        """
        read = zip(self.reading.text, self.reading.sureness, strict=True)
        return sum((sure if sign.isascii() else 0.0) - _GUESSED for sign, sure in read)


def read_card(ink: CardInk) -> list[Seen]:
    """Every line on the card, in reading order; those that may mean something were looked at several times.

    None where the card is cut from a print: what is found there may be any bit of it.
    """
    strokes = strokes_of(ink)
    lines = find_written(ink, strokes)
    if is_print(lines, strokes):
        return []
    both_ways = {
        line: ways
        for line in lines
        if line.is_long
        and not _is_letter(line, ways := [_turned(ink, line, way) for way in (line.way, -line.way)], strokes)
    }
    up = _card_way([max(ways, key=lambda t: t.weight) for ways in both_ways.values()])
    chosen: list[_Turned] = []
    otherwise: dict[_Turned, tuple[Reading, ...]] = {}
    for line in lines:
        if line in both_ways:
            ways = both_ways[line]
            if up is not None and abs(float(line.way @ up)) > _AGREES:
                ways = [each for each in ways if float(each.way @ up) > 0]
        elif up is not None:
            ways = [_turned(ink, along(line, up, strokes), up)]
        else:
            ways = [_turned(ink, along(line, way, strokes), way) for way in _all_round(line.way)]
        best = max(ways, key=lambda t: t.weight)
        chosen.append(best)
        otherwise[best] = tuple(each.reading for each in ways if each is not best) if up is None else ()
    chosen.sort(key=lambda t: _place(t, t.way if up is None else up))
    relevant = bool(label_of([each.reading.text for each in chosen]).lines)
    return [
        Seen(
            _looks(ink, each) if relevant and _may_matter(each.reading.text) else (each.reading,),
            otherwise[each],
            letters_apart(each.line, strokes),
            is_crossed(ink, each.line),
        )
        for each in chosen
    ]


def _is_letter(line: Line, ways: Sequence[_Turned], strokes: Strokes) -> bool:
    """Whether a line is one letter: one stroke, and no word in joined writing."""
    return letters_apart(line, strokes) <= 1 and all(len(each.reading.text) < _SEVERAL for each in ways)


def _may_matter(text: str) -> bool:
    """Whether a line says something of the template, or may do so with the lines beside it."""
    return len(text) <= _FEW_LETTERS or bool(label_of([text]).lines)


def _place(turned: _Turned, way: Floats) -> tuple[float, float]:
    """Down the page, then along the line."""
    return float(turned.line.middle @ np.array([-way[1], way[0]])), float(turned.line.middle @ way)


def _card_way(lines: Sequence[_Turned]) -> Floats | None:
    """Where text runs on the card, by its surest line of several letters; None where there is none."""
    sure = [t for t in lines if sum(sign.isalnum() for sign in t.reading.text) >= _SEVERAL and t.weight > _SURE]
    return max(sure, key=lambda t: t.weight).way if sure else None


def _all_round(way: Floats) -> list[Floats]:
    """(2,) unit vectors in eight directions."""
    angles = math.atan2(way[1], way[0]) + np.arange(8) * math.pi / 4
    return [np.array([math.cos(angle), math.sin(angle)]) for angle in angles]


def _turned(ink: CardInk, line: Line, way: Floats) -> _Turned:
    return _Turned(line, way, ocr.read_line(picture_of(ink, line, way)))


def _looks(ink: CardInk, turned: _Turned) -> tuple[Reading, ...]:
    line = turned.line
    most = min(_TURN_DEG, math.degrees(2 * _RISE * line.high / line.long))
    more = (picture_of(ink, line, turned.way, turn * most, stretch) for turn, stretch in _LOOKS[1:])
    return (turned.reading, *(ocr.read_line(each) for each in more))
