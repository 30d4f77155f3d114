"""What a picture is to show: the machine at one setting, with the pair to look at."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assembly.clearance.narrow_phase.pair_result import Overlap, Setting
from assembly.clearance.narrow_phase.witness import Witness
from assembly.geometry.scene import Role, Scene, SceneSolid
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.roll_columns import with_named_rolls
from assembly.kinematics.solver import solve


def pair_scene(
    mechanism: Mechanism,
    at: Setting,
    pair: tuple[str, str],
    shown: Witness | Overlap,
    words: tuple[str, str],
    rolls: Sequence[str] = (),
) -> Scene:
    """The machine at the setting ``at`` with ``pair`` brought out, and its gap or its overlap.

    ``words``: the title, and the setting as text. ``rolls``: names of the columns of ``at`` after the drives'.
    """
    posture = solve(with_named_rolls(mechanism, rolls), np.array([at], dtype=np.float64).reshape(1, -1)).posture
    roles = {pair[0]: Role.FIRST, pair[1]: Role.SECOND}
    solids = tuple(
        SceneSolid(name, part.mesh.moved(mechanism.world_from_rest(posture, name)[0]), roles.get(name, Role.QUIET))
        for name, part in mechanism.machine.parts.items()
    )
    title, pose_text = words
    if isinstance(shown, Overlap):
        return Scene(title, pose_text, solids, overlap=shown.solid)
    gap = np.asarray(shown.point_a), np.asarray(shown.point_b)
    return Scene(title, pose_text, solids, gap=gap, gap_mm=shown.distance)
