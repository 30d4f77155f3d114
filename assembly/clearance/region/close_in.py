"""Where a way from a setting that keeps all rules to one that does not leaves what is usable, by halving it."""

from __future__ import annotations

import numpy as np

from assembly.clearance.region.rules import AT_HAND, NONE, ROUNDING, Rules
from assembly.geometry.mesh import Flags, Floats, Ids

PRECISION = 0.05
"""Drive units to which the border is closed in on along a line; less where the lines are closer together."""
CLOSE = 1 / 16
"""Share of the distance between two lines to which it is closed in on at least."""
ROUNDS = 12
"""How often a place found by one rule is looked at again for all others."""


def close_in(rules: Rules, inside: Floats, outside: Floats, governor: Ids) -> tuple[Floats, Floats, Flags]:
    """``inside`` and ``outside`` (K, d) brought together, the former keeping all rules; and the rules (R, K) at hand.

    At hand are those that may be broken outside: the governing one, and all with little room inside.

    The way between is halved by the one rule that is broken outside; then all others are looked at where that
    ends, and where one is broken there the rest of the way is halved by it.
    """
    sure, low, high, governor = inside.copy(), inside.copy(), outside.copy(), governor.copy()
    width = np.abs(outside - inside).max(axis=1, initial=0.0)
    close = np.minimum(PRECISION, CLOSE * width)
    near = np.zeros((len(rules.every), len(sure)), dtype=bool)
    for _ in range(ROUNDS):
        _halve(rules, low, high, governor, close)
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


def _halve(rules: Rules, low: Floats, high: Floats, governor: Ids, close: Floats) -> None:
    """Bring ``low`` and ``high`` together in place, until they are ``close`` (K,), by one rule each."""
    while len(rows := np.flatnonzero(np.abs(high - low).max(axis=1, initial=0.0) > close)):
        middle = (low[rows] + high[rows]) / 2
        broken = rules.keeps(middle, governor[rows])
        bad = broken != NONE
        low[rows[~bad]] = middle[~bad]
        high[rows[bad]] = middle[bad]
        governor[rows[bad]] = broken[bad]
