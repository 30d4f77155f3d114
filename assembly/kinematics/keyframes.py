"""Settings along one drive, chosen so that going straight between solved postures stays near the true ones."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from assembly.geometry.mesh import Floats
from assembly.geometry.moving_parts import Figure, Places
from assembly.kinematics.mechanism import Mechanism, Solved, settings_of
from assembly.kinematics.placed_parts import places_of
from assembly.kinematics.solver import lost_at, solve
from assembly.record import LeftOutEntry

NEAR_ENOUGH = 0.1
"""mm between what is interpolated and what is solved, where they are compared."""
COMPARED = (0.25, 0.5, 0.75)
"""Where, as shares of the step from one key to the next."""
FIRST_STEPS = 6
FINEST = 12
"""Steps are halved so often at most."""


@dataclass(frozen=True, slots=True, eq=False)
class Keys:
    """Solved postures from the start outwards, the largest error seen between them, and what is left out beyond."""

    solved: Solved
    error_mm: float
    left_out: LeftOutEntry | None


def keys_towards(
    mechanism: Mechanism, figures: tuple[Figure, ...], at: Floats, drive: int, end: float, near: float = NEAR_ENOUGH
) -> Keys:
    """Keys along the ``drive`` of that index from the reached setting ``at`` (d,) to ``end``, or as far as it goes.

    Steps are halved where a part is more than ``near`` mm off between two keys, and where the machine is lost.
    """
    walk = _Walk(mechanism, _boxes(figures), at, drive)
    values = np.linspace(at[drive], end, FIRST_STEPS + 1) if end != at[drive] else at[drive : drive + 1]
    for _ in range(FINEST):
        errors = walk.errors(values)
        lost = int(np.argmin(np.isfinite([*errors, np.inf])))
        values, errors = values[: lost + 2], errors[: lost + 1]
        coarse = np.flatnonzero(errors > near)
        if not len(coarse):
            break
        values = np.insert(values, coarse + 1, (values[coarse] + values[coarse + 1]) / 2)
    errors = walk.errors(values)
    kept = int(np.argmin(np.isfinite([*errors, np.inf])))
    left_out = walk.left_out(values[kept], values[kept + 1], end) if kept + 1 < len(values) else None
    return Keys(walk.solved(values[: kept + 1]), float(errors[:kept].max(initial=0.0)), left_out)


class _Walk:
    """Looks along one drive of a machine whose other drives stand."""

    def __init__(self, mechanism: Mechanism, boxes: Floats, at: Floats, drive: int) -> None:
        self.mechanism, self.boxes, self.at, self.drive = mechanism, boxes, at, drive

    def solved(self, values: Floats) -> Solved:
        """The postures where the drive stands at ``values`` (n,)."""
        settings = np.repeat(self.at[None], len(values), axis=0)
        settings[:, self.drive] = values
        return solve(self.mechanism, settings)

    def errors(self, values: Floats) -> Floats:
        """How far any part is off between two ``values`` (n - 1,) mm; inf where a posture there is not reached."""
        steps = np.diff(values)
        every = self.solved(np.concatenate([values, *(values[:-1] + share * steps for share in COMPARED)]))
        places, reached = places_of(self.mechanism, every.posture), every.reached
        keys = Places(places.centres[: len(values)], places.rotations[: len(values)])
        worst = np.where(reached[: len(steps)] & reached[1 : len(values)], 0.0, np.inf)
        true = places.points(self.boxes)
        for number, share in enumerate(COMPARED):
            there = slice(len(values) + number * len(steps), len(values) + (number + 1) * len(steps))
            off = np.linalg.norm(between(keys, share).points(self.boxes) - true[there], axis=-1)
            worst = np.maximum(worst, np.where(reached[there], off.max(axis=(1, 2), initial=0.0), np.inf))
        return worst

    def left_out(self, last: float, beyond: float, end: float) -> LeftOutEntry:
        """The stretch from the ``last`` good value to ``end``; between it and ``beyond`` the machine is lost."""
        tried = self.solved(np.array([end, *(last + np.array([*COMPARED, 1.0]) * (beyond - last))]))
        lost = lost_at(self.mechanism, tried, int(np.argmin(tried.reached)))
        first, stop = self.at.copy(), self.at.copy()
        first[self.drive], stop[self.drive] = last, end
        ends = [settings_of(self.mechanism.machine, at.tolist()) for at in (first, stop)]
        return LeftOutEntry(ends[0], ends[1], lost)


def _boxes(figures: tuple[Figure, ...]) -> Floats:
    """Corners (F, 8, 3) of the box round each figure as drawn, given from its ``about``.

    What is off by less at all of them is off by less at every point of the figure: the error is linear in the point.
    """
    corners = np.indices((2, 2, 2)).reshape(3, 8).T == 1
    boxes = [figure.mesh.bounds for figure in figures]
    return np.stack([np.where(corners, high, low) - one.about for one, (low, high) in zip(figures, boxes, strict=True)])


def between(places: Places, share: float) -> Places:
    """Places (N - 1) at ``share`` of each step: centres go straight, rotations evenly by the shortest turn.

    So do players of animations: linear and spherical linear interpolation (glTF 2.0, appendix C.3 and C.4).
    """
    one, other = places.rotations[:-1], places.rotations[1:]
    turn = Rotation.from_matrix((one.swapaxes(-1, -2) @ other).reshape(-1, 3, 3)).as_rotvec()
    part = Rotation.from_rotvec(share * turn).as_matrix().reshape(one.shape)
    centres = (1 - share) * places.centres[:-1] + share * places.centres[1:]
    return Places(centres, one @ part)
