"""What joints and drives carry at some settings of a machine, as tasks: no setting depends on another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from assembly.errors import AssemblyError
from assembly.geometry.mesh import Floats
from assembly.kinematics.bodies import moving_joints
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.solver import solve
from assembly.model.load_case import LoadCase
from assembly.record import EffortEntry, Settings, ToggleRangeEntry
from assembly.statics.multipliers import NEAR_TOGGLE, Statics, find_slack, statics_at
from assembly.statics.ratings import Rating, RatingCheck, check_ratings
from assembly.statics.reactions import drive_efforts, load_of, reactions
from assembly.time_limit import check_time

LOTS_EACH = 4
"""Lots of settings for each worker, so that none waits long for another."""
WORTH_WORKERS = 5_000
"""Forces of joints in all: fewer are worked out here sooner than workers get ready."""


@dataclass(frozen=True, slots=True, eq=False)
class LoadsContext:
    """What all tasks have in common."""

    mechanism: Mechanism
    cases: tuple[LoadCase, ...]
    ratings: tuple[Rating, ...]

    def worth_workers(self, settings: Floats) -> bool:
        """Whether there is enough to work out for several workers."""
        joints = sum(1 for _ in moving_joints(self.mechanism.machine))
        return len(settings) * (1 + len(self.cases)) * joints > WORTH_WORKERS


@dataclass(frozen=True, slots=True)
class JointForce:
    """At least so many N in a joint; ``unique``: equilibrium settles all of it."""

    joint: str
    kind: str
    least: float
    unique: bool


@dataclass(frozen=True, slots=True)
class Held:
    """What is carried at one setting under one load case."""

    checks: tuple[RatingCheck, ...]
    forces: tuple[JointForce, ...]
    efforts: tuple[EffortEntry, ...]


@dataclass(frozen=True, slots=True)
class AtSetting:
    """What is carried at a setting under each load case; ``dead``: it is a dead centre, where nothing is known."""

    at: Settings
    reached: bool
    dead: bool = False
    held: tuple[Held, ...] = ()
    toggles: tuple[ToggleRangeEntry, ...] = ()


def held_task(context: LoadsContext, settings: Floats) -> list[AtSetting]:
    """What is carried at each of some settings (N, d)."""
    solved, found = solve(context.mechanism, settings), []
    for row, setting in enumerate(settings.tolist()):
        check_time()
        at = settings_of(context.mechanism.machine, tuple(setting))
        if not solved.reached[row]:
            found.append(AtSetting(at, reached=False))
            continue
        try:
            statics = statics_at(context.mechanism, solved.posture.take(np.array([row])))
        except AssemblyError:
            found.append(AtSetting(at, reached=True, dead=True))
            continue
        held = tuple(_held(statics, case, context.ratings) for case in context.cases)
        found.append(AtSetting(at, reached=True, held=held, toggles=tuple(_toggles(statics, at))))
    return found


def lots_of(settings: Floats, at_once: int) -> Sequence[Floats]:
    """All settings (N, d) in their order, in so many lots that each of ``at_once`` workers has a few."""
    return [lot for lot in np.array_split(settings, LOTS_EACH * at_once) if len(lot)] if at_once > 1 else [settings]


def _held(statics: Statics, case: LoadCase, ratings: Sequence[Rating]) -> Held:
    multipliers = statics.multipliers(load_of(statics, case))
    held = reactions(statics, multipliers)
    return Held(
        check_ratings(held, ratings),
        tuple(JointForce(name, one.joint.kind.value, one.force.least, one.force.unique) for name, one in held.items()),
        tuple(drive_efforts(statics, multipliers)),
    )


def _toggles(statics: Statics, at: Settings) -> Iterator[ToggleRangeEntry]:
    for slack in find_slack(statics, NEAR_TOGGLE):
        label = statics.mechanism.bodies.label
        yield ToggleRangeEntry(tuple(label(body) for body in slack.bodies), slack.share, at)
