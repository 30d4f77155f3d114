"""Machines built by hand from joints and drives, and their poses read as points and plain angles.

Parts have no shapes: the solver looks at joints only. A part is made the first time a joint names it; ``ground`` is
the fixed one. Everything is drawn at rest, so the assembly that is meant is chosen by how it is drawn.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from assembly.kinematics.assembling import assemble
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.solver import solve
from assembly.model.machine import Drive, DriveKind, Joint, JointKind, Machine, Part, Vector

Floats = NDArray[np.float64]

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
ORIGIN = (0.0, 0.0, 0.0)
GROUND = "ground"


def vector(value: ArrayLike) -> Vector:
    """Three plain numbers; a planar point gets z = 0."""
    x, y, z = np.append(np.asarray(value, dtype=np.float64), 0.0)[:3].tolist()
    return x, y, z


def polar(length: float, degrees: ArrayLike, start: ArrayLike = ORIGIN) -> Floats:
    """Points (..., 3) in the plane z = 0, seen from ``start``."""
    angle = np.radians(degrees)
    return np.array(vector(start)) + length * np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=-1)


def about(axis: ArrayLike, degrees: float) -> Floats:
    """Rotation (3, 3) by ``degrees`` about ``axis``, from its tensor form (closed form; none of the package's code)."""
    n = np.asarray(axis, dtype=np.float64) / np.linalg.norm(axis)
    cosine, sine = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return cosine * np.eye(3) + (1 - cosine) * np.outer(n, n) + sine * np.cross(n, np.eye(3)).T


def _joint(kind: JointKind, name: str, ends: Sequence[str], at: ArrayLike, *directions: ArrayLike) -> Joint:
    lines = [vector(np.asarray(line) / np.linalg.norm(line)) for line in directions]
    return Joint(name, kind, *ends, vector(at), vector(at), *lines)


def pin(name: str, first: str, second: str, at: ArrayLike, along: ArrayLike = Z) -> Joint:
    return _joint(JointKind.PIN, name, (first, second), at, along)


def ball(name: str, first: str, second: str, at: ArrayLike) -> Joint:
    return _joint(JointKind.BALL, name, (first, second), at)


def slide(name: str, first: str, second: str, at: ArrayLike, along: ArrayLike) -> Joint:
    return _joint(JointKind.SLIDE, name, (first, second), at, along)


def cylindrical(name: str, first: str, second: str, at: ArrayLike, along: ArrayLike) -> Joint:
    return _joint(JointKind.CYLINDRICAL, name, (first, second), at, along)


def universal(name: str, first: str, second: str, at: ArrayLike, in_first: ArrayLike, in_second: ArrayLike) -> Joint:
    return _joint(JointKind.UNIVERSAL, name, (first, second), at, in_first, in_second)


def weld(name: str, first: str, second: str) -> Joint:
    return _joint(JointKind.WELDED, name, (first, second), ORIGIN)


def rod(name: str, first: str, second: str, start: ArrayLike, end: ArrayLike) -> list[Joint]:
    """A rod with a ball at each end, from ``start`` in part ``first`` to ``end`` in part ``second``."""
    return [ball(f"{name}_start", first, name, start), ball(f"{name}_end", name, second, end)]


def turns(name: str = "", /, **ratios: float) -> Drive:
    """A drive that turns each joint by its ratio, named after the first where no name is given."""
    return Drive(name or next(iter(ratios)), DriveKind.TURNS, ratios, -360.0, 360.0)


def slides(name: str = "", /, **ratios: float) -> Drive:
    """A drive that slides each joint by its ratio, named after the first where no name is given."""
    return Drive(name or next(iter(ratios)), DriveKind.SLIDES, ratios, -1000.0, 1000.0)


def machine(
    joints: Iterable[Joint], *drives: Drive, fixed: Sequence[str] = (GROUND,), more: Sequence[str] = ()
) -> Machine:
    """The machine of ``joints``; ``more`` names parts that no joint holds."""
    listed = list(joints)
    names = dict.fromkeys([*fixed, *(end for joint in listed for end in (joint.first, joint.second)), *more])
    parts = {name: Part(name, (), fixed=name in fixed) for name in names}
    return Machine(
        "linkage", parts, {joint.name: joint for joint in listed}, {drive.name: drive for drive in drives}, file="file"
    )


def with_place(
    made: Machine, joint: str, *, first: ArrayLike | None = None, second: ArrayLike | None = None
) -> Machine:
    """``made`` with ``joint`` elsewhere in one of its parts: that part's length was edited."""
    old = made.joints[joint]
    places = (
        vector(given) if given is not None else drawn
        for given, drawn in ((first, old.at_first), (second, old.at_second))
    )
    edited = Joint(old.name, old.kind, old.first, old.second, *places, old.along, old.along_second)
    return Machine(made.name, made.parts, {**made.joints, joint: edited}, made.drives, file=made.file)


@dataclass(frozen=True, eq=False)
class Moved:
    """A machine at N settings."""

    mechanism: Mechanism
    solved: Solved

    def frames(self, part: str) -> Floats:
        """(N, 4, 4) world from the part as drawn."""
        return self.mechanism.world_from_rest(self.solved.posture, part)

    def point(self, part: str, at: ArrayLike) -> Floats:
        """Where (N, 3) the point of ``part`` drawn ``at`` stands."""
        frames = self.frames(part)
        return frames[:, :3, :3] @ np.array(vector(at)) + frames[:, :3, 3]

    def turn(self, part: str, axis: ArrayLike = Z, seen_from: str = GROUND) -> Floats:
        """Turn (N,) of ``part`` about ``axis`` as drawn against another part, degrees, -180 to 180."""
        n = np.asarray(axis, dtype=np.float64) / np.linalg.norm(axis)
        rotations = np.swapaxes(self.frames(seen_from)[:, :3, :3], 1, 2) @ self.frames(part)[:, :3, :3]
        assert np.abs(rotations @ n - n).max() < 1e-7, f"{part} does not turn about this axis alone"
        sine = 0.5 * np.einsum("i,ijk,nkj->n", n, _LEVI_CIVITA, rotations)
        return np.degrees(np.arctan2(sine, 0.5 * (np.trace(rotations, axis1=1, axis2=2) - 1)))


_LEVI_CIVITA = np.array([np.cross(np.eye(3)[i], np.eye(3)) for i in range(3)])


def move(made: Machine | Mechanism, settings: ArrayLike) -> Moved:
    """The machine at ``settings`` (N,) or (N, d), all of which must be reached."""
    mechanism = assemble(made) if isinstance(made, Machine) else made
    solved = solve(mechanism, np.asarray(settings, dtype=np.float64).reshape(-1, len(mechanism.machine.drives)))
    assert solved.reached.all(), f"not reached: {solved.settings[~solved.reached].tolist()}"
    return Moved(mechanism, solved)


def wrapped(degrees: ArrayLike) -> Floats:
    """Angles between -180 and 180."""
    return (np.asarray(degrees, dtype=np.float64) + 180.0) % 360.0 - 180.0


def planar(bars: Mapping[str, tuple[str, str, ArrayLike]], along: ArrayLike = Z) -> list[Joint]:
    """Pins by name: (first part, second part, place)."""
    return [pin(name, first, second, at, along) for name, (first, second, at) in bars.items()]
