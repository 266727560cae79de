"""One wish in words, KEY=VALUE, and its place and value in job.toml."""

import tomllib
from collections.abc import Iterable, Iterator
from typing import Any

from seamsurvey.errors import SeamsurveyError, UsageError
from seamsurvey.job.corrections import CORRECTION_KEYS, did_you_mean
from seamsurvey.job.toml_text import Keys
from seamsurvey.job.wish_keys import CHOICES, KEYS, OLD_KEYS, QUILT_KEYS, TABLES
from seamsurvey.job.wishes_file import no_such_key

# What may be said of a template or a piece, T3.count=4, and the table it stands in.
OF_A_NAME = {"count": "counts", "colour": "colours", "fabric": "fabrics"}
# Kept by the program beside what a person says.
_NOT_SAID = ("taken",)


def parse_setting(text: str, names: Iterable[str]) -> tuple[Keys, Any]:
    """Return the place in job.toml and the value of KEY=VALUE; the value is None where nothing follows the =.

    ``names`` are the templates there are, where they are known. UsageError ``no-such-key``, ``setting-unclear``,
    ``unknown-template``.
    """
    key, is_said, value = text.partition("=")
    path = key_path(key.strip(), list(names))
    if not is_said:
        raise UsageError(
            "setting-unclear",
            f"“{text}” says nothing of {key}.",
            todo=f"Write {key}=VALUE, or {key}= to take it back.",
        )
    return path, _value_of(path, value.strip()) if value.strip() else None


def key_path(key: str, names: list[str]) -> Keys:
    """Return the place in job.toml that a key means; UsageError ``no-such-key``, ``unknown-template``."""
    first, *rest = _parts(key, names)
    first = first if first in names else OLD_KEYS.get(first, first)
    if first in KEYS and first not in _NOT_SAID and (first in TABLES or not rest):
        if first == "quilt" and rest and rest[0] not in QUILT_KEYS:
            raise no_such_key(f"quilt.{rest[0]}")
        return (first, *rest)
    if not rest:
        raise no_such_key(first)
    if names and first not in names and first.rpartition("-")[0] not in names:
        raise UsageError(
            "unknown-template",
            f"There is no template called {first}{did_you_mean(first, names) or '.'}",
            todo=f"The templates are {', '.join(names)}.",
        )
    if rest[0] in OF_A_NAME and len(rest) == 1:
        return (OF_A_NAME[rest[0]], first)
    if rest[0] in CORRECTION_KEYS:
        return ("templates", first, *rest)
    known = (*OF_A_NAME, *CORRECTION_KEYS)
    raise UsageError(
        "no-such-key",
        f"Of a template nothing called “{rest[0]}” can be said{did_you_mean(rest[0], known) or '.'}",
        todo=f"There are {', '.join(known)}.",
    )


def _parts(key: str, names: Iterable[str]) -> list[str]:
    """A key at its dots; a template's own name may have some."""
    name = max((name for name in names if key.startswith(f"{name}.")), key=len, default="")
    return [name, *key[len(name) + 1 :].split(".")] if name else key.split(".")


def _value_of(path: Keys, said: str) -> Any:
    """The value as job.toml has it: the first of what the words may mean that the key takes."""
    _, read = KEYS[path[0]]
    problem = ""
    for value in _meanings(said):
        try:
            read(_nested(path[1:], value))
        except (ValueError, TypeError) as error:
            problem = problem or str(error)
        except SeamsurveyError as error:
            problem = problem or error.what
        else:
            return value
    raise UsageError(
        "setting-unclear",
        f"{'.'.join(path)} can't be “{said}”: {problem}.",
        todo="docs/reference/job-folder.md says what each key takes.",
    )


def _meanings(said: str) -> Iterator[Any]:
    if said.isdecimal():
        yield int(said)
    yield said
    for text in (said, f"[{said}]"):
        try:
            yield tomllib.loads(f"x = {text}")["x"]
        except tomllib.TOMLDecodeError:
            continue
    yield [part.strip() for part in said.split(",")]


def _nested(path: Keys, value: Any) -> Any:
    return {path[0]: _nested(path[1:], value)} if path else value


def completions(incomplete: str, names: Iterable[str]) -> list[str]:
    """What a half-written KEY=VALUE may become: keys up to their =, and values where there are only some."""
    key, is_said, begun = incomplete.partition("=")
    if is_said:
        values = CHOICES.get(key, ("auto", "none") if key == "allowance" else ())
        return [f"{key}={value}" for value in values if value.startswith(begun)]
    plain = [f"{each}=" for each in KEYS if each not in TABLES]
    quilt = [f"quilt.{each}=" for each in QUILT_KEYS]
    of_names = [f"{name}.{each}=" for name in names for each in (*OF_A_NAME, "name", "exclude", "allowance")]
    numbered = [f"{name}.{each}." for name in names for each in ("edges", "corners")]
    return [each for each in (*plain, *quilt, *of_names, *numbered) if each.startswith(incomplete)]
