"""How far something of a machine goes by hand at one setting, under no load: to first order in the play of its joints.

The unknowns x move all bodies a little. Rows without play hold, J x = 0; those of each joint with play make vectors no
longer than it lets go. What is asked is linear in x, so its largest value is that of a linear program but for the round
constraints, which are cut by planes that touch them where the last solution broke them (Kelley 1960), until none is
broken by more than ``BROKEN`` of itself. Every solution on the way is an upper bound. All rows count, those too that
others imply without play, so a loop that holds a part twice lets it go no farther than both of its ways do.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import linprog

from assembly.geometry.mesh import Floats
from assembly.kinematics.bodies import GROUND
from assembly.kinematics.loose_rows import LooseRows, LooseVector
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture, Reach

BROKEN = 1e-5
ROUNDS = 40
NOTHING = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class _Round:
    """A vector of misses as linear functions (k, n) of the unknowns, mm, and how long it may be either way."""

    of: Floats
    length: float
    ends: tuple[float, float]


@dataclass(eq=False)
class ByHand:
    """A mechanism with play at one ``posture``."""

    mechanism: Mechanism
    loose: LooseRows
    posture: Posture
    _rows: Floats = field(init=False)
    _rounds: list[_Round] = field(init=False)
    _held: Floats = field(init=False)

    def __post_init__(self) -> None:
        equations = self.mechanism.equations
        self._rows = np.hstack([equations.jacobian(self.posture)[0], equations.by_settings])
        free = {row for one in self.loose.vectors for row in one.rows.tolist()}
        held = [self._rows[[row for row in range(len(self._rows)) if row not in free]]]
        self._rounds = []
        for group in dict.fromkeys(tuple(one.rows.tolist()) for one in self.loose.vectors):
            own = [one for one in self.loose.vectors if tuple(one.rows.tolist()) == group]
            rows, axes = self._rows[list(group)], [one.over_rows(self.posture)[0] for one in own]
            self._rounds += [self._round(one, axis.T @ rows) for one, axis in zip(own, axes, strict=True)]
            spanned = np.hstack(axes)
            held.append((np.eye(len(group)) - spanned @ spanned.T) @ rows)
        self._held = np.vstack(held)

    def _round(self, one: LooseVector, of: Floats) -> _Round:
        still = Reach(*(np.zeros((1, len(self.mechanism.bodies))) for _ in range(2)))
        length = float(one.lengths(self.posture, still)[0])
        return _Round(of, length, one.ends or (-length, length))

    def farthest(self, of: Floats, bodies: Sequence[int] = (), drive: int | None = None) -> float:
        """The largest value of ``of`` (n + d,) of the unknowns and the drives, none of which moves but ``drive``.

        ``bodies`` are held where they stand. Infinite where nothing holds what is asked.
        """
        drives = len(self.mechanism.machine.drives)
        count = self._rows.shape[1] - drives
        fixed = [count + number for number in range(drives) if number != drive]
        fixed += [6 * (body - 1) + axis for body in bodies if body != GROUND for axis in range(6)]
        bounds = [(0.0, 0.0) if number in set(fixed) else (None, None) for number in range(len(of))]
        cuts = [cut for one in self._rounds for cut in _first_cuts(one)]
        value = np.inf
        for _ in range(ROUNDS):
            limits = np.array([far for _, far in cuts])
            planes = np.array([plane for plane, _ in cuts])
            found = linprog(-of, planes, limits, self._held, np.zeros(len(self._held)), bounds, method="highs")
            if found.status != 0:
                return np.inf
            value, more = -float(found.fun), [cut for one in self._rounds for cut in _broken(one, found.x)]
            if not more:
                break
            cuts += more
        return value

    def point(self, body: int, place: Floats, along: Floats) -> Floats:
        """How far (n + d,) a point of ``body`` at ``place`` (3,) goes ``along`` (3,), as a function of the unknowns."""
        of = np.zeros(self._rows.shape[1])
        if body != GROUND:
            lever = place - self.posture.centres[0, body]
            start = 6 * (body - 1)
            of[start : start + 3] = along
            of[start + 3 : start + 6] = np.cross(lever, along) / self.mechanism.equations.scale
        return of

    def setting(self, drive: int) -> Floats:
        """The setting (n + d,) of a drive as a function of the unknowns, in its own unit."""
        of = np.zeros(self._rows.shape[1])
        of[len(of) - len(self.mechanism.machine.drives) + drive] = 1.0
        return of


def _first_cuts(one: _Round) -> Iterator[tuple[Floats, float]]:
    low, high = one.ends if len(one.of) == 1 else (-one.length, one.length)
    for line in one.of:
        yield line, high
        yield -line, -low


def _broken(one: _Round, unknowns: Floats) -> Iterator[tuple[Floats, float]]:
    """The plane that touches a round constraint where it is broken."""
    way = one.of @ unknowns
    size = float(np.linalg.norm(way))
    if len(way) > 1 and size > one.length * (1 + BROKEN) + NOTHING:
        yield (way / size) @ one.of, one.length
