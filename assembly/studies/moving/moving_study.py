"""A machine that can be shown at any setting of its drives.

While it moves its parts are drawn coarsely, so that a slow computer keeps up with the thumb; nothing is measured on
these.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from assembly.clearance.proof.cached import PairFound
from assembly.errors import ShapeError, TimeLimitError
from assembly.geometry.mesh import Mesh, joined
from assembly.geometry.solids import simplifier
from assembly.geometry.turns import quaternions
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.roll_columns import rolled_parts
from assembly.kinematics.solver import solve
from assembly.model.machine import Machine, Part
from assembly.progress import Progress
from assembly.record import MovingMachine, MovingPart, OverlapSolid, PoseGrid, Settings, SolvedPose
from assembly.studies.moving.pose_table import pose_table
from assembly.studies.shared import drive_entries
from assembly.time_limit import check_time, time_set_aside

WANTED_TRIANGLES = 32_000
FINEST_MM, COARSEST_MM = 0.1, 1.6

_Coarser = Callable[[float], Mesh]


@dataclass(frozen=True, slots=True, eq=False)
class CoarseSolids:
    """Every part with fewer triangles, by name; no surface lies farther than ``within_mm`` from the part's own."""

    within_mm: float
    meshes: Mapping[str, Mesh]


def coarse_solids(machine: Machine, wanted: int = WANTED_TRIANGLES) -> CoarseSolids:
    """The parts as true as they can be with ``wanted`` triangles in all, or as coarse as they may be.

    Where the time is nearly over before, they keep more triangles.
    """
    within = 0.0
    meshes, shapes = {name: part.mesh for name, part in machine.parts.items()}, dict[int, _Coarser | None]()
    with suppress(TimeLimitError), time_set_aside(0.1, 1.5):
        while sum(len(mesh.faces) for mesh in meshes.values()) > wanted and within < COARSEST_MM:
            wider = 2 * within or FINEST_MM
            meshes = {name: _coarse(part, wider, shapes) for name, part in machine.parts.items()}
            within = wider
    return CoarseSolids(within, meshes)


def _coarse(part: Part, within: float, known: dict[int, _Coarser | None]) -> Mesh:
    return joined(_coarse_shape(shape.mesh, within, known) for shape in part.shapes)


def _coarse_shape(mesh: Mesh, within: float, known: dict[int, _Coarser | None]) -> Mesh:
    """The shape itself where it cannot be made a solid, or nothing would be left of it.

    ``known``: by the identity of each mesh what makes it coarser, once that was found; None where nothing does.
    """
    check_time()
    try:
        if id(mesh) not in known:
            known[id(mesh)] = None
            known[id(mesh)] = simplifier(mesh)
        coarser = known[id(mesh)]
        made = mesh if coarser is None else coarser(within)
    except ShapeError:
        return mesh
    return made if 0 < len(made.faces) < len(mesh.faces) else mesh


def moving_machine(
    mechanism: Mechanism, found: Sequence[PairFound], named: Iterable[Settings], progress: Progress
) -> MovingMachine:
    """The machine with its table of poses, those at the ``named`` settings, and the overlaps of what was ``found``."""
    machine = mechanism.machine
    table, coarse = pose_table(mechanism, progress), coarse_solids(machine)
    return MovingMachine(
        name=machine.name,
        drives=drive_entries(machine),
        reference_points=mechanism.bodies.centres,
        parts=_parts(mechanism, coarse),
        coarse_mm=coarse.within_mm,
        grid=PoseGrid(
            axes=dict(zip(machine.drives, table.axes, strict=True)),
            places=np.concatenate([table.centres, table.turns], axis=-1),
            reached=table.reached,
            wanted_mm=table.wanted_mm,
            error_mm=table.error_mm,
            error_at=settings_of(machine, table.error_at),
            error_part=mechanism.bodies.members[table.error_body][0],
        ),
        solved=_solved_poses(mechanism, named),
        overlaps=tuple(
            OverlapSolid(
                one.result.pair.a,
                one.result.pair.b,
                settings_of(machine, overlap.at, one.result.rolls),
                overlap.solid,
            )
            for one in found
            if (overlap := one.result.overlap) is not None
        ),
        unrolled=rolled_parts(mechanism),
    )


def _parts(mechanism: Mechanism, coarse: CoarseSolids) -> tuple[MovingPart, ...]:
    return tuple(
        MovingPart(
            name,
            mechanism.bodies.body_of[name],
            tuple((shape.name, shape.mesh) for shape in part.shapes),
            coarse.meshes[name],
        )
        for name, part in mechanism.machine.parts.items()
    )


def _solved_poses(mechanism: Mechanism, named: Iterable[Settings]) -> tuple[SolvedPose, ...]:
    """Exact poses at the ``named`` settings; none where the time is over: the table has all, but less sharp."""
    drives = mechanism.machine.drives
    wanted = list(dict.fromkeys(tuple(at[name] for name in drives) for at in named if at))
    try:
        solved = solve(mechanism, np.array(wanted, dtype=np.float64).reshape(-1, len(drives)))
    except TimeLimitError:
        return ()
    posture = solved.posture
    places = np.concatenate([posture.centres, quaternions(posture.rotations)], axis=-1)
    settings = [settings_of(mechanism.machine, tuple(row)) for row in solved.settings.tolist()]
    return tuple(SolvedPose(settings[row], places[row]) for row in np.flatnonzero(solved.reached).tolist())
