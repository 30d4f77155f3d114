"""The smallest change of dimensions after which linear rules hold: small linear programs, with integers where needed.

With x₀ today's values, the change of dimension j is u (p - n), p and n ≥ 0, in units u of 1 or of its step. Rule i was
measured at x̂ with its margin m and its slopes g there, so it asks for

    m + g · (x - x̂) ≥ aim.

What is minimised is how many dimensions change (binaries z, p ≤ P z, n ≤ N z) and then by how much; or, where the
builder gave weights, the weighted sum of what changes. Steps make p and n integers, sizes that can be had are binaries.
HiGHS solves it (``scipy.optimize.milp``).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from math import inf
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from assembly.geometry.mesh import Floats
from assembly.model.allowed import Allowed, steps_between

GRAIN = 0.01
"""What may be any value is rounded to a whole number of these, away from today's value."""
FARTHEST = 1e5
"""A limit that is left out."""
LITTLE = 1e-6
"""What a change itself counts beside what counts more: rules that are missed, or its weight."""
FEASIBLE = 1e-7

RuleKey = tuple[str, tuple[str, ...], str]
"""Kind, names and motion of a rule, as its figure has them."""


@dataclass(frozen=True, slots=True, eq=False)
class MarginRow:
    """What a rule keeps at ``values`` (n,), at one place that governs it, and its slopes (n,) there."""

    rule: RuleKey
    values: Floats
    margin: float
    slopes: Floats


@dataclass(frozen=True, slots=True, eq=False)
class ChangeProblem:
    """Dimensions with today's values and limits, and linear rules.

    ``fixed``: dimensions that stay. ``excluded``: sets of dimensions that must not all change. ``near``: values (n,)
    from which none may go farther than ``reach`` (n,), steps and sizes apart. ``open_ends``: limits that do not count,
    each the number of a dimension and 1 for its upper or -1 for its lower one.
    """

    allowed: Sequence[Allowed]
    rows: Sequence[MarginRow]
    aim: float
    fixed: frozenset[int] = frozenset()
    excluded: Sequence[frozenset[int]] = ()
    near: Floats | None = None
    reach: Floats | None = None
    open_ends: frozenset[tuple[int, int]] = frozenset()

    @property
    def weighted(self) -> bool:
        """Whether the builder gave weights: then it does not matter how many dimensions change."""
        return any(one.weight is not None for one in self.allowed)

    def cost(self, values: Floats) -> tuple[int, float]:
        """What a change to ``values`` (n,) counts: how many dimensions, 0 where weights count; and how much."""
        moved = np.abs(values - np.array([one.value for one in self.allowed]))
        weights = np.array([1.0 if one.weight is None else one.weight for one in self.allowed])
        return 0 if self.weighted else int((moved > 0).sum()), float(moved @ weights)


@dataclass(frozen=True, slots=True, eq=False)
class _Columns:
    """The unknowns: p, n and z of every dimension, a binary for every other size, the miss of every rule."""

    problem: ChangeProblem
    sizes: tuple[tuple[int, float], ...]
    """Of each size but today's, its dimension and by how much it differs."""
    missed: tuple[RuleKey, ...]
    """The rules that may be missed."""
    lower: Floats = field(init=False)
    upper: Floats = field(init=False)
    units: Floats = field(init=False)

    def __post_init__(self) -> None:
        most = np.array([self._most(number) for number in range(self.count)]).reshape(-1, 2)
        object.__setattr__(self, "lower", np.zeros(self.width))
        ends = [most[:, 1], most[:, 0], np.ones(self.count + len(self.sizes)), np.full(len(self.missed), np.inf)]
        object.__setattr__(self, "upper", np.concatenate(ends))
        units = [1.0 if one.step is None else one.step for one in self.problem.allowed]
        object.__setattr__(self, "units", np.array(units))

    def _most(self, number: int) -> tuple[float, float]:
        """How far a dimension may change downwards and upwards, in its units."""
        one = self.problem.allowed[number]
        if number in self.problem.fixed:
            return 0.0, 0.0
        if one.step is not None:
            low, high = steps_between(one, one.value)
            down, up = float(-low), float(high)
        else:
            down, up = one.value - one.low, one.high - one.value
        ends = self.problem.open_ends
        down, up = (FARTHEST if (number, way) in ends else most for way, most in ((-1, down), (1, up)))
        return max(down, 0.0), max(up, 0.0)

    @property
    def count(self) -> int:
        return len(self.problem.allowed)

    @property
    def width(self) -> int:
        return 3 * self.count + len(self.sizes) + len(self.missed)

    @property
    def integrality(self) -> Floats:
        steps = [float(one.step is not None) for one in self.problem.allowed]
        return np.array([*steps, *steps, *[1.0] * (self.count + len(self.sizes)), *[0.0] * len(self.missed)])

    def changes(self, found: Floats) -> Floats:
        """The change (n,) of every dimension."""
        return self.units * (found[: self.count] - found[self.count : 2 * self.count])

    def of_changes(self, slopes: Floats) -> Floats:
        """Coefficients (k, width) over all unknowns from those (k, n) over the changes."""
        scaled = np.atleast_2d(slopes) * self.units
        made = np.zeros((len(scaled), self.width))
        made[:, : self.count], made[:, self.count : 2 * self.count] = scaled, -scaled
        return made


def smallest_change(problem: ChangeProblem) -> Floats | None:
    """The values (n,) that change least and keep every rule, rounded; None if there are none within the limits."""
    return _solved(problem, missed=())


def nearest_change(problem: ChangeProblem) -> Floats | None:
    """The values (n,) at which rules are missed by the least sum; None if not even ``excluded`` can be kept."""
    return _solved(problem, missed=tuple(dict.fromkeys(row.rule for row in problem.rows)))


def irreducible(problem: ChangeProblem) -> tuple[list[RuleKey], list[tuple[int, int]]]:
    """Rules and limits that cannot all be kept, none of which can be left out: found by leaving out one after another.

    The rules that are kept best are left out first. Empty where all can be kept.
    """
    margins: dict[RuleKey, float] = {}
    for row in problem.rows:
        margins[row.rule] = min(row.margin, margins.get(row.rule, inf))
    left = sorted(margins, key=lambda rule: -margins[rule])
    if _feasible(problem, left):
        return [], []
    for rule in list(left):
        fewer = [one for one in left if one != rule]
        if not _feasible(problem, fewer):
            left = fewer
    bounding = []
    for number, one in enumerate(problem.allowed):
        for way in (-1, 1) if not one.sizes and number not in problem.fixed else ():
            opened = replace(problem, open_ends=problem.open_ends | {(number, way)})
            if _feasible(opened, left):
                bounding.append((number, way))
            else:
                problem = opened
    return left, bounding


def _feasible(problem: ChangeProblem, rules: Collection[RuleKey]) -> bool:
    rows = [row for row in problem.rows if row.rule in rules]
    return _solved(replace(problem, rows=rows), missed=()) is not None


def _solved(problem: ChangeProblem, missed: tuple[RuleKey, ...]) -> Floats | None:
    """The rounded values (n,); None if there are none."""
    sizes = tuple(
        (number, size - one.value)
        for number, one in enumerate(problem.allowed)
        for size in one.sizes
        if size != one.value
    )
    columns = _Columns(problem, sizes, missed)
    found: Any = milp(
        _objective(columns),
        integrality=columns.integrality,
        bounds=Bounds(columns.lower, columns.upper),
        constraints=_constraints(columns),
    )
    if found.x is None:
        return None
    return writable(problem, columns.changes(found.x))


def _objective(columns: _Columns) -> Floats:
    problem = columns.problem
    weights = np.array([1.0 if one.weight is None else one.weight for one in problem.allowed]) * columns.units
    each = LITTLE if problem.weighted else 1.0 + sum(one.high - one.low for one in problem.allowed)
    scale = LITTLE if columns.missed else 1.0
    counted = np.full(columns.count, scale * each)
    rest = np.zeros(len(columns.sizes)), np.ones(len(columns.missed))
    return np.concatenate([scale * weights, scale * weights, counted, *rest])


def _constraints(columns: _Columns) -> list[LinearConstraint]:
    problem, made = columns.problem, []
    today = np.array([one.value for one in problem.allowed])
    if problem.rows:
        slopes = np.array([row.slopes for row in problem.rows])
        least = [row.slopes @ (row.values - today) - row.margin + problem.aim for row in problem.rows]
        every = columns.of_changes(slopes)
        for number, row in enumerate(problem.rows):
            if row.rule in columns.missed:
                every[number, columns.width - len(columns.missed) + columns.missed.index(row.rule)] = 1.0
        made.append(LinearConstraint(every, np.array(least), np.inf))
    if problem.near is not None and problem.reach is not None:
        reach = np.where([one.step is None and not one.sizes for one in problem.allowed], problem.reach, FARTHEST)
        from_today = problem.near - today
        identity = columns.of_changes(np.eye(columns.count))
        made.append(LinearConstraint(identity, from_today - reach, from_today + reach))
    return [*made, *_counted(columns), *_excluded(columns), *_of_sizes(columns)]


def _counted(columns: _Columns) -> list[LinearConstraint]:
    """Neither p nor n of a dimension that is not counted as changed."""
    count, every = columns.count, np.zeros((2 * columns.count, columns.width))
    rows = np.arange(2 * count)
    every[rows, rows] = 1.0
    every[rows, 2 * count + rows % count] = -columns.upper[: 2 * count]
    return [LinearConstraint(every, -np.inf, 0.0)]


def _excluded(columns: _Columns) -> list[LinearConstraint]:
    """Of each set of dimensions at least one stays."""
    made = []
    for numbers in columns.problem.excluded:
        row = np.zeros(columns.width)
        row[[2 * columns.count + number for number in numbers]] = 1.0
        made.append(LinearConstraint(row, -np.inf, len(numbers) - 1.0))
    return made


def _of_sizes(columns: _Columns) -> list[LinearConstraint]:
    """The change of a dimension that comes in sizes is that to one of them."""
    made = []
    first = 3 * columns.count
    for number in dict.fromkeys(number for number, _ in columns.sizes):
        change = columns.of_changes(np.eye(columns.count)[number])[0]
        chosen = np.zeros(columns.width)
        for k, (of, differs) in enumerate(columns.sizes):
            if of == number:
                change[first + k] = -differs
                chosen[first + k] = 1.0
        made += [LinearConstraint(change, 0.0, 0.0), LinearConstraint(chosen, 0.0, 1.0)]
    return made


def writable(problem: ChangeProblem, changes: Floats) -> Floats:
    """The values (n,) that ``changes`` (n,) of today's come to, as they can be written.

    That is whole steps, sizes, or grains away from today's value, but within the limits.
    """
    made = []
    for one, change in zip(problem.allowed, changes.tolist(), strict=True):
        if one.step is not None:
            value = one.value + one.step * round(change / one.step)
        elif one.sizes:
            value = min(one.sizes, key=lambda size: abs(size - one.value - change))
        elif abs(change) <= FEASIBLE:
            value = one.value
        else:
            grains = np.ceil(abs(change) / GRAIN - 1e-4)
            value = min(max(one.value + np.copysign(grains * GRAIN, change), one.low), one.high)
        made.append(round(float(value), 6))
    return np.array(made)
