"""What the play of joints lets go by hand at one setting: rims of wheels, drives with the wheels held, and parts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import Solid
from assembly.clearance.tolerances.play_bounds import loose_joints, seen_from, side_of
from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import unit
from assembly.kinematics.assembling import assemble
from assembly.kinematics.at_setting import checked_settings, posture_at
from assembly.kinematics.bodies import GROUND
from assembly.kinematics.by_hand import ByHand
from assembly.kinematics.cell_motion import bound_motion
from assembly.kinematics.loose_motion import LooseMotion, loose_motion
from assembly.kinematics.loose_rows import LooseRows, loose_rows
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.solver import solve
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Machine
from assembly.model.wheel import Wheel
from assembly.record import DriveByHandEntry, PartByHandEntry, PlayRecord, RimEntry
from assembly.studies.shared import drive_entries, finite, machine_entry, play_entries, program_entry

UP, FORWARD = np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0])
STILL = 1e-6
"""mm: a part that goes less is not told."""
EXAMPLE = "write play = { radial = 0.1 } into a joint, as a gauge shows it from one end to the other"


def by_hand(machine: Machine, settings: Mapping[str, float], held: Sequence[str], radius: float | None) -> PlayRecord:
    """What goes by hand at ``settings``; ``held``: parts that are held as drives are shaken, ``radius``: of all rims.

    Raises InputError where no joint has play or a name is not known, AssemblyError where a setting is not reached.
    """
    if not loose_joints(machine):
        raise InputError(Fault("no joint of the file has play", file=machine.file, hint=EXAMPLE))
    wrong = [name for name in held if name not in machine.parts]
    if wrong:
        told = [Fault(f"there is no part {shown(one)}", hint=nearest(one, machine.parts, "parts")) for one in wrong]
        raise InputError(*told)
    shaken = _Shaken.at(assemble(machine), checked_settings(machine, settings))
    return PlayRecord(
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        at=settings_of(machine, shaken.setting),
        rims=tuple(shaken.rims(radius)),
        by_drives=tuple(shaken.drives(held or shaken.wheels)),
        parts=tuple(sorted(shaken.parts(), key=lambda one: -one.goes_mm)),
        play=play_entries(machine),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Shaken:
    """A machine at one setting: what goes to first order, and what is bounded."""

    mechanism: Mechanism
    setting: tuple[float, ...]
    loose: LooseRows
    hand: ByHand
    motion: LooseMotion

    @classmethod
    def at(cls, mechanism: Mechanism, setting: tuple[float, ...]) -> _Shaken:
        posture = posture_at(mechanism, setting)
        loose = loose_rows(mechanism)
        if loose is None:
            told = "the play of the file moves nothing"
            raise InputError(Fault(told, file=mechanism.machine.file, hint=EXAMPLE))
        solved = solve(mechanism, np.array([setting], dtype=np.float64).reshape(1, -1))
        cell = bound_motion(mechanism, solved, np.zeros((1, len(setting))))
        return cls(
            mechanism,
            setting,
            loose,
            ByHand(mechanism, loose, posture),
            loose_motion(mechanism, loose, solved, cell),
        )

    @property
    def wheels(self) -> list[str]:
        """The parts of the wheels that move."""
        running, bodies = self.mechanism.machine.running, self.mechanism.bodies.body_of
        return [one.part for one in running.wheels.values() if bodies[one.part] != GROUND]

    def rims(self, radius: float | None) -> Iterator[RimEntry]:
        """The rims of all wheels that move, shaken at the top and at the front along the axle."""
        for wheel in self.mechanism.machine.running.wheels.values():
            if wheel.part not in self.wheels:
                continue
            far = radius or wheel.toe_diameter / 2
            yield self._rim(wheel, "top", far, UP)
            yield self._rim(wheel, "front", far, FORWARD)

    def _rim(self, wheel: Wheel, place: Literal["top", "front"], radius: float, way: Floats) -> RimEntry:
        body = self.mechanism.bodies.body_of[wheel.part]
        world = self.mechanism.world_from_rest(self.hand.posture, wheel.part)[0]
        axle = world[:3, :3] @ np.array(wheel.spin)
        centre = world[:3, :3] @ np.array(wheel.centre) + world[:3, 3]
        rim = centre + radius * unit(way - (way @ axle) * axle)
        of = self.hand.point(body, rim, axle)
        whole = self.hand.farthest(of) + self.hand.farthest(-of)
        bound = finite(float(self.motion.apart(body, GROUND, rim[None], 0.0)[0][0]))
        most = self._most(body, rim, axle)
        return RimEntry(wheel.name, place, radius, whole, None if bound is None else 2 * bound, most)

    def drives(self, held: Sequence[str]) -> Iterator[DriveByHandEntry]:
        """How far each drive goes with parts held; nothing where no part is."""
        bodies = [self.mechanism.bodies.body_of[part] for part in held]
        for number, drive in enumerate(self.mechanism.machine.drives.values()):
            if held:
                of = self.hand.setting(number)
                goes = sum(self.hand.farthest(way * of, bodies, number) for way in (1.0, -1.0))
                yield DriveByHandEntry(drive.name, drive.unit, tuple(held), finite(float(goes)))

    def parts(self) -> Iterator[PartByHandEntry]:
        """Every part that play moves."""
        for name, part in self.mechanism.machine.parts.items():
            body = self.mechanism.bodies.body_of[name]
            if body == GROUND or not part.shapes:
                continue
            meshes = tuple(shape.mesh for shape in part.shapes)
            side = side_of(self.mechanism, body, Solid(meshes[0], (), (), meshes), 0.0)
            bound, first = (float(one[0]) for one in seen_from(self.mechanism, self.motion, side, GROUND))
            turned = float(np.rad2deg(self.motion.turned(body, GROUND)[1][0]))
            if first > STILL:
                middle = self.motion.posture.centres[0, body]
                yield PartByHandEntry(name, first, turned, finite(bound), self._most(body, middle))

    def _most(self, body: int, place: Floats, along: Floats | None = None) -> str:
        """The joint whose play moves a point most, ``along`` (3,) or any way."""
        gone = self.motion.gone(body, GROUND, place[None])
        if along is not None:
            gone = (gone @ along)[..., None] * along
        taken: dict[str, float] = {}
        for owner, size in zip(self.loose.owners, self.motion.each(gone)[0].tolist(), strict=True):
            taken[owner] = taken.get(owner, 0.0) + size
        most = max(taken, key=lambda name: taken[name])
        return most if taken[most] > STILL else ""
