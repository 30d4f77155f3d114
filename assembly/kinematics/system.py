"""All rows of a machine's joints, drives and held rolls as one system of equations."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.bodies import GROUND, Bodies
from assembly.kinematics.row_slopes import RowSlopes, Submatrices
from assembly.kinematics.rows import Posture, Rates, Reach, Rows, SamePoint
from assembly.kinematics.rows.base import dot


@dataclass(frozen=True, slots=True, eq=False)
class Family:
    """Rows of one kind: the equations, whom they belong to, and what each drive asks of them."""

    rows: Rows
    owners: tuple[str, ...]
    """The joint, drive or idle body behind each row."""
    ratios: Floats
    """(m, d): target per unit of each drive's setting, in rad or mm."""
    weight: float = 1.0
    """How much the rows' values fall per unit of target."""
    groups: tuple[int, ...] = ()
    """Rows next to each other with one number are one vector seen along square directions: the family's bounds hold
    for its length, not only for each row. Empty: every row stands alone."""
    implied: tuple[bool, ...] = ()
    """Whether each row is implied by others at every posture (``kinematics/implied_rows.py``). Empty: none is."""

    def __len__(self) -> int:
        return len(self.owners)

    def spans(self, half: Floats) -> Floats:
        """How far targets (N, m) vary, rad or mm, where settings vary by ``half`` (N, d)."""
        return dot(half[:, None], np.abs(self.ratios))


@dataclass(frozen=True, slots=True, eq=False)
class Component:
    """Bodies (b,) that hang together without the ground, and the ``rows`` (r,) that speak of them: no others do."""

    bodies: Ids
    rows: Ids

    @property
    def columns(self) -> Ids:
        """The unknowns (6 b,) of the bodies."""
        return (6 * (self.bodies[:, None] - 1) + np.arange(6)).reshape(-1)


@dataclass(frozen=True, eq=False)
class Equations:
    """All rows of a machine in one order: families one after another."""

    families: tuple[Family, ...]
    bodies: Bodies
    scale: float
    """mm: turns radians into lengths."""

    @cached_property
    def owners(self) -> tuple[str, ...]:
        """Whom each row belongs to."""
        return tuple(owner for family in self.families for owner in family.owners)

    @cached_property
    def groups(self) -> Ids:
        """Number (rows,) of the vector that each row is a part of."""
        numbers, start = [], 0
        for family in self.families:
            own = np.unique(family.groups or range(len(family)), return_inverse=True)[1]
            numbers.append(start + own)
            start += int(own.max()) + 1
        return np.concatenate(numbers)

    @cached_property
    def needed(self) -> Ids:
        """Numbers of the rows that no others imply: where these hold, all do."""
        return np.flatnonzero(~np.concatenate([family.implied or [False] * len(family) for family in self.families]))

    @cached_property
    def first(self) -> Ids:
        """First body of each row."""
        return np.concatenate([family.rows.first for family in self.families])

    @cached_property
    def second(self) -> Ids:
        """Second body of each row."""
        return np.concatenate([family.rows.second for family in self.families])

    @cached_property
    def ratios(self) -> Floats:
        """(rows, d): what each drive asks of each row, per unit of setting."""
        return np.concatenate([family.ratios for family in self.families])

    def values(self, posture: Posture, settings: Floats) -> Floats:
        """Misses (N, rows) mm at ``settings`` (N, d), drive units turned into rad and mm."""
        return _side_by_side(
            [family.rows.values(posture, dot(settings[:, None], family.ratios)) for family in self.families]
        )

    @cached_property
    def is_point(self) -> Flags:
        """(rows,) whether each row says that points of two bodies are in one place."""
        return np.concatenate([np.full(len(one), isinstance(one.rows, SamePoint)) for one in self.families])

    @cached_property
    def ends(self) -> Ids:
        """Both bodies (2, rows) of each row."""
        return np.stack([self.first, self.second])

    def slopes(self, posture: Posture) -> RowSlopes:
        """Derivatives over (shift, scale · rotation) of the bodies of each row, at each of N postures."""
        every = [family.rows.slopes(posture) for family in self.families]
        first, second = (_side_by_side([getattr(one, name) for one in every]) for name in ("first", "second"))
        return RowSlopes(self.ends, first, second)

    @cached_property
    def components(self) -> tuple[Component, ...]:
        """Bodies that rows tie to each other otherwise than by the ground, lowest first, and all rows of theirs."""
        first, second = self.ends
        moving = np.flatnonzero((first != GROUND) & (second != GROUND))
        links = coo_matrix((np.ones(len(moving)), (first[moving], second[moving])), shape=(len(self.bodies),) * 2)
        number = connected_components(links, directed=False)[1]
        of_row = number[np.where(first == GROUND, second, first)]
        order, rows = np.argsort(of_row, kind="stable"), np.bincount(of_row, minlength=number.max() + 1)
        lots = np.split(order, np.cumsum(rows)[:-1])
        found = [np.flatnonzero(number == one) for one in dict.fromkeys(number[1:].tolist())]
        return tuple(Component(bodies, lots[number[bodies[0]]]) for bodies in found)

    def jacobian_of(self, slopes: RowSlopes, component: Component) -> Floats:
        """Derivatives (r, 6 b) of the rows of ``component`` over its b bodies, at one posture with ``slopes``."""
        matrices = Submatrices(self.ends, component.rows[None], component.columns[None]).of(slopes)
        return np.asarray(matrices[0, 0])

    def jacobian(self, posture: Posture) -> Floats:
        """Derivatives (N, rows, 6 (B - 1)) over (shift, scale · rotation) of every body but the ground.

        It grows with the square of the bodies: for few postures, where all rows are looked at together.
        """
        count, bodies = len(posture), len(self.bodies)
        full = np.zeros((count, sum(map(len, self.families)), bodies, 6))
        start = 0
        for family in self.families:
            slopes, rows = family.rows.slopes(posture), start + np.arange(len(family))
            full[:, rows, family.rows.first] += slopes.first
            full[:, rows, family.rows.second] += slopes.second
            start += len(family)
        return full.reshape(count, start, 6 * bodies)[:, :, 6:]

    @cached_property
    def by_settings(self) -> Floats:
        """Derivative (rows, d) of the misses over the settings; the same everywhere."""
        return -np.concatenate([family.weight * family.ratios for family in self.families])

    def curvature(self, posture: Posture, rates: Rates) -> Floats:
        """Second derivatives (N, rows, d, d) mm of the misses along motions at constant ``rates``."""
        return _side_by_side([family.rows.curvature(posture, rates) for family in self.families])

    def third_order(self, posture: Posture, linear: Reach, rest: Reach, half: Floats) -> Floats:
        """Bound (N, rows) mm on what slopes and curvature leave out for motion ``linear`` and up to ``rest`` more."""
        return _side_by_side(
            [family.rows.third_order(posture, linear, rest, family.spans(half)) for family in self.families]
        )


def _side_by_side(parts: Sequence[Floats]) -> Floats:
    """Rows (N, m, ...) of all families, each posture's in one piece of memory: sums over them round alike for any N."""
    return np.ascontiguousarray(np.concatenate(parts, axis=1))
