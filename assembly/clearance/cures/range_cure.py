"""A smaller range of one drive within which a failing pair keeps its clearance, swept before it is reported.

Where the pair fails was seen on a lattice and along single drives; the range is first ended just short of that. The
pair is then swept over it, with the other drives over their whole ranges, and the range ended sooner where that fails:
other settings of the other drives may be worse. What was not proven is not reported.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil, floor

import numpy as np

from assembly.clearance.cures.trials import TRIAL
from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, gather_pairs
from assembly.clearance.narrow_phase.pair_result import PairResult, Verdict
from assembly.clearance.proof.sweep import sweep_pairs
from assembly.geometry.mesh import Floats
from assembly.kinematics.assembling import assemble
from assembly.model.machine import Drive, Machine
from assembly.time_limit import check_time

GRAIN = 0.1
"""Degrees or mm to which the end of a range is rounded, towards rest."""
LEAST_KEPT = 0.25
"""Share of the drive's range that must be left: a machine that hardly moves is no advice."""
TRIES = 3
"""Ranges that are swept for one pair."""


@dataclass(frozen=True, slots=True)
class SmallerRange:
    """``drive`` from ``low`` to ``high`` only, in its unit; ``swept`` ranges were tried.

    ``proven``: the pair is clear in it, wherever the other drives stand.
    """

    drive: str
    low: float
    high: float
    proven: bool
    swept: int


@dataclass(frozen=True, slots=True)
class _Guess:
    """A range, and by how much it is ended sooner where it does not hold."""

    drive: str
    column: int
    low: float
    high: float
    step: float
    kept: float

    def short_of(self, value: float) -> _Guess | None:
        """The range ended before ``value``, at which the pair was seen to fail; None if that is at rest."""
        if value > 0:
            return replace(self, high=_short_of(min(value, self.high) - self.step), step=2 * self.step)
        if value < 0:
            return replace(self, low=_short_of(max(value, self.low) + self.step), step=2 * self.step)
        return None


def smaller_range(machine: Machine, failing: PairResult, most: int) -> SmallerRange | None:
    """The widest range that was found for a pair, ``proven`` or not, after at most ``most`` sweeps of it.

    None if no end of one drive's range takes out all places at which the pair was seen to fail.
    """
    guess = max(_guesses(machine, failing), key=lambda one: one.kept, default=None)
    made = None
    for number in range(min(TRIES, most)):
        if guess is None or not guess.low < 0 < guess.high:
            break
        result = _swept(machine, guess, failing.pair)
        made = SmallerRange(guess.drive, guess.low, guess.high, result.verdict is Verdict.CLEAR, number + 1)
        if made.proven:
            break
        guess = guess.short_of(result.at[guess.column])
    return made


def _guesses(machine: Machine, failing: PairResult) -> Iterator[_Guess]:
    """For each drive the range that leaves out all cells in which the pair was seen to fail."""
    if failing.region is None or not failing.region.cells:
        return
    count = len(machine.drives)
    centres = np.array([centre[:count] for centre, _ in failing.region.cells])
    half = np.array(failing.region.cells[0][1][:count])
    wide = np.abs(centres) <= half  # cells that reach over rest
    told = np.array([at[:count] for at in (failing.at, *(contact.at for contact in failing.first_contacts))])
    for column, drive in enumerate(machine.drives.values()):
        near = np.where(wide[:, column], 0.0, centres[:, column])
        guess = _guess(drive, column, np.concatenate([near, told[:, column]]), half[column])
        if guess is not None and guess.kept >= LEAST_KEPT:
            yield guess


def _guess(drive: Drive, column: int, fails: Floats, half: float) -> _Guess | None:
    """The range between the innermost ``fails`` of both sides; None if there are such at rest."""
    above, below = fails[fails > 0], fails[fails < 0]
    if len(above) + len(below) < len(fails) or drive.high <= drive.low:
        return None
    high = drive.high if not len(above) else _short_of(float(above.min()))
    low = drive.low if not len(below) else _short_of(float(below.max()))
    return _Guess(drive.name, column, low, high, max(float(half), GRAIN), (high - low) / (drive.high - drive.low))


def _short_of(value: float) -> float:
    """The next setting but one towards rest, as it is printed: only what is swept is reported."""
    steps = floor(value / GRAIN) - 1 if value > 0 else ceil(value / GRAIN) + 1
    return round(steps * GRAIN, 6)


def _swept(machine: Machine, guess: _Guess, pair: CheckedPair) -> PairResult:
    """The pair over the range of a guess, all other drives over theirs; a machine of its own, put together anew."""
    ended = replace(machine.drives[guess.drive], low=guess.low, high=guess.high)
    smaller = replace(machine, drives={**machine.drives, guess.drive: ended})
    mechanism = assemble(smaller)
    pairs = gather_pairs(smaller, mechanism.bodies)
    chosen = pairs.only(one for one in pairs.checked if (one.a, one.b) == (pair.a, pair.b))
    swept = sweep_pairs(mechanism, chosen, TRIAL, lambda *_: None)
    check_time()
    return swept.pairs[0]
