"""A map together with the sweep of the pairs in it: one proof, one number."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from assembly.record.making import check_record
from assembly.record.mapped import MapCell, MapRecord
from assembly.record.verdict import machine_verdict

if TYPE_CHECKING:
    from assembly.record.entries import Record
    from assembly.studies.check import CheckResult


def with_sweep(mapped: MapRecord, swept: Record) -> MapRecord:
    """``mapped`` with what ``swept``, the sweep of the same machine, says of the pairs in the map.

    No setting of the range has less than the sweep's bound of all pairs in the map, so none of a cell has: each cell
    gets the better of both bounds. What was measured at the centres stays.
    """
    wanted = {frozenset(names) for names in mapped.names}
    pairs = tuple(pair for pair in swept.pairs if {pair.a, pair.b} in wanted)
    verdict, reason = machine_verdict(pairs, ((), ()), swept.unreachable, swept.unreachable_share)
    own = replace(swept, pairs=pairs, not_checked=(), joints=(), rods=(), verdict=verdict, reason=reason)
    proven = [bound for pair in pairs if (bound := pair.proven_mm) is not None]
    if len(proven) < len(wanted) or not _covered(mapped):
        return replace(mapped, swept=own)
    room = min(bound - pair.required_mm for bound, pair in zip(proven, pairs, strict=True))
    return replace(mapped, swept=own, cells=tuple(_bounded(cell, min(proven), room) for cell in mapped.cells))


def pairs_record(checked: CheckResult) -> Record:
    """The record of a sweep whose joints and rods were not looked at."""
    from assembly.studies.joint_ranges import JointRanges

    return check_record(checked, JointRanges((), (), 0, 0), ())


def _covered(mapped: MapRecord) -> bool:
    """Whether every drive is held within the range that was swept."""
    return all(mapped.drives[name].from_ <= value <= mapped.drives[name].to for name, value in mapped.held.items())


def _bounded(cell: MapCell, proven: float, room: float) -> MapCell:
    if cell.least_mm is None or cell.room_mm is None:
        return cell
    return replace(
        cell,
        proven_mm=min(cell.least_mm, _better(cell.proven_mm, proven)),
        proven_room_mm=min(cell.room_mm, _better(cell.proven_room_mm, room)),
    )


def _better(own: float | None, other: float) -> float:
    return other if own is None else max(own, other)
