"""Figures of wheels, of pairs and of the machine against its road; signs by ISO 8855 where that has them.

Forward, left and up of the road are +x, +y and +z. A wheel's steer angle is from forward to where it rolls, about up,
so positive to the left; toe is positive where the fronts of a pair come together, camber where a wheel's top leans
outward, caster where a kingpin's top lies rearward, inclination where it leans inward. Camber is how far the axle rises
from the road, whatever the steer; caster and inclination are seen along the road's y and x.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from assembly.geometry.mesh import Flags, Floats
from assembly.kinematics.stance import FORWARD, LEFT, Rule, Stance
from assembly.kinematics.taylor import Taylor, angle, cross_product, inner_product, inverse, size_of
from assembly.model.wheel import WheelSide, WheelWord


def _steer(stance: Stance, names: Sequence[str]) -> Taylor:
    spin = stance.spin(names[0])
    return _within_half_a_turn(inner_product(spin, stance.x).times(-1.0), inner_product(spin, stance.y))


def _within_half_a_turn(sine: Taylor, cosine: Taylor) -> Taylor:
    """An angle from -π to π; of a cell in which it may pass half a turn, no more is known than that."""
    found = angle(sine, cosine)
    passed = np.abs(found.value) + found.reach > np.pi
    return replace(found, rest=np.where(passed, np.maximum(found.rest, 2 * np.pi), found.rest))


def _toe(stance: Stance, names: Sequence[str]) -> Taylor:
    return _steer(stance, names).times(-_outward(stance, names[0]))


def _toe_mm(stance: Stance, names: Sequence[str]) -> Taylor:
    """The front of the rim comes in by the rim's diameter times the sine of toe, against its rear."""
    wheel = stance.layout.wheels[names[0]].wheel
    ahead, _ = stance.heading(names[0])
    return inner_product(ahead, stance.y).times(-_outward(stance, names[0]) * wheel.toe_diameter)


def _camber(stance: Stance, names: Sequence[str]) -> Taylor:
    return _elevation(stance, stance.spin(names[0])).times(-_outward(stance, names[0]))


def _caster(stance: Stance, names: Sequence[str]) -> Taylor:
    _, pin = stance.kingpin(names[0])
    return _within_half_a_turn(inner_product(pin, stance.x).times(-1.0), inner_product(pin, stance.z))


def _inclination(stance: Stance, names: Sequence[str]) -> Taylor:
    _, pin = stance.kingpin(names[0])
    inward = inner_product(pin, stance.y).times(-_outward(stance, names[0]))
    return _within_half_a_turn(inward, inner_product(pin, stance.z))


def _trail(stance: Stance, names: Sequence[str]) -> Taylor:
    ahead, _ = stance.heading(names[0])
    return inner_product(stance.pin_on_road(names[0]) - stance.contact(names[0]), ahead)


def _scrub(stance: Stance, names: Sequence[str]) -> Taylor:
    _, left = stance.heading(names[0])
    away = stance.contact(names[0]) - stance.pin_on_road(names[0])
    return inner_product(away, left).times(_outward(stance, names[0]))


def _total_toe(stance: Stance, names: Sequence[str]) -> Taylor:
    return _toe(stance, names[:1]) + _toe(stance, names[1:2])


def _total_toe_mm(stance: Stance, names: Sequence[str]) -> Taylor:
    return _toe_mm(stance, names[:1]) + _toe_mm(stance, names[1:2])


def _steered(stance: Stance, names: Sequence[str]) -> Taylor:
    return (_steer(stance, names[:1]) + _steer(stance, names[1:2])).times(0.5)


def _outer_error(stance: Stance, names: Sequence[str]) -> Taylor:
    """The outer wheel's angle less the ideal one to the inner's; by cot(outer) - cot(inner) = w / l.

    Turning to the left the left wheel is the inner one. Where a cell turns both ways, both are held.
    """
    left, right = (_steer(stance, names[k : k + 1]) for k in range(2))
    ways = [_excess(stance, names, right, 1.0), _excess(stance, names, left, -1.0)]
    mean = (left + right).times(0.5)
    chosen = mean.value >= 0
    both = np.abs(mean.value) <= mean.reach
    value = np.where(chosen, ways[0].value, ways[1].value)
    flat = np.maximum(*(np.abs(one.value - value) + one.reach for one in ways))
    flat = np.where(np.isnan(flat), np.inf, flat)
    first, second, rest = (
        np.where(_wide(chosen, a), a, b)
        for a, b in ((getattr(ways[0], key), getattr(ways[1], key)) for key in ("first", "second", "rest"))
    )
    return Taylor(
        value,
        np.where(_wide(both, first), 0.0, first),
        np.where(_wide(both, second), 0.0, second),
        np.where(both, flat, rest),
        mean.half,
    )


def _wide(flags: Flags, like: Floats) -> Flags:
    return flags.reshape(-1, *(1,) * (like.ndim - 1))


def _excess(stance: Stance, names: Sequence[str], outer: Taylor, way: float) -> Taylor:
    """``way`` times the outer angle less the ideal: tan(ideal) = sin(inner) / (cos(inner) + way w / l sin(inner))."""
    sine, cosine = _sine_cosine(stance, names[0] if way > 0 else names[1])
    ratio = _pivot_distance(stance, names) * inverse(_wheelbase(stance, names))
    ideal = angle(sine, cosine + (ratio * sine).times(way))
    return (outer - ideal).times(way)


def _sine_cosine(stance: Stance, name: str) -> tuple[Taylor, Taylor]:
    """Of a wheel's steer angle, both by the same positive number."""
    spin = stance.spin(name)
    return inner_product(spin, stance.x).times(-1.0), inner_product(spin, stance.y)


def _pivot_distance(stance: Stance, names: Sequence[str]) -> Taylor:
    """How far the two kingpins stand apart, across, where they meet the road; of wheels without one, the contacts."""
    left, right = (
        stance.pin_on_road(name) if stance.layout.wheels[name].wheel.kingpin else stance.contact(name)
        for name in names[:2]
    )
    return inner_product(left - right, stance.y)


def _track(stance: Stance, names: Sequence[str]) -> Taylor:
    return inner_product(stance.contact(names[0]) - stance.contact(names[1]), stance.y)


def _wheelbase(stance: Stance, names: Sequence[str]) -> Taylor:
    """From the third contact to the middle of the pair's, along X."""
    front = (stance.contact(names[0]) + stance.contact(names[1])).times(0.5)
    return inner_product(front - third_contact(stance, names), stance.x)


def third_contact(stance: Stance, names: Sequence[str]) -> Taylor:
    """Where the machine stands besides this pair."""
    if len(names) > 2:
        return stance.contact(names[2])
    return stance.road.contacts[-1]


def _lean(stance: Stance, _: Sequence[str]) -> Taylor:
    return _elevation(stance, stance.frame(LEFT))


def _pitch(stance: Stance, _: Sequence[str]) -> Taylor:
    return _elevation(stance, stance.frame(FORWARD))


def _elevation(stance: Stance, direction: Taylor) -> Taylor:
    """How a unit direction rises from the road."""
    return angle(inner_product(direction, stance.z), size_of(cross_product(direction, stance.z)))


def _outward(stance: Stance, name: str) -> float:
    """The sign of y outward."""
    return -1.0 if stance.layout.wheels[name].wheel.side is WheelSide.RIGHT else 1.0


RULES: dict[WheelWord, Rule] = {
    WheelWord.TOE: _toe,
    WheelWord.TOE_MM: _toe_mm,
    WheelWord.STEER: _steer,
    WheelWord.CAMBER: _camber,
    WheelWord.CASTER: _caster,
    WheelWord.INCLINATION: _inclination,
    WheelWord.TRAIL: _trail,
    WheelWord.SCRUB: _scrub,
    WheelWord.TOTAL_TOE: _total_toe,
    WheelWord.TOTAL_TOE_MM: _total_toe_mm,
    WheelWord.STEERED: _steered,
    WheelWord.OUTER_ERROR: _outer_error,
    WheelWord.TRACK: _track,
    WheelWord.WHEELBASE: _wheelbase,
    WheelWord.LEAN: _lean,
    WheelWord.PITCH: _pitch,
}
