"""Random cells of several machines, their bounds, and where the machines stand at settings inside them."""

from collections.abc import Callable
from dataclasses import dataclass

import front_ends
import known_linkages as known
import numpy as np
from linkage_machines import GROUND, ORIGIN, X, Y, Z, machine, pin, turns

from assembly.kinematics.assembling import assemble
from assembly.kinematics.cell_motion import CellMotion, bound_motion
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.roll_columns import with_rolls
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import follow, solve
from assembly.model.machine import Machine

CELLS, SETTINGS = 20, 30


def open_chain():
    """Three pins square to each other, one after another, each with its own drive."""
    joints = [
        pin("base", GROUND, "arm", ORIGIN, Z),
        pin("elbow", "arm", "forearm", (150, 20, 0), Y),
        pin("wrist", "forearm", "hand", (240, 30, 15), X),
    ]
    return machine(joints, turns(base=1), turns(elbow=1), turns(wrist=1))


@dataclass(frozen=True)
class Case:
    """A machine, how far its drives may go either way, and the widest half-width of a cell."""

    make: Callable[[], Machine]
    reach: tuple[float, ...]
    widest: tuple[float, ...]
    rolls: bool = False
    """Every idle roll is a column of the settings."""


CASES = {
    "four-bar": Case(known.four_bar, (170,), (8,)),
    "rod between crossed cranks": Case(known.rod_between_cranks, (35,), (8,)),
    "double wishbones with tie rods": Case(front_ends.front_end, (25, 30), (4, 5)),
    "slider-crank": Case(lambda: known.slider_crank(40, 120, -20, 60), (170,), (10,)),
    "Bennett": Case(lambda: known.bennett(90), (60,), (5,)),
    "parallelogram with three cranks": Case(lambda: known.parallelogram(lean=90, third_misplaced=0.0), (70,), (6,)),
    "coupled wheels": Case(known.coupled_wheels, (170,), (6,)),
    "open chain": Case(open_chain, (90, 90, 90), (4, 4, 4)),
    "rods that are rolled": Case(front_ends.front_end, (25, 30, 180, 180), (3, 4, 15, 15), rolls=True),
    "three drives": Case(lambda: front_ends.front_end(bump=True), (15, 25, 8), (3, 5, 2)),
}


@dataclass(frozen=True, eq=False)
class Cells:
    """Random cells of one machine, their bounds, and where the machine stands at settings inside them."""

    mechanism: Mechanism
    motion: CellMotion
    inside: tuple[np.ndarray, Solved]
    """Number of each setting's cell, and the postures there."""


def random_cells(case: Case, seed: int) -> Cells:
    rng = np.random.default_rng(seed)
    mechanism = assemble(case.make())
    mechanism = with_rolls(mechanism, range(len(mechanism.idle))) if case.rolls else mechanism
    reach, widest = np.array(case.reach), np.array(case.widest)
    centres = rng.uniform(-1, 1, (CELLS, len(reach))) * reach
    half = widest * 10 ** rng.uniform(-1.5, 0, (CELLS, 1))
    centre = solve(mechanism, centres)
    motion = bound_motion(mechanism, centre, half)
    cells = np.repeat(np.flatnonzero(motion.certified), SETTINGS)
    share = rng.uniform(-1, 1, (len(cells), len(reach)))
    share[::3] = np.sign(share[::3])
    return Cells(mechanism, motion, (cells, follow(mechanism, centre, cells, centres[cells] + share * half[cells])))


def seen_from(posture: Posture, body: int, other: int, points: np.ndarray, centres: np.ndarray) -> np.ndarray:
    """Points (k, 3) of ``body`` at rest as they stand in ``other`` (N, k, 3)."""
    world = posture.centres[:, body, None] + np.einsum(
        "nij,kj->nki", posture.rotations[:, body], points - centres[body]
    )
    return np.einsum("nji,nkj->nki", posture.rotations[:, other], world - posture.centres[:, other, None])
