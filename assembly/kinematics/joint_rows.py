"""From joints and drives to rows of equations: what each kind of joint holds, and what each drive asks."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import across, cross, unit
from assembly.kinematics.bodies import GROUND, Bodies, moving_joints
from assembly.kinematics.implied_rows import Implied, implied_rows
from assembly.kinematics.rows import HeldRoll, Offset, Rows, SamePoint, Square, Turn
from assembly.kinematics.system import Equations, Family
from assembly.model.machine import DriveKind, Joint, JointKind, Machine


@dataclass(slots=True)
class _Draft:
    """Rows of one family while they are gathered: owner, bodies and the vectors of the family's fields."""

    owners: list[str] = field(default_factory=list)
    first: list[int] = field(default_factory=list)
    second: list[int] = field(default_factory=list)
    vectors: list[tuple[Floats, ...]] = field(default_factory=list)
    ratios: list[Floats] = field(default_factory=list)
    groups: list[int] = field(default_factory=list)
    implied: list[bool] = field(default_factory=list)

    def add(
        self,
        owner: str,
        ends: tuple[int, int],
        *vectors: Floats,
        ratio: Floats,
        group: int = -1,
        implied: bool = False,
    ) -> None:
        """One row; rows with one ``group`` (not negative) are parts of one vector."""
        self.implied.append(implied)
        self.groups.append(group if group >= 0 else len(self.owners))
        self.owners.append(owner)
        self.first.append(ends[0])
        self.second.append(ends[1])
        self.vectors.append(vectors)
        self.ratios.append(ratio)

    @property
    def bodies(self) -> tuple[Floats, Floats]:
        return np.array(self.first, dtype=np.intp), np.array(self.second, dtype=np.intp)

    def column(self, index: int) -> Floats:
        return np.array([vectors[index] for vectors in self.vectors], dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class _Ends:
    """A joint's two bodies, and its place in each as a lever from the body's centre."""

    joint: Joint
    bodies: tuple[int, int]
    levers: tuple[Floats, Floats]

    @property
    def along(self) -> Floats:
        return unit(self.joint.along)  # type: ignore[arg-type]  # kinds that need it always have it (reader)


_AXES = np.eye(3)


class _Drafts:
    """Collects rows of all families for one machine."""

    def __init__(self, machine: Machine, bodies: Bodies) -> None:
        self.machine, self.bodies = machine, bodies
        self.none = np.zeros(len(machine.drives))
        self.points, self.squares, self.offsets = _Draft(), _Draft(), _Draft()
        self.turns, self.slides = _Draft(), _Draft()
        self.implied = implied_rows(machine, bodies)

    def ends(self, joint: Joint) -> _Ends:
        first, second = self.bodies.body_of[joint.first], self.bodies.body_of[joint.second]
        centres = self.bodies.centres
        levers = np.asarray(joint.at_first) - centres[first], np.asarray(joint.at_second) - centres[second]
        return _Ends(joint, (first, second), levers)

    def _said(self, ends: _Ends) -> Implied:
        return self.implied.get(ends.joint.name, Implied())

    def _across(self, ends: _Ends) -> tuple[Floats, Floats]:
        """Two directions square to the joint's line; the first is the normal of the plane that a slide moves in."""
        normal = self._said(ends).normal
        if ends.joint.kind is not JointKind.SLIDE or normal is None:
            return across(ends.along)
        return normal, cross(ends.along, normal)

    def same_point(self, ends: _Ends) -> None:
        said, group = self._said(ends), len(self.points.owners)
        axes = _AXES if said.normal is None else (*across(said.normal), said.normal)
        levels = (False, False, said.height)
        for axis, level in zip(axes, levels, strict=True):
            implied = said.whole or said.place or level
            self.points.add(
                ends.joint.name, ends.bodies, *ends.levers, axis, ratio=self.none, group=group, implied=implied
            )

    def square(self, ends: _Ends, first: Floats, second: Floats, group: int = -1, *, implied: bool = False) -> None:
        cosine = np.array(first @ second)
        given = ends.joint.name, ends.bodies, first, second, cosine
        self.squares.add(*given, ratio=self.none, group=group, implied=implied or self._said(ends).whole)

    def parallel(self, ends: _Ends) -> None:
        said, group = self._said(ends), len(self.squares.owners)
        is_slide = ends.joint.kind is JointKind.SLIDE
        for number, direction in enumerate(self._across(ends)):
            self.square(ends, ends.along, direction, group, implied=said.tilt and not (is_slide and number == 1))

    def on_line(self, ends: _Ends) -> None:
        said, group = self._said(ends), len(self.offsets.owners)
        is_slide = ends.joint.kind is JointKind.SLIDE
        for number, direction in enumerate(self._across(ends)):
            self.offset(ends, direction, group, implied=said.height and is_slide and number == 0)

    def offset(self, ends: _Ends, direction: Floats, group: int = -1, *, implied: bool = False) -> None:
        given = ends.joint.name, ends.bodies, *ends.levers, direction
        self.offsets.add(*given, ratio=self.none, group=group, implied=implied or self._said(ends).whole)

    def pin(self, ends: _Ends) -> None:
        said = self._said(ends)
        if said.normal is None or said.grounded:
            self.same_point(ends)
        else:
            self.on_line(ends)
            self.offset(ends, said.normal, implied=said.height)
        self.parallel(ends)

    def slide(self, ends: _Ends) -> None:
        self.cylindrical(ends)
        self.square(ends, *self._across(ends), implied=self._said(ends).tilt)

    def cylindrical(self, ends: _Ends) -> None:
        self.on_line(ends)
        self.parallel(ends)

    def universal(self, ends: _Ends) -> None:
        self.same_point(ends)
        self.square(ends, ends.along, unit(ends.joint.along_second))  # type: ignore[arg-type]  # as in along

    def drive(self, ends: _Ends, kind: DriveKind, ratio: Floats) -> None:
        along = ends.along
        if kind is DriveKind.TURNS:
            self.turns.add(ends.joint.name, ends.bodies, along, across(along)[0], ratio=np.deg2rad(ratio))
        else:
            self.slides.add(ends.joint.name, ends.bodies, *ends.levers, along, ratio=ratio)


def joint_equations(machine: Machine, bodies: Bodies) -> Equations:
    """Every row that the joints of ``machine`` hold and its drives ask for; drive rows are the last."""
    drafts = _Drafts(machine, bodies)
    demand: dict[JointKind, Callable[[_Ends], None]] = {
        JointKind.PIN: drafts.pin,
        JointKind.BALL: drafts.same_point,
        JointKind.SLIDE: drafts.slide,
        JointKind.CYLINDRICAL: drafts.cylindrical,
        JointKind.UNIVERSAL: drafts.universal,
    }
    for joint in moving_joints(machine):
        demand[joint.kind](drafts.ends(joint))
    for name, kind, ratio in _driven_joints(machine):
        drafts.drive(drafts.ends(machine.joints[name]), kind, ratio)
    scale = _scale(drafts)
    return Equations(tuple(_families(drafts, scale)), bodies, scale)


def _driven_joints(machine: Machine) -> list[tuple[str, DriveKind, Floats]]:
    ratios: dict[tuple[str, DriveKind], Floats] = {}
    for column, drive in enumerate(machine.drives.values()):
        for joint, ratio in drive.ratios.items():
            ratios.setdefault((joint, drive.kind), np.zeros(len(machine.drives)))[column] += ratio
    return [(joint, kind, ratio) for (joint, kind), ratio in ratios.items()]


def _scale(drafts: _Drafts) -> float:
    levers = [
        vector for draft in (drafts.points, drafts.offsets) for vectors in draft.vectors for vector in vectors[:2]
    ]
    lengths = (
        np.array([length for length in np.linalg.norm(levers, axis=-1) if length > 1e-9]) if levers else np.ones(1)
    )
    return max(1.0, float(np.median(lengths))) if len(lengths) else 1.0


def _families(drafts: _Drafts, scale: float) -> Iterable[Family]:
    """Turn drafts into families; empty ones are left out. Drive rows come last."""
    made: list[tuple[_Draft, Callable[..., Rows], int, float]] = [
        (drafts.points, SamePoint, 3, 1.0),
        (drafts.squares, Square, 3, 1.0),
        (drafts.offsets, Offset, 3, 1.0),
        (drafts.turns, Turn, 2, scale),
        (drafts.slides, Offset, 3, 1.0),
    ]
    for draft, make, fields, weight in made:
        if draft.owners:
            rows = make(*draft.bodies, *(draft.column(index) for index in range(fields)), scale)
            ratios, groups, implied = np.array(draft.ratios), tuple(draft.groups), tuple(draft.implied)
            yield Family(rows, tuple(draft.owners), ratios, weight, groups, implied)


@dataclass(frozen=True, slots=True, eq=False)
class RollRow:
    """One body's roll about ``axis`` (3,), as drawn, is ``held`` degrees and ``ratio`` (d,) times the settings."""

    body: int
    axis: Floats
    held: float
    ratio: Floats


def with_rolls_held(equations: Equations, rolls: Iterable[RollRow]) -> Equations:
    """The same rows and one more for each idle roll."""
    held = list(rolls)
    if not held:
        return equations
    rows = HeldRoll(
        np.full(len(held), GROUND, dtype=np.intp),
        np.array([roll.body for roll in held], dtype=np.intp),
        np.array([roll.axis for roll in held]),
        np.deg2rad([roll.held for roll in held]),
        equations.scale,
    )
    owners = tuple(equations.bodies.members[roll.body][0] for roll in held)
    family = Family(rows, owners, np.deg2rad([roll.ratio for roll in held]), equations.scale)
    return Equations((*equations.families, family), equations.bodies, equations.scale)
