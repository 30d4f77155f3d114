"""Rows that other joints imply at every posture, by the group of motions that their joints share.

Where joints of a closed loop all belong to one group of motions, the rows that hold the loop to that group are needed
once per body and not once per joint: along a spanning tree of the joints every body is held to the group, and what
the others demand of the same kind then holds identically, at every posture and not at one of them only. Groups that
are looked for, in this order (Hervé 1978, from memory):

- one line: pins and pin-slides on one axis (a part that hangs on two hinges);
- one direction of sliding: slides along parallel lines between bodies that do not turn against each other;
- one plane: pins and pin-slides along parallel lines, slides square to them. No body tilts, and where no pin-slide lies
  between, none shifts along the lines;
- one point: pins whose lines meet in a point, balls and universal joints at it.

A row that is left out is implied by rows that are kept when its group is looked at. Joints of a tree have lost no row
to an earlier group, so every row that is left out follows from those that are kept at the end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import networkx as nx
import numpy as np

from assembly.geometry.mesh import Flags, Floats
from assembly.geometry.rotations import cross, inner, length, lengths, unit
from assembly.kinematics.bodies import GROUND, Bodies, loop_numbers, moving_joints
from assembly.model.machine import Joint, JointKind, Machine

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


@dataclass(frozen=True, slots=True, eq=False)
class Implied:
    """Which rows of one joint are implied by other joints.

    ``whole``: all. ``place``: that its point is one point. For a group of one plane, whose unit ``normal`` (3,) is
    fixed in every body of it: ``tilt``, that the normal keeps its direction, and ``height``, the place along it;
    ``grounded``: the ground is one of the bodies, so the normal stands still.
    """

    whole: bool = False
    place: bool = False
    tilt: bool = False
    height: bool = False
    normal: Floats | None = None
    grounded: bool = False


def implied_rows(machine: Machine, bodies: Bodies) -> dict[str, Implied]:
    """What is implied of the joints of ``machine``, by name; joints all of whose rows are needed are left out."""
    search = _Search(machine, bodies)
    for line in search.lines():
        search.leave_out_on_line(line)
    for direction in search.directions(JointKind.SLIDE):
        search.leave_out_along(direction)
    for direction in search.directions(JointKind.PIN, JointKind.CYLINDRICAL):
        search.leave_out_in_plane(direction)
    for point in search.points():
        search.leave_out_at(point)
    return search.found


class _Search:
    """The joints of one machine, and what was found to be implied of them so far.

    Groups are looked for among joints of one loop only: no other joint can be implied. What belongs to a group is then
    asked of all joints.
    """

    def __init__(self, machine: Machine, bodies: Bodies) -> None:
        self.joints, self.bodies = moving_joints(machine), bodies
        self.found: dict[str, Implied] = {}
        self._lines = JointLines(self.joints)
        self._hinges = [
            number for number, joint in enumerate(self.joints) if joint.kind in (JointKind.PIN, JointKind.CYLINDRICAL)
        ]
        self._loops = loop_numbers([self._ends(joint) for joint in self.joints])

    def _looped(self, *kinds: JointKind) -> list[int]:
        """Numbers of the joints of these kinds that are part of a loop."""
        return [
            number
            for number, (joint, loop) in enumerate(zip(self.joints, self._loops, strict=True))
            if loop >= 0 and joint.kind in kinds
        ]

    def lines(self) -> list[Joint]:
        """One joint for each axis on which there are several."""
        hinges, firsts = self._looped(JointKind.PIN, JointKind.CYLINDRICAL), []
        told: set[int] = set()
        for number in hinges:
            if number not in told:
                alike = self._lines.on_one_line(number, hinges)
                told.update(alike)
                firsts += [self.joints[number]] * (len(alike) > 1)
        return firsts

    def directions(self, *kinds: JointKind) -> list[Floats]:
        return self._lines.directions(self._looped(*kinds))

    def points(self) -> list[Floats]:
        """Points in which lines of two pins meet, and those of balls and universal joints."""
        pins = [number for number in self._looped(JointKind.PIN) if _unedited(self.joints[number])]
        met = [
            point
            for place, number in enumerate(pins)
            for point in self._lines.meeting(
                number, [other for other in pins[place + 1 :] if self._loops[other] == self._loops[number]]
            )
        ]
        balls = self._looped(JointKind.BALL, JointKind.UNIVERSAL)
        return _distinct_points(met + [np.array(self.joints[number].at_first) for number in balls])

    def leave_out_at(self, point: Floats) -> None:
        through = [self.joints[number] for number in self._lines.through(point)]
        self.leave_out(through, lambda _: Implied(place=True))

    def leave_out_on_line(self, line: Joint) -> None:
        hinges = [self.joints[number] for number in self._lines.on_one_line(self.joints.index(line), self._hinges)]
        hinges.sort(key=lambda joint: joint.kind is not JointKind.PIN)
        self.leave_out(hinges, lambda _: Implied(whole=True), by_distance=False)

    def leave_out_along(self, direction: Floats) -> None:
        slides = [self.joints[number] for number in self._lines.slides_along(direction)]
        self.leave_out(slides, lambda _: Implied(whole=True))

    def leave_out_in_plane(self, normal: Floats) -> None:
        level = [self.joints[number] for number in self._lines.in_plane(normal)]
        grounded = self._with_ground(level)
        firm = [joint for joint in level if joint.kind is not JointKind.CYLINDRICAL]
        tilt, height = (self._spare(joints) for joints in (level, firm))
        for joint in level:
            if joint.name in self.found or joint.name not in tilt | height:
                continue
            self.found[joint.name] = Implied(
                tilt=joint.name in tilt, height=joint.name in height, normal=normal, grounded=joint.name in grounded
            )

    def leave_out(self, joints: Sequence[Joint], what: Callable[[Joint], Implied], *, by_distance: bool = True) -> None:
        spare = self._spare(joints, by_distance=by_distance)
        self.found |= {
            joint.name: what(joint) for joint in joints if joint.name in spare if joint.name not in self.found
        }

    def _ends(self, joint: Joint) -> tuple[int, int]:
        return self.bodies.body_of[joint.first], self.bodies.body_of[joint.second]

    def _spare(self, joints: Iterable[Joint], *, by_distance: bool = True) -> set[str]:
        """Names of ``joints`` outside of a spanning tree of those that are whole, nearest to the ground first."""
        whole = [joint for joint in joints if joint.name not in self.found]
        if len(whole) == 1 and len(set(self._ends(whole[0]))) == 2:
            return set()
        away = self._distances(whole) if by_distance else {}
        order = sorted(whole, key=lambda joint: max((away.get(body, 0) for body in self._ends(joint)), default=0))
        tree, spare = nx.utils.UnionFind(range(len(self.bodies))), set()
        for joint in order:
            first, second = self._ends(joint)
            if tree[first] == tree[second]:
                spare.add(joint.name)
            tree.union(first, second)
        return spare

    def _distances(self, joints: Iterable[Joint]) -> dict[int, int]:
        """How many joints each body is from the ground, or from the first body of those tied to it."""
        graph: nx.Graph[int] = nx.Graph([self._ends(joint) for joint in joints])
        away: dict[int, int] = {}
        for together in nx.connected_components(graph):
            away |= nx.single_source_shortest_path_length(graph, min(together))
        return away

    def _with_ground(self, joints: Iterable[Joint]) -> set[str]:
        named = list(joints)
        graph: nx.Graph[int] = nx.Graph([self._ends(joint) for joint in named])
        tied = nx.node_connected_component(graph, GROUND) if GROUND in graph else set()
        return {joint.name for joint in named if set(self._ends(joint)) <= tied}


def _unedited(joint: Joint) -> bool:
    """Whether the joint is at one place in both parts as drawn, so that places can be compared in one drawing."""
    return joint.at_first == joint.at_second


def _distinct_points(points: Sequence[Floats]) -> list[Floats]:
    """One of each lot of points that are in one place, in their order."""
    kept = np.zeros((len(points), 3))
    count = 0
    for point in points:
        if not (lengths(kept[:count] - point) <= PARALLEL * (1.0 + length(point))).any():
            kept[count] = point
            count += 1
    return list(kept[:count])
