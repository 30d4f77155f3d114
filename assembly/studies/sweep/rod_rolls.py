"""Whether the rods can lie at ease: how far each can roll about its own line at every setting, and how to clock it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.pair_result import Verdict
from assembly.clearance.proof.joint_search import GRAIN, JointSearch, joint_search
from assembly.clearance.proof.rod_search import prove_roll
from assembly.kinematics.array_stacks import stacked
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.rod_roll import HALF_TURN, Rod, best_clocking, common_roll, rods, windows
from assembly.kinematics.solver import solve
from assembly.record import RodEntry
from assembly.time_limit import untimed

ENDS_TO_CLOCK = 2


@dataclass(frozen=True, slots=True)
class RodFound:
    """One rod, and the least and most roll, degrees from the shortest turn, that its ends allow anywhere."""

    entry: RodEntry
    allowed: tuple[float, float]


def rod_rolls(mechanism: Mechanism, search: JointSearch | None = None) -> tuple[RodFound, ...]:
    """Every rod that can roll and has a rated end; ``search``: the cells to prove them on, else made here."""
    found = rods(mechanism)
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
