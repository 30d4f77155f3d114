"""The least clearance at every setting of a lattice over the drives, with what is proven in the cell round each.

A map shows where in the range room is short. It is not the sweep's verdict: what it says of a cell is measured at the
cell's centre, and its bound is only as sharp as the cell is small.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import BrokenExecutor, Executor
from dataclasses import dataclass, field, replace
from functools import reduce
from math import ceil, isfinite, prod

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Pairs
from assembly.clearance.narrow_phase.named_pairs import pair_faults, unknown_parts
from assembly.clearance.narrow_phase.queries import bench
from assembly.clearance.narrow_phase.rigidly_coupled import coupled_pairs
from assembly.clearance.proof.swept_before import SweptBefore, without_sweep
from assembly.clearance.region.clearance_field import Field, with_contained
from assembly.clearance.region.fixed_drives import fixed_drive_faults, free_and_fixed, unknown_drive
from assembly.clearance.region.mapped_pairs import MappedPairs
from assembly.errors import CutShortError, Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.kinematics.array_stacks import crossings
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.solver import lost_at, solve
from assembly.model.fault_list import shown
from assembly.model.machine import Drive, Machine
from assembly.progress import Progress
from assembly.record import LostEntry, MapCell, MapRecord
from assembly.studies.shared import (
    drive_entries,
    finite,
    machine_entry,
    unsettled_entries,
)

CELLS = {1: 121, 2: 31}
"""Cells along each drive, by how many drives the map is spread over."""
MOST_CELLS = 10_000
AT_ONCE = 1000
"""About as many cells are looked at together; keeps the working memory near 500 MB on a machine of 600 pairs."""


@dataclass(frozen=True, slots=True)
class MapWish:
    """What is to be mapped: one pair of parts, or all that move against each other.

    ``cells`` along each drive, ``steps`` the widths of cells along drives that are named, in their units. ``held``
    drives stay at the setting given; beyond the first two all others are held at 0.
    """

    pair: tuple[str, str] | None = None
    cells: int | None = None
    steps: Mapping[str, float] = field(default_factory=dict)
    held: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class Lattice:
    """Equal cells over the drives, all in one list, the last drive quickest.

    ``counts`` per drive, 1 where it is ``held`` at a setting; ``settings`` (N, d) are the cells' centres and ``half``
    (d,) their half-widths, in drive units; 0 along drives that are held.
    """

    counts: tuple[int, ...]
    settings: Floats
    half: Floats
    held: Mapping[str, float]

    @property
    def parts(self) -> list[Floats]:
        """The settings, some rows of the first free drive at a time."""
        total = len(self.settings)
        row = total // next((count for count in self.counts if count > 1), 1)
        step = row * max(1, round(AT_ONCE / row))
        return [self.settings[start : start + step] for start in range(0, total, step)]

    def within(self, machine: Machine) -> bool:
        """Whether all of it lies in the drives' ranges: a drive that is held at 0 may not."""
        return all(machine.drives[name].low <= value <= machine.drives[name].high for name, value in self.held.items())


@dataclass(frozen=True, slots=True, eq=False)
class MapResult:
    """A map as its record, and as arrays over its lattice; ``queries``: how many distances were measured."""

    record: MapRecord
    lattice: Lattice
    field: Field
    queries: int


def map_clearance(
    machine: Machine,
    wish: MapWish,
    progress: Progress,
    cores: int = 1,
    executor: Executor | None = None,
    swept: SweptBefore | None = None,
) -> MapResult:
    """Map ``machine`` as wished.

    ``swept``: what a sweep of this machine knows already; what it has proven of a pair is not looked for again.

    Raises InputError for names and numbers that cannot be, AssemblyError if the machine cannot be put together,
    CutShortError if a process that measures died.
    """
    lattice = lattice_of(machine, wish)
    check_pair(machine, wish)
    progress("assemble", 0, 0)
    before = swept or without_sweep(machine, cores, progress, executor)
    mechanism, machine, held = before.mechanism, before.mechanism.machine, lattice.held
    pairs = _asked(before.pairs, wish)
    still = () if wish.pair else coupled_pairs(mechanism, before.pairs, before.proven)
    with bench((), cores, executor) as queries:
        known = before if lattice.within(machine) else before.with_nothing_proven
        mapped = MappedPairs(known, pairs, queries, lattice.parts)
        made = _field(mapped, lattice, progress)
        count = queries.queries
    record = MapRecord(
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        counts={name: count for name, count in zip(machine.drives, lattice.counts, strict=True) if name not in held},
        held=dict(lattice.held),
        pair=wish.pair,
        pairs=len(pairs.checked),
        required_mm=_only(pair.required for pair in pairs.checked),
        cells=_cells(machine, mapped.pairs, made),
        lost=_lost(mechanism, made),
        still_pairs=0 if wish.pair else sum(pair.rigidly_coupled for pair in before.pairs.checked),
        still=still,
        names=tuple((pair.a, pair.b) for pair in pairs.checked),
        unsettled=unsettled_entries(one for one in before.unsettled if one.pair in pairs.checked),
    )
    return MapResult(record, lattice, made, count)


def _only(values: Iterable[float]) -> float | None:
    """The value that all of them have, None if they differ."""
    found = set(values)
    return found.pop() if len(found) == 1 else None


def _cells(machine: Machine, pairs: Sequence[CheckedPair], made: Field) -> tuple[MapCell, ...]:
    cells = []
    for row, setting in enumerate(made.settings.tolist()):
        reached = bool(made.reached[row])
        pair = pairs[int(made.owner[0, row])] if reached else None
        least, room = map(finite, made.found[:, row].tolist())
        proven, proven_room = map(finite, made.proven[:, row].tolist())
        names = (pair.a, pair.b) if pair else ("", "")
        cells.append(MapCell(settings_of(machine, tuple(setting)), reached, least, proven, *names, room, proven_room))
    return tuple(cells)


def _lost(mechanism: Mechanism, made: Field) -> LostEntry | None:
    """The first of the cells whose centre cannot be reached."""
    rows = np.flatnonzero(~made.reached)[:1]
    return lost_at(mechanism, solve(mechanism, made.settings[rows]), 0) if len(rows) else None


def lattice_of(machine: Machine, wish: MapWish) -> Lattice:
    """The lattice of a wish. InputError names every number and name that cannot be."""
    free, held = free_and_fixed(machine, wish.held)
    faults = [*fixed_drive_faults(machine, wish.held), *_step_faults(machine, wish, held)]
    if wish.cells is not None and wish.cells < 1:
        faults.append(Fault(f"a map cannot have {wish.cells} steps along a drive", hint="give a number of 1 or more"))
    if faults:
        raise InputError(*faults)
    usual = wish.cells or CELLS[len(free)]
    counts = tuple(
        1 if name in held else _count(drive, wish.steps.get(name), usual) for name, drive in machine.drives.items()
    )
    if prod(counts) > MOST_CELLS:
        sides = " × ".join(str(count) for count in counts if count > 1)
        hint = "use fewer or wider steps"
        raise InputError(Fault(f"a map of {sides} steps has more than {MOST_CELLS} squares", hint=hint))
    drives = [
        (replace(drive, low=held[name], high=held[name]) if name in held else drive)
        for name, drive in machine.drives.items()
    ]
    low, high = np.array([drive.low for drive in drives]), np.array([drive.high for drive in drives])
    settings = low + crossings([(np.arange(count) + 0.5) / count for count in counts]) * (high - low)
    return Lattice(counts, settings, (high - low) / np.array(counts) / 2, held)


def _count(drive: Drive, step: float | None, usual: int) -> int:
    """Cells along a drive: those that a step asks for, never wider ones."""
    return usual if step is None else max(1, ceil((drive.high - drive.low) / step - 1e-9))


def _step_faults(machine: Machine, wish: MapWish, held: Mapping[str, float]) -> Iterator[Fault]:
    for name, step in wish.steps.items():
        if name not in machine.drives:
            yield unknown_drive(machine, name)
        elif not isfinite(step) or step <= 0:
            yield Fault(f"a step of {step:g} along {shown(name)} cannot be", hint="give a width above 0")
        elif name in held:
            yield Fault(f"a step along {shown(name)} means nothing", hint=f"it is held at {held[name]:g}, hold another")


def check_pair(machine: Machine, wish: MapWish) -> None:
    """Raise InputError if a part of the pair wished is not there."""
    unknown = [*unknown_parts(machine.parts, wish.pair or ())]
    if unknown:
        raise InputError(*unknown)


def _asked(every: Pairs, wish: MapWish) -> Pairs:
    """The pairs to map: the one that is wished, or all that move."""
    if wish.pair is None:
        chosen = every.moving.checked
    else:
        faults = [*pair_faults(every, wish.pair)]
        if faults:
            raise InputError(*faults)
        chosen = tuple(pair for pair in every.checked if {pair.a, pair.b} == set(wish.pair))
    if not chosen:
        raise InputError(Fault("no pair of parts moves against each other", hint="name a pair to map it nevertheless"))
    return every.only(chosen)


def _field(mapped: MappedPairs, lattice: Lattice, progress: Progress) -> Field:
    """The figures of the whole lattice, part by part."""
    total, fields = len(lattice.settings), list[Field]()
    progress("map", 0, 0)
    try:
        for part in mapped.fields(lattice.half):
            fields.append(part)
            progress("map", sum(len(one.settings) for one in fields), total)
        return with_contained(mapped.table, reduce(Field.joined, fields), lattice.counts)
    except BrokenExecutor as error:
        message = "a process that measures distances died, perhaps for want of memory; there is no map"
        raise CutShortError(Fault(message, hint="try again with fewer processes: --cores 1")) from error
