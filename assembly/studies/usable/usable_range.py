"""The usable range: where over the drives every rule holds, what ends it, and what one drive costs the other.

It looks beyond the file's own ranges. What it says is measured at settings; the sweep proves.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import BrokenExecutor, Executor
from contextlib import nullcontext
from dataclasses import dataclass, field
from itertools import islice
from math import prod

import numpy as np

from assembly.clearance.narrow_phase.rigidly_coupled import coupled_pairs
from assembly.clearance.proof.first_settings import first_settings
from assembly.clearance.proof.measure_search import rolling_doubt
from assembly.clearance.proof.solid_table import stock_of
from assembly.clearance.proof.swept_before import SweptBefore, without_sweep
from assembly.clearance.proof.task_groups import worth_workers
from assembly.clearance.region.border import Stretch, stretches_of
from assembly.clearance.region.fixed_drives import fixed_drive_faults, free_and_fixed
from assembly.clearance.region.rule_tasks import RulesContext, RuleTasks
from assembly.clearance.region.rules import NONE
from assembly.clearance.region.trade_off import Stops, sharpened, trade_offs
from assembly.clearance.region.usable import Crossings, Grid, UsableRegion, border_of, grid_of, look_at
from assembly.errors import CutShortError, Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.kinematics.assembling import assemble
from assembly.kinematics.measure_limits import measure_limits
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.solver import solve
from assembly.model.machine import Machine
from assembly.parallel.every_result import EveryResult
from assembly.parallel.workers import workers, works_elsewhere
from assembly.progress import Progress
from assembly.record import BreachEntry, RangeRecord, UnsettledEntry
from assembly.studies.shared import finite, unsettled_entries
from assembly.studies.usable.causes import Causes
from assembly.studies.usable.range_record import Governor, RangeFound, range_record, rule_entry

CELLS = {1: 120, 2: 30}
"""About as many cells lie along each drive, by how many drives are free."""
MOST_SETTINGS = 10_000


@dataclass(frozen=True, slots=True)
class RangeWish:
    """``cells`` along each free drive. ``held`` drives stay at the setting given, beyond the first two others at 0."""

    cells: int | None = None
    held: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class RangeResult:
    """The usable range as its record, with where the border was crossed; ``machine`` as it was looked at."""

    record: RangeRecord
    machine: Machine
    crossings: Crossings


def find_usable_range(
    machine: Machine,
    wish: RangeWish,
    progress: Progress,
    cores: int = 1,
    executor: Executor | None = None,
    swept: SweptBefore | None = None,
) -> RangeResult:
    """The usable range of ``machine``.

    ``swept``: what a sweep of this machine knows already.

    Raises InputError for names and numbers that cannot be, AssemblyError if the machine cannot be put together,
    CutShortError if a process that measures died.
    """
    grid = checked_grid(machine, wish)
    progress("assemble", 0, 0)
    before = swept or without_sweep(machine, cores, progress, executor)
    machine, every = before.mechanism.machine, before.pairs
    mechanism = assemble(machine.widened)
    left_out = {(one.pair.a, one.pair.b) for one in before.unsettled}
    moving = every.only(pair for pair in every.moving.checked if (pair.a, pair.b) not in left_out)
    context = RulesContext(before, mechanism, moving, stock_of(mechanism, moving))
    alone = executor is None and (cores == 1 or not worth_workers(mechanism, moving.checked)) and not works_elsewhere()
    still = coupled_pairs(mechanism, every, before.proven)
    with nullcontext() if alone else workers(cores, executor) as hands:
        rules = RuleTasks(context, EveryResult(context, hands, progress))
        try:
            region = look_at(rules, grid)
            found = border_of(rules, region)
            stretches = stretches_of(rules, region, found)
            stops = _stops(rules, region, found)
            causes = Causes(rules)
            governors, breaches = tuple(_governors(causes, stretches, found)), _breaches(causes, region)
        except BrokenExecutor as error:
            message = "a process that measures distances died, perhaps for want of memory; nothing is known"
            raise CutShortError(Fault(message, hint="try again with fewer processes: --cores 1")) from error
    coupled = sum(pair.rigidly_coupled for pair in every.checked)
    open_ = (*unsettled_entries(before.unsettled), *_rolling_measures(mechanism))
    result = RangeFound(machine, rules.every, region, found, governors, stops, still, coupled, breaches, open_)
    return RangeResult(range_record(result), machine, found)


def _rolling_measures(mechanism: Mechanism) -> Iterator[UnsettledEntry]:
    """Limited measures and wheels that a part which can roll bears on: they are looked at in one turn of it alone."""
    limited = measure_limits(mechanism)
    if not limited or not mechanism.idle:
        return
    solved = solve(mechanism, first_settings(mechanism))
    postures = solved.posture.take(np.flatnonzero(solved.reached))
    for one in limited:
        if why := rolling_doubt(mechanism, one.motion, postures):
            yield UnsettledEntry(f"measure {one.joint}", "", "undecided", why)


def checked_grid(machine: Machine, wish: RangeWish) -> Grid:
    """The grid of a wish. InputError names every number and name that cannot be."""
    faults = [*fixed_drive_faults(machine, wish.held)]
    free, _ = free_and_fixed(machine, wish.held)
    if wish.cells is not None and wish.cells < 1:
        faults.append(Fault(f"there cannot be {wish.cells} steps along a drive", hint="give a number of 1 or more"))
    elif wish.cells is not None and wish.cells ** len(free) > MOST_SETTINGS:
        faults.append(
            Fault(f"{wish.cells} steps along each drive are too many", hint=f"at most {MOST_SETTINGS} in all")
        )
    if faults:
        raise InputError(*faults)
    grid = grid_of(machine, wish.held, wish.cells or CELLS[len(free)])
    if prod(grid.counts) > 4 * MOST_SETTINGS:
        raise InputError(Fault(f"{prod(grid.counts)} settings are too many", hint="use fewer steps"))
    return grid


def _stops(rules: RuleTasks, region: UsableRegion, found: Crossings) -> tuple[Stops, ...]:
    """Both tables of stops, of the first drive for the second and back; none over one drive or in an empty region."""
    free = region.grid.free
    if len(free) < 2 or not region.usable.any():
        return ()
    rows: list[Stops] = []
    own = region.grid.settings[region.grid.own]
    for axis, other in (free, free[::-1]):
        ends = float(own[:, axis].min()), float(own[:, axis].max())
        rows += trade_offs(region, found, ends, axis, other)
    return sharpened(rules, region, rows, found)


def _governors(causes: Causes, stretches: Sequence[Stretch], found: Crossings) -> Iterator[Governor]:
    """Stretches that the same rules end, put together, those with the most places first, the end of the look last."""
    groups: dict[tuple[bool, frozenset[int]], list[Stretch]] = {}
    for stretch in stretches:
        groups.setdefault((stretch.ended, stretch.governors), []).append(stretch)
    ordered = sorted(groups.items(), key=_weight)
    asked: list[tuple[int, Floats]] = []
    for (_, numbers), own in ordered:
        places = [place for stretch in own for place in stretch.places]
        asked += [(number, found.outside[[places[len(places) // 2]]]) for number in sorted(numbers)]
    told = iter(causes.of(asked))
    for (_, numbers), own in ordered:
        yield Governor(tuple(islice(told, len(numbers))), tuple(own))


def _weight(group: tuple[tuple[bool, frozenset[int]], list[Stretch]]) -> tuple[bool, int]:
    (ended, _), stretches = group
    return ended, -sum(len(stretch.places) for stretch in stretches)


def _breaches(causes: Causes, region: UsableRegion) -> tuple[BreachEntry, ...]:
    """Rules that are the worst broken inside the file's own ranges, those broken at most settings first."""
    standing = region.standing
    room = np.minimum(standing.pair_room, standing.limit_room)
    worst = np.where(region.grid.own, standing.worst, NONE)
    asked, counts = list[tuple[int, int]](), list[int]()
    for number in np.unique(worst[worst != NONE]).tolist():
        rows = np.flatnonzero(worst == number)
        counts.append(len(rows))
        asked.append((number, int(rows[int(np.argmin(np.where(standing.reached[rows], room[rows], 0.0)))])))
    told = causes.of([(number, standing.settings[[row]]) for number, row in asked])
    made = []
    for (number, row), count, entry in zip(asked, counts, told, strict=True):
        named = settings_of(causes.machine, tuple(standing.settings[row].tolist()))
        own = rule_entry(causes.every[number])
        made.append(BreachEntry(own, count, finite(-float(room[row])), {**named, **entry.rolls}))
    return tuple(sorted(made, key=lambda breach: -breach.settings))
