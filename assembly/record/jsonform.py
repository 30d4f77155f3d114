"""Between records and JSON: any frozen dataclass of plain values out, and back with every key and type checked."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from functools import cache
from types import UnionType
from typing import Any, Literal, TypeVar, Union, cast, get_args, get_origin, get_type_hints

from assembly.errors import Fault, InputError

Made = TypeVar("Made")

_HINT = "is it a record that this program wrote?"
_WORDS = {float: "a number", int: "a whole number", bool: "true or false"}


def json_text(entry: object) -> str:
    """``entry`` as JSON text, keys in the order of the fields. Raises ValueError on a number that is not finite."""
    return json.dumps(plain(entry), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def plain(value: Any) -> Any:
    """``value`` made of dicts, lists, texts and numbers only."""
    if is_dataclass(value):
        return {_key(field.name): plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(entry) for key, entry in value.items()}
    if isinstance(value, tuple | list):
        return [plain(entry) for entry in value]
    return value


def typed(kind: type[Made], value: Any, file: str) -> Made:
    """``value``, read from the JSON ``file``, as a ``kind``. InputError names the first key that is wrong."""
    return cast(Made, _Reader(file).read(kind, value, ""))


class _Reader:
    """Reads values by type hints; knows the file for its faults."""

    def __init__(self, file: str) -> None:
        self.file = file

    def read(self, hint: Any, value: Any, place: str) -> Any:
        origin, arguments = get_origin(hint), get_args(hint)
        if is_dataclass(hint):
            return self._entry(hint, value, place)
        if origin in (UnionType, Union):
            return None if value is None else self.read(arguments[0], value, place)
        if origin is Literal:
            return value if value in arguments else self._fail(place, value, " or ".join(map(repr, arguments)))
        if origin is tuple:
            return self._tuple(arguments, value, place)
        if origin is not None and issubclass(origin, Mapping):
            entries = value if isinstance(value, dict) else self._fail(place, value, "a table")
            return {key: self.read(arguments[1], entry, f"{place}.{key}") for key, entry in entries.items()}
        return self._scalar(hint, value, place)

    def _entry(self, kind: Any, value: Any, place: str) -> Any:
        if not isinstance(value, dict):
            self._fail(place, value, "a table")
        made = {}
        for name, hint in _hints(kind).items():
            key = _key(name)
            if key not in value and name in _later(kind):
                continue
            if key not in value:
                raise InputError(Fault(f"the key `{key}` is missing", place, self.file, hint=_HINT))
            made[name] = self.read(hint, value[key], f"{place}.{key}" if place else key)
        return kind(**made)

    def _tuple(self, arguments: tuple[Any, ...], value: Any, place: str) -> Any:
        if not isinstance(value, list):
            self._fail(place, value, "a list")
        if arguments[-1] is Ellipsis:
            arguments = (arguments[0],) * len(value)
        if len(value) != len(arguments):
            self._fail(place, value, f"a list of {len(arguments)}")
        return tuple(
            self.read(hint, entry, f"{place}[{index}]")
            for index, (hint, entry) in enumerate(zip(arguments, value, strict=True))
        )

    def _scalar(self, kind: type, value: Any, place: str) -> Any:
        if kind is float and isinstance(value, int) and not isinstance(value, bool):
            return float(value)
        if type(value) is not kind:
            self._fail(place, value, _WORDS.get(kind, "a text"))
        return value

    def _fail(self, place: str, value: Any, valid: str) -> Any:
        given = repr(value) if len(repr(value)) <= 40 else f"{repr(value)[:40]}…"
        raise InputError(Fault(f"{given} is not {valid}", place, self.file, hint=_HINT))


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


@cache
def _later(kind: Any) -> frozenset[str]:
    """Fields with a default: a record from before they were thought of lacks them."""
    return frozenset(
        field.name for field in fields(kind) if field.default is not MISSING or field.default_factory is not MISSING
    )


def _key(name: str) -> str:
    return name.removesuffix("_")
