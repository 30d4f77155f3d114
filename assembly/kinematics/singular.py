"""How near a posture is to one at which the machine may fold over: where a block of rows loses its rank."""

from __future__ import annotations

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.bodies import loop_through
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.row_blocks import RowBlock
from assembly.kinematics.rows import Posture

NEAR = 0.1
"""Of a block's smallest singular value at rest: what is left of it where a posture counts as near singular."""


def weakest_loop(mechanism: Mechanism, posture: Posture) -> tuple[tuple[str, ...], float]:
    """The loop that is nearest to losing its rank at the one ``posture``, and what is left of its least singular value.

    That is reported as a share of what it has at rest. The loop is empty where no joint closes one.
    """
    jacobians = mechanism.equations.jacobian(mechanism.home)[0], mechanism.equations.jacobian(posture)[0]
    found: tuple[tuple[str, ...], float] = (), np.inf
    for block in mechanism.system.blocks:
        loop = _loop_of(mechanism, block)
        at_rest, here = (_smallest(jacobian[block.rows[:, None], block.columns]) for jacobian in jacobians)
        if loop and here < found[1] * at_rest:
            found = loop, here / at_rest
    return found


def _loop_of(mechanism: Mechanism, block: RowBlock) -> tuple[str, ...]:
    """The shortest loop through a joint of ``block``; empty where none of its joints closes one."""
    owners = dict.fromkeys(mechanism.equations.owners[row] for row in block.rows.tolist())
    joints = [name for name in owners if name in mechanism.machine.joints]
    loops = [loop_through(mechanism.machine, mechanism.bodies, name) for name in joints]
    return min((loop for loop in loops if len(loop) > 1), key=len, default=())


def _smallest(matrix: Floats) -> float:
    return float(np.linalg.svd(matrix, compute_uv=False)[-1])
