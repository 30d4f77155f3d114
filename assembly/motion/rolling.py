"""Rolls as settings: the machine with further columns of settings, one for each body that can roll about its own line.

Column by column after the drives stands how far in degrees a body is rolled from the shortest turn from rest. The ends
of a rod allow some rolls only; which they are differs from setting to setting, so it is no range of the column but a
matter of the posture (``allowed``) or of a whole cell (``excluded``).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.model.machine import Drive, DriveKind
from assembly.motion.blocks import System
from assembly.motion.bodies import Bodies
from assembly.motion.cell_motion import CellMotion
from assembly.motion.freedoms import IdleRoll
from assembly.motion.mechanism import Mechanism
from assembly.motion.rod_roll import HALF_TURN, Rod, rods
from assembly.motion.rows import HeldRoll, Posture
from assembly.motion.system import Equations, Family

GRAIN = 1e-6
"""degrees: a limit passed by less is kept."""
ROUND_WITHIN = 1e-7
"""mm and rad: what is round about a line so near to the rod's is round about the rod's."""

Flags = NDArray[np.bool_]


def roll_name(bodies: Bodies, roll: IdleRoll) -> str:
    """What a column of settings is called that rolls bodies."""
    return f"roll of {bodies.members[roll.bodies[0]][0]}"


def with_rolls(mechanism: Mechanism, numbers: Iterable[int]) -> Mechanism:
    """``mechanism`` with columns for the idle rolls ``numbers``, lowest first; itself where there are none."""
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


def _widened(family: Family, leads: list[int]) -> Family:
    """The same rows with a column more for each of the rolling bodies ``leads``."""
    more = np.zeros((len(family), len(leads)))
    if isinstance(family.rows, HeldRoll):
        more = np.deg2rad((family.rows.second[:, None] == np.array(leads)).astype(np.float64))
    return replace(family, ratios=np.concatenate([family.ratios, more], axis=1))


def rolling_rods(mechanism: Mechanism) -> tuple[Rod, ...]:
    """The rods with rated ends whose rolls are columns of the settings."""
    return tuple(rod for rod in rods(mechanism) if rod.number in mechanism.rolls)


def allowed(mechanism: Mechanism, posture: Posture) -> Flags:
    """(N,) whether all ends of the rods that settings roll keep their limits at each posture."""
    kept = np.ones(len(posture), dtype=bool)
    for rod in rolling_rods(mechanism):
        for end in rod.ends:
            kept &= end.lean.values(posture) <= end.limit + GRAIN
    return kept


def excluded(mechanism: Mechanism, motion: CellMotion) -> Flags:
    """(N,) whether one end of a rod that settings roll is beyond its limit all through each cell."""
    beyond = np.zeros(len(motion), dtype=bool)
    for rod in rolling_rods(mechanism):
        for end in rod.ends:
            values = end.lean.values(motion.posture)
            beyond |= motion.certified & (end.lean.span(motion, values).low > end.limit + GRAIN)
    return beyond


def as_wide(mechanism: Mechanism, of: Mechanism, settings: Floats) -> Floats:
    """Settings (N, d) of ``mechanism`` in the columns of ``of``, which has them all; those it lacks are 0."""
    drives = len(settings[0]) - len(mechanism.rolls) if len(settings) else 0
    wide = np.zeros((len(settings), drives + len(of.rolls)))
    wide[:, :drives] = settings[:, :drives]
    for column, number in enumerate(mechanism.rolls, drives):
        wide[:, drives + of.rolls.index(number)] = settings[:, column]
    return wide
