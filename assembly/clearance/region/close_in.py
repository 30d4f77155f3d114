"""Where a way from a setting that keeps all rules to one that does not leaves what is usable, closed in on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.region.rules import AT_HAND, LOOPS, NONE, ROUNDING, Rules
from assembly.geometry.mesh import Flags, Floats, Ids

PRECISION = 0.05
"""Drive units to which the border is closed in on along a line; less where the lines are closer together."""
CLOSE = 1 / 16
"""Share of the distance between two lines to which it is closed in on at least."""
ROUNDS = 12
"""How often a place found by one rule is looked at again for all others."""
BESIDE = 0.45
"""Share of the precision at which either side of a guess is looked at, so that one look can be enough."""


def close_in(rules: Rules, inside: Floats, outside: Floats, governor: Ids) -> tuple[Floats, Floats, Flags]:
    """``inside`` and ``outside`` (K, d) brought together, the former keeping all rules; and the rules (R, K) at hand.

    At hand are those that may be broken outside: the governing one, and all with little room inside.

    The way between is cut by the one rule that is broken outside; then all others are looked at where that
    ends, and where one is broken there the rest of the way is cut by it.
    """
    sure, low, high, governor = inside.copy(), inside.copy(), outside.copy(), governor.copy()
    width = np.abs(outside - inside).max(axis=1, initial=0.0)
    close = np.minimum(PRECISION, CLOSE * width)
    near = np.zeros((len(rules.every), len(sure)), dtype=bool)
    for _ in range(ROUNDS):
        _cut(rules, low, high, governor, close)
        look = np.flatnonzero((low != sure).any(axis=1))
        if not len(look):
            break
        rooms = rules.rooms(low[look])
        kept = rooms.min(axis=0) >= -ROUNDING
        sure[look[kept]] = low[look[kept]]
        near[:, look[kept]] = rooms[:, kept] < AT_HAND
        bad = look[~kept]
        high[bad], low[bad] = low[bad], sure[bad]
        governor[bad] = rooms[:, ~kept].argmin(axis=0)
    near[governor, np.arange(len(governor))] = True
    return sure, high, near


@dataclass(slots=True, eq=False)
class _Ways:
    """Shares ``low`` and ``high`` of K ways between which each ends; ``room`` (2, K) of its rule there, or nan."""

    start: Floats
    end: Floats
    low: Floats
    high: Floats
    room: Floats

    def at(self, rows: Ids, share: Floats) -> Floats:
        """Settings (..., n, d) at shares (..., n) of the ways ``rows``."""
        return np.asarray(self.start[rows] + share[..., None] * (self.end - self.start)[rows])

    def guess(self, rows: Ids) -> Floats:
        """Where (n,) each may end by a straight line between its rooms; nan where they are not known."""
        inside, outside = self.room[:, rows]
        known = np.isfinite(inside) & np.isfinite(outside) & (inside > 0) & (outside < 0)
        part = np.divide(inside, inside - outside, out=np.full(len(rows), np.nan), where=known)
        return np.asarray(self.low[rows] + part * (self.high - self.low)[rows])

    def take_in(self, rows: Ids, share: Floats, broken: Flags, room: Floats) -> None:
        """Note what was found at the shares (2, n) of the ways ``rows``, the lesser first."""
        first, second = broken
        low, high = self.low[rows], self.high[rows]
        self.high[rows] = np.where(first, share[0], np.where(second, share[1], high))
        self.low[rows] = np.where(first, low, np.where(second, share[0], share[1]))
        ends = self.room[:, rows]
        ends[1] = np.where(first, room[0], np.where(second, room[1], ends[1]))
        ends[0] = np.where(first, ends[0], np.where(second, room[0], room[1]))
        self.room[:, rows] = ends


def _cut(rules: Rules, low: Floats, high: Floats, governor: Ids, close: Floats) -> None:
    """Bring ``low`` and ``high`` together in place, until they are ``close`` (K,), by one rule each.

    Either side of where a way is guessed to end is looked at: where its loops lock as it is gone, or where the room of
    its rule comes to nothing on a straight line. Where that did not help, it is cut in three.
    """
    count, width = len(low), np.abs(high - low).max(axis=1, initial=0.0)
    ways = _Ways(low.copy(), high.copy(), np.zeros(count), np.ones(count), np.full((2, count), np.nan))
    beside, guess = BESIDE * close / np.maximum(width, 1e-300), np.full(count, np.nan)
    locks = np.flatnonzero((governor == LOOPS) & (width > close))
    guess[locks] = rules.gone(low[locks], high[locks])
    while len(rows := np.flatnonzero((ways.high - ways.low) * width > close)):
        before, third = (ways.high - ways.low)[rows], (ways.high - ways.low)[rows] / 3
        middle = np.where(np.isnan(guess[rows]), (ways.low + ways.high)[rows] / 2, guess[rows])
        apart = np.where(np.isnan(guess[rows]), third / 2, beside[rows])
        share = np.stack([middle - apart, middle + apart])
        share = np.clip(share, ways.low[rows] + third * 0.1, ways.high[rows] - third * 0.1)
        broken, room = rules.keeps(ways.at(rows, share).reshape(2 * len(rows), -1), np.tile(governor[rows], 2))
        broken, room = broken.reshape(2, -1), room.reshape(2, -1)
        ways.take_in(rows, share, broken != NONE, room)
        first = np.where(broken[0] != NONE, broken[0], broken[1])
        governor[rows] = np.where(first != NONE, first, governor[rows])
        shrank = (ways.high - ways.low)[rows] < before / 2
        guess[rows] = np.where(shrank, ways.guess(rows), np.nan)
    every = np.arange(count)
    low[:], high[:] = ways.at(every, ways.low), np.where((ways.high < 1)[:, None], ways.at(every, ways.high), high)
