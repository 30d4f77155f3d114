"""Between frozen dataclasses and JSON: written as they are, and read back with every key and type checked.

Used of records, of what the history keeps and of the result cache. JSON gives every float back to the last bit.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from functools import cache
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError
from pydantic_core import ErrorDetails

from assembly.errors import Fault, InputError
from assembly.printable import visible_json

Made = TypeVar("Made")

_HINT = "is it a record that this program wrote?"
_WORDS = {"int": "a whole number", "float": "a number", "bool": "true or false", "string": "a text", "tuple": "a list"}
"""What would be valid, by the first word of the kind of fault."""
_adapter: Callable[[type], TypeAdapter[Any]] = cache(TypeAdapter)


def json_text(entry: object) -> str:
    """``entry`` as JSON text, keys in the order of the fields. Raises ValueError on a number that is not finite."""
    return visible_json(json.dumps(plain(entry), indent=1, ensure_ascii=False, allow_nan=False)) + "\n"


def plain(value: Any) -> Any:
    """``value``, a dataclass or a tuple of such, made of dicts, lists, texts and numbers only."""
    if isinstance(value, tuple):
        return [plain(entry) for entry in value]
    return _adapter(type(value)).dump_python(value, mode="json", by_alias=True, warnings="none")


def made_of(kind: type[Made], text: str | bytes) -> Made:
    """The ``kind`` that the JSON ``text`` holds. Raises ValidationError, a ValueError, where it holds anything else."""
    made: Made = _adapter(kind).validate_json(text, strict=True)
    return made


def typed(kind: type[Made], text: str, file: str) -> Made:
    """As ``made_of``, of the JSON ``file``. InputError names the first key that is wrong."""
    try:
        return made_of(kind, text)
    except ValidationError as error:
        raise InputError(_fault(error.errors(include_url=False), file)) from error


def _fault(errors: list[ErrorDetails], file: str) -> Fault:
    """The first of them in words; of a tuple that is too short each entry that is missing is an error of its own."""
    *way, last = errors[0]["loc"]
    given = errors[0]["input"]
    if errors[0]["type"] != "missing":
        return _wrong(given, _valid(errors[0]), _place([*way, last]), file)
    if isinstance(last, int):
        wanted = sum(error["loc"][:-1] == tuple(way) for error in errors) + last
        return _wrong(given, f"a list of {wanted}", _place(way), file)
    return Fault(f"the key `{last}` is missing", _place(way), file, hint=_HINT)


def _wrong(value: Any, valid: str, place: str, file: str) -> Fault:
    given = repr(value) if len(repr(value)) <= 40 else f"{repr(value)[:40]}…"
    return Fault(f"{given} is not {valid}", place, file, hint=_HINT)


def _valid(error: ErrorDetails) -> str:
    kind, given = error["type"], error.get("ctx", {})
    if kind == "literal_error":
        return str(given["expected"]).replace(", ", " or ")
    if kind == "too_long":
        return f"a list of {given['max_length']}"
    return _WORDS.get(kind.partition("_")[0], "a table")


def _place(way: Sequence[int | str]) -> str:
    return "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in way).removeprefix(".")
