"""What the file holds and how it hangs together, before anything is swept."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from assembly.clearance.narrow_phase.drawing_doubts import with_doubts
from assembly.clearance.narrow_phase.pair_survey import survey_pairs
from assembly.errors import AssemblyError, Fault, InputError
from assembly.kinematics.assembling import assemble, joint_mobility
from assembly.kinematics.bodies import Bodies, gather_bodies, loops, moving_joints
from assembly.kinematics.freedoms import Unset
from assembly.kinematics.mechanism import Mechanism
from assembly.model.edits import Edit
from assembly.model.machine import Joint, Machine, Part
from assembly.record import (
    FORMAT,
    EditEntry,
    FreedomEntry,
    InspectRecord,
    LoopEntry,
    MobilityEntry,
    PartEntry,
    SeatEntry,
    ShapeEntry,
    TieEntry,
)
from assembly.studies.shared import (
    drive_entries,
    machine_entry,
    program_entry,
    roll_entries,
)


def inventory(machine: Machine) -> InspectRecord:
    """List what ``machine`` is made of; a machine that cannot be put together is listed too, with the reason.

    What joints miss by and loops gape by is at rest. Where loops do not close, the joints that are to blame gape and
    all others are closed; nothing is reported of it where it is something else that keeps the machine apart.
    """
    machine = with_doubts(machine)
    bodies = gather_bodies(machine)
    mechanism, misses, faults = _assembled(machine)
    mobility, idle, unset = joint_mobility(machine)
    pairs = survey_pairs(machine, bodies)
    return InspectRecord(
        format=FORMAT,
        kind="inspect",
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        parts=tuple(_part(part, bodies) for part in machine.parts.values()),
        joints=tuple(_joint(joint, misses.get(joint.name)) for joint in machine.joints.values()),
        mobility=MobilityEntry(mobility.freedoms, mobility.counted, mobility.redundant, _driven(machine)),
        freedoms=roll_entries(bodies, idle) + tuple(_unset_entry(bodies, freedom) for freedom in unset),
        loops=tuple(_loop(names, misses) for names in loops(machine, bodies)),
        pairs_checked=pairs.checked,
        not_checked=pairs.not_checked,
        seats=tuple(SeatEntry(pair.a, pair.b, pair.seat) for pair in pairs.seats),
        assembled=mechanism.shifts() if mechanism else (),
        findings=machine.findings,
        faults=tuple(str(fault) for fault in faults),
        edits=tuple(map(_edit, machine.edits)),
    )


def _assembled(machine: Machine) -> tuple[Mechanism | None, dict[str, float], tuple[Fault, ...]]:
    try:
        mechanism = assemble(machine)
    except AssemblyError as error:
        return None, error.gaps, error.faults
    except InputError as error:
        if machine.drives or not moving_joints(machine):
            raise
        return None, {}, error.faults
    return mechanism, _misses(mechanism), ()


def _misses(mechanism: Mechanism) -> dict[str, float]:
    rest = np.zeros((1, len(mechanism.machine.drives)))
    return mechanism.joint_misses(mechanism.home, rest)


def _part(part: Part, bodies: Bodies) -> PartEntry:
    mesh = part.mesh
    x, y, z = np.ptp(mesh.vertices, axis=0).tolist() if len(mesh.vertices) else (0.0, 0.0, 0.0)
    return PartEntry(
        part=part.name,
        fixed=part.fixed,
        moves_with=tuple(name for name in bodies.members[bodies.body_of[part.name]] if name != part.name),
        shapes=tuple(ShapeEntry(shape.name, len(shape.mesh.faces)) for shape in part.shapes),
        triangles=len(mesh.faces),
        size_mm=(x, y, z),
        surface_error_mm=mesh.surface_error,
    )


def _joint(joint: Joint, miss: float | None) -> TieEntry:
    return TieEntry(
        name=joint.name,
        kind=joint.kind.value,
        first=joint.first,
        second=joint.second,
        seat_mm=joint.seat,
        limit=joint.misalignment,
        miss_mm=miss,
    )


def _loop(names: tuple[str, ...], misses: Mapping[str, float]) -> LoopEntry:
    return LoopEntry(names, max((misses.get(name, 0.0) for name in names), default=0.0) if misses else None)


def _driven(machine: Machine) -> int:
    return len({(joint, drive.kind) for drive in machine.drives.values() for joint in drive.ratios})


def _edit(edit: Edit) -> EditEntry:
    return EditEntry(
        part=edit.part,
        point=edit.point,
        from_=edit.start,
        length_mm=edit.length if edit.start else None,
        drawn_mm=edit.drawn_length if edit.start else None,
        plus_minus=edit.plus_minus,
        moved_mm=edit.moved,
        place=edit.place,
        line=edit.line,
    )


def _unset_entry(bodies: Bodies, freedom: Unset) -> FreedomEntry:
    parts = tuple(name for body in freedom.bodies for name in bodies.members[body])
    ways = "" if freedom.count == 1 else f" ({freedom.count} freedoms)"
    instant = "stands at a dead centre and can start to move two ways"
    what = f"nothing sets how it moves{ways}" if freedom.lasting else instant
    return FreedomEntry(parts, what, "not held", freedom.count)
