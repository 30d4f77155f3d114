"""By how much the play of joints lets parts come nearer, at any setting: one bound for each pair, proven.

Cells over all drives of the machine cover the range; in each the play of all joints at once moves a part, as the other
sees it, by no more than ``LooseMotion`` says, and the pair's bound is the largest of all cells. Cells in which that is
much more than play does to first order are cut.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import Solid
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.cells import Cells
from assembly.geometry.mesh import Floats, Ids
from assembly.kinematics.bodies import GROUND
from assembly.kinematics.loose_motion import LooseMotion, loose_motion
from assembly.kinematics.loose_rows import LooseRows, loose_rows
from assembly.kinematics.mechanism import Mechanism, Submechanism
from assembly.kinematics.reduced import submechanism
from assembly.kinematics.roll_columns import roll_line
from assembly.model.machine import Joint, Machine
from assembly.time_limit import check_time
from assembly.working_memory import at_once

SHARE, GRAIN = 1.1, 0.02
"""A bound is sharp enough at ``SHARE`` times the first order of what is found, and ``GRAIN`` mm."""
TURN_GRAIN = 2e-4
"""The same in rad."""
MOST_CELLS = 3000
"""Cells beyond which none is cut for a sharper bound."""
SMALLEST = 3.0**-6
"""Share of a drive's range: a smaller cell is not cut."""
UNPROVEN = "play of joints may take it farther than can be proven"


@dataclass(frozen=True, slots=True, eq=False)
class LooseSide:
    """What of a ``body`` is looked at: balls with ``centres`` (k, 3) mm as drawn and ``radii`` (k,)."""

    body: int
    centres: Floats
    radii: Floats


@dataclass(frozen=True, slots=True, eq=False)
class LoosePair:
    """Two sides that may come nearer to each other, mm, or that may turn against each other, rad (``turns``)."""

    a: LooseSide
    b: LooseSide
    turns: bool = False


def side_of(mechanism: Mechanism, body: int, solid: Solid, growth: float) -> LooseSide:
    """Balls round the shapes of ``solid``, which stand out by up to ``growth`` mm; at every roll, if the body rolls."""
    centres, radii = [], []
    for mesh in solid.meshes or (solid.mesh,):
        points = np.asarray(mesh.vertices)
        middle = (points.min(axis=0) + points.max(axis=0)) / 2
        for roll in mechanism.idle:
            if body in roll.bodies and not roll.clamped:
                at, along = roll_line(mechanism, body, roll)
                middle = at + ((middle - at) @ along) * along
        centres.append(middle)
        radii.append(float(np.linalg.norm(points - middle, axis=1).max()) + growth)
    return LooseSide(body, np.array(centres), np.array(radii))


def point_of(mechanism: Mechanism, part: str) -> LooseSide:
    """The reference point of the body of ``part``, for how it turns."""
    body = mechanism.bodies.body_of[part]
    return LooseSide(body, mechanism.bodies.centres[body][None], np.zeros(1))


def is_loose(mechanism: Mechanism) -> bool:
    """Whether any joint of the machine has play."""
    return bool(loose_joints(mechanism.machine))


def loose_joints(machine: Machine) -> list[Joint]:
    """The joints that have play."""
    return [joint for joint in machine.joints.values() if joint.is_loose]


def play_bounds(mechanism: Mechanism, pairs: Sequence[LoosePair]) -> list[float | None]:
    """What play does to each pair at most, mm or rad; None where nothing is proven."""
    found: list[float | None] = [0.0] * len(pairs)
    groups, lots = CellGroups(mechanism), _lots(mechanism, pairs)
    for reduced, numbers in lots:
        loose = loose_rows(reduced.mechanism)
        if loose is None:
            continue
        every = tuple(range(len(reduced.mechanism.machine.drives)))
        search = _Search(groups.within(reduced).of(every), loose, [_within(reduced, pairs[k]) for k in numbers])
        for number, bound in zip(numbers, search.bounds(), strict=True):
            found[number] = float(bound) if np.isfinite(bound) else None
    return found


def _lots(mechanism: Mechanism, pairs: Sequence[LoosePair]) -> list[tuple[Submechanism, list[int]]]:
    """The pairs by the machine that is left where what does not move them is left out."""
    lots: dict[tuple[int, ...], tuple[Submechanism, list[int]]] = {}
    for number, pair in enumerate(pairs):
        if pair.a.body != pair.b.body:
            reduced = submechanism(mechanism, pair.a.body, pair.b.body)
            lots.setdefault(tuple(reduced.bodies.tolist()), (reduced, []))[1].append(number)
    return list(lots.values())


def _within(reduced: Submechanism, pair: LoosePair) -> LoosePair:
    a, b = (LooseSide(reduced.body(one.body), one.centres, one.radii) for one in (pair.a, pair.b))
    return LoosePair(a, b, pair.turns)


@dataclass(eq=False)
class _Search:
    """The bounds of ``pairs`` over cells of all drives of one machine."""

    cells: Cells
    loose: LooseRows
    pairs: Sequence[LoosePair]

    def bounds(self) -> Floats:
        """(P,) mm or rad; infinite where nothing is proven."""
        proven, known = np.zeros(len(self.pairs)), np.zeros(len(self.pairs))
        if len(self.cells.unresolved):
            return np.full(len(self.pairs), np.inf)
        waiting, active = self.cells.roots, np.arange(len(self.pairs))
        grain = np.array([TURN_GRAIN if pair.turns else GRAIN for pair in self.pairs])
        while len(waiting) and len(active):
            found, first = self._over(waiting, active)
            known[active] = np.maximum(known[active], first.max(axis=0))
            coarse = found > SHARE * known[active] + grain[active]
            cut = coarse.any(axis=1) & self.cells.may_be_cut(waiting, SMALLEST)
            if len(self.cells) > MOST_CELLS:
                cut[:] = False
            done = np.where(cut[:, None] & coarse, 0.0, found).max(axis=0)
            proven[active] = np.maximum(proven[active], done)
            active = active[(coarse & cut[:, None]).any(axis=0)]
            waiting = self.cells.split(waiting[cut], self._widest(waiting[cut])).reshape(-1)
        return proven

    def _widest(self, ids: Ids) -> Ids:
        """The drive (n,) that turns bodies most in each cell."""
        motion = self.cells.motion
        turned = np.linalg.norm(motion.turn_rate[ids], axis=-1).sum(axis=1) * motion.half[ids]
        return np.asarray(np.argmax(turned + 1e-9 * motion.half[ids] / self.cells.span, axis=1))

    def _over(self, ids: Ids, active: Ids) -> tuple[Floats, Floats]:
        """What is bounded, and found to first order, of the ``active`` pairs (p,) in the cells ``ids`` (n, p)."""
        found, first = np.zeros((len(ids), len(active))), np.zeros((len(ids), len(active)))
        mechanism = self.cells.mechanism
        columns = sum(one.columns for one in self.loose.vectors)
        each = 8 * columns * (len(self.loose.groups) + 24 * len(mechanism.bodies)) + mechanism.system.bytes_each
        size = at_once(each, 256)
        for start in range(0, len(ids), size):
            check_time()
            some, rows = ids[start : start + size], slice(start, start + size)
            motion = loose_motion(mechanism, self.loose, self.cells.solved(some), self.cells.motion.take(some))
            for column, number in enumerate(active.tolist()):
                found[rows, column], first[rows, column] = self._of(motion, self.pairs[number])
        return found, first

    def _of(self, motion: LooseMotion, pair: LoosePair) -> tuple[Floats, Floats]:
        if pair.turns:
            return motion.turned(pair.a.body, pair.b.body)
        views = [
            seen_from(self.cells.mechanism, motion, one, other.body)
            for one, other in ((pair.a, pair.b), (pair.b, pair.a))
            if one.body != GROUND
        ]
        # Either of the two views holds, so the smaller one does.
        return np.min([view[0] for view in views], axis=0), np.min([view[1] for view in views], axis=0)


def seen_from(mechanism: Mechanism, motion: LooseMotion, side: LooseSide, other: int) -> tuple[Floats, Floats]:
    """The farthest (N,) mm that play moves the balls of a side as body ``other`` sees them: bounded, to first order."""
    drawn, posture = mechanism.bodies.centres[side.body], motion.posture
    levers = posture.rotations[:, side.body] @ (side.centres - drawn).T
    places = posture.centres[:, side.body, :, None] + levers
    found = [motion.apart(side.body, other, places[..., k], float(radius)) for k, radius in enumerate(side.radii)]
    return np.max([one[0] for one in found], axis=0), np.max([one[1] for one in found], axis=0)
