"""Closed-form poses of published linkages; angles in degrees, lengths in the unit of the arguments.

Every function takes numbers or arrays. Where a linkage can be put together in two ways, an argument chooses the other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def four_bar(
    crank: float, coupler: float, rocker: float, ground: float, crank_angle: ArrayLike, crossed: bool = False
) -> tuple[Floats, Floats]:
    """Angles of coupler and rocker to the ground line (Freudenstein; Norton, Design of Machinery, ch. 4)."""
    a, b, c, d, t2 = crank, coupler, rocker, ground, np.radians(crank_angle)
    k1, k2, k3 = d / a, d / c, (a**2 - b**2 + c**2 + d**2) / (2 * a * c)
    A = np.cos(t2) - k1 - k2 * np.cos(t2) + k3
    B = -2 * np.sin(t2)
    C = k1 - (k2 + 1) * np.cos(t2) + k3
    root = np.sqrt(B**2 - 4 * A * C)
    t4 = 2 * np.arctan((-B + root if crossed else -B - root) / (2 * A))
    t3 = np.arctan2(c * np.sin(t4) - a * np.sin(t2), d + c * np.cos(t4) - a * np.cos(t2))
    return np.degrees(t3), np.degrees(t4)


def offset_slider_crank(
    crank: float, rod: float, offset: float, crank_angle: ArrayLike, other: bool = False
) -> tuple[Floats, Floats]:
    """Angle of the rod, from slider to crank pin, and place of the slider (Norton, Design of Machinery, ch. 4)."""
    t2 = np.radians(crank_angle)
    lean = np.arcsin((crank * np.sin(t2) - offset) / rod)
    t3 = lean if other else np.pi - lean
    return np.degrees(t3), crank * np.cos(t2) - rod * np.cos(t3)


def slider_crank(crank: float, rod: float, crank_angle: ArrayLike) -> Floats:
    """Place of the slider on a line through the crank's centre (theory of machines)."""
    t = np.radians(crank_angle)
    return crank * np.cos(t) + np.sqrt(rod**2 - (crank * np.sin(t)) ** 2)


def universal_joint(joint_angle: float, turned_in: ArrayLike, across: bool = False) -> Floats:
    """Turn of the driven shaft for turns from -90 to 90 of the driving one (Hooke's joint, drive-shaft catalogues).

    Zero is where the driving yoke's cross line lies in the plane of both shafts, or square to it with ``across``.
    """
    cosine = np.cos(np.radians(joint_angle))
    tangent = np.tan(np.radians(turned_in))
    return np.degrees(np.arctan(tangent * cosine if across else tangent / cosine))


def spherical_four_bar(
    fixed: float, crank: float, coupler: float, follower: float, turned_in: ArrayLike, other: bool = False
) -> Floats:
    """Turn of the follower about its axis, both axes through one point (closed form).

    The crank's axis is z and the follower's lies ``fixed`` from it in the plane zx; both turns start in that plane.
    """
    a, f, c, g = np.radians((fixed, crank, coupler, follower))
    t = np.radians(turned_in)
    x, y, z = np.sin(f) * np.cos(t), np.sin(f) * np.sin(t), np.cos(f) * np.ones_like(t)
    along, up = x * np.cos(a) - z * np.sin(a), x * np.sin(a) + z * np.cos(a)
    both = _solve_turn(np.sin(g) * along, np.sin(g) * y, np.cos(c) - np.cos(g) * up)
    return np.degrees(both[0 if other else 1])


def _solve_turn(cosine: ArrayLike, sine: ArrayLike, total: ArrayLike) -> tuple[Floats, Floats]:
    """Both angles t, -π to π, of ``cosine`` cos t + ``sine`` sin t = ``total``; first the one farther on."""
    middle = np.arctan2(sine, cosine)
    half = np.arccos(np.asarray(total) / np.hypot(cosine, sine))
    return _wrapped(middle + half), _wrapped(middle - half)


def _wrapped(angle: Floats) -> Floats:
    return (angle + np.pi) % (2 * np.pi) - np.pi


@dataclass(frozen=True)
class RodBetweenCranks:
    """A rod with a ball at each end between two cranks whose axes cross in space (closed form).

    The input turns about z through the origin, its arm starting along x. The output turns about y through ``pivot``,
    its arm starting along x and passing z at 90. The rod is as long as it must be with both at 90.
    """

    input_arm: float = 60.0
    output_arm: float = 80.0
    pivot: tuple[float, float, float] = (250.0, 40.0, 30.0)

    @property
    def rod(self) -> float:
        """Distance of the two balls with both cranks at 90."""
        x, y, z = self.pivot
        return float(np.sqrt(x**2 + (y - self.input_arm) ** 2 + (z + self.output_arm) ** 2))

    def output(self, input_angle: ArrayLike, other: bool = False) -> Floats:
        """Output angle: |pivot + arm (cos, 0, sin) - ball| = rod is linear in its cosine and sine."""
        t = np.radians(input_angle)
        x, y, z = self.pivot
        dx, dy = x - self.input_arm * np.cos(t), y - self.input_arm * np.sin(t)
        rest = (self.rod**2 - self.output_arm**2 - dx**2 - dy**2 - z**2) / (2 * self.output_arm)
        return np.degrees(_solve_turn(dx, z, rest)[1 if other else 0])


def bennett(first_length: float, first_twist: float, second_twist: float) -> float:
    """Length of the second pair of links: a / sin α = b / sin β (Bennett 1903, from memory)."""
    return float(first_length * np.sin(np.radians(second_twist)) / np.sin(np.radians(first_twist)))


def bennett_turn(first_twist: float, second_twist: float, first_turn: ArrayLike) -> Floats:
    """Second joint's angle: tan(t1/2) tan(t2/2) = sin((β+α)/2) / sin((β-α)/2); the third is -t1, the fourth -t2."""
    a, b, t = np.radians(first_twist), np.radians(second_twist), np.radians(first_turn)
    return np.degrees(2 * np.arctan(np.sin((b + a) / 2) / np.sin((b - a) / 2) / np.tan(t / 2)))


def peaucellier(long_bar: float, short_bar: float, crank: float, crank_angle: ArrayLike) -> Floats:
    """The straight-running point (..., 2) for a crank about (crank, 0); OB · OD = long² - short² (Peaucellier 1864)."""
    t = np.radians(crank_angle)
    B = np.stack([crank + crank * np.cos(t), crank * np.sin(t)], axis=-1)
    return B * (long_bar**2 - short_bar**2) / (B * B).sum(axis=-1, keepdims=True)


def sarrus_height(leg: float, lift_angle: ArrayLike) -> Floats:
    """Distance of the two plates whose legs, of two bars each, rise by ``lift_angle`` (closed form)."""
    return 2 * leg * np.sin(np.radians(lift_angle))


def hexapod_leg(base_radius: float, platform_radius: float, height: float, twist: ArrayLike) -> Floats:
    """Length of each leg between two rings of six balls, the upper one turned by ``twist`` (closed form)."""
    R, r = base_radius, platform_radius
    return np.sqrt(R**2 + r**2 - 2 * R * r * np.cos(np.radians(twist)) + height**2)


SQUEEZER: Mapping[str, float] = {
    "rr": 0.007,
    "d": 0.028,
    "ss": 0.035,
    "e": 0.02,
    "zt": 0.04,
    "zf": 0.02,
    "u": 0.04,
    "xa": -0.06934,
    "ya": -0.00227,
    "xb": -0.03635,
    "yb": 0.03273,
}
"""Lengths and fixed points in m of the seven-body squeezer (Hairer & Wanner, Solving ODEs II; IVP test set)."""


def squeezer_residual(angles: ArrayLike) -> Floats:
    """How far in m the three loops of the squeezer are from closing, (6,): the equations as printed in the source.

    ``angles`` (7,) rad: beta (the crank), theta, gamma, phi, delta, omega, epsilon.
    """
    k = SQUEEZER
    beta, theta, gamma, phi, delta, omega, epsilon = np.asarray(angles, dtype=np.float64)
    x = k["rr"] * np.cos(beta) - k["d"] * np.cos(beta + theta)
    y = k["rr"] * np.sin(beta) - k["d"] * np.sin(beta + theta)
    return np.array(
        [
            x - k["ss"] * np.sin(gamma) - k["xb"],
            y + k["ss"] * np.cos(gamma) - k["yb"],
            x - k["e"] * np.sin(phi + delta) - k["zt"] * np.cos(delta) - k["xa"],
            y + k["e"] * np.cos(phi + delta) - k["zt"] * np.sin(delta) - k["ya"],
            x - k["zf"] * np.cos(omega + epsilon) - k["u"] * np.sin(epsilon) - k["xa"],
            y - k["zf"] * np.sin(omega + epsilon) + k["u"] * np.cos(epsilon) - k["ya"],
        ]
    )


def squeezer_hinges(beta: float) -> dict[str, Floats]:
    """Place (2,) m of each moving hinge at the crank angle ``beta`` rad, as put together in the source.

    ``crank`` lies at the crank's end, ``common`` where four bars meet, ``upper`` and ``lower`` between the two bars of
    the two legs to the fixed point A: each is where two circles meet (closed form).
    """
    k = SQUEEZER
    A, B = np.array([k["xa"], k["ya"]]), np.array([k["xb"], k["yb"]])
    crank = k["rr"] * np.array([np.cos(beta), np.sin(beta)])
    common = _meeting(crank, k["d"], B, k["ss"])
    upper = _meeting(A, k["zt"], common, k["e"])
    lower = _meeting(common, k["zf"], A, k["u"])
    return {"crank": crank, "common": common, "upper": upper, "lower": lower}


def squeezer_angles(beta: float) -> Floats:
    """All seven angles (7,) rad of the squeezer, each but ``beta`` between -π and π, in the order of its residual."""
    at = squeezer_hinges(beta)
    A, B = np.array([SQUEEZER["xa"], SQUEEZER["ya"]]), np.array([SQUEEZER["xb"], SQUEEZER["yb"]])
    theta = _bearing(at["crank"] - at["common"]) - beta
    gamma = _bearing(at["common"] - B) + np.pi / 2
    delta = _bearing(at["upper"] - A)
    phi = _bearing(at["common"] - at["upper"]) + np.pi / 2 - delta
    epsilon = _bearing(at["lower"] - A) + np.pi / 2
    omega = _bearing(at["common"] - at["lower"]) - epsilon
    return np.array([beta, *_wrapped(np.array([theta, gamma, phi, delta, omega, epsilon]))])


def _meeting(first: Floats, first_radius: float, second: Floats, second_radius: float) -> Floats:
    """Where two circles meet, on the left of the way from the first centre to the second."""
    way = second - first
    apart = np.hypot(*way)
    along = (first_radius**2 - second_radius**2 + apart**2) / (2 * apart)
    aside = np.sqrt(first_radius**2 - along**2)
    return first + (along * way + aside * np.array([-way[1], way[0]])) / apart


def _bearing(way: Floats) -> float:
    return float(np.arctan2(way[1], way[0]))
