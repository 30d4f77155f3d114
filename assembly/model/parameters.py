"""The numbers of a mechanism file that a builder can change one at a time, and a file with some of them changed.

They are the entries of ``[dimensions]``, the coordinates of named points, a part's own points among them, and the
lengths that parts are set to. Each goes by its place in the file.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from assembly.model.machine import Machine
from assembly.model.positions import Place

AXES = ("x", "y", "z")


class ParameterKind(StrEnum):
    """What a number is."""

    DIMENSION = "dimension"
    POINT = "point"
    """A coordinate of a named point."""
    LENGTH = "length"
    """A length that a part is set to."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """One number: what reports call it, where the file has it, and what it comes to, in mm, degrees or as it is.

    ``worked_out``: arithmetic over dimensions stands there; a change is then one of what stands there, and of no
    dimension.
    """

    name: str
    kind: ParameterKind
    place: Place
    value: float
    worked_out: bool


def with_number(machine: Machine, place: Place, value: float) -> Machine:
    """The machine of the same file with one number changed.

    Raises InputError where it cannot be read so, and for a machine that no file describes.
    """
    if place[0] == "dimensions" or machine.reread is None:
        return machine.with_dimensions(**{str(place[1]): value})
    return machine.reread(machine.changed, {**machine.moved, place: value})


def entries(raw: Mapping[str, Any]) -> Iterator[tuple[str, ParameterKind, Place, object]]:
    """Name, kind, place and what stands there, of every number of a sound file's tables, in the order of the file."""
    for name, entry in raw.get("dimensions", {}).items():
        yield name, ParameterKind.DIMENSION, ("dimensions", name), entry["value"] if isinstance(entry, dict) else entry
    yield from _coordinates(raw.get("points", {}), "", ("points",))
    for part, table in raw["parts"].items():
        yield from _coordinates(table.get("points", {}), f"{part}.", ("parts", part, "points"))
        yield from _lengths(table.get("set_length"), part)


def _coordinates(
    points: Mapping[str, Any], owner: str, place: Place
) -> Iterator[tuple[str, ParameterKind, Place, Any]]:
    for name, given in points.items():
        for axis, number in enumerate(given["at"] if isinstance(given, dict) else given):
            yield f"{owner}{name}.{AXES[axis]}", ParameterKind.POINT, (*place, name, axis), number


def _lengths(given: object, part: str) -> Iterator[tuple[str, ParameterKind, Place, Any]]:
    place: Place = ("parts", part, "set_length")
    if isinstance(given, dict):
        yield f"{part}.set_length", ParameterKind.LENGTH, (*place, "is"), given["is"]
    elif isinstance(given, list):
        for number, entry in enumerate(given):
            yield f"{part}.set_length[{number}]", ParameterKind.LENGTH, (*place, number, "is"), entry["is"]


def with_numbers(
    raw: Mapping[str, Any], numbers: Mapping[Place, float] | Mapping[Place, float | str]
) -> dict[str, Any]:
    """The tables of a file with other ``numbers``, or arithmetic, at some places; what is not on the way is shared."""
    made = dict(raw)
    for place, number in numbers.items():
        made = _with_number(made, place, number)
    return made


def _with_number(value: Any, place: Place, number: float | str) -> Any:
    if not place:
        return {**value, "value": number} if isinstance(value, dict) else number
    step, *rest = place
    if isinstance(value, dict) and isinstance(step, int):
        return {**value, "at": _with_number(value["at"], place, number)}  # a point with what it may differ by
    copy: Any = list(value) if isinstance(value, list) else dict(value)
    copy[step] = _with_number(copy[step], tuple(rest), number)
    return copy
