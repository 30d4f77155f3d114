"""One shape drawn elsewhere within its own part, so that a failing pair keeps its clearance and no other loses its own.

Never a shape that forms a bearing or stands where its part is joined, nor so that it comes off what it touched. How far
it must go is measured at settings at which the pair fails; that this is enough, and what else it then comes near, is
swept over the whole range before it is reported.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from assembly.clearance.cures.trials import CLOSED_IN, tried, with_moved
from assembly.clearance.narrow_phase.checked_pairs import Solid
from assembly.clearance.narrow_phase.distance import CollisionModel, meets, nearest
from assembly.clearance.narrow_phase.pair_result import PairResult, Verdict
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import inverse_rigid
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.solver import solve
from assembly.model.machine import Part, Shape
from assembly.record import CureEntry, NearerEntry

MOST_SHIFT = 60.0
"""mm: what must go farther is better drawn anew."""
GRAIN = 0.1
"""mm to which a shift is rounded up."""
SWEPT = 3
"""Shifts that are swept for one pair, the shortest first."""
TOUCHES = 0.05
"""mm between two shapes that are welded or bolted on each other."""
JOINT_WITHIN = 1.0
"""mm: a shape with a joint this near its box is joined there."""
WORSE = 0.5
"""mm by which a clearance must shrink to be reported."""
NEAR = 10.0
"""mm beyond what is required, below which a clearance is reported, and known closely before and after."""
SETTINGS = 32
AXES = np.concatenate([np.eye(3), -np.eye(3)])


@dataclass(frozen=True, slots=True, eq=False)
class _Candidate:
    part: str
    shape: str
    amount: float
    direction: Floats


def shape_cure(
    groups: CellGroups,
    failing: PairResult,
    shapes: tuple[str, str],
    solids: tuple[Solid, Solid],
    every: Sequence[PairResult],
) -> CureEntry | None:
    """The shortest shift of one of the two ``shapes`` that cures a pair; None if none is known.

    ``solids``: both parts as the pair sees them; ``every``: all pairs as they are.
    """
    before = {(one.pair.a, one.pair.b): one for one in every}
    candidates = sorted(_candidates(groups.mechanism, failing, shapes, solids), key=lambda one: one.amount)
    for candidate in candidates[:SWEPT]:
        if (cure := _swept(groups, failing, candidate, before)) is not None:
            return cure
    return None


def _swept(
    groups: CellGroups, failing: PairResult, candidate: _Candidate, before: dict[tuple[str, str], PairResult]
) -> CureEntry | None:
    """The cure, if it is one: the pair clear over the whole range, and no pair spoiled that was clear."""
    part, shift = candidate.part, candidate.amount * candidate.direction
    machine, wanted = (
        with_moved(groups.mechanism.machine, part, candidate.shape, shift),
        (failing.pair.a, failing.pair.b),
    )
    after = {(one.pair.a, one.pair.b): one for one in tried(groups, machine, lambda a, b: part in (a, b))}
    if wanted not in after or after[wanted].verdict is not Verdict.CLEAR or _spoiled(before, after):
        return None
    doubtful = {names for names, one in after.items() if names != wanted and _maybe_nearer(before.get(names), one)}
    sharp = tried(groups, machine, lambda a, b: (a, b) in doubtful, CLOSED_IN) if doubtful else ()
    return CureEntry(part, candidate.shape, candidate.amount, _point(candidate.direction), _nearer(before, sharp))


def _spoiled(before: dict[tuple[str, str], PairResult], after: dict[tuple[str, str], PairResult]) -> bool:
    """Whether a pair that was clear is not any more."""
    return any(
        one.verdict is not Verdict.CLEAR and (names not in before or before[names].verdict is Verdict.CLEAR)
        for names, one in after.items()
    )


def _maybe_nearer(before: PairResult | None, after: PairResult) -> bool:
    """Whether a clear pair may come nearer than before, and so near that it is worth reporting."""
    if before is None or before.verdict is not Verdict.CLEAR:
        return False
    lowest = min(after.least, after.proven or 0.0)
    return lowest < min(before.least - WORSE, after.pair.required + NEAR)


def _nearer(before: dict[tuple[str, str], PairResult], sharp: Sequence[PairResult]) -> tuple[NearerEntry, ...]:
    told = [(before[one.pair.a, one.pair.b].least, one) for one in sharp]
    return tuple(
        NearerEntry(one.pair.a, one.pair.b, old if old < one.pair.required + NEAR else None, one.least)
        for old, one in told
        if one.least < min(old - WORSE, one.pair.required + NEAR)
    )


def _candidates(
    mechanism: Mechanism, failing: PairResult, shapes: tuple[str, str], solids: tuple[Solid, Solid]
) -> Iterator[_Candidate]:
    pair = failing.pair
    settings = _settings(failing)
    solved = solve(mechanism, settings)
    posture = solved.posture.take(np.flatnonzero(solved.reached))
    first, second = (mechanism.world_from_rest(posture, part) for part in (pair.a, pair.b))
    sides = ((pair.a, shapes[0], solids[1], first, second), (pair.b, shapes[1], solids[0], second, first))
    for part, name, other, own_places, other_places in sides:
        shape = next(one for one in mechanism.machine.parts[part].shapes if one.name == name)
        if not _may_move(mechanism, mechanism.machine.parts[part], shape):
            continue
        places = inverse_rigid(own_places) @ other_places
        moved = CollisionModel(Solid(shape.mesh, (shape.name,), (0,), (shape.mesh,)))
        for direction in AXES:
            amount = _amount(moved, CollisionModel(other), places, direction, pair.required + failing.surface_error)
            if amount is not None and _stays_on(mechanism, part, shape, amount * direction):
                yield _Candidate(part, name, amount, direction)


def _settings(failing: PairResult) -> Floats:
    """Settings at which the pair fails: the deepest, where it begins to, and a few of its region."""
    told = [failing.at, *(contact.at for contact in failing.first_contacts)]
    centres = [centre for centre, _ in failing.region.cells] if failing.region is not None else []
    return np.array([*told, *centres[:: max(1, len(centres) // SETTINGS)][:SETTINGS]])


def _may_move(mechanism: Mechanism, part: Part, shape: Shape) -> bool:
    """Whether the shape is no bearing, stands at no joint, and its part cannot roll."""
    body = mechanism.bodies.body_of[part.name]
    if shape.seats or any(body in idle.bodies for idle in mechanism.idle):
        return False
    low, high = shape.mesh.bounds + np.array([[-JOINT_WITHIN], [JOINT_WITHIN]])
    ends = [
        np.array(at)
        for joint in mechanism.machine.joints.values()
        for owner, at in ((joint.first, joint.at_first), (joint.second, joint.at_second))
        if owner == part.name
    ]
    return not any(bool(((at >= low) & (at <= high)).all()) for at in ends)


def _amount(
    moved: CollisionModel, other: CollisionModel, places: Floats, direction: Floats, gap: float
) -> float | None:
    """The least shift along ``direction`` that keeps ``gap`` mm at all ``places`` of the other, seen from the moved."""

    def clear(far: float, place: Floats) -> bool:
        away = place.copy()
        away[:3, 3] -= far * direction
        return nearest(moved, other, np.eye(4), away).distance > gap and not meets(moved, other, np.eye(4), away)

    shift = GRAIN
    for place in places:
        if clear(shift, place):
            continue
        high = shift
        while not clear(high, place):
            high = 1.5 * high + 5 * GRAIN
            if high > MOST_SHIFT:
                return None
        low = shift
        while high - low > GRAIN / 4:
            middle = (low + high) / 2
            low, high = (low, middle) if clear(middle, place) else (middle, high)
        shift = high
    return ceil(shift / GRAIN + 0.2) * GRAIN


def _stays_on(mechanism: Mechanism, part: str, shape: Shape, shift: Floats) -> bool:
    """Whether the shape still touches all of its own body that it touched: else it would hang in the air."""
    body_of, still = mechanism.bodies.body_of, np.eye(4)
    own = CollisionModel(Solid(shape.mesh, (shape.name,), (0,), (shape.mesh,)))
    away = still.copy()
    away[:3, 3] = shift
    for name, other in mechanism.machine.parts.items():
        for each in other.shapes if body_of[name] == body_of[part] else ():
            if name == part and each.name == shape.name:
                continue
            beside = CollisionModel(Solid(each.mesh, (each.name,), (0,), (each.mesh,)))
            if _touch(own, beside, still) and not _touch(own, beside, away):
                return False
    return True


def _touch(own: CollisionModel, beside: CollisionModel, place: Floats) -> bool:
    still = np.eye(4)
    return nearest(own, beside, place, still).distance <= TOUCHES or meets(own, beside, place, still)


def _point(values: Floats) -> tuple[float, float, float]:
    x, y, z = values.tolist()
    return x, y, z
