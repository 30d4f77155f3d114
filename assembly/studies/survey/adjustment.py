"""Weighted least squares: the numbers that explain the readings best, how well they are known, and which are not.

Unknowns are x = (number - drawn) / may_differ, between -1 and 1, residuals r = (figure - reading) / plus_minus, so that
all are of one size. Where readings do not see a combination of numbers, the solution stays nearest to the drawing: a
weight on x of ``FEEBLE``, which readings that see anything outweigh by far, sees to that. What is known follows from
the singular values of the derivatives: A = U S Vᵀ, and V S⁻² Vᵀ is the covariance of x in squares of the readings'
errors. Source: common practice of survey adjustment.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.stats import chi2

from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.studies.survey.observed import ObservedMachine

FEEBLE = 1e-2
UNSEEN = 1e-2
"""Singular values below see nothing: the readings' errors would be a hundred times what a number may differ by."""
SHARED = 1e-3
"""Share of a number in a combination that no reading sees, squared, from which on it is not told apart."""
SIGMAS = 2.0
"""Standard deviations in a reading's error, which holds 19 of 20 readings."""
RARE = 0.01
"""Readings that are as good as they say come to disagree more than theirs in so few of all cases."""
OUT_OF_REACH = 1e6
"""Residual of a machine that cannot be put together."""
AT_END = 0.999
INSIDE = 0.999999
"""Where a search begins that is to begin at an end."""
NEAR = 0.2
"""Derivatives at numbers so near, as a share of what these may differ by, are taken: figures bend little over that."""
MOST_STEPS = 60

Chosen = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Adjustment:
    """The solution for the readings that are ``used`` (o,).

    ``numbers`` (k,) in their own units; ``values`` (o,) what all readings come to with them; ``scaled`` (o, k) the
    derivatives of residuals over x, of all readings; ``residuals`` (o,).
    """

    used: Chosen
    numbers: Floats
    values: Floats
    scaled: Floats
    residuals: Floats
    reach: Floats
    drawn: Floats

    @property
    def change(self) -> Floats:
        """By how much (k,) the numbers differ from the drawing, as a share of what they may."""
        return np.asarray((self.numbers - self.drawn) / self.reach)

    @property
    def _seen(self) -> tuple[Floats, Floats, Floats]:
        """U, S and Vᵀ of the readings used, of the directions that they see."""
        u, s, vt = np.linalg.svd(self.scaled[self.used], full_matrices=False)
        kept = s > UNSEEN
        return u[:, kept], s[kept], vt[kept]

    def spread_of(self, scaled: Floats) -> Floats:
        """Rows of which the squares add up to the variance of figures with derivatives ``scaled`` (f, k) over x."""
        _, s, vt = self._seen
        return np.asarray(scaled @ vt.T / s)

    @property
    def rank(self) -> int:
        """How many combinations of the numbers the readings see."""
        return len(self._seen[1])

    @property
    def spare(self) -> int:
        """How many readings there are beyond what the numbers need."""
        return int(self.used.sum()) - self.rank

    @property
    def errors(self) -> Floats:
        """How far off (k,) each number may be, as the readings' errors are meant; infinite where it is not seen."""
        _, s, vt = self._seen
        found = self.inflation * self.reach * np.sqrt((vt.T**2 / s**2).sum(axis=1))
        return np.asarray(np.where(self.unseen > SHARED, np.inf, found))

    @property
    def unseen(self) -> Floats:
        """The share (k,) of each number, squared, that lies in combinations that no reading sees."""
        _, _, vt = self._seen
        return np.asarray(1.0 - (vt**2).sum(axis=0)) if len(vt) else np.ones(len(self.numbers))

    @property
    def together(self) -> tuple[tuple[int, ...], ...]:
        """Numbers of which only combinations are seen, each group by its places; one alone is not seen at all."""
        _, _, vt = self._seen
        hidden = np.eye(len(self.numbers)) - vt.T @ vt
        left = [k for k, share in enumerate(self.unseen) if share > SHARED]
        groups: list[tuple[int, ...]] = []
        while left:
            group, more = [], [left[0]]
            while more:
                one = more.pop()
                group.append(one)
                left.remove(one)
                more += [k for k in left if k not in more and abs(hidden[one, k]) > SHARED]
            groups.append(tuple(sorted(group)))
        return tuple(groups)

    @property
    def leverage(self) -> Floats:
        """The share (o,) of each reading used that it decides itself: 1 where nothing else checks it; 0 of others."""
        found = np.zeros(len(self.used))
        found[self.used] = (self._seen[0] ** 2).sum(axis=1)
        return found

    @property
    def disagreement(self) -> float:
        """The sum of squares of the residuals of readings used, in standard deviations."""
        return float(((SIGMAS * self.residuals[self.used]) ** 2).sum())

    @property
    def agrees(self) -> bool:
        """Whether the readings are no farther from each other than their errors let expect."""
        if self.spare <= 0:
            return bool(self.disagreement <= chi2.isf(RARE, 1))
        return bool(self.disagreement <= chi2.isf(RARE, self.spare))

    @property
    def inflation(self) -> float:
        """By how much errors are larger than they say, where readings disagree more than they may."""
        return 1.0 if self.agrees or self.spare <= 0 else float(np.sqrt(self.disagreement / self.spare))


def adjusted(
    observed: ObservedMachine,
    used: Chosen,
    start: Floats | None = None,
    *,
    robust: bool = False,
    exactly: bool = True,
) -> Adjustment:
    """The numbers that explain the readings ``used`` best; ``robust``: a reading that is far off counts less.

    ``exactly``: with the derivatives at what is found, else with those of a place near by, where they are known.

    Raises InputError where the machine of the file cannot be put together, or a reading has no value there.
    """
    drawn, reach = observed.drawn, observed.reach
    first = drawn if start is None else start
    _require_values(observed, used, first)

    solution = (first - drawn) / reach
    if len(solution):
        solution = _solved(observed, used, solution, robust=robust)
    if exactly and len(solution):
        observed.slopes_near(drawn + reach * solution, 0.0)
        solution = _solved(observed, used, solution, robust=robust)
    numbers = drawn + reach * solution
    values, scaled = observed.values(numbers), _scaled(observed, numbers)
    return Adjustment(used, numbers, values, scaled, _residuals(observed, values), reach, drawn)


def _solved(observed: ObservedMachine, used: Chosen, start: Floats, *, robust: bool) -> Floats:
    """The solution from ``start`` on, both as shares of what the numbers may differ by."""
    drawn, reach = observed.drawn, observed.reach

    def residuals(x: Floats) -> Floats:
        off = _residuals(observed, observed.values(drawn + reach * x))[used]
        return np.concatenate([np.nan_to_num(off, nan=OUT_OF_REACH), FEEBLE * x])

    def slopes(x: Floats) -> Floats:
        return np.vstack([_scaled(observed, drawn + reach * x)[used], FEEBLE * np.eye(len(x))])

    found = least_squares(
        residuals,
        np.clip(start, -INSIDE, INSIDE),
        jac=slopes,
        bounds=(-1.0, 1.0),
        loss="soft_l1" if robust else "linear",
        xtol=1e-6,
        ftol=1e-8,
        gtol=1e-8,
        max_nfev=MOST_STEPS,
    )
    return np.asarray(found.x)


def _require_values(observed: ObservedMachine, used: Chosen, numbers: Floats) -> None:
    """Raise what is wrong where the machine does not go together to begin with, or some reading has no value."""
    observed.made(numbers)
    lost = [
        one
        for one, value, asked in zip(observed.observations, observed.values(numbers), used, strict=True)
        if asked and not np.isfinite(value)
    ]
    if lost:
        raise InputError(*(_lost(observed, one.name, one.line) for one in lost))


def _lost(observed: ObservedMachine, name: str, line: int | None) -> Fault:
    message = "the machine of the file cannot be brought to this setting, or nothing can be read there"
    return Fault(message, f"measured.{name}", observed.machine.file, line, "give a setting that it reaches")


def _residuals(observed: ObservedMachine, values: Floats) -> Floats:
    return np.asarray((values - observed.readings) / observed.errors)


def _scaled(observed: ObservedMachine, numbers: Floats) -> Floats:
    return np.asarray(observed.slopes_near(numbers, NEAR) * observed.reach / observed.errors[:, None])


def all_of(observed: ObservedMachine) -> Chosen:
    """Every reading."""
    return np.ones(len(observed.observations), dtype=np.bool_)


def without(used: Chosen, numbers: Sequence[int]) -> Chosen:
    """The readings ``used`` but those at ``numbers``."""
    left = used.copy()
    left[list(numbers)] = False
    return left
