"""What the file holds and how it hangs together, before anything is swept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.doubts import with_doubts
from assembly.clearance.pairs import Pairs, gather_pairs
from assembly.errors import AssemblyError, Fault
from assembly.model.machine import Joint, Machine, Part, Vector
from assembly.motion.assembling import assemble, joint_mobility
from assembly.motion.bodies import Bodies, gather_bodies, loops
from assembly.motion.freedoms import IdleRoll, Mobility, Unset
from assembly.motion.mechanism import Mechanism


@dataclass(frozen=True, slots=True)
class PartListed:
    """A part in figures: its shapes with their triangles, size of the box round it, and surface error, mm."""

    part: str
    fixed: bool
    moves_with: tuple[str, ...]
    """Parts that it is rigid with."""
    shapes: tuple[tuple[str, int], ...]
    triangles: int
    size: Vector
    surface_error: float


@dataclass(frozen=True, slots=True, eq=False)
class Inventory:
    """Parts, joints, freedoms and loops of a machine.

    ``mechanism`` is None where it could not be put together; ``faults`` then say why. ``misses`` mm per joint and
    ``loops`` (joints, mm of their worst joint) are at rest. Where loops do not close, the joints that are to blame gape
    and all others are closed; both are empty or None where it is something else that keeps the machine apart.
    """

    machine: Machine
    bodies: Bodies
    parts: tuple[PartListed, ...]
    mobility: Mobility
    idle: tuple[IdleRoll, ...]
    unset: tuple[Unset, ...]
    loops: tuple[tuple[tuple[str, ...], float | None], ...]
    misses: dict[str, float]
    pairs: Pairs
    mechanism: Mechanism | None
    faults: tuple[Fault, ...]

    @property
    def joints(self) -> tuple[Joint, ...]:
        """All joints, in the order of the file."""
        return tuple(self.machine.joints.values())


def inventory(machine: Machine) -> Inventory:
    """List what ``machine`` is made of; a machine that cannot be put together is listed too, with the reason."""
    machine = with_doubts(machine)
    bodies = gather_bodies(machine)
    mechanism, misses, faults = _assembled(machine)
    freedoms, idle, unset = joint_mobility(machine)
    closed = tuple(
        (names, max((misses.get(name, 0.0) for name in names), default=0.0) if misses else None)
        for names in loops(machine, bodies)
    )
    return Inventory(
        machine=machine,
        bodies=bodies,
        parts=tuple(_listed(part, bodies) for part in machine.parts.values()),
        mobility=freedoms,
        idle=idle,
        unset=unset,
        loops=closed,
        misses=misses,
        pairs=gather_pairs(machine, bodies),
        mechanism=mechanism,
        faults=faults,
    )


def _assembled(machine: Machine) -> tuple[Mechanism | None, dict[str, float], tuple[Fault, ...]]:
    try:
        mechanism = assemble(machine)
    except AssemblyError as error:
        return None, error.gaps, error.faults
    return mechanism, _misses(mechanism), ()


def _misses(mechanism: Mechanism) -> dict[str, float]:
    rest = np.zeros((1, len(mechanism.machine.drives)))
    return mechanism.joint_misses(mechanism.home, rest)


def _listed(part: Part, bodies: Bodies) -> PartListed:
    mesh = part.mesh
    x, y, z = np.ptp(mesh.vertices, axis=0).tolist() if len(mesh.vertices) else (0.0, 0.0, 0.0)
    return PartListed(
        part=part.name,
        fixed=part.fixed,
        moves_with=tuple(name for name in bodies.members[bodies.body_of[part.name]] if name != part.name),
        shapes=tuple((shape.name, len(shape.mesh.faces)) for shape in part.shapes),
        triangles=len(mesh.faces),
        size=(x, y, z),
        surface_error=mesh.surface_error,
    )
