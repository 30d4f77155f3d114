"""Dimensions: the order in which those that lean on each other can be worked out, and their values."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from itertools import islice
from types import MappingProxyType

from assembly.errors import Fault, InputError
from assembly.model.arithmetic import evaluate, name_fault, names_in, unknown_dimension
from assembly.model.fault_list import MOST_COUNTED, MOST_TOLD, FaultLog
from assembly.model.file_tables import DimensionTable, FileTable
from assembly.model.machine import DimensionValue
from assembly.model.quantities_read import FileNumbers
from assembly.model.schema import checked_number, checked_table
from assembly.model.tolerance_reader import Stated, check_tolerances, read_general, toleranced
from assembly.record import DimensionEntry

_SECTION = "dimensions"
_MOST_OF_RING = 12
"""Names of a cycle that are reported."""


@dataclass(frozen=True, slots=True)
class DimensionValues:
    """All dimensions that have a value, and for each that has none of its own making, what is wrong with it."""

    values: Mapping[str, float]
    faults: Mapping[str, Fault]


def solve_dimensions(given: Mapping[str, float | str], known: Collection[str] = ()) -> DimensionValues:
    """The values of dimensions that may lean on each other, in the order in which they can be worked out.

    ``known`` names may be leaned on as well, though they have no value.
    A dimension that only leans on a faulty one has neither value nor fault: the cause is reported once.
    """
    faults: dict[str, Fault] = {}
    leans: dict[str, frozenset[str]] = {}
    names = dict.fromkeys([*given, *known])
    for name, entry in given.items():
        try:
            leans[name] = names_in(entry) if isinstance(entry, str) else frozenset()
        except InputError as error:
            faults[name] = error.faults[0]
            continue
        unknown = sorted(used for used in leans[name] if used not in names)
        if unknown:
            faults[name] = unknown_dimension(unknown[0], names if len(faults) < MOST_TOLD else ())
    values: dict[str, float] = {}
    for name in _working_order(leans, faults):
        entry = given[name]
        if name in faults or not leans[name] <= values.keys():
            continue
        try:
            values[name] = evaluate(entry, values) if isinstance(entry, str) else float(entry)
        except InputError as error:
            faults[name] = error.faults[0]
    return DimensionValues(values, faults)


def _working_order(leans: Mapping[str, frozenset[str]], faults: dict[str, Fault]) -> tuple[str, ...]:
    """Names so that each comes after those it leans on; every cycle becomes one fault and is left out.

    Where there are more cycles than are reported of one file, some may be left out without a fault of their own.
    """
    rank = {name: number for number, name in enumerate(leans)}
    remaining = {
        name: sorted((each for each in used if each in rank), key=rank.__getitem__) for name, used in leans.items()
    }
    order: list[str] = []
    cycles = 0
    while remaining and cycles <= MOST_TOLD:
        ready = _ready_in_turn(remaining)
        order += ready
        stuck = _without(remaining, set(ready))
        rings = list(islice(_rings(stuck), MOST_TOLD + MOST_COUNTED))
        for ring in rings:
            start = min(range(len(ring)), key=lambda k: rank[ring[k]])
            told = [*ring[start:], *ring[:start], ring[start]]
            hint = "give one of these dimensions a plain number"
            faults[told[0]] = Fault(f"goes round in a circle: {_told_ring(told)}", hint=hint)
        cycles += len(rings)
        remaining = _without(stuck, {name for ring in rings for name in ring})
    return tuple(order)


def _told_ring(names: Sequence[str]) -> str:
    """The names of a cycle, of a long one those at its ends."""
    ends = _MOST_OF_RING // 2
    left = len(names) - 2 * ends
    told = [*names[:ends], f"{left} more", *names[-ends:]] if left > 1 else names
    return " -> ".join(told)


def _ready_in_turn(leans: Mapping[str, Sequence[str]]) -> list[str]:
    """Names that lead into no cycle, each after those it leans on."""
    sorter = TopologicalSorter(leans)
    with suppress(CycleError):
        sorter.prepare()
    order: list[str] = []
    while ready := sorter.get_ready():
        order += ready
        sorter.done(*ready)
    return order


def _without(leans: Mapping[str, Sequence[str]], gone: Collection[str]) -> dict[str, list[str]]:
    return {name: [each for each in used if each not in gone] for name, used in leans.items() if name not in gone}


def _rings(leans: Mapping[str, Sequence[str]]) -> Iterator[list[str]]:
    """Cycles that share no name, of names that each lean on one of the others: walked along the first that each has."""
    walked: set[str] = set()
    for first in leans:
        way: dict[str, None] = {}
        name = first
        while name not in walked:
            walked.add(name)
            way[name] = None
            name = leans[name][0]
        if name in way:
            names = list(way)
            yield names[names.index(name) :]


def changed_dimensions(raw: Mapping[str, object], changed: Mapping[str, DimensionValue]) -> dict[str, object]:
    """The entries of ``[dimensions]`` with other values; tolerances and all other arithmetic stay as written.

    Raises InputError for names that are no dimension of the file.
    """
    unknown = [name for name in changed if name not in raw]
    if unknown:
        raise InputError(*(unknown_dimension(name, raw.keys()) for name in unknown))
    entries = dict(raw)
    for name, value in changed.items():
        entry = raw[name]
        entries[name] = {**entry, "value": value} if isinstance(entry, dict) else value
    return entries


def read_dimensions(
    raw: Mapping[str, object], log: FaultLog, tolerances: Mapping[str, object] = MappingProxyType({})
) -> dict[str, DimensionEntry | None]:
    """Every dimension of the file; None where it is faulty or leans on a faulty one.

    ``tolerances``: the file's table of that name.
    """
    given: dict[str, float | str] = {}
    stated: dict[str, Stated] = {}
    general = read_general(tolerances, log)
    for name, entry in raw.items():
        wrong = name_fault(name)
        if wrong:
            log.add_fault((_SECTION, name), wrong)
        if isinstance(entry, dict):
            table = checked_table(DimensionTable, entry, (_SECTION, name), log)
            if table is not None:
                given[name] = table.value
                if table.plus_minus is not None:
                    stated[name] = table.plus_minus
        elif (value := checked_number(entry, (_SECTION, name), log)) is not None:
            given[name] = value
    solved = solve_dimensions(given, raw)
    for name, fault in solved.faults.items():
        log.add_fault((_SECTION, name), fault)
    figures = FileNumbers(log, {name: solved.values.get(name) for name in raw})
    dimensions: dict[str, DimensionEntry | None] = dict.fromkeys(raw)
    for name, value in solved.values.items():
        text = given[name]
        entry = DimensionEntry(value, 0.0, text if isinstance(text, str) else "")
        dimensions[name] = toleranced(name, entry, stated.get(name), general, figures)
    return dimensions


def filed_dimensions(
    table: FileTable, changed: Mapping[str, DimensionValue], log: FaultLog, *, as_filed: bool
) -> dict[str, DimensionEntry | None]:
    """All dimensions of a file; tolerances are held against the values that it has, for others may be trials."""
    dimensions = read_dimensions(changed_dimensions(table.dimensions, changed), log, table.tolerances)
    check_tolerances(dimensions if as_filed else {}, log)
    return dimensions
