"""Taylor models of second order over cells of settings: numbers with exact derivatives and a bounded rest.

A number ``f`` of the settings ``s`` in a cell of half-widths ``h`` round its centre ``c`` is known as

    f(s) = value + first · (s - c) + (s - c) · second · (s - c) / 2 + left out,    |left out| <= rest,

so what is put together from such numbers by the rules below is known likewise, with a rest that holds all that the
rules leave out (Taylor's theorem with the remainder of Lagrange, as the Taylor models of numerics have it). Where a
rule's function has no derivative inside the cell, only its interval is kept; where it has none at all, the rest is
infinite and the value, if it is not known either, is NaN. Whatever is said once in these numbers can be had at single
postures, over cells, and as a derivative over the bodies' own motions (``frames.py``).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from assembly.geometry.mesh import Flags, Floats
from assembly.kinematics.expansion import ROUNDING

GRAIN = 1e-12
"""Of a value, what rounding may add to it."""
LEAST_LENGTH = 1e-9
"""A vector that is no longer has no direction."""


@dataclass(frozen=True, slots=True, eq=False)
class Taylor:
    """A number, or a vector of three, over N cells of d drives.

    ``value`` (N, ...), ``first`` (N, d, ...) and ``second`` (N, d, d, ...), symmetric, per drive unit; ``rest``
    (N, ...), of each component; ``half`` (N, d).
    """

    value: Floats
    first: Floats
    second: Floats
    rest: Floats
    half: Floats

    def __len__(self) -> int:
        return len(self.value)

    @property
    def linear(self) -> Floats:
        """Bound (N, ...) on the first-order part."""
        return np.asarray(np.einsum("nd,nd...->n...", self.half, np.abs(self.first)))

    @property
    def curved(self) -> Floats:
        """Bound (N, ...) on the second-order part."""
        return np.asarray(0.5 * np.einsum("nd,ne,nde...->n...", self.half, self.half, np.abs(self.second)))

    @property
    def reach(self) -> Floats:
        """Bound (N, ...) on how far it may leave its value in the cell."""
        return np.asarray(ROUNDING * (self.linear + self.curved + self.rest))

    def __add__(self, other: Taylor) -> Taylor:
        return Taylor(
            self.value + other.value,
            self.first + other.first,
            self.second + other.second,
            self.rest + other.rest,
            self.half,
        )

    def __sub__(self, other: Taylor) -> Taylor:
        return self + other.times(-1.0)

    def times(self, factor: Floats | float) -> Taylor:
        """Multiplied by a constant, one or (N,) one for each cell."""
        each = np.asarray(factor, dtype=np.float64).reshape(-1)
        n, d, dd = (each.reshape(-1, *(1,) * (array.ndim - 1)) for array in (self.value, self.first, self.second))
        return Taylor(self.value * n, self.first * d, self.second * dd, self.rest * np.abs(n), self.half)

    def __mul__(self, other: Taylor) -> Taylor:
        with np.errstate(invalid="ignore", over="ignore"):
            return self._times(other)

    def _times(self, other: Taylor) -> Taylor:
        a, b = self, other
        crossed = np.einsum("nd...,ne...->nde...", a.first, b.first)
        second = a.value[:, None, None] * b.second + b.value[:, None, None] * a.second
        linear, curved = (a.linear, b.linear), (a.curved, b.curved)
        sizes = [np.abs(one.value) + first + bent for one, first, bent in zip((a, b), linear, curved, strict=True)]
        third = linear[0] * curved[1] + linear[1] * curved[0] + curved[0] * curved[1]
        return Taylor(
            a.value * b.value,
            a.value[:, None] * b.first + b.value[:, None] * a.first,
            second + crossed + np.swapaxes(crossed, 1, 2),
            third + _product(sizes[0], b.rest) + _product(sizes[1], a.rest) + _product(a.rest, b.rest),
            a.half,
        )

    def plus(self, constant: float) -> Taylor:
        """With a constant added."""
        return replace(self, value=self.value + constant)

    def uncertain(self, by: Floats) -> Taylor:
        """Known less well by so much (N,)."""
        return replace(self, rest=self.rest + by)

    def component(self, k: int) -> Taylor:
        """One component of a vector."""
        return Taylor(self.value[..., k], self.first[..., k], self.second[..., k], self.rest[..., k], self.half)

    def total(self) -> Taylor:
        """The sum of a vector's components."""
        value, first, second, rest = (one.sum(axis=-1) for one in (self.value, self.first, self.second, self.rest))
        return Taylor(value, first, second, rest, self.half)


def inner_product(a: Taylor, b: Taylor) -> Taylor:
    """The inner product of two vectors."""
    return (a * b).total()


def cross_product(a: Taylor, b: Taylor) -> Taylor:
    """The cross product of two vectors."""
    parts = [a.component(i) * b.component(j) - a.component(j) * b.component(i) for i, j in ((1, 2), (2, 0), (0, 1))]
    return Taylor(
        np.stack([one.value for one in parts], axis=-1),
        np.stack([one.first for one in parts], axis=-1),
        np.stack([one.second for one in parts], axis=-1),
        np.stack([one.rest for one in parts], axis=-1),
        a.half,
    )


def size_of(vector: Taylor) -> Taylor:
    """The length of a vector; where it may be 0 in the cell, by its interval."""
    return root(inner_product(vector, vector))


def root(x: Taylor) -> Taylor:
    """The square root of what is never below 0; where that may be 0 in the cell, by its interval."""
    value, reach = np.maximum(x.value, 0.0), x.reach
    size = np.sqrt(value)
    with np.errstate(divide="ignore", invalid="ignore"):
        low = value - reach
        smooth = _composed(x, size, 0.5 / size, -0.25 / size**3, 0.375 * np.maximum(low, 0.0) ** -2.5)
        flat = np.fmax(np.sqrt(value + reach) - size, size - np.sqrt(np.maximum(low, 0.0)))
        smoother = (low > 0) & (smooth.reach <= flat)
    return _where(smoother, smooth, _interval(x, size, flat))


def absolute(x: Taylor) -> Taylor:
    """The absolute value; where that may be 0 in the cell, by its interval."""
    size, reach = np.abs(x.value), x.reach
    return _where(size > reach, x.times(np.sign(x.value)), _interval(x, size, reach))


def larger(a: Taylor, b: Taylor) -> Taylor:
    """The larger of two numbers; where either may be it in the cell, by its interval."""
    apart, value = a - b, np.maximum(a.value, b.value)
    with np.errstate(invalid="ignore"):
        high = np.maximum(a.value + a.reach, b.value + b.reach)
        low = np.maximum(a.value - a.reach, b.value - b.reach)
        either = _interval(a, value, np.fmax(high - value, value - low))
    chosen = _where(apart.value > 0, a, b)
    return _where(np.abs(apart.value) > apart.reach, chosen, either)


def smaller(a: Taylor, b: Taylor) -> Taylor:
    """The smaller of two numbers, bounded as ``larger`` is."""
    return larger(a.times(-1.0), b.times(-1.0)).times(-1.0)


def corner_saved(x: Taylor) -> Taylor:
    """By how much an arc of radius 1 is shorter than the corner that it rounds: 2 (t - arctan t), where x = t² >= 0.

    t is the tangent of half the angle by which the corner turns; where x may be 0 in the cell, by its interval.
    """
    value, reach = np.maximum(x.value, 0.0), x.reach
    t = np.sqrt(value)
    with np.errstate(divide="ignore", invalid="ignore"):
        low = np.sqrt(np.maximum(value - reach, 0.0))
        second, third = (1 - value) / (2 * t * (1 + value) ** 2), 0.75 / (low**3 * (1 + low**2))
        smooth = _composed(x, _saved(value), t / (1 + value), second, third)
        flat = np.fmax(_saved(value + reach) - _saved(value), _saved(value) - _saved(low**2))
        smoother = (low > 0) & (smooth.reach <= flat)
    return _where(smoother, smooth, _interval(x, _saved(value), flat))


def _saved(x: Floats) -> Floats:
    t = np.sqrt(x)
    return np.asarray(2 * (t - np.arctan(t)))


def inverse(x: Taylor) -> Taylor:
    """1 / x; unbounded where x may be 0 in the cell."""
    with np.errstate(divide="ignore", invalid="ignore"):
        low = np.abs(x.value) - x.reach
        third = np.where(low > 0, 6.0 / np.maximum(low, 0.0) ** 4, np.inf)
        return _composed(x, 1.0 / x.value, -1.0 / x.value**2, 2.0 / x.value**3, third)


def angle(sine: Taylor, cosine: Taylor) -> Taylor:
    """The angle in rad, -π to π at the centre, whose sine and cosine are as ``sine`` to ``cosine``.

    It is followed past half a turn inside a cell; unbounded where it may be a quarter turn away from the centre's, and
    NaN where both are 0.
    """
    start = np.arctan2(sine.value, cosine.value)
    size = np.hypot(sine.value, cosine.value)
    across = sine.times(np.cos(start)) - cosine.times(np.sin(start))
    ahead = cosine.times(np.cos(start)) + sine.times(np.sin(start))
    slope = across * inverse(ahead)
    t = slope.value
    turned = _composed(slope, np.arctan(t), 1 / (1 + t**2), -2 * t / (1 + t**2) ** 2, np.full(len(t), 2.0))
    known = (size > LEAST_LENGTH) & (ahead.value > ahead.reach)
    value = np.where(size > LEAST_LENGTH, start, np.nan)
    return Taylor(value, turned.first, turned.second, np.where(known, turned.rest, np.inf), sine.half)


def _composed(x: Taylor, value: Floats, slope: Floats, curvature: Floats, third: Floats) -> Taylor:
    """g(x) from g and its first two derivatives at the centres, and a bound on its third in the cells, all (N,)."""
    linear, more = x.linear, x.curved + x.rest
    squares = np.einsum("nd,ne->nde", x.first, x.first)
    with np.errstate(invalid="ignore", over="ignore"):
        rest = np.abs(slope) * x.rest + 0.5 * np.abs(curvature) * (2 * linear * more + more**2)
        rest = rest + third * (linear + more) ** 3 / 6
        return Taylor(
            value,
            slope[:, None] * x.first,
            slope[:, None, None] * x.second + curvature[:, None, None] * squares,
            np.where(np.isnan(rest), np.where(linear + more > 0, np.inf, 0.0), rest),
            x.half,
        )


def _interval(x: Taylor, value: Floats, reach: Floats) -> Taylor:
    """What is known by its value and how far it may leave that only."""
    return Taylor(value, np.zeros_like(x.first), np.zeros_like(x.second), reach, x.half)


def _where(chosen: Flags, a: Taylor, b: Taylor) -> Taylor:
    """``a`` where ``chosen`` (N,), else ``b``; numbers."""
    return Taylor(
        np.where(chosen, a.value, b.value),
        np.where(chosen[:, None], a.first, b.first),
        np.where(chosen[:, None, None], a.second, b.second),
        np.where(chosen, a.rest, b.rest),
        a.half,
    )


def _product(size: Floats, rest: Floats) -> Floats:
    """``size · rest`` where an infinite rest of what is 0 stays infinite."""
    with np.errstate(invalid="ignore"):
        return np.asarray(np.where(np.isinf(rest) | np.isinf(size), np.inf, size * rest))
