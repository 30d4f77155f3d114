"""How far each joint moves over the range: pins turn, slides travel, rod ends lean. Sampled on a grid, not proven."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.outcome import Setting
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import across, unit
from assembly.model.machine import Joint, JointKind, Vector
from assembly.motion.bodies import moving_joints
from assembly.motion.mechanism import Mechanism
from assembly.motion.rows import Posture
from assembly.motion.solver import solve

SETTINGS = 1000
"""About this many settings are looked at, spread evenly over the range with its ends and rest among them."""
FEWEST = 3
"""Settings along each drive, however many drives there are."""


@dataclass(frozen=True, slots=True)
class JointRange:
    """Least and most of one motion of a joint over the settings looked at, with the settings that show them.

    ``least`` and ``most`` in ``unit`` ("deg" or "mm"); None where nothing could be measured. ``reserve`` is what
    is left of ``limit`` at the most.
    """

    joint: Joint
    motion: str
    unit: str
    least: float | None
    most: float | None
    at_least: Setting
    at_most: Setting
    limit: float | None = None

    @property
    def reserve(self) -> float | None:
        """How much of the limit is left, below zero where it is passed."""
        return None if self.limit is None or self.most is None else self.limit - self.most


@dataclass(frozen=True, slots=True)
class JointRanges:
    """The motions of all joints, in the order of the file; ``not_measured`` gives (joint, reason) for the others."""

    ranges: tuple[JointRange, ...]
    not_measured: tuple[tuple[str, str], ...]
    settings: int
    reached: int


@dataclass(frozen=True, slots=True, eq=False)
class _Motion:
    """One motion of a joint: what to call it, its unit, whether it may pass half a turn, and how it is measured."""

    name: str
    unit: str
    turning: bool
    measure: Callable[[_View], Floats]


@dataclass(frozen=True, slots=True, eq=False)
class _View:
    """A joint at N postures: the rotations of its two parts (N, 3, 3) and the places of its two ends (N, 3)."""

    joint: Joint
    first: Floats
    second: Floats
    apart: Floats

    def turn(self, axis_part: Floats, axis: Vector | None, mark_part: Floats, mark: Floats) -> Floats:
        """Angle (N,) rad by which ``mark``, fixed in one part, has turned about ``axis``, fixed in the other."""
        line, rest, now = axis_part @ _line(axis), axis_part @ mark, mark_part @ mark
        return np.asarray(np.arctan2(_dot(np.cross(line, rest), now), _dot(rest, now)))


def joint_ranges(mechanism: Mechanism) -> JointRanges:
    """Motions of every joint of ``mechanism`` at a grid of settings over the whole range of its drives."""
    grid = _grid(mechanism)
    settings = np.stack(np.meshgrid(*grid, indexing="ij"), axis=-1).reshape(-1, len(grid)) if grid else np.zeros((1, 0))
    shape, rest = tuple(len(values) for values in grid), tuple(int(np.argmin(np.abs(values))) for values in grid)
    solved = solve(mechanism, settings)
    ranges, not_measured = [], []
    for joint in moving_joints(mechanism.machine):
        view = _view(mechanism, solved.posture, joint)
        motions = list(_motions(joint))
        for motion in motions:
            values = motion.measure(view).reshape(shape or (1,))
            if motion.turning:
                values = _followed(values, rest)
            ranges.append(_range(joint, motion, values.reshape(-1), settings, solved.reached))
        if not motions:
            not_measured.append((joint.name, "the file gives no `bolt`, so its misalignment is not measured"))
    return JointRanges(tuple(ranges), tuple(not_measured), len(settings), int(solved.reached.sum()))


def _grid(mechanism: Mechanism) -> list[Floats]:
    """Values along each drive: evenly from end to end, and 0."""
    drives = list(mechanism.machine.drives.values())
    count = max(FEWEST, int(SETTINGS ** (1 / max(len(drives), 1))))
    return [np.unique(np.append(np.linspace(drive.low, drive.high, count), 0.0)) for drive in drives]


def _view(mechanism: Mechanism, posture: Posture, joint: Joint) -> _View:
    world_from_first, world_from_second = (
        mechanism.world_from_rest(posture, part) for part in (joint.first, joint.second)
    )
    ends = [
        world_from_rest[:, :3, :3] @ np.asarray(at) + world_from_rest[:, :3, 3]
        for world_from_rest, at in ((world_from_first, joint.at_first), (world_from_second, joint.at_second))
    ]
    return _View(joint, world_from_first[:, :3, :3], world_from_second[:, :3, :3], ends[1] - ends[0])


def _motions(joint: Joint) -> Iterator[_Motion]:
    """What a joint of each kind lets free and can be told in one number."""
    if joint.kind in (JointKind.PIN, JointKind.PIN_SLIDE):
        yield _Motion("turn", "deg", turning=True, measure=_turn)
    if joint.kind in (JointKind.SLIDE, JointKind.PIN_SLIDE):
        yield _Motion("travel", "mm", turning=False, measure=_travel)
    if joint.kind is JointKind.UNIVERSAL:
        yield _Motion(f"turn of the cross in {joint.first}", "deg", turning=True, measure=_turn_in_first)
        yield _Motion(f"turn of the cross in {joint.second}", "deg", turning=True, measure=_turn_in_second)
    if joint.kind is JointKind.BALL and joint.bolt is not None:
        yield _Motion("misalignment", "deg", turning=False, measure=_lean)


def _turn(view: _View) -> Floats:
    return view.turn(view.first, view.joint.along, view.second, across(_line(view.joint.along))[0])


def _turn_in_first(view: _View) -> Floats:
    """The second part's line, which the cross carries, against where it was drawn in the first part."""
    return view.turn(view.first, view.joint.along, view.second, _line(view.joint.along_second))


def _turn_in_second(view: _View) -> Floats:
    return view.turn(view.second, view.joint.along_second, view.first, _line(view.joint.along))


def _travel(view: _View) -> Floats:
    return _dot(view.first @ _line(view.joint.along), view.apart)


def _lean(view: _View) -> Floats:
    """Angle (N,) rad of the bolt, fixed in the second part, against its drawn direction in the first."""
    housing, bolt = view.first @ _line(view.joint.bolt), view.second @ _line(view.joint.bolt)
    return np.asarray(np.arctan2(np.linalg.norm(np.cross(housing, bolt), axis=1), _dot(housing, bolt)))


def _line(direction: Vector | None) -> Floats:
    return unit(direction)  # type: ignore[arg-type]  # kinds that need a direction always have it (reader)


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.einsum("ni,ni->n", a, b))


def _followed(values: Floats, rest: tuple[int, ...]) -> Floats:
    """Angles on the grid without jumps of a whole turn between neighbours, counted from rest."""
    for axis in range(values.ndim):
        values = np.unwrap(values, axis=axis)
    whole = 2 * np.pi * np.round(values[rest or (0,)] / (2 * np.pi))
    return np.asarray(values - whole)


def _range(joint: Joint, motion: _Motion, values: Floats, settings: Floats, reached: NDArray[np.bool_]) -> JointRange:
    rows = np.flatnonzero(reached)
    if not len(rows):
        return JointRange(joint, motion.name, motion.unit, None, None, (), (), joint.misalignment)
    told = np.rad2deg(values) if motion.unit == "deg" else values
    low, high = int(rows[np.argmin(told[rows])]), int(rows[np.argmax(told[rows])])
    ends = [tuple(float(value) for value in settings[row]) for row in (low, high)]
    limit = joint.misalignment if motion.name == "misalignment" else None
    return JointRange(joint, motion.name, motion.unit, float(told[low]), float(told[high]), ends[0], ends[1], limit)
