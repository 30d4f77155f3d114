"""Rolls as settings: the machine with further columns of settings, one for each body that can roll about its own line.

Column by column after the drives stands how far in degrees a body is rolled from the shortest turn from rest. The ends
of a rod allow some rolls only; which they are differs from setting to setting, so it is no range of the column but a
matter of the posture (``allowed``) or of a whole cell (``excluded``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from assembly.geometry.mesh import Flags, Floats
from assembly.kinematics.bodies import Bodies
from assembly.kinematics.cell_bounds import BodiesMotion
from assembly.kinematics.freedoms import IdleRoll
from assembly.kinematics.idle_rolls import line_in
from assembly.kinematics.joint_motion import nearest_turn
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rod_roll import HALF_TURN, Rod, Windows, rods_of, windows
from assembly.kinematics.row_blocks import System
from assembly.kinematics.rows import HeldRoll, Posture
from assembly.kinematics.solver import solve
from assembly.kinematics.system import Equations, Family
from assembly.model.machine import Drive, DriveKind, RoundAbout

GRAIN = 1e-6
"""degrees: a limit passed by less is kept."""
ROUND_WITHIN = 2e-7
"""mm: what is round about a line that strays no farther from the rod's is round about the rod's."""


def roll_name(bodies: Bodies, roll: IdleRoll) -> str:
    """What a column of settings is called that rolls bodies."""
    return f"roll of {bodies.members[roll.bodies[0]][0]}"


def with_rolls(mechanism: Mechanism, numbers: Iterable[int]) -> Mechanism:
    """``mechanism`` with columns for the idle rolls ``numbers``, lowest first; itself if there are none."""
    rolls = tuple(sorted(numbers))
    if not rolls:
        return mechanism
    idle = [mechanism.idle[number] for number in rolls]
    names = [roll_name(mechanism.bodies, roll) for roll in idle]
    columns = {name: Drive(name, DriveKind.TURNS, {}, -HALF_TURN, HALF_TURN) for name in names}
    machine = replace(mechanism.machine, drives={**mechanism.machine.drives, **columns})
    equations = mechanism.equations
    families = tuple(_widened(family, [roll.bodies[0] for roll in idle]) for family in equations.families)
    wider = Equations(families, equations.bodies, equations.scale)
    system = System(wider, mechanism.system.chosen, mechanism.system.blocks)
    return replace(mechanism, machine=machine, system=system, rolls=rolls, unrolled=mechanism)


def with_named_rolls(mechanism: Mechanism, names: Iterable[str]) -> Mechanism:
    """``mechanism`` with the columns of these names after the drives'."""
    told = {roll_name(mechanism.bodies, roll): number for number, roll in enumerate(mechanism.idle)}
    return with_rolls(mechanism, (told[name] for name in names))


def _widened(family: Family, leads: list[int]) -> Family:
    """The same rows with a column more for each of the rolling bodies ``leads``."""
    more = np.zeros((len(family), len(leads)))
    if isinstance(family.rows, HeldRoll):
        more = np.deg2rad((family.rows.second[:, None] == np.array(leads)).astype(np.float64))
    return replace(family, ratios=np.concatenate([family.ratios, more], axis=1))


def rolling_rods(mechanism: Mechanism) -> tuple[Rod, ...]:
    """The rods with rated ends whose rolls are columns of the settings."""
    return tuple(rod for rod in rods_of(mechanism) if rod.number in mechanism.rolls)


def allowed(mechanism: Mechanism, posture: Posture) -> Flags:
    """(N,) whether all ends of the rods that settings roll keep their limits at each posture."""
    every = range(len(mechanism.bodies))
    kept = [within_limits(rod, posture, every) for rod in rolling_rods(mechanism)]
    return np.asarray(np.all(kept, axis=0) if kept else np.ones(len(posture), dtype=bool))


def bodies_of(rod: Rod) -> tuple[int, ...]:
    """The bodies that the ends of ``rod`` join."""
    return tuple(dict.fromkeys(body for end in rod.ends for body in end.lean.bodies))


def within_limits(rod: Rod, posture: Posture, bodies: Sequence[int]) -> Flags:
    """(N,) whether all ends of ``rod`` keep their limits at each posture of ``bodies``."""
    kept = np.ones(len(posture), dtype=bool)
    for end in rod.ends:
        kept &= end.lean.among(bodies).values(posture) <= end.limit + GRAIN
    return kept


def excluded(rod: Rod, motion: BodiesMotion) -> Flags:
    """(N,) whether one end of ``rod`` is beyond its limit all through each cell."""
    beyond = np.zeros(len(motion), dtype=bool)
    for end in rod.ends:
        lean = end.lean.among(motion.bodies)
        span = lean.span(motion.motion, lean.values(motion.motion.posture))
        beyond |= motion.motion.certified & (span.low > end.limit + GRAIN)
    return beyond


def shifts_of_rolls(
    mechanism: Mechanism, cells: Callable[[Sequence[int]], BodiesMotion]
) -> Iterator[tuple[int, Floats]]:
    """For each column of a roll, by how many degrees (N, d) each setting can shift, to first order, what ends allow.

    ``cells`` gives the motion of bodies in N cells. Told of cells whose centre an end of the rod does not allow, 0
    elsewhere, and of the other columns only: for choosing where to cut a cell of which one part may be allowed.
    """
    for rod in rolling_rods(mechanism):
        bodies = cells(bodies_of(rod))
        motion = bodies.motion
        column = motion.half.shape[1] - len(mechanism.rolls) + mechanism.rolls.index(rod.number)
        shift = np.zeros_like(motion.half)
        for lean, limit in ((end.lean.among(bodies.bodies), end.limit) for end in rod.ends):
            beyond = lean.values(motion.posture) > limit + GRAIN
            spin = motion.turn_rate[:, lean.stud] - motion.turn_rate[:, lean.housing]
            turned = np.rad2deg(np.linalg.norm(spin, axis=-1)) * motion.half
            shift = np.maximum(shift, np.where(beyond[:, None], turned, 0.0))
        shift[:, column] = 0.0
        yield column, shift


def moved_by_rolls(mechanism: Mechanism, body: int, line: RoundAbout | None, corners: Floats) -> frozenset[int]:
    """The idle rolls that the file leaves free and that move a solid of ``body``.

    ``line``: what it is round about, if anything; ``corners`` (k, 3) mm hold it. Both as drawn.
    """
    rolls = ((number, roll) for number, roll in enumerate(mechanism.idle) if body in roll.bodies and not roll.clamped)
    return frozenset(number for number, roll in rolls if not _round_about(mechanism, body, roll, line, corners))


def roll_line(mechanism: Mechanism, body: int, roll: IdleRoll) -> tuple[Floats, Floats]:
    """A point (3,) mm of the line of ``roll`` and its unit direction (3,), as drawn in ``body``."""
    home, drawn = mechanism.home, mechanism.bodies.centres[body]
    at = home.rotations[0, body].T @ (roll.at - home.centres[0, body]) + drawn
    return np.asarray(at), line_in(roll, body, home)


def _round_about(mechanism: Mechanism, body: int, roll: IdleRoll, line: RoundAbout | None, corners: Floats) -> bool:
    if line is None:
        return False
    at, along = roll_line(mechanism, body, roll)
    points = np.array(line.at)[None]
    if line.along is not None:
        reach = (corners - points) @ np.array(line.along)
        points = points + np.array([[reach.min()], [reach.max()]]) * np.array(line.along)
    return bool(np.linalg.norm(np.cross(points - at, along), axis=1).max() <= ROUND_WITHIN)


def rolled_parts(mechanism: Mechanism) -> tuple[str, ...]:
    """The parts that the file leaves free to roll and that are not round about their line."""
    return tuple(
        name
        for name, part in mechanism.machine.parts.items()
        if any(
            moved_by_rolls(mechanism, mechanism.bodies.body_of[name], shape.round_about, shape.mesh.vertices)
            for shape in part.shapes
        )
    )


def nearest_allowed(mechanism: Mechanism, settings: Floats) -> Floats:
    """``settings`` (N, d) with each rod rolled no farther than it takes until its ends allow it.

    Where they allow no roll at all it is rolled to where they miss least.
    """
    if mechanism.unrolled is None:
        return settings
    drives = len(mechanism.unrolled.machine.drives)
    posture, near = solve(mechanism.unrolled, settings[:, :drives]).posture, settings.copy()
    for rod in rolling_rods(mechanism):
        column = drives + mechanism.rolls.index(rod.number)
        near[:, column] = _nearest_roll(windows(rod, posture), settings[:, column])
    return near


def _nearest_roll(allowed_rolls: Windows, wanted: Floats) -> Floats:
    """The roll (N,) nearest to ``wanted`` that all ends allow: that itself or the end of a window."""
    middle, reach = allowed_rolls.middle, np.maximum(allowed_rolls.reach - GRAIN / 2, 0.0)
    ends = [side for side in (middle - reach, middle + reach) for side in side]
    best, _ = allowed_rolls.best()
    least = np.full(len(wanted), np.inf)
    for tried in (wanted, *ends):
        away = np.abs(nearest_turn(tried - wanted, np.zeros(1)))
        better = (allowed_rolls.room(tried) >= -GRAIN) & (away < least)
        best, least = np.where(better, tried, best), np.where(better, away, least)
    return nearest_turn(best, np.zeros(1))


def as_wide(rolls: Sequence[int], every: Sequence[int], setting: Floats) -> Floats:
    """A setting (d,) with columns for the idle ``rolls`` as one with columns for ``every``; those it lacks are 0."""
    drives = len(setting) - len(rolls)
    wide = np.zeros(drives + len(every))
    wide[:drives] = setting[:drives]
    for column, number in enumerate(rolls, drives):
        wide[drives + every.index(number)] = setting[column]
    return wide
