"""Parts that roll about the line through their ends, described so that the line stays where it is drawn.

Where dimensions vary, the ends e and e + L of a rod are drawn at e + d and e + L + d + δ. The rod is looked at in axes
of its own that are shifted by d and turned by the shortest turn from L to L + δ: there one end stays, and the other
shifts along the line alone, so a roll about it is a roll at every choice of the dimensions. Any other point x of the
rod, drawn at x + v, then shifts by v - d - ω × (x - e) with ω = L × δ / |L|², to first order in the dimensions.

Rest (closed form). With θ the angle of the turn, r = |δ| / |L| <= ``FARTHEST`` and w = v - d, the turn of a vector z
back is z - θ × z and at most θ²/2 |z| more, |θ| <= 1.05 r, and |θ - ω| <= 1.1 r². So a point shifts by what the first
order says and at most 1.7 r² (|x - e| + |w|) + 1.05 r |w|; the end, along the line, by |δ|² / (2 (|L| - |δ|)).

Lines that are drawn in the rod, of a bolt or an eye, stay as drawn and so are off by at most θ in its own axes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from assembly.clearance.tolerances.readings import DimensionBound, Readings
from assembly.geometry.mesh import Floats
from assembly.kinematics.freedoms import IdleRoll
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.perturbed import ON_LINE
from assembly.kinematics.roll_columns import roll_line

FARTHEST = 0.05
"""Share of a rod's length that one end may shift against the other."""
STAYS = 1e-12
"""rad per unit: a line that turns by less does not turn."""
SECOND, CROSS, TURN = 1.7, 1.05, 1.05
"""The factors of the rest above, and of the turn."""

JointEnd = tuple[str, int]
"""A joint, and 0 or 1 for its place in its first or its second part."""


@dataclass(frozen=True, slots=True, eq=False)
class Alignment:
    """How a rolling body is looked at: the end that ``stays``, the other, which ``slides``, and what shifts and turns.

    ``at`` (3,) mm is the end that stays as drawn, ``along`` (3,) the unit vector to the other; ``shift`` and ``turn``
    (k, 3) of each dimension; ``ratio`` is r above, ``turned`` the most that it turns, rad; ``lengthened`` (k,) and
    ``rest`` mm: how far the other end slides.
    """

    stays: JointEnd
    slides: JointEnd
    at: Floats
    along: Floats
    shift: Floats
    turn: Floats
    ratio: float
    turned: float
    lengthened: Floats
    rest: float
    reach: Floats
    """(k,) how far each dimension may be off."""
    unsure: float
    """mm: what is not straight in where the two ends are drawn."""
    size: float
    """mm between the ends."""

    def seen(self, places: DimensionBound) -> DimensionBound:
        """Places (..., 3) of the body as drawn, in the axes that are shifted and turned."""
        lever = places.value - self.at
        extra = (1,) * (places.value.ndim - 1)
        own = places.slopes - self.shift.reshape(-1, *extra, 3)
        slopes = own - np.cross(self.turn.reshape(-1, *extra, 3), lever)
        if not self.ratio and not self.unsure:
            return replace(places, slopes=slopes)
        far = np.einsum("k...,k->...", np.linalg.norm(own, axis=-1), self.reach) + np.linalg.norm(places.rest, axis=-1)
        arm = np.linalg.norm(lever, axis=-1)
        rest = SECOND * self.ratio**2 * (arm + far) + CROSS * self.ratio * far
        rest = rest + CROSS * self.unsure * (1 + arm / self.size)
        return DimensionBound(places.value, slopes, places.rest + rest[..., None])


def alignments(
    mechanism: Mechanism, readings: Readings, ends: Mapping[JointEnd, DimensionBound]
) -> dict[str, Alignment | str]:
    """How each part is looked at that can roll and of which an end in ``ends`` varies, by its name.

    For a part of which nothing can be bounded, the reason.
    """
    made: dict[str, Alignment | str] = {}
    for roll in mechanism.idle:
        parts = [name for body in roll.bodies for name in mechanism.bodies.members[body]]
        varying = any(_part_of(mechanism, end) in parts and _varies(one) for end, one in ends.items())
        if varying:
            made |= dict.fromkeys(parts, _alignment(mechanism, readings, roll, ends))
    return made


def _part_of(mechanism: Mechanism, end: JointEnd) -> str:
    joint = mechanism.machine.joints[end[0]]
    return joint.second if end[1] else joint.first


def _varies(one: DimensionBound) -> bool:
    return bool(one.slopes.any() or one.rest.any())


def _alignment(
    mechanism: Mechanism, readings: Readings, roll: IdleRoll, ends: Mapping[JointEnd, DimensionBound]
) -> Alignment | str:
    lead = roll.bodies[0]
    names = ", ".join(mechanism.bodies.members[lead])
    if len(roll.bodies) > 1:
        return f"{names} rolls with another part, and dimensions move its ends"
    at, along = roll_line(mechanism, lead, roll)
    own = {end: one for end, one in ends.items() if _part_of(mechanism, end) in mechanism.bodies.members[lead]}
    reach = {end: float((one.value - at) @ along) for end, one in own.items()}
    off = [np.linalg.norm(np.cross(one.value - at, along)) for one in own.values()]
    if len(own) != 2 or max(off) > ON_LINE or roll.clamped:
        why = "is clamped" if roll.clamped else "has more than two joints"
        return f"{names} can roll and {why}, and dimensions move its ends"
    stays, slides = sorted(own, key=lambda end: reach[end])
    far = np.array([one.reach for one in readings.tolerances])
    delta, rest = _apart(own[stays], own[slides], far)
    size = float(np.linalg.norm(own[slides].value - own[stays].value))
    if delta > FARTHEST * size:
        return f"dimensions move the ends of {names} by {delta:.3g} mm against each other, too far for its length"
    return _aligned((stays, slides), (own[stays], own[slides]), far, (delta, rest))


def _apart(stays: DimensionBound, slides: DimensionBound, far: Floats) -> tuple[float, float]:
    """How far (mm) two ends may shift against each other, and what of it is not straight."""
    rest = float(np.linalg.norm(slides.rest) + np.linalg.norm(stays.rest))
    return float(np.linalg.norm(slides.slopes - stays.slopes, axis=1) @ far) + rest, rest


def _aligned(
    names: tuple[JointEnd, JointEnd],
    ends: tuple[DimensionBound, DimensionBound],
    far: Floats,
    shifts: tuple[float, float],
) -> Alignment:
    """The alignment to two ends that may shift against each other by ``shifts``, as ``_apart`` gives them."""
    (stays, slides), (delta, rest) = ends, shifts
    length, apart = slides.value - stays.value, slides.slopes - stays.slopes
    size = float(np.linalg.norm(length))
    unit = length / size
    turn = np.cross(length, apart) / size**2
    ratio = delta / size if rest or np.abs(turn).max(initial=0.0) > STAYS else 0.0
    return Alignment(
        stays=names[0],
        slides=names[1],
        at=stays.value,
        along=unit,
        shift=stays.slopes,
        turn=turn if ratio else np.zeros_like(turn),
        ratio=ratio,
        turned=TURN * ratio,
        lengthened=apart @ unit,
        rest=(ratio * size) ** 2 / (2 * (size - delta)) + rest,
        reach=far,
        unsure=rest,
        size=size,
    )
