"""Lines and points of many joints at once, as drawn: which lie on one line, and where lines meet."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assembly.geometry.mesh import Flags, Floats
from assembly.geometry.rotations import cross, inner, length, lengths, unit
from assembly.model.machine import Joint, JointKind

PARALLEL = 1e-9
"""Sine or share of a length below which lines are parallel or meet; rows that are left out hold that well."""
SQUARE_MEETING = 1e-6
"""Square of the sine below which two lines are not taken to meet in a point."""


class JointLines:
    """The lines of ``joints``, those without one having none; joints are named by their numbers.

    Only places of joints that are at one place in both parts as drawn can be compared in one drawing.
    """

    def __init__(self, joints: Sequence[Joint]) -> None:
        self._along = np.array([_line(joint) for joint in joints]).reshape(-1, 3)
        self._at = np.array([joint.at_first for joint in joints], dtype=np.float64).reshape(-1, 3)
        unedited = np.array([joint.at_first == joint.at_second for joint in joints], dtype=bool)
        self._unedited = unedited
        self._pins = unedited & np.array([joint.kind is JointKind.PIN for joint in joints], dtype=bool)
        self._hinges = np.array([joint.kind in (JointKind.PIN, JointKind.CYLINDRICAL) for joint in joints], dtype=bool)
        self._slides = np.array([joint.kind is JointKind.SLIDE for joint in joints], dtype=bool)
        points = (JointKind.BALL, JointKind.UNIVERSAL)
        self._points = unedited & np.array([joint.kind in points for joint in joints], dtype=bool)

    def on_one_line(self, number: int, others: Sequence[int]) -> list[int]:
        """Those of ``others`` that are on the line of joint ``number``, itself among them."""
        every = np.array(others, dtype=np.intp)
        along, at = self._along[number], self._at[every]
        parallel = lengths(cross(along, self._along[every])) <= PARALLEL
        near = lengths(cross(along, at - self._at[number])) <= PARALLEL * _sizes(at)
        alike = self._unedited[number] & self._unedited[every] & parallel & near
        return list(every[alike | (every == number)].tolist())

    def directions(self, numbers: Sequence[int]) -> list[Floats]:
        """One of each lot of the joints' directions that are parallel, in their order."""
        kept = np.zeros((len(numbers), 3))
        count = 0
        for along in self._along[np.array(numbers, dtype=np.intp)]:
            if not (lengths(cross(along, kept[:count])) <= PARALLEL).any():
                kept[count] = along
                count += 1
        return list(kept[:count])

    def slides_along(self, direction: Floats) -> list[int]:
        """The slides along the unit ``direction`` (3,)."""
        return list(np.flatnonzero(self._slides & self._parallel(direction)).tolist())

    def in_plane(self, normal: Floats) -> list[int]:
        """The joints that let their parts move in a plane of unit ``normal`` (3,) only: but for pin-slides."""
        level = self._slides & (np.abs(self._along @ normal) <= PARALLEL)
        return list(np.flatnonzero(level | (self._hinges & self._parallel(normal))).tolist())

    def meeting(self, number: int, others: Sequence[int]) -> list[Floats]:
        """The points in which the line of joint ``number`` meets those of ``others``, one by one."""
        every = np.array(others, dtype=np.intp)
        along = self._along[number]
        square = cross(along, self._along[every])
        size = inner(square, square)
        kept = size > SQUARE_MEETING
        every, square, size = every[kept], square[kept], size[kept]
        apart = self._at[every] - self._at[number]
        away = inner(cross(apart, self._along[every]), square) / size
        points = self._at[number] + along * away[:, None]
        far = lengths(cross(self._along[every], points - self._at[every]))
        return list(points[far <= PARALLEL * _sizes(points)])

    def through(self, point: Floats) -> list[int]:
        """The joints that let their parts only turn about ``point``."""
        size = PARALLEL * (1.0 + length(point))
        lever = point - self._at
        on_line = self._pins & (lengths(cross(self._along, lever)) <= size)
        there = self._points & (lengths(lever) <= PARALLEL * _sizes(self._at))
        return list(np.flatnonzero(on_line | there).tolist())

    def _parallel(self, direction: Floats) -> Flags:
        return np.asarray(lengths(cross(self._along, direction)) <= PARALLEL)


def _line(joint: Joint) -> Floats:
    return np.zeros(3) if joint.along is None else unit(joint.along)


def _sizes(points: Floats) -> Floats:
    return np.asarray(1.0 + lengths(points))
