"""How a machine stands on its road: vehicle axes, wheels and contacts as Taylor models, and the bodies they need."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from hashlib import blake2b
from itertools import combinations

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.bodies import GROUND, Bodies
from assembly.kinematics.frames import Frames, at_postures
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.memo import Memo
from assembly.kinematics.road_plane import RoadPlane, Support, lowest_point, road_plane, scaled, stated_plane
from assembly.kinematics.rows import Posture
from assembly.kinematics.taylor import Taylor, cross_product, inner_product, inverse, size_of
from assembly.model.feature import Feature
from assembly.model.wheel import CONTACTS, Wheel, Wheels

FORWARD, LEFT, UP = np.eye(3)
STATED = "stated contact"
"""What stands on the road where there are two wheels."""
ROADS_KEPT = 32
"""Roads that are kept: figures are asked for one after another at the same postures and cells."""


@dataclass(frozen=True, slots=True, eq=False)
class RoadAxes:
    """The road, and the unit directions forward and left in it."""

    road: RoadPlane
    x: Taylor
    y: Taylor


@dataclass(frozen=True, slots=True, eq=False)
class Mounted:
    """A wheel, the body that it moves with, and that of its kingpin."""

    wheel: Wheel
    body: int
    kingpin: int

    @property
    def support(self) -> Support:
        """Its tyre."""
        one = self.wheel
        return Support(self.body, np.array(one.centre), np.array(one.spin), one.ring, one.crown)


@dataclass(frozen=True, slots=True, eq=False)
class WheelLayout:
    """The wheels of a machine by name, what its road rests on, and the body of its frame.

    ``plane``: of a stated road, the body that it moves with. ``rests_on``: the names of the supports that are wheels.
    ``known``: the roads that were found last, by all that they follow from; they change no figure, only how soon it is
    told.
    """

    wheels: Mapping[str, Mounted]
    supports: tuple[Support, ...]
    frame: int
    plane: tuple[int, Feature] | None = None
    rests_on: tuple[str, ...] = ()
    known: dict[bytes, RoadAxes] = field(default_factory=dict)

    @property
    def bodies(self) -> tuple[int, ...]:
        """All bodies that the road and the vehicle's axes depend on, each once."""
        own = (self.frame, *((self.plane[0],) if self.plane else (one.body for one in self.supports)))
        return tuple(dict.fromkeys(own))

    def among(self, bodies: Sequence[int]) -> WheelLayout:
        """The same over these ``bodies`` only, in this order; wheels on others are left out."""
        number = bodies.index
        kept = {
            name: replace(one, body=number(one.body), kingpin=number(one.kingpin))
            for name, one in self.wheels.items()
            if one.body in bodies and one.kingpin in bodies
        }
        supports = () if self.plane else tuple(replace(one, body=number(one.body)) for one in self.supports)
        plane = self.plane and (number(self.plane[0]), self.plane[1])
        return WheelLayout(kept, supports, number(self.frame), plane, self.rests_on, self.known)

    def axes_in(self, frames: Frames) -> RoadAxes:
        """The road under this machine in ``frames``."""
        key = self._key(frames)
        if key not in self.known:
            while len(self.known) >= ROADS_KEPT:
                del self.known[next(iter(self.known))]
            self.known[key] = self._axes(frames)
        return self.known[key]

    def _key(self, frames: Frames) -> bytes:
        """A digest of what the road follows from: how its bodies stand and move, by what they are to it."""
        bodies = [*(one.body for one in self.supports), self.plane[0] if self.plane else self.frame, self.frame]
        digest = blake2b(repr((len(self.supports), frames.half.shape)).encode())
        posture = frames.posture.centres, frames.posture.rotations
        rates = frames.shift_rate, frames.turn_rate, frames.shift_bend, frames.turn_bend, frames.shift_rest, frames.tilt
        for each in (*posture, *rates):
            digest.update(np.ascontiguousarray(each[:, bodies]).tobytes())
        digest.update(frames.rest[bodies].tobytes() + frames.half.tobytes())
        return digest.digest()

    def _axes(self, frames: Frames) -> RoadAxes:
        road = self._road(frames)
        y = unit_vector(cross_product(road.normal, frames.direction(self.frame, FORWARD)))
        return RoadAxes(road, cross_product(y, road.normal), y)

    def _road(self, frames: Frames) -> RoadPlane:
        if self.plane is None:
            return road_plane(self.supports, frames, frames.direction(self.frame, UP))
        body, plane = self.plane
        normal, at = frames.direction(body, np.array(plane.along)), frames.point(body, np.array(plane.at))
        return stated_plane(normal, at, (), frames)


def layout_of(wheels: Wheels, bodies: Bodies) -> WheelLayout:
    """The wheels of a machine that is put together."""
    road, body_of = wheels.road, bodies.body_of
    mounted = {
        name: Mounted(one, body_of[one.part], body_of[one.kingpin.part if one.kingpin else one.part])
        for name, one in wheels.wheels.items()
    }
    supports = [mounted[name].support for name in road.rests_on]
    if road.contact is not None:
        supports.append(Support(body_of.get(road.contact.part, GROUND), np.array(road.contact.at)))
    plane = (body_of.get(road.plane.part, GROUND), road.plane) if road.plane else None
    return WheelLayout(mounted, tuple(supports[:CONTACTS]), body_of.get(road.frame, GROUND), plane, road.rests_on)


class Stance:
    """The machine on its road, in ``frames``. All directions are unit; X is forward in the road, Y left, Z up from it.

    X is where the road and the plane through Z and the frame's own forward direction meet (ISO 8855).
    """

    def __init__(self, layout: WheelLayout, frames: Frames) -> None:
        self.layout, self.frames = layout, frames
        self._contacts: Memo[str, Taylor] = Memo()

    @cached_property
    def _axes(self) -> RoadAxes:
        return self.layout.axes_in(self.frames)

    @property
    def road(self) -> RoadPlane:
        """The plane that it stands on."""
        return self._axes.road

    @property
    def z(self) -> Taylor:
        """Up from the road."""
        return self._axes.road.normal

    @property
    def y(self) -> Taylor:
        """To the left, in the road."""
        return self._axes.y

    @property
    def x(self) -> Taylor:
        """Forward, in the road."""
        return self._axes.x

    def frame(self, direction: Floats) -> Taylor:
        """A direction of the frame, as drawn."""
        return self.frames.direction(self.layout.frame, direction)

    def spin(self, name: str) -> Taylor:
        """The axle of a wheel, pointing left."""
        one = self.layout.wheels[name]
        return self.frames.direction(one.body, np.array(one.wheel.spin))

    def contact(self, name: str) -> Taylor:
        """Where the tyre of a wheel is lowest over the road."""
        return self._contacts.of(name, lambda own: lowest_point(self.layout.wheels[own].support, self.frames, self.z))

    def kingpin(self, name: str) -> tuple[Taylor, Taylor]:
        """The lower point of a wheel's kingpin, and the unit direction from there to the upper one."""
        one = self.layout.wheels[name]
        pin = one.wheel.kingpin
        lower, upper = (np.zeros(3), UP) if pin is None else (np.array(pin.lower), np.array(pin.upper))
        along = (upper - lower) / np.linalg.norm(upper - lower)
        return self.frames.point(one.kingpin, lower), self.frames.direction(one.kingpin, along)

    def heading(self, name: str) -> tuple[Taylor, Taylor]:
        """The unit directions in the road along which a wheel rolls, and to its left."""
        ahead = unit_vector(cross_product(self.spin(name), self.z))
        return ahead, cross_product(self.z, ahead)

    def pin_on_road(self, name: str) -> Taylor:
        """Where a wheel's kingpin meets the road."""
        lower, along = self.kingpin(name)
        down = (self.road.height - inner_product(self.z, lower)) * inverse(inner_product(self.z, along))
        return lower + scaled(along, down)


def stance_at(mechanism: Mechanism, posture: Posture) -> Stance | None:
    """The machine on its road at N postures; None where it has no wheels."""
    running = mechanism.machine.running
    if not running.wheels:
        return None
    return Stance(layout_of(running, mechanism.bodies), at_postures(posture, mechanism.bodies.centres))


def contact_edges(stance: Stance) -> tuple[tuple[str, Floats, Floats], ...]:
    """The lines from contact to contact on the road, by name, with both ends (N, 3), NaN where it does not stand."""
    names, points = list(stance.layout.rests_on), [one.value for one in stance.road.contacts]
    names += [STATED] * (len(points) - len(names))
    pairs = combinations(zip(names, points, strict=True), 2)
    return tuple((f"{one} – {other}", start, end) for (one, start), (other, end) in pairs)


Rule = Callable[[Stance, Sequence[str]], Taylor]
"""A figure of some wheels, by name."""


def unit_vector(vector: Taylor) -> Taylor:
    """A vector by its length."""
    return scaled(vector, inverse(size_of(vector)))
