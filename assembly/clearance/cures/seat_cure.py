"""Joined parts that overlap as drawn round their joint: which seat takes the overlap out, over the whole range.

Where the shapes that meet there are round about the joint's own line they are its bearing, and want to be named. Else
a ball round the joint is left out of both parts, as large as what they share round it and no larger than it need be.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from math import ceil

import numpy as np

from assembly.clearance.cures.trials import tried, with_bearing, with_seat
from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Solid
from assembly.clearance.narrow_phase.distance import CollisionModel, meets
from assembly.clearance.narrow_phase.overlap import overlap_at
from assembly.clearance.narrow_phase.pair_result import Verdict
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.errors import ShapeError
from assembly.geometry.mesh import Floats, joined
from assembly.geometry.shells import components
from assembly.model.machine import Joint, JointKind, Machine, Shape
from assembly.model.seats import ball_seat
from assembly.record import CureEntry

ROUND_THE_JOINT = 25.0
"""mm: what two parts share farther than this from their joint is no bearing."""
LARGER = 6
"""Radii tried, 1 mm apart, from the least that holds what the two share at rest."""
MOST_SEAT = 60.0
"""mm: no bearing of a machine like this is larger."""
IN_LINE = 1e-3
"""How far a direction may be off the joint's line and count as along it, and a line in mm be off it."""
LINED = (JointKind.PIN, JointKind.SLIDE, JointKind.CYLINDRICAL)


def seat_cure(groups: CellGroups, pair: CheckedPair, a: Solid, b: Solid) -> CureEntry | None:
    """The seat that a pair of joined parts wants; None if they are not joined, or do not overlap round the joint.

    Shapes that bear in the joint are named as its seat; else a ball round it, the smallest that serves.
    """
    first, second, still = CollisionModel(a), CollisionModel(b), np.eye(4)
    machine = groups.mechanism.machine
    joints = _joints(machine, pair)
    meeting = [(one, other) for one in first.pieces for other in second.pieces if joints and _meet(one, other)]
    shared = overlap_at(first, second, still, still, ()).solid if meeting else joined(())
    for joint in joints:
        at = np.array(joint.at_first)
        reach = _reach([shell.vertices for shell in components(shared)] or [_in_both(*each) for each in meeting], at)
        if reach is None:
            continue
        bearing = _bearing(machine, joint, pair, meeting)
        if bearing and _clear(groups, pair, with_bearing(machine, joint, bearing)):
            return CureEntry(joint=joint.name, bearing=bearing)
        ball = ball_seat(joint, machine.parts)
        if joint.seat == 0 and ball and _clear(groups, pair, with_seat(machine, joint, ball.radius)):
            return CureEntry(joint=joint.name, seat_mm=ball.radius, ball=(ball.part, ball.shape))
        least = ceil(max(reach, joint.seat) + 0.05)
        for radius in range(least, min(least + LARGER, int(MOST_SEAT))):
            if _clear(groups, pair, with_seat(machine, joint, radius)):
                return CureEntry(joint=joint.name, seat_mm=radius)
        if joint.seat == 0 and least <= MOST_SEAT:
            return CureEntry(joint=joint.name, seat_mm=least, clear=False)
    return None


def _joints(machine: Machine, pair: CheckedPair) -> list[Joint]:
    ends = {pair.a, pair.b}
    every = [joint for joint in machine.joints.values() if {joint.first, joint.second} == ends]
    return [joint for joint in every if joint.kind.has_freedom and joint.at_first == joint.at_second]


def _meet(one: CollisionModel, other: CollisionModel) -> bool:
    still = np.eye(4)
    (low_a, high_a), (low_b, high_b) = one.solid.mesh.bounds, other.solid.mesh.bounds
    return bool((np.maximum(low_a, low_b) <= np.minimum(high_a, high_b)).all()) and meets(one, other, still, still)


def _in_both(one: CollisionModel, other: CollisionModel) -> Floats:
    """Corners (8, 3) of the box that the boxes of two shapes share: where they only touch, they do so in it."""
    (low_a, high_a), (low_b, high_b) = one.solid.mesh.bounds, other.solid.mesh.bounds
    ends = np.stack([np.maximum(low_a, low_b), np.minimum(high_a, high_b)])
    return np.array([[ends[i, 0], ends[j, 1], ends[k, 2]] for i, j, k in product((0, 1), repeat=3)])


def _reach(places: Sequence[Floats], at: Floats) -> float | None:
    """How far from the joint what two parts share round it reaches, mm; None if they share nothing near it.

    ``places``: corners (k, 3) of each thing shared. One that goes all round the joint has its corners about it.
    """
    far = [
        float(np.linalg.norm(own - at, axis=1).max())
        for own in places
        if np.linalg.norm(np.clip(at, own.min(axis=0), own.max(axis=0)) - at) <= ROUND_THE_JOINT
    ]
    return max(far, default=None)


def _bearing(
    machine: Machine, joint: Joint, pair: CheckedPair, meeting: Sequence[tuple[CollisionModel, CollisionModel]]
) -> dict[str, tuple[str, ...]]:
    """The shapes that meet at rest, by their parts, if all of them are round about the joint's line."""
    if joint.kind not in LINED:
        return {}
    named: dict[str, set[str]] = {pair.a: set(), pair.b: set()}
    for each in meeting:
        for part, collision_model in zip((pair.a, pair.b), each, strict=True):
            named[part].add(collision_model.solid.shapes[0])
    shapes = [shape for part in named for shape in machine.parts[part].shapes if shape.name in named[part]]
    if not all(_about(shape, joint) for shape in shapes):
        return {}
    return {part: tuple(sorted(names)) for part, names in named.items() if names}


def _about(shape: Shape, joint: Joint) -> bool:
    line = shape.round_about
    if line is None or joint.along is None:
        return False
    along, aside = np.array(joint.along), np.array(joint.at_first) - np.array(line.at)
    off = np.linalg.norm(np.cross(aside, along))
    turned = 0.0 if line.along is None else np.linalg.norm(np.cross(line.along, along))
    return bool(off <= IN_LINE and turned <= IN_LINE)


def _clear(groups: CellGroups, pair: CheckedPair, machine: Machine) -> bool:
    try:
        found = tried(groups, machine, lambda a, b: (a, b) == (pair.a, pair.b))
    except ShapeError:
        return False
    return bool(found) and all(one.verdict is Verdict.CLEAR for one in found)
