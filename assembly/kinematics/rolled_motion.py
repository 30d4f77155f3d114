"""Bounds on the motion inside a cell of settings and rolls, from those inside the cell of the settings alone.

Away from the cell's centre what rolls turns by exp(A) exp(B), with A the rotation vector that it turns by unrolled and
B = ρ p the roll about its line p as it stands at the centre. With a = |A|, b = |B| and y = a + b, and Y(t) the rotation
vector of exp(A) exp(t B), the inverse right Jacobian of rotations gives

    Y' = B + Y × B / 2 + g(|Y|) Y × (Y × B),    g(y) = (1 - (y/2) cot(y/2)) / y² <= 0.085 for y <= 0.7,

so that with k = 1/2 + 0.085 y (closed form, Grönwall's inequality for |Y - A - t B|)

    |Y(1) - A - B - A × B / 2| <= a b (k b exp(k b) / 2 + 0.085 y exp(k b)).

Its ends lie on the line and nothing else moves. A centre that stands off the line by m goes along with it by
exp(A) (exp(B) - 1) m, whose parts beyond second order are at most |m| (b³/6 + |A - A₁| b + a b²/2 + a² b/2), with A₁
the linear part of A.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import cross, inner, lengths
from assembly.kinematics.cell_bounds import CellMotion
from assembly.kinematics.idle_rolls import line_at, rolled_about
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.rows import Posture
from assembly.kinematics.rows.base import bend, tail
from assembly.kinematics.travel import curl

G = 0.085
"""Largest g above."""
RATES, BENDS = ("shift_rate", "turn_rate"), ("shift_bend", "turn_bend")


@dataclass(frozen=True, slots=True, eq=False)
class Rolled:
    """N cells with columns for rolls: ``settings`` and ``half`` (N, d) in drive units, and the ``posture`` there."""

    settings: Floats
    half: Floats
    posture: Posture


def unrolled(mechanism: Mechanism, solved: Solved) -> Solved:
    """What was solved, in the columns of the drives alone and with every body rolled back."""
    drives = solved.settings.shape[1] - len(mechanism.rolls)
    posture = solved.posture
    for column, number in enumerate(mechanism.rolls, drives):
        posture = rolled_about(mechanism.home, posture, mechanism.idle[number], -solved.settings[:, column])
    return replace(solved, settings=solved.settings[:, :drives], posture=posture)


def with_roll_bounds(
    mechanism: Mechanism, motion: CellMotion, rolled: Rolled, widest: float, bodies: Sequence[int]
) -> CellMotion:
    """The bounds ``motion`` of the unrolled machine with columns for the rolls of ``mechanism``.

    ``bodies``: those of which ``motion`` is; the first one of each roll that turns any of them must be among them.
    ``widest`` rad: a cell in which one of these may turn farther is not certified. Where a rod stands follows from its
    ends and its roll, so which branch it is on follows from the other bodies: its own boxes are infinite.
    """
    wide, drives = _wider(motion, rolled), motion.half.shape[1]
    numbers = {body: row for row, body in enumerate(bodies)}
    turning = [body for number in mechanism.rolls for body in mechanism.idle[number].bodies if body in numbers]
    for body in dict.fromkeys(numbers[body] for body in turning):
        _carry(wide, body, rolled.posture.centres[:, body] - motion.posture.centres[:, body])
    for column, number in enumerate(mechanism.rolls, drives):
        roll = mechanism.idle[number]
        own = [numbers[body] for body in roll.bodies if body in numbers]
        if not own:
            continue
        point, line = line_at(roll, mechanism.home, rolled.posture, numbers[roll.bodies[0]])
        for body in own:
            away = rolled.posture.centres[:, body] - point
            _roll(wide, body, column, (line, away - inner(away, line)[:, None] * line), widest)
        wide.shift_box[:, own] = wide.turn_box[:, own] = np.inf
    return wide


def _wider(motion: CellMotion, rolled: Rolled) -> CellMotion:
    """Copies of all bounds, to be written to, with columns more in the derivatives of settings that move nothing."""
    drives, columns = motion.half.shape[1], rolled.half.shape[1]
    arrays: dict[str, Any] = {}
    for name in (name for name in CellMotion.__dataclass_fields__ if name != "posture"):
        value = getattr(motion, name)
        deep = 1 if name in RATES else 2 if name in BENDS else 0
        if deep:
            arrays[name] = np.zeros((*value.shape[:2], *[columns] * deep, 3))
            arrays[name][(slice(None), slice(None), *[slice(drives)] * deep)] = value
        else:
            arrays[name] = value.copy()
    return CellMotion(posture=rolled.posture, **{**arrays, "settings": rolled.settings, "half": rolled.half})


def _carry(motion: CellMotion, body: int, away: Floats) -> None:
    """Tell the bounds about another point of ``body``, ``away`` (N, 3) from its centre."""
    turn = motion.turn_rate[:, body]
    rest = motion.turn_rest[:, body] + tail(motion.turn[:, body], curl(motion, body) + motion.turn_rest[:, body])
    motion.shift_rate[:, body] += cross(turn, away[:, None])
    motion.shift_bend[:, body] += cross(motion.turn_bend[:, body], away[:, None, None]) + bend(turn, away)
    motion.shift_rest[:, body] += rest * lengths(away)


def _roll(motion: CellMotion, body: int, column: int, about: tuple[Floats, Floats], widest: float) -> None:
    """Let ``column`` roll ``body`` ``about`` a line (N, 3), its centre off it by (N, 3); later columns move nothing."""
    per_degree, lever = np.deg2rad(about[0]), about[1]
    arm, b = lengths(lever), np.deg2rad(motion.half[:, column])
    linear, beyond = motion.turn[:, body], curl(motion, body) + motion.turn_rest[:, body]
    with np.errstate(invalid="ignore", over="ignore"):
        a = linear + beyond
        k = 0.5 + G * (a + b)
        left = a * b * np.exp(k * b) * (0.5 * k * b + G * (a + b))
        turn_rest = 0.5 * beyond * b + left
        shift_rest = arm * (b**3 / 6 + beyond * b + 0.5 * a * b**2 + 0.5 * a**2 * b)
        motion.certified[:] &= a + b <= widest
    turns, swing = motion.turn_rate[:, body, :column], cross(per_degree, lever)
    mixed = {
        "turn_bend": (0.5 * cross(turns, per_degree[:, None]), np.zeros_like(swing)),
        "shift_bend": (cross(turns, swing[:, None]), cross(per_degree, swing)),
    }
    for name, (with_others, own) in mixed.items():
        bends = getattr(motion, name)[:, body]
        bends[:, column, :column] = bends[:, :column, column] = with_others
        bends[:, column, column] = own
    motion.turn_rate[:, body, column], motion.shift_rate[:, body, column] = per_degree, swing
    motion.turn[:, body] += b
    motion.turn_rest[:, body] += turn_rest
    motion.shift_rest[:, body] += shift_rest
