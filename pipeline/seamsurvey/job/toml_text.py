"""A TOML file edited line by line, as a person would: what is not touched stays as it is, to the byte.

A path is the keys from the file's top to a value: ("paper",), ("counts", "T1").
"""

import contextlib
import copy
import re
import tomllib
from collections.abc import Mapping
from typing import Any

import tomlkit
from attrs import frozen

Keys = tuple[str, ...]
_NOTE = re.compile(r"(?:^|;?\s*)said \d{4}-\d\d-\d\d.*$")


def line_of(text: str, path: Keys) -> int | None:
    """The number, from 1, of the line at whose end the value at ``path`` first stands; None where it does not.

    The parser itself tells, from ever more of the file, so that no way of writing TOML can deceive.
    """
    lines = text.split("\n")
    for number in range(1, len(lines) + 1):
        with contextlib.suppress(tomllib.TOMLDecodeError):  # in the middle of a value
            if value_at(tomllib.loads("\n".join(lines[:number]) + "\n"), path) is not None:
                return number
    return None


def value_at(data: Mapping[str, Any], path: Keys) -> Any:
    """What stands at ``path``; None for nothing, which TOML has no other word for."""
    found: Any = data
    for key in path:
        if not isinstance(found, Mapping) or key not in found:
            return None
        found = found[key]
    return found


def with_value(text: str, path: Keys, value: Any, note: str = "", *, below: Keys = ()) -> str:
    """The file with a value at ``path``: in the place of one that stands there, else where its key is explained.

    ``note`` is written behind it as a comment, after the person's own and in place of an older note. A value that
    is there already leaves the file as it is. A new one can be wanted ``below`` another.
    """
    wanted = tomllib.loads(text)
    if value_at(wanted, path) == value:
        return text
    wanted = _set(wanted, path, value)
    for edit in (_by_line, _by_parser):
        with contextlib.suppress(tomllib.TOMLDecodeError, LookupError, TypeError):
            edited = edit(text, path, value, note, below)
            if tomllib.loads(edited) == wanted:
                return edited
    raise ValueError(f"{_dotted(path)} can't be written where another value stands in the way")


def without_value(text: str, path: Keys) -> str:
    """The file without the value at ``path``, or without all values of a table; else as it is."""
    value = value_at(tomllib.loads(text), path)
    if value is None:
        return text
    statement = _statement(text, path)
    if isinstance(value, Mapping) and (statement is None or not statement.alone):
        for key in list(value):
            text = without_value(text, (*path, key))
        return text
    if statement is None or not statement.alone:
        document = tomlkit.parse(text)
        holder: Any = document
        for key in path[:-1]:
            holder = holder[key]
        del holder[path[-1]]
        return tomlkit.dumps(document)
    lines = text.split("\n")
    del lines[statement.start : statement.end]
    return "\n".join(lines)


@frozen
class _Statement:
    """Lines start to end - 1, from 0, set a value; ``path`` is how the statement itself calls it."""

    start: int
    end: int
    path: Keys
    alone: bool  # whether it sets this value, all of it, and nothing beside it


def _statement(text: str, path: Keys) -> _Statement | None:
    end = line_of(text, path)
    if end is None:
        return None
    lines, whole = text.split("\n"), value_at(tomllib.loads(text), path)
    if _header(lines[end - 1]):
        return None
    for start in range(end - 1, -1, -1):
        try:
            said = tomllib.loads("\n".join(lines[start:end]) + "\n")
        except tomllib.TOMLDecodeError:
            continue
        for skipped in range(len(path)):
            here = path[skipped:]
            if (value := value_at(said, here)) is not None:
                return _Statement(start, end, here, alone=_sets_only(said, here) and value == whole)
    return None


def _sets_only(data: Any, path: Keys) -> bool:
    for key in path:
        if not isinstance(data, Mapping) or list(data) != [key]:
            return False
        data = data[key]
    return True


def _by_line(text: str, path: Keys, value: Any, note: str, below: Keys) -> str:
    lines = text.split("\n")
    statement = _statement(text, path)
    if statement is not None:
        if not statement.alone:
            raise LookupError
        old = lines[statement.start : statement.end]
        indent = re.match(r"\s*", old[0])
        comment = _comment_of("\n".join(old), statement.path)
        line = _line(statement.path, value, _noted(comment, note))
        lines[statement.start : statement.end] = [(indent[0] if indent else "") + line + _ending(text)]
        return "\n".join(lines)
    if below and (upper := _statement(text, below)) is not None:
        lines.insert(upper.end, _line(path, value, note) + _ending(text))
        return "\n".join(lines)
    table = max((header for _, header in _headers(lines) if header == path[: len(header)]), key=len, default=())
    if not table and len(path) > 1:
        ending = _ending(text)
        gap = [ending] if lines[-1].strip() else []
        new = [f"[{_dotted(path[:1])}]{ending}", _line(path[1:], value, note) + ending]
        return "\n".join([*lines[: -1 if not lines[-1] else None], *gap, ending, *new]) + "\n"
    lines.insert(_place(lines, table, path[len(table) :]), _line(path[len(table) :], value, note) + _ending(text))
    return "\n".join(lines)


def _place(lines: list[str], table: Keys, path: Keys) -> int:
    """Where a new line goes: below the example of its key, else at the end of its table."""
    headers = _headers(lines)
    starts = [k + 1 for k, header in headers if header == table] if table else [0]
    start = starts[0]
    end = min((k for k, _ in headers if k >= start), default=len(lines))
    example = re.compile(rf"#\s*{re.escape(_dotted(path))}\s*=")
    for number in range(start, end):
        if example.match(lines[number]):
            return number + 1
    values = [k for k in range(start, end) if lines[k].strip() and not lines[k].lstrip().startswith("#")]
    words = [k for k in range(start, end) if lines[k].strip()]
    # A table without values: below its examples. A file without values above its tables: below its first words.
    if not values and not table:
        return next((k for k in range(start, end) if not lines[k].strip()), end)
    return max(values or words, default=start - 1) + 1


def _headers(lines: list[str]) -> list[tuple[int, Keys]]:
    return [(k, header) for k, line in enumerate(lines) if (header := _header(line))]


def _header(line: str) -> Keys:
    """The table whose header this line is; () for none."""
    if not line.lstrip().startswith("["):
        return ()
    try:
        data: Any = tomllib.loads(line + "\n")
    except tomllib.TOMLDecodeError:
        return ()
    path: list[str] = []
    while isinstance(data, dict) and len(data) == 1:
        ((key, data),) = data.items()
        path.append(key)
    return tuple(path) if data == {} else ()


def _by_parser(text: str, path: Keys, value: Any, note: str, below: Keys) -> str:
    del note, below  # inside an inline table there is no room for one
    document = tomlkit.parse(text)
    holder: Any = document
    for key in path[:-1]:
        holder = holder[key] if key in holder else holder.setdefault(key, tomlkit.inline_table())
    holder[path[-1]] = value
    return tomlkit.dumps(document)


def _set(data: dict[str, Any], path: Keys, value: Any) -> dict[str, Any]:
    data = copy.deepcopy(data)
    holder = data
    for key in path[:-1]:
        holder = holder.setdefault(key, {})
        if not isinstance(holder, dict):
            raise ValueError(f"{_dotted(path)} can't be written: {key} is no table there")
    holder[path[-1]] = _plain(value)
    return data


def _plain(value: Any) -> Any:
    """As the parser gives it back: tuples are lists."""
    if isinstance(value, Mapping):
        return {key: _plain(each) for key, each in value.items()}
    return [_plain(each) for each in value] if isinstance(value, list | tuple) else value


def _line(path: Keys, value: Any, comment: str) -> str:
    return f"{_dotted(path)} = {_literal(value)}" + (f"  # {comment}" if comment else "")


def _literal(value: Any) -> str:
    """A value as TOML has it, on one line."""
    if isinstance(value, Mapping):
        inside = ", ".join(f"{_dotted((key,))} = {_literal(each)}" for key, each in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(_literal(each) for each in value)}]"
    return str(tomlkit.item(value).as_string())


def _dotted(path: Keys) -> str:
    return ".".join(str(tomlkit.key(key).as_string()) if key else '""' for key in path)


def _comment_of(statement: str, path: Keys) -> str:
    holder: Any = tomlkit.parse(statement)
    for key in path[:-1]:
        holder = holder[key]
    item = holder.item(path[-1]) if hasattr(holder, "item") else holder.value.item(path[-1])
    return str(item.trivia.comment).lstrip("# ").rstrip()


def _noted(comment: str, note: str) -> str:
    own = _NOTE.sub("", comment) if note else comment
    return "; ".join(part for part in (own, note) if part)


def _ending(text: str) -> str:
    return "\r" if "\r\n" in text else ""
