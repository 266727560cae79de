"""job.toml: the person's own file. Programs read it; only the first run writes it."""

import tomllib
from collections.abc import Callable, Mapping
from typing import Any

import attrs
import tomlkit

from seamsurvey.errors import InputError, SeamsurveyError
from seamsurvey.job.corrections import read_merge, read_templates
from seamsurvey.job.sheet_wishes import SETTINGS, TURNED, parse_print_scale, up_to_forty
from seamsurvey.model import CURES, PIECED_STARTS, PREFERENCES, Count, Quilt, Wishes
from seamsurvey.units import SHEET_SIZES, mm_text, parse_length

FILE = "job.toml"
REFERENCES = ("auto", "ruler", "mat", "target", "page", "card", "resolution", "none")
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
OUTLINES = ("auto", "square", "rectangle", "triangle", "hexagon")


def parse_allowance(text: str) -> float | None:
    """Return mm from "1/4in" or "6 mm"; 0 for "none"; None for "auto". UsageError when it is no length."""
    return {"auto": None, "none": 0.0}.get(text) if text in ("auto", "none") else parse_length(text)


def parse_count(text: str) -> Count:
    """Return a Count from "4" or "4+2" (the second number reversed). ValueError when it is neither."""
    face_up, plus, over = text.partition("+")
    if not face_up.isdecimal() or (plus and not over.isdecimal()):
        raise ValueError(f"expected 4, or 4+2 with 2 reversed, not {text!r}")
    return Count(int(face_up), int(over) if plus else 0)


def parse_finish(text: str) -> tuple[float, float | None]:
    """Return mm of width and height from "16in" (no height) or "12in x 16in"; UsageError when one is no length."""
    width, by, height = text.replace("×", "x").partition("x")
    return parse_length(width), parse_length(height) if by else None


def finish_fields(finish: tuple[float, float | None]) -> dict[str, float]:
    """Return the fields of Wishes that a finished width, and perhaps a height, set."""
    width, height = finish
    return {"finish_mm": width} if height is None else {"finish_mm": width, "finish_height_mm": height}


def parse_snap(text: str) -> float | None:
    """Return mm from "1/16in" or "1 mm"; 0 for "off"; None for "auto". UsageError when it is no length."""
    return {"auto": None, "off": 0.0}.get(text) if text in ("auto", "off") else parse_length(text)


def _quilt(value: Any) -> dict[str, Any]:
    """Fields of model.Quilt from a table; what is not said is left out."""
    fields: dict[str, Any] = {}
    for key, said in dict(value).items():
        if key not in _QUILT_KEYS:
            raise ValueError(f"“{key}” is not one of {', '.join(_QUILT_KEYS)}")
        name, read = _QUILT_KEYS[key]
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
    return parse_length(lying.strip()), parse_length(upright.strip())


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


_QUILT_KEYS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "across": ("across", up_to_forty),
    "down": ("down", up_to_forty),
    "setting": ("setting", _one_of(SETTINGS)),
    "sashing": ("sashing_mm", _length),
    "turned": ("turned", _one_of(TURNED)),
}

# Each key of the file: the field of Wishes, and how its value is read.
_KEYS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "title": ("title", _text),
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
    "paper": ("paper", _one_of(tuple(SHEET_SIZES))),
    "blocks": ("blocks", _positive),
    "prefer": ("prefer", _one_of(PREFERENCES)),
    "pieced_start": ("pieced_start", _one_of(PIECED_STARTS)),
    "cure": ("cure", _one_of(CURES)),
    "never_cut": ("never_cut", _names),
    "counts": ("counts", _counts),
    "colours": ("colours", _colours),
    "fabrics": ("fabrics", _texts),
    "came_from": ("came_from", _text),
    "seam_allowance": ("seam_allowance_mm", _length),
    "oversize": ("oversize_mm", _length),
    "print_scale": ("print_scale", lambda value: parse_print_scale(_text(value))),
    "quilt": ("quilt", _quilt),
    "templates": ("templates", read_templates),
    "merge": ("merge", read_merge),
    "split": ("split", _names),
}


def read_wishes(text: bytes, file: str = FILE) -> dict[str, Any]:
    """Return the fields of Wishes that a job.toml gives; InputError ``job-toml`` with every mistake in it."""
    try:
        data = tomllib.loads(text.decode())
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise _unreadable(file, [str(error)]) from error
    wishes, mistakes = wishes_of(data)
    if mistakes:
        raise _unreadable(file, mistakes)
    return wishes


def wishes_of(data: Mapping[str, Any]) -> tuple[dict[str, Any], list[str]]:
    """Return the fields of Wishes that the keys of a job.toml give, and every mistake in them."""
    wishes: dict[str, Any] = {}
    mistakes = []
    for key, value in data.items():
        if key not in _KEYS:
            mistakes.append(f"“{key}” is not a key of this file; it knows {', '.join(_KEYS)}")
            continue
        name, read = _KEYS[key]
        try:
            wishes |= finish_fields(read(value)) if name == "finish" else {name: read(value)}
        except (ValueError, TypeError) as error:
            mistakes.append(f"{key}: {error}")
        except SeamsurveyError as error:
            mistakes.append(f"{key}: {error.what}")
    return wishes, mistakes


def write_wishes(wishes: Wishes) -> bytes:
    """Return a first job.toml: what was asked for, and a comment for what may be added."""
    document = tomlkit.document()
    document.add(tomlkit.comment("Yours to edit: what is written here counts whenever this job is run again."))
    document.add(tomlkit.comment("Options on the command line come before it. Lengths are written 1/4in or 6mm."))
    plain: Mapping[str, Any] = {
        "title": wishes.title,
        "units": wishes.units,
        "reference": wishes.reference,
        "templates_are": wishes.templates_are,
        "cards": wishes.cards,
        "scale_bar": wishes.scale_bar_mm,
        "page_grid": wishes.page_grid_mm,
        "taken_with": wishes.taken_with,
        "ruler": wishes.ruler,
        "ruler_length": wishes.ruler_length_mm,
        "ruler_thickness": wishes.ruler_thickness_mm,
        "thickness": wishes.thickness_mm,
        "target_bars": wishes.target_bars_mm and " x ".join(mm_text(bar, 4) for bar in wishes.target_bars_mm),
        "allowance": _allowance_text(wishes.allowance_mm),
        "symmetry": wishes.symmetry,
        "outline": wishes.outline,
        "finish": _finish_text(wishes),
        "snap": "auto" if wishes.snap_mm is None else mm_text(wishes.snap_mm, 4) if wishes.snap_mm else "off",
        "picture": wishes.picture,
        "layout": wishes.layout,
        "paper": wishes.paper,
        "blocks": wishes.blocks,
        "came_from": wishes.came_from or None,
        "seam_allowance": _unless_usual(wishes.seam_allowance_mm, Wishes().seam_allowance_mm),
        "oversize": _unless_usual(wishes.oversize_mm, Wishes().oversize_mm),
        "print_scale": None if wishes.print_scale == (1.0, 1.0) else "{:.6g}x{:.6g}".format(*wishes.print_scale),
        "prefer": wishes.prefer,
        "pieced_start": wishes.pieced_start,
        "cure": wishes.cure,
        "never_cut": list(wishes.never_cut),
    }
    for key, value in plain.items():
        if value is not None:
            document.add(key, mm_text(value, 4) if isinstance(value, float) else value)
    counts = {name: f"{n.face_up}+{n.reversed}" if n.reversed else n.face_up for name, n in wishes.counts.items()}
    for key, table, example in (
        ("counts", counts, 'How often the block takes each template: T1 = 4, or T2 = "4+2" with 2 reversed.'),
        (
            "colours",
            wishes.colours,
            'The colour of each template, piece or fabric: T1 = "#4477aa", "T1-2" = "#aa4444".',
        ),
        ("fabrics", wishes.fabrics, 'What each template or piece is cut from: T1 = "blue check".'),
        (
            "quilt",
            _quilt_table(wishes.quilt),
            'setting "straight" or "on-point"; turned "none", "every-second", "round".',
        ),
    ):
        document.add(tomlkit.nl())
        document.add(tomlkit.comment(example))
        section = tomlkit.table()
        section.update(table)
        document.add(key, section)
    document.add(tomlkit.nl())
    for line in _CORRECTING:
        document.add(tomlkit.comment(line))
    return tomlkit.dumps(document).encode()


_CORRECTING = (
    "To correct what was measured, by the names and numbers in overlay-*.png:",
    '[templates.T3] name = "kite"; or exclude = true; corners = { 2 = [1234.5, 567.8] };',
    'edges = { 1 = "2 1/4 in" }; allowance = { 3 = "none" }. Above the tables: merge = [["T1", "T4"]],',
    'split = ["T2b"]. docs/how-to/correct-a-measurement.md shows how.',
)


def _unless_usual(length_mm: float, usual_mm: float) -> float | None:
    return None if length_mm == usual_mm else length_mm


def _quilt_table(quilt: Quilt) -> dict[str, Any]:
    return {
        "across": quilt.across, "down": quilt.down, "setting": quilt.setting,
        "sashing": mm_text(quilt.sashing_mm, 4) if quilt.sashing_mm else "0 mm", "turned": quilt.turned,
    }  # fmt: skip


def merged(*layers: Mapping[str, Any]) -> Wishes:
    """Return the Wishes in which a later layer comes before an earlier one, field by field; tables are merged."""
    fields: dict[str, Any] = {}
    for layer in layers:
        if "finish_mm" in layer:
            fields.pop("finish_height_mm", None)  # a width said alone takes the place of a width and a height
        for name, value in layer.items():
            fields[name] = {**fields.get(name, {}), **value} if isinstance(value, dict) else value
    if "quilt" in fields:
        fields["quilt"] = Quilt(**fields["quilt"])
    return attrs.evolve(Wishes(), **fields)


def _finish_text(wishes: Wishes) -> str | None:
    lengths = [length for length in (wishes.finish_mm, wishes.finish_height_mm) if length is not None]
    return " x ".join(mm_text(length, 4) for length in lengths) or None


def _allowance_text(allowance_mm: float | None) -> str:
    return "auto" if allowance_mm is None else "none" if allowance_mm == 0 else mm_text(allowance_mm, 4)


def _unreadable(file: str, mistakes: list[str]) -> InputError:
    lines = "\n".join(f"  {mistake}" for mistake in mistakes)
    return InputError(
        "job-toml",
        f"{file} can't be used:\n{lines}",
        where=file,
        todo="Mend these lines; docs/reference/job-folder.md lists all keys.",
    )
