"""The force in a joint beside what its builder says that it stands; no rating is built in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from assembly.errors import Fault, InputError
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Machine, RatedForce
from assembly.model.quantities import require_positive
from assembly.statics.reactions import Reaction


class RatingVerdict(StrEnum):
    """What a rating says of a joint."""

    WITHIN = "within"
    EXCEEDED = "exceeded"
    OPEN = "open"
    """The split depends on stiffness, and what is settled alone does not exceed the rating."""


_WORST_FIRST = (RatingVerdict.EXCEEDED, RatingVerdict.OPEN, RatingVerdict.WITHIN)


@dataclass(frozen=True, slots=True)
class Rating:
    """The builder's number for what a joint stands, N, of the whole force or of its part across or along the line."""

    joint: str
    newtons: float
    of: RatedForce = RatedForce.WHOLE


@dataclass(frozen=True, slots=True)
class RatingCheck:
    """A joint's force beside its rating; ``newtons`` is None if it is open, ``least`` what it is at least."""

    rating: Rating
    newtons: float | None
    least: float

    @property
    def verdict(self) -> RatingVerdict:
        """Exceeded already where what is settled alone exceeds it."""
        if self.least > self.rating.newtons:
            return RatingVerdict.EXCEEDED
        return RatingVerdict.OPEN if self.newtons is None else RatingVerdict.WITHIN

    @property
    def reserve(self) -> float | None:
        """N that are left, below zero where the rating is exceeded; None if the force is open."""
        return None if self.newtons is None else self.rating.newtons - self.newtons

    @property
    def rank(self) -> tuple[int, float]:
        """Small for what matters most: exceeded before open before within, and then by what can be left at most."""
        return _WORST_FIRST.index(self.verdict), self.rating.newtons - self.least


def ratings_of(machine: Machine) -> tuple[Rating, ...]:
    """Every rating that the file gives, in its order."""
    return tuple(Rating(joint.name, newtons, of) for joint in machine.joints.values() for of, newtons in joint.ratings)


def check_ratings(reactions: Mapping[str, Reaction], ratings: Iterable[Rating]) -> tuple[RatingCheck, ...]:
    """Each rated joint's force beside its rating: exceeded ones, then open ones, then the least margin first.

    Raises InputError for a rating that is not above zero, of no joint, or of a direction that the joint has not.
    """
    every = list(ratings)
    require_positive(*((f"the rating of joint {shown(each.joint)}", each.newtons, "N") for each in every))
    faults = []
    for each in every:
        reaction = reactions.get(each.joint)
        if reaction is None:
            hint = nearest(each.joint, reactions, "joints that carry a reaction")
            faults.append(Fault(f"a rating names {shown(each.joint)}, which is no joint that moves", hint=hint))
        elif each.of is not RatedForce.WHOLE and reaction.line is None:
            hint = "give a rod end its `bolt` in the file, or rate the whole force"
            faults.append(Fault(f"joint {shown(each.joint)} has no line that its rating could be told by", hint=hint))
    if faults:
        raise InputError(*faults)
    return tuple(sorted((_check(reactions[each.joint], each) for each in every), key=lambda check: check.rank))


def _check(reaction: Reaction, rating: Rating) -> RatingCheck:
    force, line = reaction.force, reaction.line
    if line is None or rating.of is RatedForce.WHOLE:
        return RatingCheck(rating, force.size, force.least)
    if rating.of is RatedForce.RADIAL:
        return RatingCheck(rating, force.across(line), force.least_across(line))
    along = force.along(line)
    return RatingCheck(rating, None, 0.0) if along is None else RatingCheck(rating, abs(along), abs(along))
