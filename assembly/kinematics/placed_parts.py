"""The parts of a machine as figures to be looked at, and where they stand at postures."""

from __future__ import annotations

from assembly.geometry.moving_parts import Figure, Places
from assembly.kinematics.bodies import GROUND
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture


def figures_of(mechanism: Mechanism) -> tuple[Figure, ...]:
    """Every part of the machine, told about the centre of the body it belongs to."""
    bodies = mechanism.bodies
    return tuple(
        Figure(
            name,
            tuple((shape.name, shape.mesh) for shape in part.shapes),
            bodies.centres[bodies.body_of[name]],
            fixed=bodies.body_of[name] == GROUND,
        )
        for name, part in mechanism.machine.parts.items()
    )


def places_of(mechanism: Mechanism, posture: Posture) -> Places:
    """Where the figures of ``mechanism`` stand at the postures."""
    body = [mechanism.bodies.body_of[name] for name in mechanism.machine.parts]
    return Places(posture.centres[:, body], posture.rotations[:, body])
