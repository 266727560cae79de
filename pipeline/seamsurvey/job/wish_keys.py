"""Each key of job.toml: the field of Wishes it sets, and how its value is read."""

import math
from collections.abc import Callable
from typing import Any

from seamsurvey.job.corrections import did_you_mean, read_drawn, read_merge, read_templates
from seamsurvey.job.layout_wishes import read_exchange, read_ignore, read_meets, read_taken
from seamsurvey.job.sheet_wishes import ONLY, SETTINGS, TURNED, parse_print_scale, parse_share, up_to_forty
from seamsurvey.model import CURES, PIECED_STARTS, PREFERENCES, Count
from seamsurvey.units import SHEET_SIZES, Worded, parse_length

REFERENCES = ("auto", "ruler", "mat", "target", "page", "letter", "a4", "card", "resolution", "none")
TEMPLATES_ARE = ("auto", "cards", "printed")
CARDS = ("read", "ignore")
TAKEN_WITH = ("auto", "scanner", "camera")
RULERS = ("auto", "inch", "cm")
UNITS = ("auto", "inch", "mm")
SYMMETRIES = (
    "auto",
    "none",
    "half-turn",
    "quarter-turn",
    "third-turn",
    "sixth-turn",
    "mirror",
    "mirror-diagonal",
    "both",
)
OUTLINES = ("auto", "square", "rectangle", "triangle", "hexagon", "octagon")


def parse_allowance(text: str) -> float | None:
    """Return mm from "1/4in" or "6 mm"; 0 for "none"; None for "auto". UsageError when it is no length."""
    return {"auto": None, "none": 0.0}.get(text) if text in ("auto", "none") else parse_length(text)


def parse_count(text: str) -> Count:
    """Return a Count from "4" or "4+2" (the second number reversed). ValueError when it is neither."""
    face_up, plus, over = text.partition("+")
    if not face_up.isdecimal() or (plus and not over.isdecimal()):
        raise ValueError(f"expected 4, or 4+2 with 2 reversed, not {text!r}")
    return Count(int(face_up), int(over) if plus else 0)


Finish = tuple[float, float | None, tuple[float, ...]]


def parse_finish(text: str) -> Finish:
    """Return mm of width, height and more widths, from "16in", "12in x 16in" or "6in, 9in, 12in".

    The first is the block's own size, None a height not said; each further width is a set of sheets more.
    UsageError when one is no length.
    """
    first, *more = text.replace("×", "x").split(",")
    width, by, height = first.partition("x")
    return Worded(width), Worded(height) if by else None, tuple(Worded(one) for one in more)


def finish_fields(finish: Finish) -> dict[str, Any]:
    """Return the fields of Wishes that a finished width, and perhaps a height and more widths, set."""
    width, height, more = finish
    fields: dict[str, Any] = {"finish_mm": width}
    if height is not None:
        fields["finish_height_mm"] = height
    if more:
        fields["more_sizes_mm"] = more
    return fields


def parse_snap(text: str) -> float | None:
    """Return mm from "1/16in" or "1 mm"; 0 for "off"; None for "auto". UsageError when it is no length."""
    return {"auto": None, "off": 0.0}.get(text) if text in ("auto", "off") else parse_length(text)


def _quilt(value: Any) -> dict[str, Any]:
    """Fields of model.Quilt from a table; what is not said is left out."""
    fields: dict[str, Any] = {}
    for key, said in dict(value).items():
        if key not in QUILT_KEYS:
            raise ValueError(f"“{key}” is not one of {', '.join(QUILT_KEYS)}{did_you_mean(key, QUILT_KEYS)}")
        name, read = QUILT_KEYS[key]
        try:
            fields[name] = read(said)
        except ValueError as error:
            raise ValueError(f"{key}: {error}") from error
    return fields


def _texts(value: Any) -> dict[str, str]:
    return {name: _text(said) for name, said in dict(value).items()}


def parse_bars(text: str) -> tuple[float, float]:
    """Return mm of two bars, lying and upright, from "99.8mm x 100.2mm"; UsageError when one is no length."""
    lying, by, upright = text.replace("×", "x").partition("x")
    if not by:
        raise ValueError(f"expected two lengths like 99.8mm x 100.2mm, not {text!r}")
    return Worded(lying), Worded(upright)


def _one_of(choices: tuple[str, ...]) -> Callable[[Any], str]:
    def check(value: Any) -> str:
        if value not in choices:
            raise ValueError(f"expected one of {', '.join(choices)}, not {value!r}")
        return str(value)

    return check


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError(f"expected a text in quotes, not {value!r}")
    return value


def _positive(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise ValueError(f"expected a whole number from 1, not {value!r}")
    return value


def _whole(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise ValueError(f"expected a whole number, not {value!r}")
    return value


def _seconds(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 1 <= value < math.inf:
        raise ValueError(f"expected seconds, 1 or more, not {value!r}")
    return float(value)


def _names(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(name, str) for name in value):
        raise ValueError(f'expected a list of names like ["T1", "T2-3"], not {value!r}')
    return tuple(value)


def _counts(value: Any) -> dict[str, Count]:
    return {name: parse_count(str(said)) for name, said in dict(value).items()}


def _colours(value: Any) -> dict[str, str]:
    return {name: check_colour(said) for name, said in dict(value).items()}


def check_colour(value: Any) -> str:
    """Return ``#rrggbb`` in lower case; ValueError for anything else."""
    text = str(value).lower()
    if len(text) != 7 or text[0] != "#" or any(digit not in "0123456789abcdef" for digit in text[1:]):
        raise ValueError(f"expected a colour like #4477aa, not {value!r}")
    return text


def _length(value: Any) -> float:
    return parse_length(_text(value))


QUILT_KEYS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "across": ("across", up_to_forty),
    "down": ("down", up_to_forty),
    "setting": ("setting", _one_of(SETTINGS)),
    "sashing": ("sashing_mm", _length),
    "turned": ("turned", _one_of(TURNED)),
    "border": ("border_mm", _length),
    "binding": ("binding_mm", _length),
    "backing_over": ("backing_over_mm", _length),
}

# Each key of the file: the field of Wishes, and how its value is read.
KEYS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "title": ("title", _text),
    "photos": ("photos", _names),
    "units": ("units", _one_of(UNITS)),
    "reference": ("reference", _one_of(REFERENCES)),
    "templates_are": ("templates_are", _one_of(TEMPLATES_ARE)),
    "cards": ("cards", _one_of(CARDS)),
    "scale_bar": ("scale_bar_mm", _length),
    "page_grid": ("page_grid_mm", _length),
    "taken_with": ("taken_with", _one_of(TAKEN_WITH)),
    "ruler": ("ruler", _one_of(RULERS)),
    "ruler_length": ("ruler_length_mm", _length),
    "ruler_thickness": ("ruler_thickness_mm", _length),
    "thickness": ("thickness_mm", _length),
    "target_bars": ("target_bars_mm", lambda value: parse_bars(_text(value))),
    "allowance": ("allowance_mm", lambda value: parse_allowance(_text(value))),
    "symmetry": ("symmetry", _one_of(SYMMETRIES)),
    "outline": ("outline", _one_of(OUTLINES)),
    "finish": ("finish", lambda value: parse_finish(_text(value))),
    "snap": ("snap_mm", lambda value: parse_snap(_text(value))),
    "picture": ("picture", _text),
    "layout": ("layout", _positive),
    "taken": ("taken", read_taken),
    "meets": ("meets", read_meets),
    "turn": ("turn", _names),
    "exchange": ("exchange", read_exchange),
    "confirm": ("confirm", read_ignore),
    "drawn": ("drawn", read_drawn),
    "ignore": ("ignore", read_ignore),
    "seed": ("seed", _whole),
    "time_limit": ("time_limit_s", _seconds),
    "paper": ("paper", _one_of(tuple(SHEET_SIZES))),
    "blocks": ("blocks", _positive),
    "prefer": ("prefer", _one_of(PREFERENCES)),
    "pieced_start": ("pieced_start", _one_of(PIECED_STARTS)),
    "way": ("cure", _one_of(CURES)),
    "never_cut": ("never_cut", _names),
    "counts": ("counts", _counts),
    "colours": ("colours", _colours),
    "fabrics": ("fabrics", _texts),
    "came_from": ("came_from", _text),
    "seam_allowance": ("seam_allowance_mm", _length),
    "oversize": ("oversize_mm", _length),
    "fabric_width": ("fabric_width_mm", _length),
    "fabric_reserve": ("fabric_reserve", lambda value: parse_share(_text(value))),
    "only": ("only", _one_of(ONLY)),
    "print_scale": ("print_scale", lambda value: parse_print_scale(_text(value))),
    "quilt": ("quilt", _quilt),
    "templates": ("templates", read_templates),
    "merge": ("merge", read_merge),
    "split": ("split", _names),
}

# Keys as they were called before: still read where the new one says nothing.
OLD_KEYS = {"cure": "way"}

# The tables, and what stands in each by name; a key at the top is none of these.
TABLES = ("counts", "colours", "fabrics", "quilt", "templates", "taken")
CHOICES: dict[str, tuple[str, ...]] = {
    "units": UNITS, "reference": REFERENCES, "templates_are": TEMPLATES_ARE, "cards": CARDS,
    "taken_with": TAKEN_WITH, "ruler": RULERS, "symmetry": SYMMETRIES, "outline": OUTLINES,
    "paper": tuple(SHEET_SIZES), "prefer": PREFERENCES, "pieced_start": PIECED_STARTS, "way": CURES, "only": ONLY,
    "quilt.setting": SETTINGS, "quilt.turned": TURNED,
}  # fmt: skip
