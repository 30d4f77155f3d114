"""A machine on its road at settings: figures of its wheels, the circle it turns on, and how low its parts come."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism, Solved, settings_of
from assembly.kinematics.solver import solve
from assembly.kinematics.stance import Stance, stance_at
from assembly.kinematics.wheel_figures import WheelFigure, wheel_figures
from assembly.kinematics.wheel_rules import third_contact
from assembly.model.machine import Part
from assembly.model.wheel import Wheel, WheelWord
from assembly.record import LowestEntry, Settings, TurningEntry
from assembly.studies.shared import finite

AROUND = 5.0
"""mm by which a tyre may be drawn larger than its section."""
STRAIGHT = 1e-3
"""degrees: a pair that is steered by less runs straight on."""


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """The machine at N settings; ``values`` (N,) of every figure by name, NaN where it does not get or stand there."""

    mechanism: Mechanism
    solved: Solved
    stance: Stance
    figures: tuple[WheelFigure, ...]
    values: dict[str, Floats]

    def setting(self, row: int) -> Settings:
        """One of the settings by drive."""
        return settings_of(self.mechanism.machine, self.solved.settings[row].tolist())

    def known(self, name: str, row: int) -> float | None:
        """A figure at one of the settings."""
        return finite(float(self.values[name][row]))


def standing_at(mechanism: Mechanism, settings: Floats, words: Collection[WheelWord] = ()) -> Standing:
    """The machine at ``settings`` (N, d) on its road, with its figures of these ``words``; none stand for all."""
    solved = solve(mechanism, settings)
    stance = stance_at(mechanism, solved.posture)
    if stance is None:
        raise ValueError("a machine without wheels stands on no road")
    figures = tuple(one for one in wheel_figures(mechanism) if not words or one.word in words)
    values = {}
    for one in figures:
        found = one.on(stance)
        known = solved.reached & np.isfinite(found.rest)
        values[one.name] = np.where(known, found.value, np.nan)
    return Standing(mechanism, solved, stance, figures, values)


def turning_entries(standing: Standing) -> Iterator[TurningEntry]:
    """For every pair with a third contact: the turning circle and both wheels' angles at each setting."""
    for left, right, *rear in (one.of_wheels for one in standing.figures if one.word is WheelWord.OUTER_ERROR):
        circles = _circles(standing.stance, (left, right, *rear))
        error = f"{left} and {right} outer error"
        for row in range(len(standing.solved.settings)):
            angles = [standing.known(f"{name} steer", row) for name in (left, right)]
            inner, outer, ideal = _told_angles(angles, standing.known(error, row))
            circle = finite(float(circles[row])) if inner is not None else None
            yield TurningEntry((left, right), standing.setting(row), circle, inner, outer, ideal)


def _told_angles(
    angles: Sequence[float | None], error: float | None
) -> tuple[float | None, float | None, float | None]:
    """Inner, outer and ideal outer angle, positive; of one that runs straight on, none."""
    left, right = angles
    if left is None or right is None or error is None or abs(left + right) < 2 * STRAIGHT:
        return None, None, None
    inner, outer = (left, right) if left + right > 0 else (-right, -left)
    return inner, outer, outer - error


def _circles(stance: Stance, names: Sequence[str]) -> Floats:
    """(N,) mm: diameter of the circle of the outermost contact of a pair, about where the axles meet.

    The rear runs straight on, so the centre lies beside its contact; across, it is taken in the middle between where
    the axles of the two wheels meet that line.
    """
    x, y, rear = stance.x.value, stance.y.value, third_contact(stance, names).value
    places, centres = [], []
    for name in names[:2]:
        away, spin = stance.contact(name).value - rear, stance.spin(name).value
        along, across = np.einsum("nj,nj->n", away, x), np.einsum("nj,nj->n", away, y)
        with np.errstate(divide="ignore", invalid="ignore"):
            centres.append(across - along * np.einsum("nj,nj->n", spin, y) / np.einsum("nj,nj->n", spin, x))
        places.append((along, across))
    middle = np.mean(centres, axis=0)
    return np.asarray(2 * np.max([np.hypot(along, middle - across) for along, across in places], axis=0))


def lowest_entries(standing: Standing) -> tuple[LowestEntry, ...]:
    """Every part by how far it comes down to the road, lowest first; what is drawn of a tyre is none of its part."""
    machine, solved = standing.mechanism.machine, standing.solved
    normal, height = standing.stance.road.normal.value, standing.stance.road.height.value
    stands = solved.reached & np.isfinite(height)
    found = []
    for name, part in machine.parts.items():
        vertices = _without_tyres(part, machine.running.wheels.values()) if part.shapes else np.zeros((0, 3))
        if not len(vertices) or not stands.any():
            continue
        moves = standing.mechanism.world_from_rest(solved.posture, name)
        across = np.einsum("nji,nj->ni", moves[:, :3, :3], normal)
        base = np.einsum("nj,nj->n", moves[:, :3, 3], normal) - height
        heights = np.where(stands, np.array([(vertices @ one).min() for one in across]) + base, np.inf)
        row = int(np.argmin(heights))
        found.append(LowestEntry(name, float(heights[row]), standing.setting(row)))
    return tuple(sorted(found, key=lambda one: one.height_mm))


def _without_tyres(part: Part, wheels: Iterable[Wheel]) -> Floats:
    """The corners (K, 3) of a part as drawn, without those that lie in the room of a tyre that it carries."""
    vertices = np.asarray(part.mesh.vertices)
    for wheel in (one for one in wheels if one.part == part.name):
        away, spin = vertices - np.array(wheel.centre), np.array(wheel.spin)
        along = away @ spin
        out = np.linalg.norm(away - along[:, None] * spin, axis=1)
        aside = np.maximum(np.abs(along) - wheel.crown, np.abs(out - wheel.ring) - wheel.crown)
        vertices = vertices[aside > AROUND]
    return vertices
