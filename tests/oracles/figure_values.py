"""Measures, cables and figures of wheels from where points and directions stand, by closed forms of their own.

``point(part, at)`` and ``direction(part, along)`` give (N, 3). Angles between directions are told by their half sum and
half difference (W. Kahan), paths corner by corner, the road by Newton's method with differences.
"""

from itertools import pairwise

import numpy as np


def dot(a, b):
    return np.einsum("...k,...k->...", a, b)


def unit(v):
    return v / np.linalg.norm(v, axis=-1)[..., None]


def between(u, v):
    """Radians between directions, exact for small ones too."""
    u, v = unit(u), unit(v)
    return 2 * np.arctan2(np.linalg.norm(u - v, axis=-1), np.linalg.norm(u + v, axis=-1))


def measure_value(measure, point, direction):
    """(N,) in degrees or mm; of an angle about an axis within half a turn. What counts from 0 is told as it is."""
    places = [point(one.part, one.at or (0.0, 0.0, 0.0)) for one in measure.features]
    if measure.kind in ("path", "straight", "bends"):
        return _of_paths(measure, places)
    ways = [direction(one.part, one.along) if one.along else None for one in measure.features]
    axis = None if measure.axis is None else direction(measure.axis.part, measure.axis.along)
    if measure.kind == "coordinate":
        return dot(places[0] - point(measure.axis.part, measure.axis.at or (0.0, 0.0, 0.0)), axis)
    if measure.kind == "distance":
        return _distance(*sorted(zip(map(_rank, measure.features), places, ways, strict=True), key=lambda one: one[0]))
    kinds = [str(one.kind) for one in measure.features]
    if measure.kind == "level":
        return np.degrees(between(ways[0], axis) if kinds[0] == "plane" else np.pi / 2 - between(ways[0], axis))
    if axis is not None:
        u, v = (one - dot(one, axis)[:, None] * axis for one in ways)
        return np.degrees(np.arctan2(dot(np.cross(u, v), axis), dot(u, v)))
    found = between(*ways)
    return np.degrees(np.pi / 2 - found if kinds.count("plane") == 1 else found)


def _rank(feature):
    return ("line", "point", "plane").index(str(feature.kind)) if str(feature.kind) != "point" else 0.5


def _distance(first, second):
    """Of lines, points and planes, in this order."""
    (kind, at, way), (other, place, along) = first, second
    if kind == 0 and other == 0:
        across = np.cross(way, along)
        return np.abs(dot(at - place, across)) / np.linalg.norm(across, axis=1)
    if other == 2:
        return dot(at - place, along)
    if kind == 0:
        away = place - at
        return np.linalg.norm(away - dot(away, way)[:, None] * way, axis=1)
    return np.linalg.norm(at - place, axis=1)


def _of_paths(measure, places):
    told = []
    for path in measure.paths:
        way = [places[number] for number in path.points]
        straights = [np.linalg.norm(b - a, axis=1) for a, b in pairwise(way)]
        turns = [between(b - a, c - b) for a, b, c in zip(way, way[1:], way[2:], strict=False)]
        taken = [0.0, *(path.bend * np.tan(turn / 2) for turn in turns), 0.0]
        if measure.kind == "bends":
            told += turns
        elif measure.kind == "straight":
            told += [one - a - b for one, a, b in zip(straights, taken, taken[1:], strict=False)]
        else:
            length = sum(straights) - sum(2 * one for one in taken) + sum(path.bend * turn for turn in turns)
            told.append(path.weight * (np.maximum(length, path.at_least) if path.at_least else length))
    if measure.kind == "straight":
        return np.min(told, axis=0)
    every = sum(told, np.zeros(len(places[0])))
    return np.degrees(every) if measure.kind == "bends" else every + measure.more


def lowest(normal, centre, spin, ring, crown):
    """The lowest point (N, 3) of a tyre by the unit ``normal``; of a bare point itself."""
    if spin is None:
        return centre
    return centre - ring * unit(normal - dot(spin, normal)[:, None] * spin) - crown * normal


def road(tyres, up):
    """The unit normal (N, 3) of the plane that three ``tyres`` (centre, spin, ring, crown) stand on; NaN if none."""
    step, normal = 1e-6, up

    def misses(normal):
        heights = [dot(normal, lowest(normal, *one)) for one in tyres]
        return np.stack([heights[1] - heights[0], heights[2] - heights[0]], axis=1)

    for _ in range(60):
        side = np.where(np.abs(normal[:, :1]) < 0.9, [[1.0, 0, 0]], [[0, 1.0, 0]])
        first = unit(side - dot(side, normal)[:, None] * normal)
        ways = first, np.cross(normal, first)
        tilted = [[misses(unit(normal + sign * step * way)) for sign in (1, -1)] for way in ways]
        (a, c), (b, d) = (((ahead - behind) / (2 * step)).T for ahead, behind in tilted)
        p, q = misses(normal).T
        off = np.stack([d * p - b * q, a * q - c * p], axis=1) / (a * d - b * c)[:, None]
        off = off * np.minimum(1.0, 0.5 / np.maximum(np.linalg.norm(off, axis=1), 1e-300))[:, None]
        normal = unit(normal - off[:, :1] * ways[0] - off[:, 1:] * ways[1])
    good = (np.abs(misses(normal)).max(axis=1) < 1e-6) & (dot(normal, up) > 0)
    return np.where(good[:, None], normal, np.nan)


class Standing:
    """A machine on its road, of a ``Wheels`` of plain values."""

    def __init__(self, wheels, point, direction):
        self.wheels, self.point, self.direction = wheels, point, direction
        road_, up = wheels.road, direction(wheels.road.frame, (0.0, 0.0, 1.0))
        self.tyres = {name: self._tyre(one) for name, one in wheels.wheels.items()}
        if road_.plane is not None:
            self.z, self.on = direction(road_.plane.part, road_.plane.along), point(road_.plane.part, road_.plane.at)
        else:
            stands = [self.tyres[name] for name in road_.rests_on]
            if road_.contact is not None:
                stands.append((point(road_.contact.part, road_.contact.at), None, 0.0, 0.0))
            self.z = road(stands[:3], up)
            self.on = lowest(self.z, *stands[0])
        self.y = unit(np.cross(self.z, direction(road_.frame, (1.0, 0.0, 0.0))))
        self.x = np.cross(self.y, self.z)

    def _tyre(self, one):
        crown = one.section / 2
        at, spin = self.point(one.part, one.centre), self.direction(one.part, one.spin)
        return at, spin, one.tyre_diameter / 2 - crown, crown

    def value(self, word, names):
        """(N,) in degrees or mm of a figure that this oracle knows; None of others."""
        one = self.wheels.wheels[names[0]] if names else None
        out = -1.0 if one is not None and str(one.side) == "right" else 1.0
        known = {
            "lean": lambda: 90 - np.degrees(between(self.direction(self.wheels.road.frame, (0.0, 1.0, 0.0)), self.z)),
            "pitch": lambda: 90 - np.degrees(between(self.direction(self.wheels.road.frame, (1.0, 0.0, 0.0)), self.z)),
            "camber": lambda: -out * (90 - np.degrees(between(self.tyres[names[0]][1], self.z))),
            "steer": lambda: self.steer(names[0]),
            "toe": lambda: -out * self.steer(names[0]),
            "total_toe": lambda: self.steer(names[1]) - self.steer(names[0]),
            "steered": lambda: (self.steer(names[0]) + self.steer(names[1])) / 2,
            "track": lambda: dot(self.contact(names[0]) - self.contact(names[1]), self.y),
            "trail": lambda: dot(self.pin_on_road(one) - self.contact(names[0]), self.ahead(names[0])),
            "scrub_radius": lambda: (
                out * dot(self.contact(names[0]) - self.pin_on_road(one), np.cross(self.z, self.ahead(names[0])))
            ),
            "caster": lambda: np.degrees(np.arctan2(-dot(self.pin(one)[1], self.x), dot(self.pin(one)[1], self.z))),
            "inclination": lambda: np.degrees(
                np.arctan2(-out * dot(self.pin(one)[1], self.y), dot(self.pin(one)[1], self.z))
            ),
        }
        return known[word]() if word in known else None

    def ahead(self, name):
        return unit(np.cross(self.tyres[name][1], self.z))

    def steer(self, name):
        ahead = self.ahead(name)
        return np.degrees(np.arctan2(dot(ahead, self.y), dot(ahead, self.x)))

    def contact(self, name):
        return lowest(self.z, *self.tyres[name])

    def pin(self, one):
        lower, upper = (self.point(one.kingpin.part, at) for at in (one.kingpin.lower, one.kingpin.upper))
        return lower, upper - lower

    def pin_on_road(self, one):
        lower, along = self.pin(one)
        return lower + (dot(self.z, self.on - lower) / dot(self.z, along))[:, None] * along
