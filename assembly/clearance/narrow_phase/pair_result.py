"""What a sweep gives: for each pair two bounds, the setting that shows the least, and where it fails."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair
from assembly.geometry.mesh import Mesh

CLOSED_MM = 1e-5
"""What the query's tolerance and rounding may add to a bracket that is closed."""
Setting = tuple[float, ...]
"""One value per drive, in the drives' order and units."""


class Verdict(StrEnum):
    """The answer to one pair, or to the machine."""

    CLEAR = "clear"
    """Proven at every setting of the range."""
    FAILS = "fails"
    """A setting shows it."""
    UNDECIDED = "undecided"
    """Not proven and not shown to fail, with the reason."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How close to close in, for which pairs, and how long to try."""

    bracket_mm: float = 0.1
    bracket_share: float = 0.02
    interest_mm: float = 10.0
    """Pairs that come within their required clearance plus this are closed in on, and always the nearest 20.

    Of the others it is proven that they do not come so near, unless only a verdict is asked for.
    """
    budget_s: float | None = None
    cores: int = 1
    decide_only: bool = False
    strikes_shown: bool = True
    """Look where failing pairs fail, and how deep; trials of a cure need no more than the verdict."""
    pairs: tuple[tuple[str, str], ...] = ()
    """Pairs that are closed in on however far apart they are, in either order."""
    parts: tuple[str, ...] = ()
    """Parts of which every pair is."""

    def bracket(self, least: float, errors: float) -> float:
        """How near in mm the two bounds are to come, as far as the ``errors`` of both surfaces allow."""
        return max(self.bracket_mm, self.bracket_share * least, 1.5 * errors)

    def near(self, required: float, errors: float) -> float:
        """The distance in mm below which a pair is closed in on; the interest can be proven of one that is farther."""
        interest = required + self.interest_mm
        return interest + self.bracket(interest, errors)

    def asks_for(self, pair: CheckedPair) -> bool:
        """Whether the builder wants a pair closed in on."""
        named = any({pair.a, pair.b} == set(names) for names in self.pairs)
        return named or pair.a in self.parts or pair.b in self.parts


@dataclass(frozen=True, slots=True)
class ErrorBudget:
    """The sum behind a proven clearance at the cell that governs it: distance less the others, mm.

    ``at`` and ``half`` are empty where it is of the whole range at once. Each is recorded where the bound is made
    (``lower_bound``).
    """

    at: Setting
    half: Setting
    method: str
    """What the distance is, and where."""
    distance: float
    displacement: float
    """How far the two can have moved against each other from where the distance holds, ``residual`` apart."""
    residual: float
    """How far the solver's miss at the centre can have moved the two parts."""
    surface_error: float
    query_tolerance: float
    rounding: float
    """What double precision may have shifted coordinates of this size by."""


@dataclass(frozen=True, slots=True)
class Region:
    """Where a pair comes nearer than it must: cells (centre, half-widths) and their share of the range."""

    cells: tuple[tuple[Setting, Setting], ...]
    share: float


@dataclass(frozen=True, slots=True)
class FirstContact:
    """Going from rest along one drive, the others held: the first setting nearer than required."""

    drive: str
    direction: int
    at: Setting


@dataclass(frozen=True, slots=True, eq=False)
class Overlap:
    """Two parts claim one place at a setting: how deep, which way out, how much, where.

    The depth is that of the two shapes that stand deepest in each other, one of each part: the shortest straight shift,
    in whatever direction, that takes the one out of the other.
    """

    at: Setting
    depth: float
    """mm the second shape must be moved along ``direction`` to come free; a shift that was tried, not only bounded."""
    direction: Setting
    volume: float
    """mm³ that the parts share."""
    where: Setting
    """A place inside what the two shapes share, world, mm."""
    solid: Mesh
    shape_a: str = ""
    shape_b: str = ""
    inside: str = ""
    """ "a" or "b" where that one's shape lies wholly inside the other's."""
    at_most: float | None = None
    """mm that no setting of the range goes beyond, surface errors and all; None where that was not closed in on."""


@dataclass(frozen=True, slots=True, eq=False)
class PairResult:
    """What the sweep found for one pair; ``proven`` is None where nothing was proven of the whole range."""

    pair: CheckedPair
    least: float
    at: Setting
    proven: float | None
    verdict: Verdict
    why: str
    error_budget: ErrorBudget | None = None
    region: Region | None = None
    first_contacts: tuple[FirstContact, ...] = ()
    overlap: Overlap | None = None
    contained: bool = False
    surface_error: float = 0.0
    """mm: how far both true surfaces together may stand off their facets."""
    rolls: tuple[str, ...] = ()
    """Names of the columns of its settings after the drives': how far in degrees what can roll is rolled."""
    closed_in: bool = False
    """Whether no setting is nearer than ``least`` by more than the bracket; else it is only what a setting shows."""

    @property
    def told_of_range(self) -> bool:
        """Whether what is proven is a bound over the whole range at once, of no cell."""
        return self.error_budget is not None and not self.error_budget.at

    def bracketed(self, effort: Effort) -> PairResult:
        """The same, knowing whether both bounds are as near each other as ``effort`` asks."""
        if self.proven is None:
            closed = self.least <= 0 and not self.contained
        else:
            closed = self.least <= self.proven + effort.bracket(self.least, self.surface_error) + CLOSED_MM
        return replace(self, closed_in=closed)


@dataclass(slots=True)
class Work:
    """What the sweep cost."""

    poses: int = 0
    queries: int = 0
    cells: int = 0
    recalled: int = 0
    """Pairs that were known from earlier sweeps."""
    query_seconds: float = 0.0
    """Spent inside distance queries, summed over all workers."""
    seconds: dict[str, float] = field(default_factory=dict)
