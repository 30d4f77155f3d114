"""Wheels and the road that they stand on, as plain values: mm and unit vectors as drawn, x forward, y left, z up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from assembly.model.feature import GROUND, Feature
from assembly.model.quantities import Vector

CONTACTS = 3
"""Points by which a machine stands on one plane and no other."""


class WheelSide(StrEnum):
    """Where a wheel stands, by the y of its centre as drawn."""

    LEFT = "left"
    RIGHT = "right"
    MIDDLE = "middle"


class WheelWord(StrEnum):
    """What is told of a wheel, a pair or the machine."""

    TOE = "toe"
    TOE_MM = "toe_mm"
    STEER = "steer"
    CAMBER = "camber"
    CASTER = "caster"
    INCLINATION = "inclination"
    TRAIL = "trail"
    SCRUB = "scrub_radius"
    TOTAL_TOE = "total_toe"
    TOTAL_TOE_MM = "total_toe_mm"
    STEERED = "steered"
    OUTER_ERROR = "outer_error"
    TRACK = "track"
    WHEELBASE = "wheelbase"
    LEAN = "lean"
    PITCH = "pitch"

    @property
    def unit(self) -> str:
        """``deg`` or ``mm``."""
        return "mm" if self in _LENGTHS else "deg"


_LENGTHS = frozenset(
    (
        WheelWord.TOE_MM,
        WheelWord.TRAIL,
        WheelWord.SCRUB,
        WheelWord.TOTAL_TOE_MM,
        WheelWord.TRACK,
        WheelWord.WHEELBASE,
    )
)


OF_SIDE = (WheelWord.TOE, WheelWord.TOE_MM)
OF_KINGPIN = (WheelWord.CASTER, WheelWord.INCLINATION, WheelWord.TRAIL, WheelWord.SCRUB)
OF_PAIR = (WheelWord.TOTAL_TOE, WheelWord.TOTAL_TOE_MM, WheelWord.STEERED, WheelWord.TRACK)
OF_PAIR_AND_REAR = (WheelWord.OUTER_ERROR, WheelWord.WHEELBASE)
OF_MACHINE = (WheelWord.LEAN, WheelWord.PITCH)
LEAST_WHEELBASE = 1.0
"""mm that a wheel is drawn behind a pair to be one that stands behind it."""


@dataclass(frozen=True, slots=True)
class FigureLimit:
    """A figure of a wheel, of a pair or of the machine may be ``least`` to ``most`` (deg or mm, None: anything).

    ``at``: the setting of which that is said; None for the whole range.
    """

    figure: WheelWord
    least: float | None
    most: float | None
    at: Mapping[str, float] | None = None


@dataclass(frozen=True, slots=True)
class Kingpin:
    """The line that a wheel steers about, by two points of ``part``; the upper one may be named on ``upper_part``."""

    part: str
    lower: Vector
    upper: Vector
    upper_part: str


@dataclass(frozen=True, slots=True)
class Wheel:
    """One wheel that moves with ``part``.

    ``spin``: the unit vector of its axle, pointing left. The tyre is a ring of round section: ``section`` is its width
    and ``tyre_diameter`` its outer diameter. ``toe_diameter``: at which toe is told in mm, the rim's or the tyre's.
    """

    name: str
    part: str
    centre: Vector
    spin: Vector
    tyre_diameter: float
    section: float
    rim_diameter: float | None = None
    kingpin: Kingpin | None = None
    limits: tuple[FigureLimit, ...] = ()

    @property
    def crown(self) -> float:
        """Radius of the tyre's round section."""
        return self.section / 2

    @property
    def ring(self) -> float:
        """Radius of the circle through the middles of the section."""
        return self.tyre_diameter / 2 - self.crown

    @property
    def toe_diameter(self) -> float:
        """Mm across which toe is told in mm."""
        return self.rim_diameter or self.tyre_diameter

    @property
    def side(self) -> WheelSide:
        """Left or right of the middle; a centre nearer to it than half the section is in the middle."""
        if abs(self.centre[1]) <= self.crown:
            return WheelSide.MIDDLE
        return WheelSide.LEFT if self.centre[1] > 0 else WheelSide.RIGHT


@dataclass(frozen=True, slots=True)
class Road:
    """The plane on which the machine stands: that of three contacts, or a stated ``plane`` that moves with a part.

    ``contact``: a point that stands on the road where there are two wheels. ``rests_on``: the wheels whose tyres
    touch it. ``frame``: the part whose x is forward and whose lean is told; what stands still where none is named.
    ``toe_set_at``: the setting at which toe is set; ``toe_wanted``: the total toe of a pair in mm that it is set to.
    """

    contact: Feature | None = None
    plane: Feature | None = None
    rests_on: tuple[str, ...] = ()
    frame: str = GROUND
    toe_set_at: Mapping[str, float] = field(default_factory=dict)
    limits: tuple[FigureLimit, ...] = ()
    toe_wanted: float | None = None


@dataclass(frozen=True, slots=True)
class Wheels:
    """All wheels of a machine by name, and the road under them; ``pairs``: a left and a right wheel of one axle."""

    wheels: Mapping[str, Wheel] = field(default_factory=dict)
    road: Road = Road()

    @property
    def pairs(self) -> tuple[tuple[Wheel, Wheel], ...]:
        """Left and right wheels whose centres are drawn nearer in x than the tyre's radius, each used once."""
        rights = [one for one in self.wheels.values() if one.side is WheelSide.RIGHT]
        found = []
        for left in (one for one in self.wheels.values() if one.side is WheelSide.LEFT):
            near = min(rights, key=lambda one: abs(one.centre[0] - left.centre[0]), default=None)
            if near is not None and abs(near.centre[0] - left.centre[0]) < left.tyre_diameter / 2:
                rights.remove(near)
                found.append((left, near))
        return tuple(found)


NO_WHEELS = Wheels()


def words_of(wheel: Wheel) -> tuple[WheelWord, ...]:
    """The figures that a wheel has."""
    sided = OF_SIDE if wheel.side is not WheelSide.MIDDLE else ()
    return (*sided, WheelWord.STEER, WheelWord.CAMBER, *(OF_KINGPIN if wheel.kingpin else ()))


def figures_of_wheels(wheels: Wheels) -> Iterator[tuple[WheelWord, tuple[str, ...]]]:
    """Every figure by its word and the wheels that it is of."""
    if not wheels.wheels:
        return
    yield from ((word, ()) for word in OF_MACHINE)
    for left, right in wheels.pairs:
        pair = (left.name, right.name)
        yield from ((word, pair) for word in OF_PAIR)
        rear = _rear(wheels, (left, right))
        if rear is not None:
            yield from ((word, (*pair, *rear)) for word in OF_PAIR_AND_REAR)
    for one in wheels.wheels.values():
        yield from ((word, (one.name,)) for word in words_of(one))


def _rear(wheels: Wheels, pair: tuple[Wheel, Wheel]) -> tuple[str, ...] | None:
    """The rearmost wheel, or nothing where a stated contact stands for it; None where neither is behind the pair."""
    ahead = min(one.centre[0] for one in pair)
    others = [one for one in wheels.wheels.values() if one not in pair]
    if others:
        rear = min(others, key=lambda one: one.centre[0])
        return (rear.name,) if rear.centre[0] < ahead - LEAST_WHEELBASE else None
    contact = wheels.road.contact
    behind = contact is not None and contact.at is not None and contact.at[0] < ahead - LEAST_WHEELBASE
    return () if behind else None
