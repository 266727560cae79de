"""Wishes as a person writes them: what was said on the command line, as values of job.toml by their place."""

from collections.abc import Mapping
from typing import Any

from seamsurvey.job.toml_text import Keys
from seamsurvey.model import Count
from seamsurvey.units import length_words

# What the line itself writes down, once it knows what a number meant.
_WRITTEN_BY_THE_LINE = ("layout", "taken", "confirm", "drawn", "ignore", "photos")
_RENAMED = {"time_limit_s": "time_limit", "cure": "way"}
_QUILT = {f"{name}_mm": name for name in ("sashing", "border", "binding", "backing_over")}


def toml_values(wishes: Mapping[str, Any]) -> dict[Keys, Any]:
    """Return what some fields of Wishes say, by the place of each in job.toml."""
    values: dict[Keys, Any] = {}
    for name, value in wishes.items():
        if name in _WRITTEN_BY_THE_LINE:
            continue
        if name in ("counts", "colours", "fabrics"):
            values |= {(name, key): _count(each) if name == "counts" else each for key, each in value.items()}
        elif name == "quilt":
            values |= {("quilt", _QUILT.get(key, key)): _text(key, each) for key, each in value.items()}
        elif name == "finish_mm":
            both = [value, wishes["finish_height_mm"]] if wishes.get("finish_height_mm") else [value]
            first = " x ".join(length_words(each) for each in both)
            values["finish",] = ", ".join([first, *(length_words(one) for one in wishes.get("more_sizes_mm", ()))])
        elif name not in ("finish_height_mm", "more_sizes_mm"):
            values[_RENAMED.get(name, name.removesuffix("_mm")),] = _text(name, value)
    return values


def _text(name: str, value: Any) -> Any:
    if name == "allowance_mm":
        return "auto" if value is None else length_words(value) if value else "none"
    if name == "snap_mm":
        return "auto" if value is None else length_words(value) if value else "off"
    if name == "target_bars_mm":
        return " x ".join(length_words(bar) for bar in value)
    if name == "fabric_reserve":
        return f"{100 * value:g} %"
    if name == "print_scale":
        return "{:.6g}x{:.6g}".format(*value)
    if name.endswith("_mm"):
        return length_words(value)
    if name == "time_limit_s":
        return int(value) if value == int(value) else value
    if name in ("meets", "exchange"):
        return [list(pair) for pair in value]
    return list(value) if isinstance(value, tuple) else value


def _count(count: Count) -> int | str:
    return f"{count.face_up}+{count.reversed}" if count.reversed else count.face_up
