"""The tables of job.toml in which a person corrects what was measured.

Names, corners and edges are those of the first measuring, as the overlay picture shows them::

    merge = [["T1", "T4"]]
    split = ["T2b"]

    [templates.T3]
    name = "kite"
    corners = { 2 = [1234.5, 567.8] }
    edges = { 1 = "2 1/4 in" }
    allowance = { 3 = "none" }

    [templates.T5]
    exclude = true

    [[drawn]]
    photo = "scan.jpg"
    corners = [[310, 420], [800, 420], [800, 900]]
"""

import re
from collections.abc import Callable, Iterable, Mapping
from difflib import get_close_matches
from typing import Any

from seamsurvey.errors import SeamsurveyError
from seamsurvey.model import Correction, Corrections, SetCorner, SetLength
from seamsurvey.units import parse_length
from seamsurvey.wishes import DrawnCard

_OF_DRAWN = ("photo", "corners")
_LEAST_CORNERS = 3
_NUMBER = r"-?\d+(?:\.\d+)?"
_DRAWN = re.compile(rf"(\S.*?)((?:\s+{_NUMBER},{_NUMBER}){{{_LEAST_CORNERS},}})")


def read_templates(value: Any) -> dict[str, Correction]:
    """Return what is said of each template; ValueError for what can't be understood."""
    return {name: _within(name, _correction, said) for name, said in _table(value).items()}


def read_merge(value: Any) -> tuple[tuple[str, ...], ...]:
    """Return the lists of names that are copies of one template; ValueError when it is none."""
    if not isinstance(value, list) or not all(_are_copies(names) for names in value):
        raise ValueError(f'expected lists of two names or more like [["T1", "T4"]], not {value!r}')
    return tuple(tuple(names) for names in value)


def _are_copies(names: Any) -> bool:
    return isinstance(names, list) and len(names) > 1 and all(isinstance(name, str) for name in names)


def read_drawn(value: Any) -> tuple[DrawnCard, ...]:
    """Return the cards that a person outlined; ValueError where one can't be understood."""
    if not isinstance(value, list) or not all(isinstance(each, dict) for each in value):
        raise ValueError(f'expected tables with photo = "scan.jpg" and corners = [[310, 420], ...], not {value!r}')
    return tuple(_within(str(number), _drawn_card, each) for number, each in enumerate(value, 1))


def _drawn_card(value: Mapping[str, Any]) -> DrawnCard:
    for key in value:
        if key not in _OF_DRAWN:
            raise ValueError(f"“{key}” is not one of {', '.join(_OF_DRAWN)}{did_you_mean(key, _OF_DRAWN)}")
    photo, corners = value.get("photo"), value.get("corners")
    if not isinstance(photo, str) or not photo.strip():
        raise ValueError(f"photo: expected a picture's name in quotes, not {photo!r}")
    if not isinstance(corners, list) or len(corners) < _LEAST_CORNERS:
        raise ValueError(f"corners: expected three or more, like [[310, 420], [800, 420], ...], not {corners!r}")
    return DrawnCard(photo.strip(), tuple(_within("corners", _corner, corner) for corner in corners))


def parse_drawn(text: str) -> DrawnCard:
    """Return the card of "scan.jpg 310,420 800,420 800,900"; ValueError where it is none."""
    found = _DRAWN.fullmatch(text.strip())
    if not found:
        raise ValueError(f"expected a picture and corners like scan.jpg 310,420 800,420 800,900, not {text!r}")
    corners = (corner.split(",") for corner in found[2].split())
    return DrawnCard(found[1], tuple(SetCorner(*(float(number) for number in corner)) for corner in corners))


def drawn_value(drawn: Iterable[DrawnCard]) -> list[dict[str, Any]]:
    """The cards as job.toml has them."""
    usual = SetCorner(0, 0).u_px
    return [
        {"photo": card.photo, "corners": [[c.x, c.y] + ([c.u_px] if c.u_px != usual else []) for c in card.corners]}
        for card in drawn
    ]


def plain_corrections(corrections: Corrections) -> Any:
    """Return the corrections as JSON values, for the key of a stage."""
    plain = [
        {name: repr(said) for name, said in sorted(corrections.templates.items())},
        [list(names) for names in corrections.merge],
        list(corrections.split),
    ]
    of_things = [list(corrections.confirmed), drawn_value(corrections.drawn)]
    return [*plain, of_things] if any(of_things) else plain


def _correction(value: Any) -> Correction:
    said: dict[str, Any] = {}
    for key, entry in _table(value).items():
        if key not in _KEYS:
            raise ValueError(f"“{key}” is not one of {', '.join(_KEYS)}{did_you_mean(key, _KEYS)}")
        said |= _within(key, _KEYS[key], entry)
    return Correction(**said)


def did_you_mean(key: str, known: Iterable[str]) -> str:
    """The nearest key there is, as the end of a sentence; "" where none is near."""
    near = get_close_matches(key, list(known), 1)
    return f"; did you mean “{near[0]}”?" if near else ""


def _within(place: str, read: Callable[[Any], Any], value: Any) -> Any:
    """Read a value; what is wrong with it is told with its place."""
    try:
        return read(value)
    except (ValueError, TypeError) as error:
        raise ValueError(f"{place}: {error}") from error
    except SeamsurveyError as error:
        raise ValueError(f"{place}: {error.what}") from error


def _name(value: Any) -> dict[str, Any]:
    if not isinstance(value, str) or not value.strip():
        raise ValueError(f"expected a name in quotes, not {value!r}")
    return {"name": value.strip()}


def _exclude(value: Any) -> dict[str, Any]:
    if not isinstance(value, bool):
        raise ValueError(f"expected true or false, not {value!r}")
    return {"exclude": value}


def _corners(value: Any) -> dict[str, Any]:
    return {"corners": {number: _corner(said) for number, said in _numbered(value)}}


def _corner(value: Any) -> SetCorner:
    if (
        not isinstance(value, list)
        or len(value) not in (2, 3)
        or not all(isinstance(number, int | float) and not isinstance(number, bool) for number in value)
    ):
        raise ValueError(f"expected a place in pixels like [1234.5, 567.8], and perhaps its ±, not {value!r}")
    if len(value) == 3 and value[2] <= 0:
        raise ValueError(f"a corner's ± is more than nothing, not {value[2]!r}")
    return SetCorner(*(float(number) for number in value))


def _edges(value: Any) -> dict[str, Any]:
    return {"edges": {number: _within(str(number), _edge, said) for number, said in _numbered(value)}}


def _edge(value: Any) -> SetLength:
    """From "2 1/4 in", or "2 1/4 in ± 0.2 mm"."""
    if not isinstance(value, str):
        raise ValueError(f'expected a length in quotes like "2 1/4 in", not {value!r}')
    length, plus_minus, u = value.replace("+-", "±").partition("±")
    read = parse_length(length.strip())
    if read <= 0:
        raise ValueError(f"an edge is longer than nothing, not {value!r}")
    return SetLength(read, parse_length(u.strip())) if plus_minus else SetLength(read)


def _allowance(value: Any) -> dict[str, Any]:
    if isinstance(value, str):
        return {"allowance_mm": _margin(value)}
    return {"allowances_mm": {number: _within(str(number), _margin, said) for number, said in _numbered(value)}}


def _margin(value: Any) -> float:
    if not isinstance(value, str):
        raise ValueError(f'expected a length in quotes like "1/4 in", or "none", not {value!r}')
    return 0.0 if value == "none" else parse_length(value)


def _numbered(value: Any) -> list[tuple[int, Any]]:
    """The entries of a table by corner or edge number, from 1."""
    entries = []
    for key, said in _table(value).items():
        if not key.isdecimal() or int(key) < 1:
            raise ValueError(f"“{key}” is not the number of a corner or edge, which count from 1")
        entries.append((int(key), said))
    return entries


def _table(value: Any) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise ValueError(f"expected a table, not {value!r}")
    return value


_KEYS: dict[str, Callable[[Any], dict[str, Any]]] = {
    "name": _name,
    "exclude": _exclude,
    "corners": _corners,
    "edges": _edges,
    "allowance": _allowance,
}
CORRECTION_KEYS = tuple(_KEYS)
