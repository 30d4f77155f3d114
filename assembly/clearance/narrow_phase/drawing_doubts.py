"""What looks forgotten in the drawing: shapes that touch nothing of their part, joints with nothing drawn there.

All of it is said, none of it changes a verdict. A shape counts as held where it touches another of its part or of what
is tied to the part rigidly. A joint counts as drawn on a side where something of that side lies within reach of its
point; for a pin that is anywhere along the pin's line beside what the other side has there, because the point of a pin
may be given anywhere on its line. Slides have no place of their own and are left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

import numpy as np

from assembly.clearance.narrow_phase.drawn_shapes import DrawnShape
from assembly.geometry.mesh import Floats
from assembly.geometry.shapes import rod
from assembly.kinematics.bodies import Bodies, gather_bodies
from assembly.model.machine import FindingKind, Joint, JointKind, Machine, Part, Shape, shape_place
from assembly.record import FindingEntry

TOUCHING = 0.5
"""mm: shapes that are drawn no farther apart are joined; a weld fills that."""
NEAR, FAR = 10.0, 50.0
"""mm: within the first of a joint's point everything counts as drawn there, beyond the second nothing does."""
BESIDE = 3.0
"""mm along a pin: a washer between two parts need not be drawn."""
_LONGEST = 1e5
"""mm along a pin from its point: no bearing is looked for beyond."""
_MIRROR = (1.0, -1.0, 1.0)
_POINTED = (JointKind.BALL, JointKind.UNIVERSAL)
_LINED = (JointKind.PIN, JointKind.CYLINDRICAL)


def with_doubts(machine: Machine) -> Machine:
    """``machine`` with what looks forgotten in its drawing among its findings."""
    return replace(machine, findings=machine.findings + find_doubts(machine))


def find_doubts(machine: Machine) -> tuple[FindingEntry, ...]:
    """Findings about ``machine`` as drawn at rest, parts first, then joints, each in the order of the file.

    What is found of a part and of its twin alike is reported once.
    """
    bodies = gather_bodies(machine)
    solids = {name: [DrawnShape(part.name, shape) for shape in part.shapes] for name, part in machine.parts.items()}
    found: list[FindingEntry] = []
    for part in machine.parts.values():
        if not _is_mirrored(machine, part):
            found += _floating(machine, bodies, solids, part)
    told: set[tuple[str, str, float]] = set()
    for joint in machine.joints.values():
        ends = tuple(_Side(joint, part, bodies, solids) for part in (joint.first, joint.second))
        if joint.kind not in (*_POINTED, *_LINED) or not all(end.shapes for end in ends):
            continue
        near, other = sorted(ends, key=lambda end: end.away)
        like = (machine.twin_of.get(joint.name, joint.name), other.joint_end, round(other.away, 3))
        if like not in told and (finding := _bare(machine, joint, near, other)):
            told.add(like)
            found.append(finding)
    return tuple(found)


def _is_mirrored(machine: Machine, part: Part) -> bool:
    """Whether ``part`` is the mirror image of another and so has no findings but those of the other."""
    original = machine.parts.get(machine.twin_of.get(part.name, ""))
    if original is None or len(original.shapes) != len(part.shapes):
        return False
    every = zip(original.shapes, part.shapes, strict=True)
    return all(np.array_equal(one.mesh.vertices * _MIRROR, twin.mesh.vertices) for one, twin in every)


def _floating(
    machine: Machine, bodies: Bodies, solids: dict[str, list[DrawnShape]], part: Part
) -> Iterator[FindingEntry]:
    """The groups of shapes of ``part`` that nothing holds, but for the largest."""
    groups = _groups(solids[part.name])
    if len(groups) < 2:
        return
    beside = [each for name in bodies.members[bodies.body_of[part.name]] if name != part.name for each in solids[name]]
    groups.sort(key=lambda group: -sum(each.shape.mesh.volume for each in group))
    for group in groups[1:]:
        if any(each.touches(other, TOUCHING) for each in group for other in beside):
            continue
        rest = [each for each in solids[part.name] if each not in group]
        gap, near = _least(group, rest)
        names = list(dict.fromkeys(each.shape.name for each in group))
        touch = f"{' and '.join(names)} of {part.name} {'touches' if len(names) == 1 else 'touch'}"
        text = f"{touch} nothing of it: {gap:z.1f} mm from the nearest, {near.shape.name}"
        place = shape_place(part.name, group[0].shape.name)
        yield FindingEntry(FindingKind.FLOATING, place, text, (part.name,), machine.lines.get(place))


def _groups(shapes: Sequence[DrawnShape]) -> list[list[DrawnShape]]:
    """Shapes that hang together by touching."""
    group_of = {index: {index} for index in range(len(shapes))}
    for a, b in combinations(range(len(shapes)), 2):
        if group_of[a] is not group_of[b] and shapes[a].touches(shapes[b], TOUCHING):
            group_of[a] |= group_of[b]
            for index in group_of[b]:
                group_of[index] = group_of[a]
    unique = {id(group): sorted(group) for group in group_of.values()}
    return [[shapes[index] for index in group] for group in unique.values()]


def _least(group: Iterable[DrawnShape], rest: Sequence[DrawnShape]) -> tuple[float, DrawnShape]:
    """The least distance in mm from ``group`` to ``rest``, and whom it is to."""
    found = [(each.distance(other), index) for each in group for index, other in enumerate(rest)]
    gap, index = min(found)
    return gap, rest[index]


@dataclass(frozen=True, eq=False)
class _Side:
    """One side of a joint: its part, and all that is rigid with the part."""

    joint: Joint
    part: str
    bodies: Bodies
    solids: dict[str, list[DrawnShape]]

    @cached_property
    def at(self) -> Floats:
        """Where the joint sits in this part."""
        return np.array(self.joint.at_first if self.part == self.joint.first else self.joint.at_second)

    @cached_property
    def shapes(self) -> list[DrawnShape]:
        """Everything that is rigid with the part, its own first."""
        others = [name for name in self.bodies.members[self.bodies.body_of[self.part]] if name != self.part]
        return [each for name in (self.part, *others) for each in self.solids[name]]

    @property
    def joint_end(self) -> str:
        """Which of the joint's two ends this is."""
        return "first" if self.part == self.joint.first else "second"

    @cached_property
    def nearest(self) -> tuple[float, DrawnShape]:
        """Mm from the joint's point to the nearest shape, and that shape; 0 inside."""
        best, found = np.inf, self.shapes[0]
        for each in sorted(self.shapes, key=lambda each: each.apart_at_least(self.at, self.at)):
            if each.apart_at_least(self.at, self.at) >= best:
                break
            away = 0.0 if each.holds(self.at) else each.from_surface(self.at)
            if away < best:
                best, found = away, each
        return best, found

    @property
    def away(self) -> float:
        """Mm from the joint's point to the nearest shape."""
        return self.nearest[0]

    @cached_property
    def surface(self) -> float:
        """Mm from the joint's point to the surface of the nearest shape: about the radius of what bears there."""
        return self.nearest[1].from_surface(self.at)

    def along_line(self, line: Floats, reach: float) -> tuple[float, float]:
        """From where to where, mm along ``line`` from the point, the nearest shape and others within ``reach`` lie."""
        spans = []
        for each in self.shapes:
            along = (each.shape.mesh.vertices - self.at) @ line
            low, high = float(along.min()), float(along.max())
            if each is self.nearest[1] or (each.part == self.part and self._is_within(each, line, (low, high), reach)):
                spans.append((low, high))
        return max(-_LONGEST, min(low for low, _ in spans)), min(_LONGEST, max(high for _, high in spans))

    def within(self, line: Floats, span: tuple[float, float], reach: float) -> bool:
        """Whether anything lies within ``reach`` of the line through the joint's point, somewhere in ``span``."""
        return any(self._is_within(each, line, span, reach) for each in self.shapes)

    def _is_within(self, each: DrawnShape, line: Floats, span: tuple[float, float], reach: float) -> bool:
        ends = [self.at + line * mm for mm in span]
        return DrawnShape("", Shape("", rod(ends, diameter=2 * reach, facet_error=0.1))).is_within(each, 0.0)


def _bare(machine: Machine, joint: Joint, near: _Side, other: _Side) -> FindingEntry | None:
    """What is missing at ``joint``: of the ``other`` side, or of both; the ``near`` side has less far to the point."""
    reach = max(joint.seat, float(np.clip(2 * near.surface + 2, NEAR, FAR)))
    if other.away <= reach:
        return None
    if joint.kind in _LINED:
        line = np.array(joint.along)
        low, high = near.along_line(line, reach)
        if other.within(line, (low - BESIDE, high + BESIDE), reach):
            return None
    place = f"joints.{joint.name}"
    told = f"nothing of {other.part} is drawn here: its nearest shape, {_named(other)}, is {other.away:z.1f} mm away"
    if near.away <= FAR:
        told += f", while {near.part} has {_named(near)} here; a pin, bolt or bush is missing or lies elsewhere"
    else:
        told += f", and {_named(near)} of {near.part} {near.away:z.1f} mm; the joint's point may be wrong"
    parts = (other.part,) if near.away <= FAR else (other.part, near.part)
    return FindingEntry(FindingKind.BARE_JOINT, place, told, parts, machine.lines.get(place))


def _named(side: _Side) -> str:
    each = side.nearest[1]
    return each.shape.name if each.part == side.part else f"{each.shape.name} of {each.part}"
