"""Between attrs values and JSON text: strict types, and every mistake of a file told at once with its place."""

import json
from typing import Any, TypeVar, get_origin

import numpy as np
from attrs import fields, has
from cattrs import Converter, transform_error
from cattrs.errors import BaseValidationError
from cattrs.gen import make_dict_unstructure_fn, override

from seamsurvey.errors import InputError

T = TypeVar("T")

SELDOM = "seldom"
"""Marks a field, in its metadata, that is written only where it says something."""


def _is_array(kind: Any) -> bool:
    return kind is np.ndarray or get_origin(kind) is np.ndarray


def _array(value: Any, _: Any) -> Any:
    try:
        array = np.array(value, dtype=float)
    except (TypeError, ValueError):
        raise ValueError("expected a list of numbers, all rows of one length") from None
    if not np.all(np.isfinite(array)):
        raise ValueError("expected finite numbers")
    return array


def _number(value: Any, _: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not np.isfinite(value):
        raise ValueError(f"expected a number, not {value!r}")
    return float(value)


def _exactly(kind: type, words: str) -> Any:
    def structure(value: Any, _: Any) -> Any:
        if type(value) is not kind:
            raise ValueError(f"expected {words}, not {value!r}")
        return value

    return structure


def _without_defaults(kind: type, converter: Converter) -> Any:
    """Write all fields but those marked SELDOM that are as they are by default."""
    seldom: dict[str, Any] = {
        f.name: override(omit_if_default=True) for f in fields(kind) if f.metadata.get(SELDOM)
    }
    return make_dict_unstructure_fn(kind, converter, **seldom)


def _converter() -> Converter:
    converter = Converter()
    # Left alone, cattrs would turn `name = 3` into "3".
    converter.register_structure_hook(float, _number)
    converter.register_structure_hook(int, _exactly(int, "a whole number"))
    converter.register_structure_hook(str, _exactly(str, "a text"))
    converter.register_structure_hook(bool, _exactly(bool, "true or false"))
    converter.register_structure_hook_func(_is_array, _array)
    converter.register_unstructure_hook_func(_is_array, lambda array: array.tolist())
    converter.register_unstructure_hook_factory(has, lambda kind: _without_defaults(kind, converter))
    return converter


_CONVERTER = _converter()


def _said(error: BaseException, kind: Any) -> str:
    if isinstance(error, KeyError):
        return f"“{error.args[0]}” is missing"
    return str(error) or f"expected {kind}"


def to_json(value: Any) -> bytes:
    """UTF-8 JSON of an attrs value; floats are written in full, so that reading gives the same value back."""
    return (json.dumps(_CONVERTER.unstructure(value), indent=1, ensure_ascii=False) + "\n").encode()


def structure(data: Any, kind: type[T], file: str) -> T:
    """Return ``data`` as a value of ``kind``; InputError ``file-unreadable`` with every mistake and its path."""
    try:
        return _CONVERTER.structure(data, kind)
    except BaseValidationError as error:
        lines = "\n".join(f"  {line}" for line in transform_error(error, format_exception=_said))
        raise InputError(
            "file-unreadable",
            f"{file} does not have the shape it should have:\n{lines}",
            where=file,
            todo="Mend the file (docs/reference/job-folder.md describes it), or delete it to have it made again.",
        ) from error


def from_json(text: bytes, kind: type[T], file: str, expected_format: str) -> T:
    """Return the value in a JSON ``text``; InputError ``file-unreadable`` if it is not JSON of this format."""
    try:
        data = json.loads(text)
    except ValueError as error:
        raise InputError(
            "file-unreadable", f"{file} is not JSON: {error}.", where=file, todo="Mend it, or delete it."
        ) from error
    found = data.get("format") if isinstance(data, dict) else None
    if found != expected_format:
        raise InputError(
            "file-unreadable",
            f'{file} should say "format": "{expected_format}", but says {found!r}.',
            where=file,
            todo="Give a file of this format, or delete it to have it made again.",
        )
    return structure(data, kind, file)
