"""The mechanism file as a JSON Schema (draft 2020-12), so that an editor completes and checks while one types.

It is made from the tables that the reader checks with. A schema knows which keys a table has and what kind of value
each takes, not what values mean: names that do not exist, arithmetic that cannot be worked out and sizes below 0 are
found by the reader alone.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from assembly.model.cable_tables import CableTable, RunTable, SplitterTable
from assembly.model.feature_reader import FeatureTable
from assembly.model.file_tables import (
    JOINT_KINDS,
    ClearanceTable,
    DimensionTable,
    DriveTable,
    FileTable,
    LengthTable,
    MeshTable,
    PairRuleTable,
    PartTable,
    PointTable,
    TolerancesTable,
)
from assembly.model.load_reader import LoadCaseTable, PushedStopTable
from assembly.model.measure_reader import MEASURE_KINDS, AngleOf, CoordinateOf, DistanceOf, LevelOf
from assembly.model.rod_tables import EngagementRuleTable, NutTable, RodThreadTable, ThreadedRodTable
from assembly.model.schema import (
    DirectionValue,
    Number,
    PointValue,
    StrictTable,
    ThreeNumbers,
    TwoNumbers,
    json_schema_of,
)
from assembly.model.shape_tables import SHAPE_KINDS, ShapeTable
from assembly.model.stop_tables import StopTable
from assembly.model.survey_reader import READING_KINDS
from assembly.model.weight_reader import CarriedTable, OnPartTable, PartWeightTable, WeightsTable
from assembly.model.wheel_tables import LimitAtTable, RoadTable, WheelTable

Json = dict[str, Any]
DIALECT = "https://json-schema.org/draft/2020-12/schema"


@dataclass(frozen=True, slots=True)
class KeyMeaning:
    """What a key is for. ``unit`` is empty where it has none; ``example`` is a value that its table takes."""

    meaning: str
    unit: str
    example: Any

    @property
    def words(self) -> str:
        """The meaning with its unit."""
        return f"{self.meaning} [{self.unit}]" if self.unit else self.meaning


def _table(kind: type[StrictTable]) -> Json:
    return {"$ref": f"#/$defs/{_name(kind)}"}


def _either(*choices: Json) -> Json:
    return {"anyOf": list(choices)}


def _list_of(entry: Json) -> Json:
    return {"type": "array", "items": entry}


def _two_of(entry: Json) -> Json:
    return {**_list_of(entry), "minItems": 2, "maxItems": 2}


def _named(entry: Json) -> Json:
    """A table of entries with names of the builder's own."""
    return {"type": "object", "additionalProperties": entry}


def _kinds(kinds: Mapping[str, type[StrictTable]]) -> Json:
    """One of several kinds of table: the one whose key stands there."""
    return _either(*map(_table, kinds.values()))


def _name(table: type[StrictTable]) -> str:
    return table.__name__.removesuffix("Table")


_NUMBER, _POINT, _DIRECTION = (json_schema_of(kind) for kind in (Number, PointValue, DirectionValue))
_NAME = {"type": "string"}
_POINTS = _named(_either(json_schema_of(ThreeNumbers), _table(PointTable)))
_DIFFERS = _either(_NUMBER, json_schema_of(ThreeNumbers))
_SHAPE, _FEATURE = _kinds(SHAPE_KINDS), _table(FeatureTable)
_LIMITS = _named(_either(json_schema_of(TwoNumbers), _table(LimitAtTable)))
_OPEN: dict[type[StrictTable], dict[str, Json]] = {
    FileTable: {
        "format": {"const": 1},
        "dimensions": _named(_either(_NUMBER, _table(DimensionTable))),
        "points": _POINTS,
        "parts": _named(_table(PartTable)),
        "joints": _named(_kinds(JOINT_KINDS)),
        "drives": _named(_table(DriveTable)),
        "stops": _named(_table(StopTable)),
        "loads": _named(_table(LoadCaseTable)),
        "measures": _named(_kinds(MEASURE_KINDS)),
        "measured": _named(_kinds(READING_KINDS)),
        "rods": _named(_table(ThreadedRodTable)),
        "cables": _named(_table(CableTable)),
        "splitters": _named(_table(SplitterTable)),
        "weights": _table(WeightsTable),
        "wheels": _named(_table(WheelTable)),
        "road": _table(RoadTable),
        "clearance": _table(ClearanceTable),
        "tolerances": _either(_table(TolerancesTable), {"type": "object", "maxProperties": 0}),
    },
    PartTable: {
        "points": _POINTS,
        "set_length": _either(_table(LengthTable), _list_of(_table(LengthTable))),
        "shapes": _list_of(_SHAPE),
        "meshes": _list_of(_table(MeshTable)),
    },
    ShapeTable: {"cut": _list_of(_SHAPE), "joined": _list_of(_SHAPE)},
    PointTable: {"may_differ": _DIFFERS},
    ClearanceTable: {"pairs": _list_of(_table(PairRuleTable))},
    LoadCaseTable: {"stop": _either(_NAME, _table(PushedStopTable))},
    AngleOf: {"angle": _two_of(_FEATURE), "about": _either(_DIRECTION, _FEATURE)},
    DistanceOf: {"distance": _two_of(_FEATURE)},
    CoordinateOf: {"coordinate": _FEATURE, "along": _either(_DIRECTION, _FEATURE)},
    LevelOf: {"level": _FEATURE},
    RodThreadTable: {"lock_nut": _either(_NAME, _table(NutTable))},
    ThreadedRodTable: {"rules": _list_of(_either(_NAME, _table(EngagementRuleTable)))},
    CableTable: {"runs": _list_of(_table(RunTable))},
    RunTable: {"through": _list_of(_FEATURE)},
    WheelTable: {"kingpin": _two_of(_either(_POINT, _FEATURE)), "limits": _LIMITS},
    RoadTable: {"contact": _FEATURE, "plane": _FEATURE, "limits": _LIMITS},
    WeightsTable: {
        "parts": _named(_table(PartWeightTable)),
        "carried": _named(_table(CarriedTable)),
        "contact": _named(_two_of(_either(_POINT, _table(OnPartTable)))),
    },
}
"""Keys whose values the tables leave open, because the reader checks them one by one."""


def file_schema() -> Json:
    """The whole schema.

    Returns
    -------
    dict
        A JSON Schema of draft 2020-12; every key of the file has a description, with its unit, and an example.

    """
    definitions = {_name(table): _definition(table) for table in all_tables()}
    root = definitions.pop(_name(FileTable))
    return {"$schema": DIALECT, "title": "Swingroom mechanism file", **root, "$defs": definitions}


@cache
def all_tables() -> tuple[type[StrictTable], ...]:
    """Every table that a file may hold, the whole file first."""
    found: dict[type[StrictTable], None] = {}
    waiting: list[type[StrictTable]] = [FileTable]
    while waiting:
        table = waiting.pop(0)
        if table not in found:
            found[table] = None
            waiting += _tables_in(table)
    return tuple(found)


def meaning_of(table: type[StrictTable], key: str) -> KeyMeaning:
    """What ``key`` of ``table`` is for. Raises KeyError where nothing is written of it."""
    meanings = known_meanings()
    for base in table.__mro__:
        if key in meanings.get(base.__name__.removesuffix("Table"), {}):
            return meanings[base.__name__.removesuffix("Table")][key]
    raise KeyError(f"{table.__name__}.{key}")


@cache
def known_meanings() -> Mapping[str, Mapping[str, KeyMeaning]]:
    """Every key that a meaning is written of, by the name of its table's class without "Table"."""
    text = files("assembly.model").joinpath("key_meanings.toml").read_text("utf-8")
    return {
        table: {key: KeyMeaning(*each) for key, each in entries.items()}
        for table, entries in tomllib.loads(text).items()
    }


def _definition(table: type[StrictTable]) -> Json:
    """The schema of one table, other tables in it by reference."""
    properties = {}
    for key, value in _values(table).items():
        told = meaning_of(table, key)
        properties[key] = {**value, "description": told.words, "examples": [told.example]}
    needed = ["format"] if table is FileTable else list(_drawn(table).get("required", ()))
    return {"type": "object", "properties": properties, "required": needed, "additionalProperties": False}


def _referring(value: Any) -> Any:
    """``value`` with the names of this schema for tables, and without the titles that repeat each key."""
    if isinstance(value, list):
        return [_referring(each) for each in value]
    if not isinstance(value, dict):
        return value
    kept = {key: _referring(each) for key, each in value.items() if key not in ("title", "default")}
    if "$ref" in kept:
        kept["$ref"] = kept["$ref"].removesuffix("Table")
    return kept


@cache
def _drawn(table: type[StrictTable]) -> Json:
    """What pydantic makes of ``table``, which takes milliseconds each time."""
    return json_schema_of(table)


def _values(table: type[StrictTable]) -> dict[str, Any]:
    """The schema of the value of every key of ``table``."""
    open_keys: dict[str, Json] = {}
    for base in table.__mro__:
        open_keys |= _OPEN.get(base, {})
    drawn = _drawn(table)["properties"]
    keys = table.keys()
    return {key: open_keys.get(key) or _referring(drawn[key]) for key in keys}


def _tables_in(table: type[StrictTable]) -> Iterator[type[StrictTable]]:
    """The tables that one table refers to."""
    by_name = {_name(each): each for each in _subclasses(StrictTable)}
    for name in _references(_values(table)):
        yield by_name[name]


def _subclasses(kind: type[StrictTable]) -> Iterator[type[StrictTable]]:
    for each in kind.__subclasses__():
        yield each
        yield from _subclasses(each)


def _references(value: Any) -> Iterator[str]:
    if isinstance(value, list):
        for each in value:
            yield from _references(each)
    elif isinstance(value, dict):
        if "$ref" in value:
            yield value["$ref"].rpartition("/")[2]
        for each in value.values():
            yield from _references(each)
