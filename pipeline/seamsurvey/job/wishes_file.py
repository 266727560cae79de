"""job.toml: the person's own file, as Wishes."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

import attrs

from seamsurvey.errors import InputError, SeamsurveyError, UsageError
from seamsurvey.job.corrections import CORRECTION_KEYS, did_you_mean
from seamsurvey.job.toml_text import Keys, line_of
from seamsurvey.job.wish_keys import KEYS, OLD_KEYS, QUILT_KEYS, TABLES, finish_fields
from seamsurvey.model import Quilt, Wishes

FILE = "job.toml"


def read_wishes(text: bytes, file: str = FILE) -> dict[str, Any]:
    """Return the fields of Wishes that a job.toml gives; InputError ``job-toml`` with each mistake and its line."""
    try:
        plain = text.decode("utf-8-sig")
        data = tomllib.loads(plain)
    except UnicodeDecodeError as error:
        raise _unreadable(file, ["it is not UTF-8 text: save it as UTF-8"]) from error
    except tomllib.TOMLDecodeError as error:
        raise _unreadable(file, [_said_of_toml(str(error))]) from error
    wishes, mistakes = _wishes_of(data)
    if mistakes:
        lines = [(line_of(plain, path) or 0, said) for path, said in mistakes]
        raise _unreadable(file, [f"line {line}: {said}" if line else said for line, said in sorted(lines)])
    return wishes


def wishes_of(data: Mapping[str, Any]) -> tuple[dict[str, Any], list[str]]:
    """Return the fields of Wishes that the keys of a job.toml give, and every mistake in them."""
    wishes, mistakes = _wishes_of(data)
    return wishes, [said for _, said in mistakes]


def _wishes_of(data: Mapping[str, Any]) -> tuple[dict[str, Any], list[tuple[Keys, str]]]:
    """The fields, and every mistake with its path."""
    wishes: dict[str, Any] = {}
    mistakes: list[tuple[Keys, str]] = []
    for said, value in data.items():
        key = OLD_KEYS.get(said, said)
        if key != said and key in data:
            mistakes.append(((said,), f"“{said}” is called “{key}” now, which stands there as well: take one out"))
            continue
        if key not in KEYS:
            mistakes.append(((key,), f"“{key}” is not a key of this file{_hint(key)}"))
            continue
        name, read = KEYS[key]
        wrong = [((said, *path[1:]), words) for path, words in _mistakes_in(key, value)]
        mistakes += wrong
        if not wrong:
            wishes |= finish_fields(read(value)) if name == "finish" else {name: read(value)}
    return wishes, mistakes


def _mistakes_in(key: str, value: Any) -> list[tuple[Keys, str]]:
    """What is wrong with a key's value, each leaf of a table by itself so that all of it is told at its place."""
    _, read = KEYS[key]
    leaves = _leaves(value) if key in TABLES and key != "taken" and isinstance(value, dict) and value else [()]
    wrong = []
    for path in leaves:
        if path and path[0] in KEYS and path[0] not in TABLES:
            wrong.append(((key, *path), f"“{path[0]}” stands in [{key}], and belongs above the tables"))
            continue
        try:
            read(_only(value, path))
        except (ValueError, TypeError) as error:
            wrong.append(((key, *path), f"{key}: {error}"))
        except SeamsurveyError as error:
            wrong.append(((key, *path), f"{key}: {error.what}"))
    return wrong


def _leaves(value: Any) -> list[Keys]:
    if not isinstance(value, dict) or not value:
        return [()]
    return [(key, *rest) for key, inner in value.items() for rest in _leaves(inner)]


def _only(value: Any, path: Keys) -> Any:
    """A table with nothing in it but what stands at one path."""
    return {path[0]: _only(value[path[0]], path[1:])} if path else value


def _hint(key: str) -> str:
    """Where a key that is none belongs, or the nearest one that is."""
    if key in QUILT_KEYS:
        return "; it belongs under [quilt]"
    if key in CORRECTION_KEYS:
        return f"; it belongs under [templates], behind a template's name: T3.{key}"
    tables = "], [".join(TABLES[:3])
    return did_you_mean(key, KEYS) or f"; a template's name belongs under [{tables}] or [templates]"


def _said_of_toml(said: str) -> str:
    """The parser's words, with the line first, and in plain words where a table stands there twice."""
    twice = re.match(r"Cannot declare \((.*?),?\) twice \(at line (\d+)", said)
    if twice:
        name = ".".join(re.findall(r"'([^']*)'", twice[1]))
        return f"line {twice[2]}: [{name}] stands there already: put what it holds under the first one"
    at = re.match(r"(.*) \(at line (\d+), column (\d+)\)", said)
    return f"line {at[2]}: {at[1]} (at column {at[3]})" if at else said


def forgotten(said: Sequence[str]) -> dict[Keys, None]:
    """What --forget takes out of a job.toml, by its place; UsageError ``no-such-key``."""
    paths: dict[Keys, None] = {}
    for text in said:
        first, *rest = text.split(".")
        path = (OLD_KEYS.get(first, first), *rest)
        if path[0] not in KEYS:
            raise no_such_key(path[0])
        paths[path] = None
        paths |= {(old, *rest): None for old, new in OLD_KEYS.items() if new == path[0]}
        if path == ("layout",):
            paths["taken",] = None
    return paths


def no_such_key(key: str) -> UsageError:
    """The error for what is no key of job.toml."""
    return UsageError(
        "no-such-key",
        f"“{key}” is not a key of job.toml{_hint(key)}{'' if _hint(key).endswith('?') else '.'}",
        todo="docs/reference/job-folder.md lists all keys.",
    )


def merged(*layers: Mapping[str, Any]) -> Wishes:
    """Return the Wishes in which a later layer comes before an earlier one, field by field; tables are merged."""
    fields: dict[str, Any] = {}
    for layer in layers:
        if "finish_mm" in layer:
            for name in ("finish_height_mm", "more_sizes_mm"):  # what is said now takes the place of all of it
                fields.pop(name, None)
        for name, value in layer.items():
            if isinstance(value, dict):
                fields[name] = {**fields.get(name, {}), **value}
            elif name in ("confirm", "drawn", "ignore"):
                # One thing more takes none back.
                fields[name] = tuple(dict.fromkeys((*fields.get(name, ()), *value)))
            else:
                fields[name] = value
    if "quilt" in fields:
        fields["quilt"] = Quilt(**fields["quilt"])
    return attrs.evolve(Wishes(), **fields)


def _unreadable(file: str, mistakes: list[str]) -> InputError:
    lines = "\n".join(f"  {mistake}" for mistake in mistakes)
    return InputError(
        "job-toml",
        f"{file} can't be used:\n{lines}",
        where=file,
        todo="Mend these lines; docs/reference/job-folder.md lists all keys.",
    )
