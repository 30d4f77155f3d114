"""A static load case at one posture: the reaction in every joint, the effort of every drive, and what ratings say.

Equilibrium alone answers; nothing bends. Where a machine is held more than once, equilibrium does not settle how the
joints share the load: such parts of a reaction are left open, never guessed. Ratings are the builder's own numbers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import unit
from assembly.model.faults import nearest, shown
from assembly.model.load_case import LoadCase, check_parts
from assembly.model.machine import JointKind, Vector
from assembly.model.quantities import require_positive
from assembly.motion.mechanism import Mechanism
from assembly.motion.reactions import (
    DriveEffort,
    JointEffort,
    Reaction,
    Roll,
    drive_efforts,
    joint_efforts,
    joints_of,
    load_of,
    push_between,
    reactions,
    rolls,
)
from assembly.motion.rows import Posture
from assembly.motion.statics import Statics, find_slack, statics_at

NEAR_TOGGLE = 0.02
"""Blocks whose smallest singular value is below this share of the largest are called out: a plain four-bar about 6°
from its dead centre."""

NO_EFFECT = 1e-9
"""N·mm or N per newton: a stop that changes its drive's effort by less does not act on it."""


@dataclass(frozen=True, slots=True)
class NearToggle:
    """Parts that are held softly: small loads make large forces, and play makes large motions."""

    parts: tuple[str, ...]
    joints: tuple[str, ...]
    share: float
    """Smallest singular value over the largest of the rows that place them; 0 is a dead centre."""


@dataclass(frozen=True, slots=True, eq=False)
class Loads:
    """Everything that holds the machine under one load case at one posture."""

    reactions: Mapping[str, Reaction]
    joint_efforts: tuple[JointEffort, ...]
    drive_efforts: tuple[DriveEffort, ...]
    rolls: tuple[Roll, ...]
    near_toggles: tuple[NearToggle, ...]
    not_told: tuple[tuple[str, str], ...]
    """(joint, reason)."""


@dataclass(frozen=True, slots=True)
class Stop:
    """A solid stop that holds a drive: it pushes ``striker`` at the point drawn ``at`` (mm, rest), and ``struck`` back.

    ``push`` is the direction of the force on the striker in the ground's frame at the posture asked for.
    """

    striker: str
    struck: str
    at: Vector
    push: Vector
    drive: str


@dataclass(frozen=True, slots=True, eq=False)
class StopLoads:
    """The force in N on the stop that lets its drive go, and what holds the machine then."""

    newtons: float
    loads: Loads


class RatingVerdict(StrEnum):
    """What a rating says of a joint."""

    WITHIN = "within"
    EXCEEDED = "exceeded"
    OPEN = "open"
    """The split depends on stiffness, and what is settled alone does not exceed the rating."""


@dataclass(frozen=True, slots=True)
class Rating:
    """The builder's number for what a joint stands, N; ``radial``: for the force square to its line alone."""

    newtons: float
    radial: bool = False


@dataclass(frozen=True, slots=True)
class RatingCheck:
    """A joint's force beside its rating; ``newtons`` is None where it is open, ``least`` what it is at least."""

    joint: str
    rating: float
    newtons: float | None
    least: float

    @property
    def verdict(self) -> RatingVerdict:
        """Exceeded already where what is settled alone exceeds it."""
        if self.least > self.rating:
            return RatingVerdict.EXCEEDED
        return RatingVerdict.OPEN if self.newtons is None else RatingVerdict.WITHIN

    @property
    def reserve(self) -> float | None:
        """N that are left, below zero where the rating is exceeded; None where the force is open."""
        return None if self.newtons is None else self.rating - self.newtons


def loads_at(mechanism: Mechanism, posture: Posture, case: LoadCase) -> Loads:
    """What holds ``mechanism`` at its one ``posture`` under ``case``.

    Raises InputError for a load on no part, AssemblyError at a dead centre.
    """
    check_parts(mechanism.machine, case.parts, "a load names")
    statics = statics_at(mechanism, posture)
    return _loads(statics, load_of(statics, case))


def loads_with_stop(mechanism: Mechanism, posture: Posture, case: LoadCase, stop: Stop) -> StopLoads:
    """As ``loads_at``, with ``stop`` in place of its drive's effort; other drives hold as before.

    A drive that moves several joints still ties them to each other. Raises InputError for a stop that does not act on
    its drive or that the load leaves.
    """
    check_parts(mechanism.machine, case.parts, "a load names")
    drive = _checked_drive(mechanism, stop)
    statics = statics_at(mechanism, posture)
    load = load_of(statics, case)
    per_newton = push_between(statics, stop.striker, stop.struck, stop.at, unit(stop.push))
    wanted, given = (float(_per_setting(statics, each)[drive]) for each in (load, per_newton))
    if abs(given) < NO_EFFECT:
        hint = "let it push square to a lever about the drive's joint, and against a part that stands still"
        raise InputError(Fault(f"the stop does not act on drive {shown(stop.drive)}", hint=hint))
    newtons = -wanted / given
    if newtons < 0:
        hint = "turn its direction round, or put the stop on the other side"
        raise InputError(Fault(f"the load pulls {shown(stop.striker)} away from the stop", hint=hint))
    return StopLoads(newtons, _loads(statics, load + newtons * per_newton))


def check_ratings(loads: Loads, ratings: Mapping[str, Rating]) -> tuple[RatingCheck, ...]:
    """Each rated joint's force beside its rating, least reserve first and open ones last.

    Raises InputError for a rating that is not above zero, of no joint, or radial where the joint has no line.
    """
    require_positive(*((f"the rating of joint {shown(name)}", rated.newtons, "N") for name, rated in ratings.items()))
    faults = []
    for name, rated in ratings.items():
        reaction = loads.reactions.get(name)
        if reaction is None:
            hint = nearest(name, loads.reactions, "joints that carry a reaction")
            faults.append(Fault(f"a rating names {shown(name)}, which is no joint that moves", hint=hint))
        elif rated.radial and reaction.line is None:
            hint = "give a rod end its `bolt` in the file, or rate the whole force"
            faults.append(Fault(f"joint {shown(name)} has no line for a radial rating", hint=hint))
    if faults:
        raise InputError(*faults)
    checks = [_check(loads.reactions[name], rated) for name, rated in ratings.items()]
    return tuple(sorted(checks, key=lambda check: (check.reserve is None, check.reserve or 0.0)))


def _check(reaction: Reaction, rated: Rating) -> RatingCheck:
    name, force = reaction.joint.name, reaction.force
    if rated.radial and reaction.line is not None:
        return RatingCheck(name, rated.newtons, reaction.radial, force.least_across(reaction.line))
    return RatingCheck(name, rated.newtons, force.size, force.least)


def _checked_drive(mechanism: Mechanism, stop: Stop) -> int:
    """Number of the drive that ``stop`` holds."""
    machine = mechanism.machine
    check_parts(machine, (stop.striker, stop.struck), "the stop names")
    require_positive(("the length of the stop's direction", float(np.linalg.norm(stop.push)), ""))
    if stop.drive not in machine.drives:
        hint = nearest(stop.drive, machine.drives, "drives")
        raise InputError(Fault(f"there is no drive {shown(stop.drive)}", hint=hint))
    return list(machine.drives).index(stop.drive)


def _per_setting(statics: Statics, load: Floats) -> list[float]:
    return [effort.value for effort in drive_efforts(statics, statics.multipliers(load))]


def _loads(statics: Statics, load: Floats) -> Loads:
    multipliers, mechanism = statics.multipliers(load), statics.mechanism
    near = tuple(
        NearToggle(
            tuple(mechanism.bodies.label(body) for body in slack.bodies), joints_of(statics, slack.bodies), slack.share
        )
        for slack in find_slack(statics, NEAR_TOGGLE)
    )
    rigid = [joint.name for joint in mechanism.machine.joints.values() if joint.kind is JointKind.RIGID]
    return Loads(
        reactions(statics, multipliers),
        joint_efforts(statics, multipliers),
        drive_efforts(statics, multipliers),
        tuple(rolls(statics, multipliers, load)),
        near,
        tuple((name, "welded or bolted parts are one body here; nothing between them is told") for name in rigid),
    )
