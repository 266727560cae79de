"""How wishes for the layout are read: the one that was taken, and what lies in a photo and is no template."""

import re
from typing import Any

from seamsurvey.model import Taken

_TWO = 2  # edges that meet
_EDGE = re.compile(r"\S.*\.[1-9]\d*")
_PLACE = re.compile(r"\S.* \d+ \d+")


def read_taken(value: Any) -> Taken:
    """Return what [taken] in job.toml holds; ValueError where a person's hand broke it."""
    if not isinstance(value, dict) or set(value) != {"layout", "places"} or not isinstance(value["places"], dict):
        raise ValueError("it is kept by the program: take the whole table out, and say layout again")
    if type(value["layout"]) is not int:
        raise ValueError(f"expected a whole number, not {value['layout']!r}")
    places = {name: tuple(_pair(at) for at in list(said)) for name, said in value["places"].items()}
    return Taken(value["layout"], places)


def _pair(value: Any) -> tuple[int, int]:
    if not isinstance(value, list) or [type(number) for number in value] != [int, int]:
        raise ValueError(f"expected two whole numbers, not {value!r}")
    return value[0], value[1]


def read_meets(value: Any) -> tuple[tuple[str, str], ...]:
    """Return pairs of edges like ("T1.2", "T3.1"); ValueError when one is none."""
    if not isinstance(value, list) or not all(isinstance(pair, list) and len(pair) == _TWO for pair in value):
        raise ValueError(f'expected pairs of edges like [["T1.2", "T3.1"]], not {value!r}')
    return tuple((_edge(one), _edge(other)) for one, other in value)


def read_exchange(value: Any) -> tuple[tuple[str, str], ...]:
    """Return pairs of units like ("T1-3", "T2-1+T3-1"); ValueError when one is none."""
    if not isinstance(value, list) or not all(isinstance(pair, list) and len(pair) == _TWO for pair in value):
        raise ValueError(f'expected pairs of units like [["T1-3", "T2-1"]], not {value!r}')
    return tuple((_piece(one), _piece(other)) for one, other in value)


def parse_exchange(text: str) -> tuple[str, str]:
    """Return the two units of ``T1-3=T2-1``; ValueError for anything else."""
    one, _, other = text.partition("=")
    return _piece(one), _piece(other)


def _piece(value: Any) -> str:
    text = value.strip() if isinstance(value, str) else ""
    if not text:
        raise ValueError(f"expected a unit by a piece in it, like T1-3, not {value!r}")
    return text


def parse_meeting(text: str) -> tuple[str, str]:
    """Return the two edges of ``T1.2=T3.1``; ValueError for anything else."""
    one, _, other = text.partition("=")
    return _edge(one), _edge(other)


def _edge(value: Any) -> str:
    text = value.strip() if isinstance(value, str) else ""
    if not _EDGE.fullmatch(text):
        raise ValueError(f"expected an edge of a template like T1.2, not {value!r}")
    return text


def read_ignore(value: Any) -> tuple[str, ...]:
    """Return the things that are no templates, as `parse_ignored` takes them; ValueError when one is neither."""
    if not isinstance(value, list):
        raise ValueError(f'expected a list like [3, "scan.jpg 310 420"], not {value!r}')
    return tuple(parse_ignored(str(said) if type(said) is int else said) for said in value)


def parse_ignored(value: Any) -> str:
    """Return "3", a number of the overlay picture, or "scan.jpg 310 420", a place in a photo; else ValueError."""
    text = str(value).strip().removeprefix("×") if isinstance(value, str) else ""
    if not (text.isdecimal() and int(text)) and not _PLACE.fullmatch(text):
        raise ValueError(f"expected the number of a thing in the overlay, or its place, not {value!r}")
    return text
