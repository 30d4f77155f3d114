"""How far each joint moves over the range, what of it is proven, and which joint reaches its limit first.

For a rod that can roll about its own line: how far its ends allow that at every setting, and how to clock it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from assembly.clearance.narrow_phase.pair_result import Verdict
from assembly.clearance.proof.joint_search import GRAIN, Extremes, JointSearch, Limits, joint_search
from assembly.clearance.proof.rod_search import end_where_rolled, prove_roll
from assembly.geometry.mesh import Floats
from assembly.kinematics.array_stacks import stacked
from assembly.kinematics.bodies import moving_joints
from assembly.kinematics.joint_limits import Limit, limits_of
from assembly.kinematics.joint_motion import JointMotion, Lean, motions_of, stated_limits
from assembly.kinematics.mechanism import Mechanism, Solved, settings_of
from assembly.kinematics.rod_roll import HALF_TURN, Rod, best_clocking, common_roll, rods_of, windows
from assembly.kinematics.solver import solve
from assembly.model.machine import Joint
from assembly.record import FirstOutEntry, HalfEntry, JointEntry, RodEntry
from assembly.studies.shared import finite
from assembly.studies.sweep.verdict import joint_verdict, shared_verdicts
from assembly.time_limit import untimed

ENDS_TO_CLOCK = 2


@dataclass(frozen=True, slots=True)
class RodFound:
    """One rod, and the least and most roll, degrees from the shortest turn, that its ends allow anywhere."""

    entry: RodEntry
    allowed: tuple[float, float]


def rod_rolls(mechanism: Mechanism, search: JointSearch | None = None) -> tuple[RodFound, ...]:
    """Every rod that can roll and has a rated end; ``search``: the cells to prove them on, else made here."""
    found = rods_of(mechanism)
    if not found:
        return ()
    search = search or joint_search(mechanism)
    return tuple(_rod(rod, search) for rod in found if len(search.seen.settings))


def _rod(rod: Rod, search: JointSearch) -> RodFound:
    verdict, binds_at = prove_roll(search, rod)
    seen = search.seen
    if verdict is Verdict.FAILS:
        with untimed():
            seen = stacked(seen, solve(search.mechanism, np.array([binds_at])))
    allowed = windows(rod, seen.posture)
    free = 2 * allowed.free()
    worst = int(free.argmin())
    best, either_way = allowed.best()
    either_way = np.clip(either_way, 0.0, HALF_TURN)
    roll, room = common_roll(allowed)
    left = [end.limit - float(end.rolled(roll).values(seen.posture).max()) for end in rod.ends]
    clocking = best_clocking(allowed) if len(rod.ends) == ENDS_TO_CLOCK else None
    entry = RodEntry(
        parts=rod.parts,
        ends=tuple(end.joint for end in rod.ends),
        settings=len(seen.settings),
        free=float(free[worst]),
        at=settings_of(search.mechanism.machine, tuple(seen.settings[worst].tolist())),
        common_roll=roll,
        common_room=room,
        first_out=rod.ends[int(np.argmin(left))].joint,
        left=min(left),
        clocking=clocking and clocking[0],
        clocked_free=clocking and 2 * clocking[1],
        verdict="fails" if free[worst] < -GRAIN else verdict.value,
    )
    return RodFound(entry, (float((best - either_way).min()), float((best + either_way).max())))


@dataclass(frozen=True, slots=True)
class JointsFound:
    """Every motion of every joint in the order of the file, and every rod that rolls.

    ``first_out``: for each drive and direction the joint that keeps the least share of its limit. ``rolls``: by the
    parts of a rod, the least and most that its ends let it roll anywhere. ``not_measured``: (joint, reason).
    """

    joints: tuple[JointEntry, ...] = ()
    first_out: tuple[FirstOutEntry, ...] = ()
    rods: tuple[RodEntry, ...] = ()
    rolls: Mapping[tuple[str, ...], tuple[float, float]] = field(default_factory=dict)
    not_measured: tuple[tuple[str, str], ...] = ()
    settings: int = 0
    stopped: str = ""
    """Why not all of it was bounded as far as it could be, where the time was over before."""


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    """One motion of a joint and its limits; the roll is that of the rod it is an end of, if that can roll."""

    joint: Joint
    motion: JointMotion
    limits: Limits
    roll: float | None = None
    at_best_roll: Limit | None = None
    """No one roll serves: it is measured at each setting at the roll that leaves all ends of its rod the most room."""


@dataclass(frozen=True, slots=True)
class _Moved:
    """A motion of a joint, and for each of its halves the limit that its reserve is of."""

    entry: JointEntry
    limits: tuple[float, ...]


def joints_of(mechanism: Mechanism, search: JointSearch | None = None) -> JointsFound:
    """Motions of every joint and rolls of every rod of ``mechanism`` over the whole range of its drives.

    ``search``: the cells to prove them on, made here if none are given.
    """
    search = search or joint_search(mechanism)
    measured = list(_measured(mechanism, search.seen))
    still = iter(search.extremes([(each.motion, each.limits) for each in measured if each.at_best_roll is None]))
    extremes = [
        next(still) if each.at_best_roll is None else end_where_rolled(search, each.at_best_roll) for each in measured
    ]
    moved = [_moved(mechanism, each, found, search.seen) for each, found in zip(measured, extremes, strict=True)]
    rods_found = rod_rolls(mechanism, search)
    joints, rolling = shared_verdicts([one.entry for one in moved], [rod.entry for rod in rods_found])
    named = {each.joint.name for each in measured}
    reason = "the file gives no `bolt`, so its misalignment is not measured"
    return JointsFound(
        joints=joints,
        first_out=tuple(_first_out(mechanism, moved)),
        rods=rolling,
        rolls={rod.entry.parts: rod.allowed for rod in rods_found},
        not_measured=tuple((one.name, reason) for one in moving_joints(mechanism.machine) if one.name not in named),
        settings=search.settings,
        stopped=search.stopped,
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
    for rod in rods_of(mechanism) if len(seen.settings) else ():
        allowed = windows(rod, seen.posture)
        roll, room = (0.0, 0.0) if allowed.room(np.zeros(1)).min() >= 0 else common_roll(allowed)
        if room < 0:
            found |= {end.joint: (None, 0.0) for end in rod.ends}
        else:
            found |= {end.joint: (end.rolled(roll) if roll else end.lean, roll) for end in rod.ends}
    return found


def _moved(mechanism: Mechanism, measured: _Measured, found: Extremes | None, seen: Solved) -> _Moved:
    if found is None:
        return _Moved(_entry(mechanism, measured, None), ())
    ends = [(found.least, found.at_least), (found.most, found.at_most)]
    values = np.append(found.looked_at, [value for value, _ in ends])
    settings = np.concatenate([seen.settings, np.array([at for _, at in ends])])
    values, settings = values[np.isfinite(values)], settings[np.isfinite(values)]
    halves = list(_halves(mechanism, measured.limits, values, settings))
    entry = replace(_entry(mechanism, measured, found), halves=tuple(half for half, _ in halves))
    return _Moved(entry, tuple(limit for _, limit in halves))


def _entry(mechanism: Mechanism, measured: _Measured, found: Extremes | None) -> JointEntry:
    """A motion without its halves, with the verdict of the joint itself; nothing is known where none was ``found``."""
    joint, motion, (low, high) = measured.joint, measured.motion, measured.limits
    spent = float(motion.values(mechanism.home)[0]) if isinstance(motion, Lean) else None
    least, most = (found.least, found.most) if found else (None, None)
    ends = (found.at_least, found.at_most) if found else ((), ())
    at_least, at_most = (settings_of(mechanism.machine, at) for at in ends)
    left_low = None if low is None or least is None else least - low
    left_high = None if high is None or most is None else high - most
    reserve = min((left for left in (left_low, left_high) if left is not None), default=None)
    downward = left_low is not None and left_low == reserve
    proven_least, proven_most = map(finite, (found.proven_least, found.proven_most) if found else (None, None))
    return JointEntry(
        name=joint.name,
        kind=joint.kind.value,
        motion=motion.name,
        first=joint.first,
        second=joint.second,
        unit=motion.unit,
        least=least,
        most=most,
        at_least=at_least,
        at_most=at_most,
        proven_least=proven_least,
        proven_most=proven_most,
        limit=low if downward else high,
        reserve=reserve,
        at=at_least if downward else at_most,
        limit_low=low,
        limit_high=high,
        reserve_low=left_low,
        reserve_high=left_high,
        limiter=joint.limiter if spent is not None else "",
        spent=spent,
        rolls=measured.roll is not None,
        roll=measured.roll or 0.0,
        verdict=joint_verdict(measured.limits, (proven_least, proven_most), reserve, rolls=measured.roll is not None),
        halves=(),
        best_roll=measured.at_best_roll is not None,
    )


def _halves(
    mechanism: Mechanism, limits: Limits, values: Floats, settings: Floats
) -> Iterator[tuple[HalfEntry, float]]:
    """The least margin of a motion on each half of each drive's range, and the limit that it is of."""
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
            at = settings_of(mechanism.machine, tuple(settings[worst].tolist()))
            reserve, share = float(left[side, worst]), float(shares[side, worst])
            yield HalfEntry(drive.name, direction, reserve, share, at), sides[side][0] * sides[side][1]


def _first_out(mechanism: Mechanism, moved: Sequence[_Moved]) -> Iterator[FirstOutEntry]:
    """An end that is past its limit at one roll of a rod that can roll is none of them: the rod's roll tells of it."""
    every = [
        (half, limit, one.entry)
        for one in moved
        for half, limit in zip(one.entry.halves, one.limits, strict=True)
        if half.reserve >= 0 or not one.entry.rolls
    ]
    for drive in mechanism.machine.drives:
        for direction in (1, -1):
            both = [each for each in every if (each[0].drive, each[0].direction) == (drive, direction)]
            if both:
                half, limit, of = min(both, key=lambda each: each[0].share)
                yield FirstOutEntry(drive, direction, of.name, of.motion, of.unit, limit, half.reserve, half.at)
