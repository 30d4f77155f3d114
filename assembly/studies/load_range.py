"""Static load cases over the whole range: where each rated joint has the least reserve. Sampled on a grid, not proven.

Stops are left out: a stop takes its load at one setting, and ``loads`` tells of that.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from assembly.errors import AssemblyError
from assembly.geometry.mesh import Floats
from assembly.model.load_case import LoadCase, chosen_cases
from assembly.model.machine import Joint, Machine
from assembly.motion.assembling import assemble
from assembly.motion.at_setting import checked_settings
from assembly.motion.mechanism import Mechanism
from assembly.motion.ratings import Rating, RatingCheck, check_ratings, ratings_of
from assembly.motion.reactions import drive_efforts, load_of, reactions
from assembly.motion.solver import solve
from assembly.motion.statics import NEAR_TOGGLE, Statics, find_slack, statics_at

SAME = 1e-9
"""A force that is larger by less than this share of it, or N, is no larger: of equals the first looked at is told."""
SETTINGS = 400
"""About this many settings are looked at, spread evenly over the range with its ends and rest among them."""
FEWEST = 3
"""Settings along each drive, however many drives there are."""

Setting = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Largest:
    """The largest force of a joint in N, at least where ``open`` settings leave it so, and where."""

    joint: Joint
    newtons: float
    at: Setting
    open: int = 0


@dataclass(frozen=True, slots=True)
class LargestEffort:
    """The largest effort of a drive, either way, and where."""

    drive: str
    unit: str
    value: float
    at: Setting


@dataclass(frozen=True, slots=True)
class WorstCheck:
    """A rated joint where it bears its load worst."""

    check: RatingCheck
    at: Setting


@dataclass(frozen=True, slots=True)
class CaseRange:
    """One load case over the range; rated joints worst first, forces largest first."""

    name: str
    case: LoadCase
    checks: tuple[WorstCheck, ...]
    forces: tuple[Largest, ...]
    efforts: tuple[LargestEffort, ...]


@dataclass(frozen=True, slots=True)
class NearestToggle:
    """How soft some parts become: ``share`` as in ``find_slack``, at the worst setting."""

    parts: tuple[str, ...]
    share: float
    at: Setting


@dataclass(frozen=True, slots=True, eq=False)
class LoadRange:
    """Load cases over a grid of settings; nothing is told where it was not ``reached`` or stands at a dead centre."""

    mechanism: Mechanism
    cases: tuple[CaseRange, ...]
    toggles: tuple[NearestToggle, ...]
    settings: int
    not_reached: tuple[Setting, ...]
    dead_centres: tuple[Setting, ...]


class _Worst:
    """Gathers the worst of one load case."""

    def __init__(self, name: str, case: LoadCase, ratings: tuple[Rating, ...]) -> None:
        self.name, self.case, self.ratings = name, case, ratings
        self.checks: dict[Rating, WorstCheck] = {}
        self.forces: dict[str, Largest] = {}
        self.efforts: dict[str, LargestEffort] = {}

    def look(self, statics: Statics, at: Setting) -> None:
        multipliers = statics.multipliers(load_of(statics, self.case))
        held = reactions(statics, multipliers)
        for check in check_ratings(held, self.ratings):
            known = self.checks.get(check.rating)
            if known is None or _is_worse(check, known.check):
                self.checks[check.rating] = WorstCheck(check, at)
        for name, reaction in held.items():
            largest = self.forces.get(name) or Largest(reaction.joint, -1.0, at)
            if _is_larger(reaction.force.least, largest.newtons):
                largest = replace(largest, newtons=reaction.force.least, at=at)
            self.forces[name] = replace(largest, open=largest.open + (not reaction.force.unique))
        for effort in drive_efforts(statics, multipliers):
            before = self.efforts.get(effort.drive)
            if before is None or _is_larger(abs(effort.value), abs(before.value)):
                self.efforts[effort.drive] = LargestEffort(effort.drive, effort.unit, effort.value, at)

    def result(self) -> CaseRange:
        checks = sorted(self.checks.values(), key=lambda worst: worst.check.rank)
        forces = sorted(self.forces.values(), key=lambda largest: -round(largest.newtons, 6))
        return CaseRange(self.name, self.case, tuple(checks), tuple(forces), tuple(self.efforts.values()))


def _is_larger(value: float, than: float) -> bool:
    return value > than + SAME * (1.0 + abs(than))


def _is_worse(check: RatingCheck, than: RatingCheck) -> bool:
    if check.verdict is not than.verdict:
        return check.rank < than.rank
    return _is_larger(check.least, than.least)


def load_range(machine: Machine, held: Mapping[str, float], names: Iterable[str] = ()) -> LoadRange:
    """The load cases of ``names``, or all of the file, over the range; drives that are ``held`` stay where they are.

    Raises InputError for a drive, setting or load case that is none, AssemblyError where the machine cannot be put
    together at rest.
    """
    cases, fixed = chosen_cases(machine.loads, names), checked_settings(machine, held)
    mechanism = assemble(machine)
    settings = _grid(machine, {name: value for name, value in zip(machine.drives, fixed, strict=True) if name in held})
    solved = solve(mechanism, settings)
    worst = [_Worst(name, case, ratings_of(machine)) for name, case in cases.items()]
    toggles: dict[tuple[str, ...], NearestToggle] = {}
    not_reached, dead_centres = [], []
    for row, at in enumerate(map(tuple, settings.tolist())):
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
            if toggle.parts not in toggles or toggle.share < toggles[toggle.parts].share:
                toggles[toggle.parts] = toggle
    return LoadRange(
        mechanism,
        tuple(each.result() for each in worst),
        tuple(sorted(toggles.values(), key=lambda toggle: toggle.share)),
        len(settings),
        tuple(not_reached),
        tuple(dead_centres),
    )


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


def _toggles(statics: Statics, at: Setting) -> Iterator[NearestToggle]:
    for slack in find_slack(statics, NEAR_TOGGLE):
        label = statics.mechanism.bodies.label
        yield NearestToggle(tuple(label(body) for body in slack.bodies), slack.share, at)
