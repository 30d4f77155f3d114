"""The derivative of every figure over every number of the file, at the settings that govern them.

At a setting the posture q holds F(q, p, s) = 0, all rows of the machine, with p the file's numbers and s the drives and
rolls. A figure g(q, p) then has

    dg/dp = ∂g/∂p - λ · (∂F/∂p + ∂F/∂s ds/dp),    Jᵀ λ = ∂g/∂q,

one solve for each figure and none for each number. ∂g/∂p and ∂F/∂p are differences of what the file says a step up and
a step down, at the one posture: nothing is put together again. At a least over the range ds/dp is no matter (envelope
theorem) but where an end of the range holds the setting, and that moves; or the end of a rod its roll.

What this does not see: a change so large that another feature or setting governs. Differences up and down that do not
agree are both reported. Rows that a loop holds twice and that a change would pull apart are reported as ``torn``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.sensitivity.change import STEP, Change, Stepped
from assembly.clearance.sensitivity.pair_place import PairPlace
from assembly.clearance.sensitivity.places import EndRoom, MeasuredPlace, Place
from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.roll_columns import rolling_rods
from assembly.kinematics.row_slopes import RowSlopes
from assembly.kinematics.rows import Posture
from assembly.kinematics.rows.base import dot
from assembly.kinematics.solver import solve

AT_END = 1e-6
"""Drive units: a setting so near to an end of its range is at it."""
AT_LIMIT = 0.05
"""degrees: an end of a rod with so little left holds the rod's roll."""
MOST_NUMBERS = 30_000_000
"""Numbers in the inverses of the rows' derivatives that are held at once, 8 bytes each."""
TORN = 1e-3
"""Share of what a change asks of the rows that the bodies may leave open."""
LEAST_TORN = 1e-6
"""mm per unit."""


@dataclass(frozen=True, slots=True, eq=False)
class Slopes:
    """Derivatives (P,) of one figure over P numbers, taken upwards and downwards; nan where the machine is torn."""

    up: Floats
    down: Floats

    @property
    def mean(self) -> Floats:
        """The derivative by central differences."""
        return np.asarray((self.up + self.down) / 2)


@dataclass(frozen=True, slots=True, eq=False)
class _Solved:
    """N postures with their settings, and the left inverse (N, n, rows) of the rows' derivative at each."""

    settings: Floats
    posture: Posture
    slopes: RowSlopes
    inverse: Floats


@dataclass(frozen=True, slots=True)
class _Held:
    """A column of a place's setting that an end of a rod holds: how the figure and the end's room change with it."""

    place: int
    column: int
    room: int
    """The number of the place that is the end's room."""


def slopes_of(mechanism: Mechanism, places: Sequence[Place], changes: Sequence[Change]) -> list[Slopes]:
    """The derivatives of all ``places``, each over all ``changes``; those of a refused change are nan.

    ``mechanism`` has a column of settings for every roll.
    """
    rows = len(mechanism.equations.first)
    at_once = max(1, MOST_NUMBERS // (6 * len(mechanism.bodies) * rows))
    starts = range(0, len(places), at_once)
    return [one for k in starts for one in _slopes_of(mechanism, places[k : k + at_once], changes)]


def _slopes_of(mechanism: Mechanism, places: Sequence[Place], changes: Sequence[Change]) -> list[Slopes]:
    held, rooms = _held_rolls(mechanism, places)
    every = [*places, *rooms]
    wanted, of_place = np.unique(np.array([place.settings for place in every]), axis=0, return_inverse=True)
    of_place = of_place.reshape(-1)
    solved = _solved(mechanism, wanted)
    gradients = [
        place.gradient(mechanism, solved.posture.take(of_place[[number]])) for number, place in enumerate(every)
    ]
    multipliers = np.array([gradient @ solved.inverse[row] for gradient, row in zip(gradients, of_place, strict=True)])
    by_settings = -multipliers @ mechanism.equations.by_settings
    own = _Own(mechanism, every, of_place, solved, multipliers, by_settings)
    shape = len(changes), len(every)
    sides = [np.array([own.slopes(change, up=up) for change in changes]).reshape(shape).T for up in (True, False)]
    for number in held:
        pull, hold = by_settings[[number.place, number.room], number.column]
        if pull * hold > 0:
            for side in sides:
                side[number.place] -= pull / hold * side[number.room]
    return [Slopes(up, down) for up, down in zip(sides[0][: len(places)], sides[1][: len(places)], strict=True)]


def _solved(mechanism: Mechanism, settings: Floats) -> _Solved:
    found = solve(mechanism, settings)
    slopes, rows = mechanism.equations.slopes(found.posture), len(mechanism.equations.first)
    identity = np.broadcast_to(np.eye(rows), (len(settings), rows, rows))
    return _Solved(settings, found.posture, slopes, mechanism.system.solve(slopes, identity))


@dataclass(frozen=True, slots=True, eq=False)
class _Own:
    """What is known of every place before any number is changed."""

    mechanism: Mechanism
    places: Sequence[Place]
    of_place: NDArray[np.intp]
    solved: _Solved
    multipliers: Floats
    by_settings: Floats

    def slopes(self, change: Change, *, up: bool) -> Floats:
        """The derivatives (places,) over one number; nan where the file cannot be read so."""
        stepped = change.up if up else change.down
        if stepped is None:
            return np.full(len(self.places), np.nan)
        step = STEP if up else -STEP
        asked = self._asked(stepped) / step
        explicit = np.array(
            [
                place.at_posture(stepped, self.solved.posture.take(np.array([row])))
                for place, row in zip(self.places, self.of_place, strict=True)
            ]
        )
        through = np.einsum("pr,pr->p", self.multipliers, asked[self.of_place])
        made = explicit / step - through + self._by_ends(stepped) / step
        return np.asarray(np.where(self._torn(asked)[self.of_place], np.nan, made))

    def _asked(self, stepped: Stepped) -> Floats:
        """How much more (N, rows) every row misses by where the bodies stay where they stand."""
        if stepped.mechanism is stepped.before:
            return np.zeros(self.solved.inverse.shape[::2])
        posture, settings = self.solved.posture, self.solved.settings
        after, before = (each.equations.values(posture, settings) for each in (stepped.mechanism, stepped.before))
        return after - before

    def _torn(self, asked: Floats) -> Floats:
        """Whether (N,) no motion of the bodies answers what a change asks of the rows."""
        answered = self.solved.slopes.times(self.solved.inverse @ asked[..., None])[..., 0]
        size = np.abs(asked).max(axis=1, initial=0.0)
        return np.asarray(np.abs(asked - answered).max(axis=1, initial=0.0) > TORN * size + LEAST_TORN)

    def _by_ends(self, stepped: Stepped) -> Floats:
        """What the ends of the drives' ranges do (places,) that move with the number and hold a setting."""
        shift = np.zeros((len(self.solved.settings), self.by_settings.shape[1]))
        pairs = zip(stepped.before.machine.drives.values(), stepped.mechanism.machine.drives.values(), strict=True)
        for column, (old, new) in enumerate(pairs):
            for before, after in ((old.low, new.low), (old.high, new.high)):
                at_end = np.abs(self.solved.settings[:, column] - before) <= AT_END
                shift[at_end, column] = after - before
        return np.asarray(dot(self.by_settings, shift[self.of_place]))


def _held_rolls(mechanism: Mechanism, places: Sequence[Place]) -> tuple[list[_Held], list[Place]]:
    """The rolls that an end of a rod holds where they are, and the rooms of those ends as places of their own."""
    held: list[_Held] = []
    rooms: list[Place] = []
    rods = rolling_rods(mechanism)
    first = len(mechanism.machine.drives) - len(mechanism.rolls)
    rolled = [k for k, place in enumerate(places) if isinstance(place, PairPlace) and place.settings[first:].any()]
    if not rolled:
        return held, rooms
    posture = solve(mechanism, np.array([places[k].settings for k in rolled])).posture
    for rod in rods:
        column = first + mechanism.rolls.index(rod.number)
        left = np.array([end.limit - end.lean.values(posture) for end in rod.ends])
        for row, k in enumerate(rolled):
            end = int(np.argmin(left[:, row]))
            if places[k].settings[column] and left[end, row] <= AT_LIMIT:
                rooms.append(MeasuredPlace(EndRoom(rod.ends[end].joint), places[k].settings))
                held.append(_Held(k, column, len(places) + len(rooms) - 1))
    return held, rooms
