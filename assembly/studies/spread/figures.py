"""What every dimension takes of a figure, from its slopes at the setting that governs it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

from assembly.clearance.tolerances.readings import Tolerance
from assembly.record import FigureEntry, Settings, ShareEntry, SlopeEntry

PLAY_OF = "play of "
"""What the share of a joint's play is called."""


@dataclass(frozen=True, slots=True)
class FirstOrder:
    """A figure to first order in the dimensions and play of joints: ``worst`` is what all take together, ``off`` where.

    ``root_sum``: root of the sum of squares of half of what each may change it by, ``middle`` the shift by the middles
    of the tolerances. ``torn``: dimensions with which the machine does not go together.
    """

    worst: float
    root_sum: float
    middle: float
    shares: tuple[ShareEntry, ...]
    off: Settings
    torn: tuple[str, ...]


def first_order_of(figure: FigureEntry, tolerances: Sequence[Tolerance]) -> FirstOrder:
    """What ``tolerances`` do to ``figure``; the most eaten first."""
    slopes = {slope.number: slope for slope in figure.places[0].slopes} if figure.places else {}
    found: list[tuple[ShareEntry, float]] = []
    halves, middle, torn = [], 0.0, []
    for one in tolerances:
        slope = slopes.get(one.name, SlopeEntry(one.name, 0.0, 0.0))
        if slope.up is None or slope.down is None:
            torn.append(one.name)
            found.append((ShareEntry(one.name, None, 0.0, 0.0), 0.0))
            continue
        ends = {change: change * (slope.up if change > 0 else slope.down) for change in (one.low, one.high)}
        worse = min(ends, key=lambda change: ends[change])
        mean = (slope.up + slope.down) / 2
        found.append((ShareEntry(one.name, mean, max(-ends[worse], 0.0), 0.0), worse if ends[worse] < 0 else 0.0))
        halves.append(mean * (one.high - one.low) / 2)
        middle += mean * (one.high + one.low) / 2
    found += [(ShareEntry(PLAY_OF + name, None, takes, 0.0), 0.0) for name, takes in figure.play.items()]
    halves += list(figure.play.values())
    whole = sum(share.takes for share, _ in found)
    shares = [
        ShareEntry(share.dimension, share.slope, share.takes, share.takes / whole if whole else 0.0)
        for share, _ in found
        if share.takes or share.slope is None
    ]
    shares.sort(key=lambda share: -share.takes)
    off = {share.dimension: worse for share, worse in found if worse}
    return FirstOrder(whole, hypot(*halves), middle, tuple(shares), off, tuple(torn))
