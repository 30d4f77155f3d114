"""The arcs of a cable as drawn: how much of its straights they take, and where they lie."""

from __future__ import annotations

from math import acos, dist, hypot, pi, tan

from assembly.model.cable import CableRun
from assembly.model.quantities import Vector


def held_places(run: CableRun) -> tuple[Vector, ...]:
    """Where each point holds the run as drawn: at its ends there, at a guide in the middle of the arc inside it."""
    places = [each.at or (0.0, 0.0, 0.0) for each in run.points]
    middles = []
    for a, b, c in zip(places, places[1:], places[2:], strict=False):
        half = half_tangent(a, b, c)
        before, after = ([(y - x) / dist(b, end) for x, y in zip(b, end, strict=True)] for end in (a, c))
        inward = [p + q for p, q in zip(before, after, strict=True)]
        far = run.bend * (hypot(1.0, half) - 1.0) / (hypot(*inward) or 1.0)
        x, y, z = (at + far * way for at, way in zip(b, inward, strict=True))
        middles.append((x, y, z))
    return places[0], *middles, places[-1]


def half_tangent(a: Vector, b: Vector, c: Vector) -> float:
    """The tangent of half the angle by which the way from ``a`` over ``b`` to ``c`` turns."""
    u, v = ([y - x for x, y in zip(*ends, strict=True)] for ends in ((a, b), (b, c)))
    cosine = sum(p * q for p, q in zip(u, v, strict=True)) / (dist(a, b) * dist(b, c))
    return tan(min(acos(max(-1.0, min(1.0, cosine))), pi * (1 - 1e-9)) / 2)
