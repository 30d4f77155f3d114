"""Static load cases over the whole range: where each rated joint has the least margin. Sampled on a grid, not proven.

Stops are left out: a stop takes its load at one setting, and ``loads`` tells of that.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from assembly.errors import AssemblyError
from assembly.geometry.mesh import Floats
from assembly.kinematics.assembling import assemble
from assembly.kinematics.at_setting import checked_settings
from assembly.kinematics.mechanism import settings_of
from assembly.kinematics.roll_columns import rolled_parts
from assembly.kinematics.solver import solve
from assembly.model.load_case import LoadCase, chosen_cases
from assembly.model.machine import Machine
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
from assembly.statics.multipliers import NEAR_TOGGLE, Statics, find_slack, statics_at
from assembly.statics.ratings import Rating, RatingCheck, check_ratings, ratings_of
from assembly.statics.reactions import drive_efforts, load_of, reactions
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


class _Worst:
    """Gathers the worst of one load case."""

    def __init__(self, machine: Machine, name: str, case: LoadCase) -> None:
        self.machine, self.name, self.case, self.ratings = machine, name, case, ratings_of(machine)
        self.checks: dict[Rating, tuple[RatingCheck, Settings]] = {}
        self.forces: dict[str, LargestEntry] = {}
        self.efforts: dict[str, LargestEffortEntry] = {}

    def look(self, statics: Statics, at: Settings) -> None:
        multipliers = statics.multipliers(load_of(statics, self.case))
        held = reactions(statics, multipliers)
        for check in check_ratings(held, self.ratings):
            known = self.checks.get(check.rating)
            if known is None or _is_worse(check, known[0]):
                self.checks[check.rating] = check, at
        for name, reaction in held.items():
            largest = self.forces.get(name) or LargestEntry(name, reaction.joint.kind.value, -1.0, at, 0)
            if _is_larger(reaction.force.least, largest.force_n):
                largest = replace(largest, force_n=reaction.force.least, at=at)
            opened = largest.open_settings + (not reaction.force.unique)
            self.forces[name] = replace(largest, open_settings=opened)
        for effort in drive_efforts(statics, multipliers):
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


def load_range(machine: Machine, held: Mapping[str, float], names: Iterable[str] = ()) -> LoadRangeRecord:
    """The load cases of ``names``, or all of the file, over the range; drives that are ``held`` stay where they are.

    Raises InputError for a drive, setting or load case that is none, AssemblyError if the machine cannot be put
    together at rest.
    """
    cases, fixed = chosen_cases(machine.loads, names), checked_settings(machine, held)
    mechanism = assemble(machine)
    settings = _grid(machine, {name: value for name, value in zip(machine.drives, fixed, strict=True) if name in held})
    solved = solve(mechanism, settings)
    worst = [_Worst(machine, name, case) for name, case in cases.items()]
    toggles: dict[tuple[str, ...], ToggleRangeEntry] = {}
    not_reached, dead_centres = [], []
    for row, setting in enumerate(settings.tolist()):
        at = settings_of(machine, tuple(setting))
        if not solved.reached[row]:
            not_reached.append(at)
            continue
        try:
            statics = statics_at(mechanism, solved.posture.take(np.array([row])))
        except AssemblyError:
            dead_centres.append(at)
            continue
        for each in worst:
            each.look(statics, at)
        for toggle in _toggles(statics, at):
            toggles[toggle.parts] = min(toggles.get(toggle.parts, toggle), toggle, key=lambda one: one.share)
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
    grid = np.stack(np.meshgrid(*along, indexing="ij"), axis=-1).reshape(-1, len(along))
    width = np.array([drive.high - drive.low for drive in machine.drives.values()])
    return np.asarray(grid[np.argsort(np.linalg.norm(grid / width, axis=1), kind="stable")])


def _toggles(statics: Statics, at: Settings) -> Iterator[ToggleRangeEntry]:
    for slack in find_slack(statics, NEAR_TOGGLE):
        label = statics.mechanism.bodies.label
        yield ToggleRangeEntry(tuple(label(body) for body in slack.bodies), slack.share, at)
