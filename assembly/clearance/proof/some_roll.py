"""The roll at which a part with ``roll = "some"`` is judged.

A few rolls that its ends allow at every setting looked at are tried, each as if the part were clamped there: all its
pairs and the limits of its ends must be proven over the whole range. The first that holds is taken, and the part then
stands clamped at it in all that is judged after. If none of them holds, that proves nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.proof.joint_search import GRAIN, JointSearch, joint_search
from assembly.clearance.proof.refiner import Progress
from assembly.clearance.proof.sweep import STOPPED_BY_HAND, sweep_pairs
from assembly.errors import TimeLimitError
from assembly.kinematics.assembling import assemble
from assembly.kinematics.freedoms import IdleRoll
from assembly.kinematics.idle_rolls import ends_of
from assembly.kinematics.joint_motion import motions_of, stated_limits
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rod_roll import HALF_TURN, common_roll, rods_of, windows
from assembly.model.machine import Machine, RollRule
from assembly.time_limit import check_time, time_limit

SHARES = (0.0, 0.3, -0.3, 0.6, -0.6, 0.9, -0.9)
"""Where the rolls that are tried lie between the one that serves all ends best, 0, and where an end runs out, 1."""
DIGITS = 2
"""Rolls are tried at hundredths of a degree, so that the one taken can be written into the file as it is reported."""
BUDGET_SHARE = 0.5
"""At most so much of the time allowed goes into trying rolls."""


@dataclass(frozen=True, slots=True)
class ChosenRoll:
    """The roll that was chosen for one body with ``roll = "some"``, or for two that roll as one.

    ``parts`` are all that roll; ``degrees`` is the roll that holds at every setting, the last of ``tried`` out of
    ``candidates``; None if none was found.
    """

    parts: tuple[str, ...]
    degrees: float | None
    tried: int
    candidates: int
    blocked: str = ""
    """If none was found: a setting at which one pair is shown to block every roll, in words."""


def with_chosen_rolls(
    mechanism: Mechanism, effort: Effort, progress: Progress, executor: Executor | None = None
) -> tuple[Mechanism, tuple[ChosenRoll, ...]]:
    """``mechanism`` with each part of ``roll = "some"`` clamped at a roll that holds, if one is found.

    They are taken in the order of the file, each with those before it clamped; those after it are free meanwhile. The
    mirror image of a part tries the mirror image of its roll first.
    """
    chosen: list[ChosenRoll] = []
    trials = _Trials(effort, progress, executor)
    with time_limit(None if effort.budget_s is None else BUDGET_SHARE * effort.budget_s):
        for parts in _asked(mechanism):
            first = _mirrored(mechanism, parts, chosen)
            one, mechanism = trials.choose(mechanism, parts, first)
            chosen.append(one)
    return mechanism, tuple(chosen)


def with_swept_rolls(
    machine: Machine, cores: int, progress: Progress = lambda *_: None
) -> tuple[Machine, tuple[ChosenRoll, ...]]:
    """``machine`` with its parts clamped at the rolls that a sweep of it would choose, so that all tell the same."""
    if all(part.roll is not RollRule.SOME for part in machine.parts.values()):
        return machine, ()
    mechanism, chosen = with_chosen_rolls(assemble(machine), Effort(cores=cores), progress)
    return mechanism.machine, chosen


def _asked(mechanism: Mechanism) -> list[tuple[str, ...]]:
    """The parts of each roll of which the file says that some roll will do, in the order of the file."""
    order = list(mechanism.machine.parts)
    asked = [parts_of(mechanism, roll) for roll in mechanism.idle if roll.rule is RollRule.SOME]
    return sorted(asked, key=lambda parts: min(map(order.index, parts)))


def _mirrored(mechanism: Mechanism, parts: tuple[str, ...], chosen: Sequence[ChosenRoll]) -> tuple[float, ...]:
    """The roll that mirrors the one chosen for the part whose twin is among ``parts``; none if there is none."""
    originals = {mechanism.machine.twin_of.get(name) for name in parts}
    return tuple(0.0 - one.degrees for one in chosen if one.degrees is not None and originals & set(one.parts))


def parts_of(mechanism: Mechanism, roll: IdleRoll) -> tuple[str, ...]:
    """The names of all parts that roll together."""
    return tuple(name for body in roll.bodies for name in mechanism.bodies.members[body])


class _Trials:
    """Trials of rolls within the time that ``effort`` allows for them."""

    def __init__(self, effort: Effort, progress: Progress, executor: Executor | None) -> None:
        self.effort = Effort(cores=effort.cores, decide_only=True, strikes_shown=False)
        self.progress, self.executor = progress, executor

    def choose(
        self, mechanism: Mechanism, parts: tuple[str, ...], first: tuple[float, ...]
    ) -> tuple[ChosenRoll, Mechanism]:
        """The first roll that holds of ``first`` and then the candidates, and the machine with ``parts`` held there."""
        tried, count = 0, len(SHARES)
        with suppress(TimeLimitError):
            candidates = tuple(dict.fromkeys((*first, *_candidates(mechanism, parts))))
            count = len(candidates)
            for degrees in candidates:
                self.progress(f"try rolls of {parts[0]}", tried, count)
                check_time()
                clamped = _clamped(mechanism, parts, degrees)
                holds, tried = self._holds(clamped, parts), tried + 1
                if holds:
                    return ChosenRoll(parts, degrees, tried, count), clamped
        return ChosenRoll(parts, None, tried, count), mechanism

    def _holds(self, mechanism: Mechanism, parts: tuple[str, ...]) -> bool:
        """Whether all pairs of ``parts`` and the limits of their ends are proven over the whole range."""
        pairs = gather_pairs(mechanism.machine, mechanism.bodies)
        own = pairs.only(pair for pair in pairs.moving.checked if pair.a in parts or pair.b in parts)
        swept = sweep_pairs(mechanism, own, self.effort, lambda *_: None, self.executor)
        if swept.stopped == STOPPED_BY_HAND:
            raise KeyboardInterrupt
        if swept.stopped or any(pair.verdict is not Verdict.CLEAR for pair in swept.pairs):
            return False
        return _ends_hold(mechanism, parts, joint_search(mechanism, swept.groups))


def _candidates(mechanism: Mechanism, parts: tuple[str, ...]) -> Iterator[float]:
    """Rolls in degrees at which every end of ``parts`` keeps its limit wherever it was looked at, the best first.

    None where no single roll serves all ends; of parts without rated ends, rolls all the way round.
    """
    best, room = 0.0, HALF_TURN
    for rod in rods_of(mechanism):
        if rod.parts == parts:
            best, room = common_roll(windows(rod, joint_search(mechanism).seen.posture))
    if room >= 0:
        yield from (round(best + share * room, DIGITS) + 0.0 for share in SHARES)


def _clamped(mechanism: Mechanism, parts: tuple[str, ...], degrees: float) -> Mechanism:
    """The machine with those of ``parts`` that have ``roll = "some"`` clamped at ``degrees``."""
    every = mechanism.machine.parts
    told = {name: replace(every[name], roll=degrees) for name in parts if every[name].roll is RollRule.SOME}
    return assemble(replace(mechanism.machine, parts={**every, **told}))


def _ends_hold(mechanism: Mechanism, parts: tuple[str, ...], search: JointSearch) -> bool:
    """Whether every limit of the joints that tie ``parts`` to the rest is proven to be kept."""
    roll = next(one for one in mechanism.idle if parts_of(mechanism, one) == parts)
    names = {name for name, _ in ends_of(mechanism.machine, mechanism.bodies, roll)}
    joints = [mechanism.machine.joints[name] for name in names]
    every = [
        (motion, stated_limits(joint, motion)) for joint in joints for motion in motions_of(joint, mechanism.bodies)
    ]
    limited = [one for one in every if one[1] != (None, None)]
    for found, (_, (low, high)) in zip(search.extremes(limited), limited, strict=True):
        if found is None or not np.isfinite((found.proven_least, found.proven_most)).all():
            return False
        if (low is not None and found.proven_least < low - GRAIN) or (
            high is not None and found.proven_most > high + GRAIN
        ):
            return False
    return True
