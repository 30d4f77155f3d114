"""Kinds of value and table in a mechanism file, and checking raw tables against them. The only door to pydantic.

Each kind of value is a type whose faults carry a message and a hint of our own. A table that may be one of
several kinds is chosen by its kind key before it is checked, so a fault's path holds keys of the file only.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from functools import cache, partial
from itertools import islice
from typing import Annotated, Any, ClassVar, Literal, TypeVar

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    PlainValidator,
    TypeAdapter,
    ValidationError,
    ValidationInfo,
    model_validator,
)
from pydantic_core import ErrorDetails

from assembly.model.fault_list import MOST_TOLD, FaultLog, closest, comma_hint, given, listed, nearest_key, shown
from assembly.model.plain_values import fault, finite_or_arithmetic, misplaced, plain_name
from assembly.model.positions import Place


class StrictTable(BaseModel):
    """A table of the file: no other keys than its own, and each value exactly of its kind."""

    model_config = ConfigDict(defer_build=True, strict=True, extra="forbid", allow_inf_nan=False, frozen=True)
    called: ClassVar[str] = "this table"
    """What a fault calls the table, with its article."""
    renamed: ClassVar[Mapping[str, str]] = {}
    """Keys of earlier versions, which are refused, and what they are called now."""

    @model_validator(mode="before")
    @classmethod
    def _remember_kind(cls, data: Any, info: ValidationInfo) -> Any:
        if isinstance(info.context, dict):
            info.context[id(data)] = cls
        return data

    @classmethod
    def hint(cls, unknown: str) -> str:
        """What to write instead of a key that the table has not."""
        if unknown in cls.renamed:
            return f"it is called {shown(cls.renamed[unknown])} now"
        near = closest(unknown, cls.keys())
        return f"the nearest is {shown(near)}" if near else f"its keys are {listed(cls.keys())}"

    @classmethod
    @cache
    def keys(cls) -> tuple[str, ...]:
        """The keys as they are written in the file."""
        own_first = dict.fromkeys(name for base in cls.__mro__ for name in vars(base).get("__annotations__", ()))
        return tuple(cls.model_fields[name].alias or name for name in own_first if name in cls.model_fields)


Number = Annotated[float | str, PlainValidator(finite_or_arithmetic, json_schema_input_type=float | str)]
"""A number, or arithmetic over dimension names."""
Name = Annotated[str, PlainValidator(plain_name, json_schema_input_type=str)]
"""A reference to a name of the file."""
NamePair = Annotated[list[Name], Field(min_length=2, max_length=2)]
NumberList = list[Number]
TwoNumbers = Annotated[list[Number], Field(min_length=2, max_length=2)]
ThreeNumbers = Annotated[list[Number], Field(min_length=3, max_length=3)]
Unit = Literal["mm", "cm", "m", "inch"]

_NAME_PAIR: TypeAdapter[list[str]] = TypeAdapter(NamePair)
_NUMBERS: TypeAdapter[list[float | str]] = TypeAdapter(NumberList)
_NAMES: TypeAdapter[list[str]] = TypeAdapter(list[Name])


def _coordinates(lengths: tuple[int, ...], wanted: str) -> Callable[[Any], Any]:
    def check(value: Any) -> str | list[float | str]:
        if isinstance(value, str):
            return value
        if not isinstance(value, list) or len(value) not in lengths:
            raise misplaced(value, wanted, comma_hint(value, lengths[-1]))
        return _NUMBERS.validate_python(value)

    return check


def _direction(value: Any) -> list[Any]:
    if isinstance(value, list) and len(value) == 2:
        return _NAME_PAIR.validate_python(value)
    if isinstance(value, list) and len(value) == 3:
        return _NUMBERS.validate_python(value)
    raise misplaced(value, "a direction", 'write [x, y, z] or two point names ["p", "q"]')


def _joint_names(value: Any) -> list[str]:
    if not isinstance(value, str | list):
        raise fault(f"{given(value)} stands where a joint is named", 'write "joint" or a list of joints')
    return [value] if isinstance(value, str) else _NAMES.validate_python(value)


def _bends(value: Any) -> Any:
    return _NUMBERS.validate_python(value) if isinstance(value, list) else finite_or_arithmetic(value)


_TwoOrThreeNumbers = Annotated[list[Number], Field(min_length=2, max_length=3)]
PointValue = Annotated[
    str | NumberList,
    PlainValidator(
        _coordinates((3,), "a point, [x, y, z] or the name of one,"), json_schema_input_type=str | ThreeNumbers
    ),
]
Corner = Annotated[
    str | NumberList,
    PlainValidator(
        _coordinates((2, 3), "a point, [u, v] or [x, y, z] or the name of one,"),
        json_schema_input_type=str | _TwoOrThreeNumbers,
    ),
]
DirectionValue = Annotated[
    list[float | str], PlainValidator(_direction, json_schema_input_type=NamePair | ThreeNumbers)
]
JointNames = Annotated[list[str], PlainValidator(_joint_names, json_schema_input_type=str | list[str])]
"""One joint or a list of joints."""
BendRadii = Annotated[float | str | NumberList, PlainValidator(_bends, json_schema_input_type=Number | NumberList)]
PointValues = Annotated[list[PointValue], Field(min_length=2)]
TwoPoints = Annotated[list[PointValue], Field(min_length=2, max_length=2)]
ThreePoints = Annotated[list[PointValue], Field(min_length=3, max_length=3)]
TwoTables = Annotated[list[Any], Field(min_length=2, max_length=2)]
Corners = Annotated[list[Corner], Field(min_length=3)]
TwoDirections = Annotated[list[DirectionValue], Field(min_length=2, max_length=2)]
Outline = Annotated[list[TwoNumbers], Field(min_length=3)]


def keyed(key: str) -> Any:
    """A required field whose key is a word that Python keeps for itself."""
    return Field(alias=key)


def empty_list() -> Any:
    """An optional list."""
    return Field(default_factory=list)


def empty_table() -> Any:
    """An optional table."""
    return Field(default_factory=dict)


def zeros() -> Any:
    """Three optional numbers, zero where they are not given."""
    return Field(default_factory=lambda: [0.0, 0.0, 0.0])


def by_kind(
    kinds: Mapping[str, type[StrictTable]], what: str, earlier: Mapping[str, tuple[str, ...]] | None = None
) -> PlainValidator:
    """Checks a table as the one of ``kinds`` whose key it has; ``earlier`` kinds are refused with their new names."""
    renamed = earlier or {}

    def check(value: Any, info: ValidationInfo) -> StrictTable:
        if not isinstance(value, dict):
            raise misplaced(value, f"a table of a {what}")
        found = [kind for kind in kinds if kind in value]
        if len(found) > 1:
            raise fault(f"two kinds of {what} in one table: {listed(found)}", "write one table for each")
        if not found:
            if old := next((key for key in islice(value, MOST_TOLD) if key in renamed), None):
                raise fault(
                    f"the kind {shown(old)} has another name now", f"write {' or '.join(map(shown, renamed[old]))}"
                )
            raise fault(
                lambda: f"no kind of {what} among the keys {listed(value) or '(none)'}",
                partial(nearest_key, value, kinds),
            )
        return kinds[found[0]].model_validate(value, context=info.context)

    return PlainValidator(check)


def json_schema_of(kind: Any) -> dict[str, Any]:
    """The JSON Schema of one kind of value or table; tables in it are references into ``$defs``."""
    drawn: dict[str, Any] = TypeAdapter(kind).json_schema(ref_template="#/$defs/{model}")
    return drawn


Checked = TypeVar("Checked")


def checked_table(
    kind: type[Checked], raw: object, place: Place, log: FaultLog, droppable: Collection[str] = ()
) -> Checked | None:
    """``raw`` as a value of ``kind``, every fault noted in ``log``.

    Where only ``droppable`` keys and unknown ones that are no tables are faulty the value is read without
    them, so that the faults of the rest are found too; else None.
    """
    tables: dict[int, type[StrictTable]] = {}
    adapter = _adapter(kind)
    try:
        return adapter.validate_python(raw, context=tables)
    except ValidationError as error:
        if log.is_full and not droppable:
            log.count(place, error.error_count())
            return None
        details = error.errors(include_url=False)
    unknown = dict.fromkeys(str(detail["loc"][-1]) for detail in details if detail["type"] == "extra_forbidden")
    for detail in details:
        if detail["type"] == "missing" and not log.is_full and closest(str(detail["loc"][-1]), unknown):
            continue
        _note(detail, raw, place, tables, log)
    faulty = {detail["loc"][0] for detail in details if detail["loc"]}
    if not droppable or not isinstance(raw, dict) or not faulty:
        return None
    if any(key not in droppable and (key not in unknown or isinstance(raw[key], dict)) for key in faulty):
        return None
    return adapter.validate_python({key: value for key, value in raw.items() if key not in faulty})


_adapters: dict[int, tuple[object, TypeAdapter[Any]]] = {}
"""Making one takes milliseconds, so each is kept by the identity of its type, whose hash takes longer than a check."""


def _adapter(kind: type[Checked]) -> TypeAdapter[Checked]:
    if id(kind) not in _adapters:
        _adapters[id(kind)] = kind, TypeAdapter(kind)
    return _adapters[id(kind)][1]


def checked_number(raw: object, place: Place, log: FaultLog) -> float | str | None:
    """``raw`` as a number or arithmetic, or None with its fault noted."""
    if isinstance(raw, str) or (isinstance(raw, float) and math.isfinite(raw)):
        return raw  # what the check below would give, without the cost of asking it
    number: float | str | None = checked_table(Number, raw, place, log)  # type: ignore[arg-type]  # a union is no `type`
    return number


def _note(
    detail: ErrorDetails, raw: object, place: Place, tables: Mapping[int, type[StrictTable]], log: FaultLog
) -> None:
    path, kind, context = detail["loc"], detail["type"], detail.get("ctx", {})
    if log.is_full:
        log.add((*place, *(path[:-1] if kind == "missing" else path)), "")
    elif kind in ("extra_forbidden", "missing"):
        inside = raw
        for step in path[:-1]:
            inside = inside[step]  # type: ignore[index]
        table, key = tables[id(inside)], str(path[-1])
        if kind == "missing":
            log.add((*place, *path[:-1]), f"{shown(key)} is missing", f"{table.called} needs it")
        else:
            log.add((*place, *path), f"{table.called} has no key {shown(key)}", table.hint(key))
    elif kind == "fault":
        log.add(
            (*place, *path), *(words() if callable(words) else words for words in (context["message"], context["hint"]))
        )
    else:
        log.add((*place, *path), *_standard(kind, detail["input"], context, detail["msg"]))


_WANTED = {
    "bool_type": "true or false",
    "string_type": "text in quotes",
    "int_type": "a whole number",
    "list_type": "a list",
    **dict.fromkeys(("dict_type", "model_type", "model_attributes_type"), "a table"),
}


def _standard(kind: str, value: object, context: Mapping[str, Any], message: str) -> tuple[str, str]:
    """Message and hint for the faults that pydantic finds by itself."""
    if kind in _WANTED:
        return f"{given(value)} stands where {_WANTED[kind]} is needed", ""
    if kind in ("too_short", "too_long"):
        count = context.get("min_length", context.get("max_length"))
        bound = f"at least {count} are needed" if kind == "too_short" else f"at most {count} are allowed"
        comma = comma_hint(value, count)
        there = context["actual_length"]
        counted = f"{there} {'entry' if there == 1 else 'entries'} in this list"
        return counted, f"{bound}; {comma}" if comma else bound
    if kind == "literal_error":
        return f"{given(value)} is not one of the choices", f"choose {context['expected']}"
    return f"{given(value)} is refused: {message}", ""
