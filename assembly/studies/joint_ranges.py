"""How far each joint moves over the range, what of it is proven, and which joint runs out first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import isfinite

import numpy as np

from assembly.clearance.joint_search import GRAIN, Extremes, JointSearch, Limits, joint_search
from assembly.clearance.outcome import Setting, Verdict
from assembly.clearance.rod_search import end_where_rolled
from assembly.clearance.rules import Limit, limits_of
from assembly.geometry.mesh import Floats
from assembly.model.machine import Joint
from assembly.motion.bodies import moving_joints
from assembly.motion.joint_motion import JointMotion, Lean, motions_of, stated_limits
from assembly.motion.mechanism import Mechanism, Solved
from assembly.motion.rod_roll import common_roll, rods, windows


@dataclass(frozen=True, slots=True)
class HalfRange:
    """The least reserve of a joint over one half of a drive's range, the other drives anywhere in theirs, as looked at.

    ``direction`` 1 is up from rest, -1 down. ``share``: the reserve as a share of its limit.
    """

    drive: str
    direction: int
    limit: float
    reserve: float
    share: float
    at: Setting


@dataclass(frozen=True, slots=True)
class JointRange:
    """Least and most of one motion of a joint, with the settings that show them, in ``unit`` ("deg" or "mm").

    ``proven_least`` and ``proven_most`` are passed nowhere in the range; None where nothing was measured or proven.
    ``limits``: lowest and highest that it may reach, and ``limiter`` what limits it where that is known. ``spent``:
    degrees that a ball's bolt leans at rest, which are lost both ways. ``rolls``: the ball is the end of a rod that can
    roll; it is measured with the rod rolled by ``roll`` degrees from where the model holds it.
    """

    joint: Joint
    motion: str
    unit: str
    least: float | None
    most: float | None
    at_least: Setting
    at_most: Setting
    limits: Limits = (None, None)
    proven_least: float | None = None
    proven_most: float | None = None
    spent: float | None = None
    rolls: bool = False
    roll: float = 0.0
    halves: tuple[HalfRange, ...] = ()
    best_roll: bool = False
    """No one roll serves: it is measured at each setting at the roll that leaves all ends of its rod the most room."""

    @property
    def limiter(self) -> str:
        """What is met at the limit of a rod end, where its mounting says so."""
        return self.joint.limiter if self.spent is not None else ""

    @property
    def reserves(self) -> tuple[float | None, float | None]:
        """How much is left of the lowest and of the highest it may reach, below zero where it is passed."""
        low, high = self.limits
        return (
            None if low is None or self.least is None else self.least - low,
            None if high is None or self.most is None else high - self.most,
        )

    @property
    def reserve(self) -> float | None:
        """The smaller of the two reserves."""
        return min((left for left in self.reserves if left is not None), default=None)

    @property
    def verdict(self) -> Verdict | None:
        """Whether the limits are proven to be kept, or a setting shows one passed; None without limits.

        An end of a rod that can roll fails only where no roll serves the rod, which is not known here.
        """
        if self.limits == (None, None):
            return None
        low, high = self.limits
        kept = (
            low is None or (self.proven_least is not None and self.proven_least >= low - GRAIN),
            high is None or (self.proven_most is not None and self.proven_most <= high + GRAIN),
        )
        if all(kept):
            return Verdict.CLEAR
        passed = self.reserve is not None and self.reserve < -GRAIN
        return Verdict.FAILS if passed and not self.rolls else Verdict.UNDECIDED


@dataclass(frozen=True, slots=True)
class JointRanges:
    """The motions of all joints, in the order of the file; ``not_measured`` gives (joint, reason) for the others.

    ``first_out``: for each drive and direction the joint that keeps the least share of its limit.
    """

    ranges: tuple[JointRange, ...]
    not_measured: tuple[tuple[str, str], ...]
    settings: int
    reached: int
    first_out: tuple[tuple[HalfRange, JointRange], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    """One motion of a joint and its limits; the roll is that of the rod it is an end of, if that can roll."""

    joint: Joint
    motion: JointMotion
    limits: Limits
    roll: float | None = None
    at_best_roll: Limit | None = None


def joint_ranges(mechanism: Mechanism, search: JointSearch | None = None) -> JointRanges:
    """Motions of every joint of ``mechanism`` over the whole range of its drives.

    ``search``: the cells to prove them on, made here where none are given.
    """
    search = search or joint_search(mechanism)
    measured = list(_measured(mechanism, search.seen))
    still = iter(search.extremes([(each.motion, each.limits) for each in measured if each.at_best_roll is None]))
    extremes = [
        next(still) if each.at_best_roll is None else end_where_rolled(search, each.at_best_roll) for each in measured
    ]
    ranges = tuple(_range(mechanism, each, found, search.seen) for each, found in zip(measured, extremes, strict=True))
    named = {each.joint.name for each in measured}
    reason = "the file gives no `bolt`, so its misalignment is not measured"
    missing = tuple((joint.name, reason) for joint in moving_joints(mechanism.machine) if joint.name not in named)
    return JointRanges(
        ranges, missing, search.settings, len(search.seen.settings), tuple(_first_out(mechanism, ranges))
    )


def _measured(mechanism: Mechanism, seen: Solved) -> Iterator[_Measured]:
    """All motions; a rod that can roll is taken as drawn, or where it would bind so, at the roll that serves best.

    Where no one roll serves everywhere, it is rolled anew at each setting.
    """
    rolled = _rolled(mechanism, seen)
    ends = {limit.joint: limit for limit in limits_of(mechanism) if limit.rod is not None}
    for joint in moving_joints(mechanism.machine):
        for motion in motions_of(joint, mechanism.bodies):
            limits = stated_limits(joint, motion)
            if isinstance(motion, Lean):
                lean, roll = rolled.get(joint.name, (motion, None))
                served = lean is not None
                yield _Measured(joint, lean or motion, limits, roll, None if served else ends[joint.name])
            else:
                yield _Measured(joint, motion, limits)


def _rolled(mechanism: Mechanism, seen: Solved) -> dict[str, tuple[Lean | None, float]]:
    """The ends of rods as they lean at the one roll that serves, in degrees; None where no one roll does."""
    found: dict[str, tuple[Lean | None, float]] = {}
    for rod in rods(mechanism) if len(seen.settings) else ():
        allowed = windows(rod, seen.posture)
        roll, room = (0.0, 0.0) if allowed.room(np.zeros(1)).min() >= 0 else common_roll(allowed)
        if room < 0:
            found |= {end.joint: (None, 0.0) for end in rod.ends}
        else:
            found |= {end.joint: (end.rolled(roll) if roll else end.lean, roll) for end in rod.ends}
    return found


def _range(mechanism: Mechanism, measured: _Measured, found: Extremes | None, seen: Solved) -> JointRange:
    joint, motion = measured.joint, measured.motion
    known = JointRange(
        joint,
        motion.name,
        motion.unit,
        *(None, None, (), ()),
        limits=measured.limits,
        rolls=measured.roll is not None,
        roll=measured.roll or 0.0,
        best_roll=measured.at_best_roll is not None,
        spent=float(motion.values(mechanism.home)[0]) if isinstance(motion, Lean) else None,
    )
    if found is None:
        return known
    ends = [(found.least, found.at_least), (found.most, found.at_most)]
    values = np.append(found.looked_at, [value for value, _ in ends])
    settings = np.concatenate([seen.settings, np.array([at for _, at in ends])])
    values, settings = values[np.isfinite(values)], settings[np.isfinite(values)]
    return replace(
        known,
        least=found.least,
        most=found.most,
        at_least=found.at_least,
        at_most=found.at_most,
        proven_least=found.proven_least if isfinite(found.proven_least) else None,
        proven_most=found.proven_most if isfinite(found.proven_most) else None,
        halves=tuple(_halves(mechanism, measured.limits, values, settings)),
    )


def _halves(mechanism: Mechanism, limits: Limits, values: Floats, settings: Floats) -> Iterator[HalfRange]:
    """The least reserve of a motion on each half of each drive's range."""
    sides = [(way * limit, way) for limit, way in zip(limits, (-1.0, 1.0), strict=True) if limit is not None]
    if not sides:
        return
    widest = max(abs(limit) for limit, _ in sides)
    left = np.stack([limit - way * values for limit, way in sides])
    shares = left / np.array([[abs(limit) or widest] for limit, _ in sides])
    for k, drive in enumerate(mechanism.machine.drives.values()):
        for direction, end in ((1, drive.high), (-1, drive.low)):
            rows = np.flatnonzero(direction * settings[:, k] >= 0)
            if end == 0 or not len(rows):
                continue
            side, row = np.unravel_index(int(shares[:, rows].argmin()), (len(sides), len(rows)))
            worst = int(rows[row])
            at = tuple(settings[worst].tolist())
            limit = sides[side][0] * sides[side][1]
            yield HalfRange(drive.name, direction, limit, float(left[side, worst]), float(shares[side, worst]), at)


def _first_out(mechanism: Mechanism, ranges: Sequence[JointRange]) -> Iterator[tuple[HalfRange, JointRange]]:
    """An end that is past its limit at one roll of a rod that can roll is none of them: the rod's roll tells of it."""
    for drive in mechanism.machine.drives:
        for direction in (1, -1):
            both = [
                (half, moved)
                for moved in ranges
                for half in moved.halves
                if (half.drive, half.direction) == (drive, direction) and (half.reserve >= 0 or not moved.rolls)
            ]
            if both:
                yield min(both, key=lambda pair: pair[0].share)
