"""What the builder is willing to change: dimensions of a file that may be changed, and to which values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite

from assembly.model.allowed import SLACK, Allowed, value_list
from assembly.model.fault_list import shown
from assembly.model.file_tables import DimensionTable
from assembly.model.positions import Place
from assembly.model.quantities_read import FileNumbers
from assembly.model.schema import checked_table

MOST_STEPS = 100_000
EXAMPLE = "bar = { value = 18, may_be = [16, 22] }"


@dataclass(frozen=True, slots=True)
class _Mark:
    """One dimension's table with the place where it stands."""

    name: str
    table: DimensionTable
    place: Place
    value: float


def read_allowed(raw: Mapping[str, object], figures: FileNumbers, *, as_filed: bool) -> dict[str, Allowed]:
    """The dimensions that may be changed, in the order of the file; what is wrong with a mark is noted.

    ``as_filed``: the dimensions have the values of the file, which each mark must hold then.
    """
    found = {}
    for name, entry in raw.items():
        value = figures.dimensions.get(name)
        if isinstance(entry, dict) and value is not None:
            place: Place = ("dimensions", name)
            table = checked_table(DimensionTable, entry, place, figures.log.empty())
            if table is not None and _marked(table):
                made = _read(_Mark(name, table, place, value), figures, as_filed=as_filed)
                if made is not None:
                    found[name] = made
    return found


def _marked(table: DimensionTable) -> bool:
    return any(each is not None for each in (table.may_be, table.sizes, table.step, table.weight))


def _read(mark: _Mark, figures: FileNumbers, *, as_filed: bool) -> Allowed | None:
    log, table, place = figures.log, mark.table, mark.place
    if table.may_be is None and table.sizes is None:
        key = "step" if table.step is not None else "weight"
        log.add((*place, key), f"{shown(key)} without what the dimension may be", f"write {EXAMPLE}")
        return None
    if table.sizes is not None and (table.may_be is not None or table.step is not None):
        hint = "keep `sizes`, or `may_be` with or without `step`"
        log.add((*place, "sizes"), "`sizes` beside `may_be` or `step` says twice what it may be", hint)
        return None
    if isinstance(table.value, str):
        hint = "mark the dimensions that it is worked out from"
        log.add((*place, "value"), "arithmetic stands here, so it cannot be changed by itself", hint)
        return None
    weight = None if table.weight is None else figures.number(table.weight, (*place, "weight"))
    if weight is not None and weight <= 0:
        log.add((*place, "weight"), f"{weight:g} is no weight", "give what 1 of change costs, more than 0")
    if table.sizes is not None:
        return _of_sizes(mark, table.sizes, weight, figures, as_filed=as_filed)
    return _of_limits(mark, weight, figures, as_filed=as_filed)


def _of_sizes(
    mark: _Mark, given: list[float | str], weight: float | None, figures: FileNumbers, *, as_filed: bool
) -> Allowed | None:
    place: Place = (*mark.place, "sizes")
    sizes = tuple(figures.number(each, (*place, number)) for number, each in enumerate(given))
    if not all(map(isfinite, sizes)):
        return None
    fault, hint = "", "list what can be had from the smallest to the largest, today's value among it"
    if len(sizes) < 2:
        fault = f"{len(sizes)} of `sizes` is no choice"
    elif any(b - a <= SLACK for a, b in pairwise(sizes)):
        fault = f"the sizes do not rise: {value_list(sizes)}"
    elif as_filed and not any(abs(each - mark.value) <= SLACK for each in sizes):
        fault = f"today's value {mark.value:g} is none of the sizes {value_list(sizes)}"
    if fault:
        figures.log.add(place, fault, hint)
        return None
    return Allowed(mark.name, mark.value, sizes[0], sizes[-1], sizes=sizes, weight=weight)


def _of_limits(mark: _Mark, weight: float | None, figures: FileNumbers, *, as_filed: bool) -> Allowed | None:
    place, log = mark.place, figures.log
    low, high = (figures.number(each, (*place, "may_be", k)) for k, each in enumerate(mark.table.may_be or ()))
    step = None if mark.table.step is None else figures.number(mark.table.step, (*place, "step"))
    if not all(map(isfinite, (low, high, 0.0 if step is None else step))):
        return None
    if high < low:
        log.add((*place, "may_be"), f"the limits are the wrong way round: {low:g}, {high:g}", "write the smaller first")
    elif high - low <= SLACK:
        log.add((*place, "may_be"), f"both limits are {low:g}, so nothing may change", "give two different limits")
    elif as_filed and not low - SLACK <= mark.value <= high + SLACK:
        hint = f"give limits with {mark.value:g} between them"
        log.add((*place, "may_be"), f"today's value {mark.value:g} does not lie between {low:g} and {high:g}", hint)
    elif step is not None and as_filed and (fault := _fault_of_step(mark.value, low, high, step)):
        hint = "give a step of which a whole number leads from today's value to one of the ends"
        log.add((*place, "step"), fault, hint)
    else:
        return Allowed(mark.name, mark.value, low, high, step=step, weight=weight)
    return None


def _fault_of_step(value: float, low: float, high: float, step: float) -> str:
    """What is wrong with steps of ``step`` from ``value`` on; nothing if they come to one of the ends."""
    if step <= 0:
        return f"{step:g} is no step"
    ways = [(value - low) / step, (high - value) / step]
    if max(ways) > MOST_STEPS:
        return f"steps of {step:g} are more than {MOST_STEPS} from {low:g} to {high:g}"
    if not any(way > 0.5 and abs(way - round(way)) <= 1e-6 * max(way, 1.0) for way in ways):
        return f"steps of {step:g} from {value:g} miss both ends, {low:g} and {high:g}"
    return ""
