"""Static load cases over the whole range: where each rated joint has the least margin. Sampled on a grid, not proven.

Stops are left out: a stop takes its load at one setting, and ``loads`` tells of that.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from concurrent.futures import BrokenExecutor
from contextlib import nullcontext
from dataclasses import replace

import numpy as np

from assembly.errors import CutShortError, Fault
from assembly.geometry.mesh import Floats
from assembly.kinematics.array_stacks import crossings_within
from assembly.kinematics.assembling import assemble
from assembly.kinematics.at_setting import checked_settings
from assembly.kinematics.roll_columns import rolled_parts
from assembly.model.load_case import LoadCase, chosen_cases
from assembly.model.machine import Machine
from assembly.parallel.every_result import LOST, EveryResult
from assembly.parallel.workers import workers, works_elsewhere
from assembly.progress import Progress, no_progress
from assembly.record import (
    FORMAT,
    CaseRangeEntry,
    LargestEffortEntry,
    LargestEntry,
    LoadRangeRecord,
    LoadWord,
    Settings,
    ToggleRangeEntry,
    WorstRatingEntry,
)
from assembly.statics.ratings import Rating, RatingCheck, ratings_of
from assembly.studies.load.held_tasks import AtSetting, Held, LoadsContext, held_task, lots_of
from assembly.studies.load.judging import fixed_entries, rating_entry, worst_of
from assembly.studies.shared import (
    drive_entries,
    machine_entry,
    program_entry,
)

SAME = 1e-9
"""A force larger by less than this share of it, or N, counts as equal: of equals the first looked at is reported."""
SETTINGS = 400
"""About this many settings are looked at, spread evenly over the range with its ends and rest among them."""
FEWEST = 3
"""Settings along each drive, however many drives there are."""
MOST_SETTINGS = 20_000
"""Where the drives' settings with one another are more, those of each two drives are looked at."""


class _Worst:
    """Gathers the worst of one load case."""

    def __init__(self, machine: Machine, name: str, case: LoadCase) -> None:
        self.machine, self.name, self.case = machine, name, case
        self.checks: dict[Rating, tuple[RatingCheck, Settings]] = {}
        self.forces: dict[str, LargestEntry] = {}
        self.efforts: dict[str, LargestEffortEntry] = {}

    def look(self, held: Held, at: Settings) -> None:
        for check in held.checks:
            known = self.checks.get(check.rating)
            if known is None or _is_worse(check, known[0]):
                self.checks[check.rating] = check, at
        for force in held.forces:
            largest = self.forces.get(force.joint) or LargestEntry(force.joint, force.kind, -1.0, at, 0)
            if _is_larger(force.least, largest.force_n):
                largest = replace(largest, force_n=force.least, at=at)
            self.forces[force.joint] = replace(largest, open_settings=largest.open_settings + (not force.unique))
        for effort in held.efforts:
            before = self.efforts.get(effort.drive)
            if before is None or _is_larger(abs(effort.value), abs(before.value)):
                self.efforts[effort.drive] = LargestEffortEntry(effort.drive, effort.value, effort.unit, at)

    def result(self, *, lost: bool) -> CaseRangeEntry:
        """Rated joints worst first, forces largest first; ``lost``: a setting told nothing, so they are open."""
        lost = lost and any(joint.ratings for joint in self.machine.joints.values())
        checks = sorted(self.checks.values(), key=lambda worst: worst[0].rank)
        ratings = tuple(WorstRatingEntry(check.rating.joint, rating_entry(check), at) for check, at in checks)
        verdicts: list[LoadWord] = [entry.rating.verdict for entry in ratings]
        return CaseRangeEntry(
            name=self.name,
            verdict=worst_of([*verdicts, "open"] if lost else verdicts),
            ratings=ratings,
            joints=tuple(sorted(self.forces.values(), key=lambda largest: -round(largest.force_n, 6))),
            efforts=tuple(self.efforts.values()),
            stop=self.case.stop is not None,
            on_fixed=fixed_entries(self.machine, self.case),
        )


def _is_larger(value: float, than: float) -> bool:
    return value > than + SAME * (1.0 + abs(than))


def _is_worse(check: RatingCheck, than: RatingCheck) -> bool:
    if check.verdict is not than.verdict:
        return check.rank < than.rank
    return _is_larger(check.least, than.least)


def load_range(
    machine: Machine,
    held: Mapping[str, float],
    names: Iterable[str] = (),
    cores: int = 1,
    progress: Progress = no_progress,
) -> LoadRangeRecord:
    """The load cases of ``names``, or all of the file, over the range; drives that are ``held`` stay where they are.

    Raises InputError for a drive, setting or load case that is none, AssemblyError if the machine cannot be put
    together at rest, CutShortError if a process that works it out died.
    """
    cases, fixed = chosen_cases(machine.loads, names), checked_settings(machine, held)
    mechanism = assemble(machine)
    settings = _grid(machine, {name: value for name, value in zip(machine.drives, fixed, strict=True) if name in held})
    worst = [_Worst(machine, name, case) for name, case in cases.items()]
    context = LoadsContext(mechanism, tuple(cases.values()), tuple(ratings_of(machine)))
    toggles: dict[tuple[str, ...], ToggleRangeEntry] = {}
    every = _at_settings(context, settings, cores, progress)
    for one in every:
        for each, own in zip(worst, one.held, strict=bool(one.held)):
            each.look(own, one.at)
        for toggle in one.toggles:
            toggles[toggle.parts] = min(toggles.get(toggle.parts, toggle), toggle, key=lambda slack: slack.share)
    not_reached = [one.at for one in every if not one.reached]
    dead_centres = [one.at for one in every if one.dead]
    found = tuple(each.result(lost=bool(not_reached or dead_centres)) for each in worst)
    return LoadRangeRecord(
        format=FORMAT,
        kind="load range",
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        verdict=worst_of(case.verdict for case in found),
        cases=found,
        near_toggles=tuple(sorted(toggles.values(), key=lambda toggle: toggle.share)),
        not_rated=_not_rated(machine),
        settings=len(settings),
        not_reached=tuple(not_reached),
        dead_centres=tuple(dead_centres),
        assembled=mechanism.shifts(),
        findings=machine.findings,
        unrolled=rolled_parts(mechanism),
    )


def _at_settings(context: LoadsContext, settings: Floats, cores: int, progress: Progress) -> list[AtSetting]:
    """What is carried at each setting, in their order: the first of equals is reported."""
    alone = (cores == 1 or not context.worth_workers(settings)) and not works_elsewhere()
    with nullcontext() if alone else workers(cores) as hands:
        tasks = EveryResult(context, hands, progress)
        lots = [(lot,) for lot in lots_of(settings, tasks.count)]
        try:
            return [one for lot in tasks.of(held_task, lots, "loads") for one in lot]
        except BrokenExecutor as error:
            hint = "try again with fewer processes: --cores 1"
            raise CutShortError(Fault(f"{LOST}; nothing is known of the range", hint=hint)) from error


def _not_rated(machine: Machine) -> tuple[str, ...]:
    joints = machine.joints.items()
    return tuple(name for name, joint in joints if not joint.ratings and joint.kind.has_freedom)


def _grid(machine: Machine, held: Mapping[str, float]) -> Floats:
    """Settings (N, d), those near rest first: along each drive that is not held evenly from end to end, and 0."""
    free = len(machine.drives) - len(held)
    count = max(FEWEST, int(SETTINGS ** (1 / max(free, 1))))
    along = [
        np.array([held[drive.name]])
        if drive.name in held
        else np.unique(np.append(np.linspace(drive.low, drive.high, count), 0.0))
        for drive in machine.drives.values()
    ]
    if not along:
        return np.zeros((1, 0))
    grid = crossings_within(along, MOST_SETTINGS)
    width = np.array([drive.high - drive.low for drive in machine.drives.values()])
    return np.asarray(grid[np.argsort(np.linalg.norm(grid / width, axis=1), kind="stable")])
