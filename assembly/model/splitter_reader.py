"""Splitters: from tables to values."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from assembly.model.cable import Cable, Splitter
from assembly.model.cable_tables import SplitterTable
from assembly.model.fault_list import shown
from assembly.model.positions import Place
from assembly.model.reading import Bench
from assembly.model.schema import checked_table
from assembly.model.table_numbers import TableNumbers

SPLITTERS = "splitters"
MOST_TILT = 89.0
MOST_FORCE = 1e6


def read_splitters(
    raw: Mapping[str, object], cables: Mapping[str, Cable], refused: Collection[str], bench: Bench
) -> dict[str, Splitter]:
    """All splitters of the file; faults are noted. Those of a cable that was ``refused`` are left out."""
    bench.log.check_names(raw, "splitter", (SPLITTERS,))
    made = {}
    for name, entry in raw.items():
        place: Place = (SPLITTERS, name)
        table = checked_table(SplitterTable, entry, place, bench.log)
        if table is None or set(table.to) & set(refused):
            continue
        if (splitter := _splitter(name, table, place, cables, bench)) is not None:
            made[name] = splitter
    return made


def _splitter(
    name: str, table: SplitterTable, place: Place, cables: Mapping[str, Cable], bench: Bench
) -> Splitter | None:
    log, before = bench.log, bench.log.marks
    for number, cable in enumerate(table.to):
        if log.knows(cable, cables, "cable", (*place, "to", number)) and not cables[cable].is_pulled:
            told = f"all outers of {shown(cable)} are still to be cut, so what the motion does to it is not known"
            log.add((*place, "to", number), told, "give the length of its outers, or its bare runs")
    if len(set(table.to)) != 2 or len(table.to) != 2:
        log.add((*place, "to"), "a splitter pulls two different cables", 'write to = ["CABLE", "OTHER CABLE"]')
    if table.arms is None and table.tilt is not None:
        log.add((*place, "tilt"), "a splitter without `arms` has no beam that tilts", "give its arms, or no tilt")
    read = TableNumbers(place, bench)
    first, second = (read.amount(each, ("pulls", k)) for k, each in enumerate(table.pulls))
    arms = None
    if table.arms is not None:
        a, b = (read.positive(each, ("arms", k), "mm") for k, each in enumerate(table.arms))
        arms = a, b
    tilt = read.optional(table.tilt, lambda each: read.positive(each, ("tilt",), "degrees", MOST_TILT))
    travel = read.optional(table.travel, lambda each: read.positive(each, ("travel",), "mm"))
    force = read.optional(table.force, lambda each: read.positive(each, ("force",), "N", MOST_FORCE))
    if log.marks != before:
        return None
    left, right = table.to
    return Splitter(name, (left, right), (first, second), arms, tilt, travel, force)
