"""A joint's motion in the machine reduced to the groups that it is of."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from assembly.clearance.narrow_phase.pair_result import Setting
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.cells import Cells
from assembly.kinematics.joint_motion import JointMotion
from assembly.kinematics.mechanism import Solved, Submechanism
from assembly.kinematics.reduced import submechanism


@dataclass(frozen=True, slots=True, eq=False)
class ReducedMotion:
    """A motion as it is told of in a ``reduced`` machine, and the cells over the drives that move it there."""

    reduced: Submechanism
    motion: JointMotion
    cells: Cells

    def of(self, seen: Solved) -> Solved:
        """What was seen of the whole machine, as far as it is told of here."""
        index, bodies = np.arange(len(seen.settings)), self.reduced.bodies.tolist()
        posture = seen.posture.of_bodies(index, bodies)
        return replace(seen, settings=self.reduced.narrowed(seen.settings), posture=posture)

    def widened(self, setting: Setting) -> Setting:
        """A setting as one of the whole machine."""
        return tuple(self.reduced.widened(np.array(setting)).tolist())


def reduced_motion(groups: CellGroups, motion: JointMotion) -> ReducedMotion:
    """``motion`` of the machine of ``groups``, reduced."""
    reduced = submechanism(groups.mechanism, *motion.bodies)
    own = motion.among(reduced.bodies.tolist())
    return ReducedMotion(reduced, own, groups.within(reduced).between(*own.bodies))
