"""The search for the smallest change that holds: linear programs over measured rules, each step measured anew.

The rules of the best machine so far are linear about where it stands; the smallest change that keeps them is measured
next, or where they contradict each other the one that misses them least. A step that does not bring the rules nearer is
halved. From a change that holds the same goes on towards less change, and where slopes promise too much, between it and
what did not hold. What is found last is swept whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from assembly.api.proposals.measured_machine import AIM, MeasuredMachine, Measuring
from assembly.clearance.sensitivity.smallest_change import (
    ChangeProblem,
    MarginRow,
    nearest_change,
    smallest_change,
    writable,
)
from assembly.geometry.mesh import Floats

TRIALS = 9
"""Machines that are measured for one proposal."""
CLOSE = 0.1
CLOSE_SHARE = 0.03
"""A change that could be smaller by no more than this, mm or so, or this share of it, is taken."""
PROMISING = 0.5
"""Of what is missed, what a step towards a further proposal may leave."""
LEAST_SHARE = 0.2
"""Of the way between what does not hold and what does, below which nothing is tried."""
BETTER = 0.02
"""mm and degrees by which a step must bring rules nearer to being kept."""


@dataclass(slots=True, eq=False)
class _State:
    """One search under way, from ``here``: ``beside`` was measured from there and is no better.

    ``best``: the smallest change that held in a trial; ``short``: the last that did not. ``reach``: how far the next
    step may go. ``seen``: all values that it came to.
    """

    excluded: Sequence[frozenset[int]]
    here: MeasuredMachine
    short: MeasuredMachine
    seen: list[Floats]
    beside: list[MeasuredMachine] = field(default_factory=list)
    best: MeasuredMachine | None = None
    reach: Floats | None = None

    def saw(self, values: Floats) -> bool:
        """Whether the search came to these values before."""
        return any(np.array_equal(values, one) for one in self.seen)


@dataclass(slots=True, eq=False)
class ChangeSearch:
    """Looks for changes of the machine that was measured ``today`` as it is, all of it.

    ``tried``: all others that were measured.
    """

    measuring: Measuring
    today: MeasuredMachine
    tried: list[MeasuredMachine] = field(default_factory=list)

    def found(self, excluded: Sequence[frozenset[int]]) -> MeasuredMachine | None:
        """The smallest change that is proven over the whole range, of no set of dimensions that is ``excluded``.

        None where none was found.
        """
        state = _State(excluded, self.today, self.today, [self.today.values])
        for _ in range(TRIALS):
            values = self._next(state)
            if values is not None:
                self._step(state, values)
            elif state.best is None:
                return None
            elif (whole := self._proven(state, state.best)) is not None:
                return whole
        return None if state.best is None else self._proven(state, state.best)

    def problem(self, rows: Sequence[MarginRow], excluded: Sequence[frozenset[int]] = ()) -> ChangeProblem:
        """The linear problem over some rows."""
        allowed, stays = self.measuring.allowed, self.today.stays
        fixed = frozenset(number for number, one in enumerate(allowed) if one.name in stays)
        return ChangeProblem(allowed, rows, AIM, fixed, excluded)

    @property
    def nearest(self) -> MeasuredMachine:
        """The machine that misses its rules least of all that were measured."""
        return min((one for one in (self.today, *self.tried) if not one.trouble), key=lambda one: one.missed)

    def _next(self, state: _State) -> Floats | None:
        """The values to measure next; None where nothing better is to be had."""
        own = replace(self.problem(state.here.rows, state.excluded), near=state.here.values, reach=state.reach)
        both = replace(own, rows=[row for one in (state.here, *state.beside) for row in one.rows])
        values = smallest_change(both)
        if values is None:
            values = smallest_change(own)
        if values is None and state.best is None:
            values = self._nearest(state, own)
        best = state.best
        if best is not None and values is not None and self._smaller(values, best.values) and state.saw(values):
            values = self._between(state, best)  # slopes promise what is known not to hold
        return values if self._worth(state, values) else None

    def _nearest(self, state: _State, problem: ChangeProblem) -> Floats | None:
        """Values that miss the rules least; None where that is too little, once there is a proposal."""
        values = nearest_change(problem)
        if values is None or (state.excluded and state.here.missed_at(values) > PROMISING * state.here.missed):
            return None
        return values

    def _worth(self, state: _State, values: Floats | None) -> bool:
        """Whether these values are new, and smaller than the best by what is worth a trial."""
        if values is None or state.saw(values):
            return False
        return state.best is None or self._smaller(values, state.best.values)

    def _smaller(self, values: Floats, than: Floats) -> bool:
        problem = self.problem(())
        (count, size), (most, largest) = problem.cost(values), problem.cost(than)
        return count < most or (count == most and size < largest - max(CLOSE, CLOSE_SHARE * largest))

    def _between(self, state: _State, best: MeasuredMachine) -> Floats:
        """Values between those that hold and those that do not, where the worst of the rules is just kept."""
        bad, good = -state.short.kept(state.short.broken), max(best.kept(state.short.broken), 0.0)
        share = min(max(bad / (bad + good), LEAST_SHARE), 1 - LEAST_SHARE)
        changes = state.short.values + share * (best.values - state.short.values) - self.today.values
        return writable(self.problem(()), changes)

    def _step(self, state: _State, values: Floats) -> None:
        now = next((one for one in self.tried if np.array_equal(one.values, values)), None)
        if now is None:
            now = self.measuring.measured(values, everything=False)
            self.tried.append(now)
        state.seen.append(values)
        if now.trouble or (now.broken and state.here.missed - now.missed < BETTER):
            state.reach = np.abs(values - state.here.values) / 2 if now.trouble or state.best is None else None
            state.beside += [] if now.trouble else [now]
            state.short = state.short if now.trouble else now
            return
        state.here, state.beside, state.reach = now, [], None
        if now.broken:
            state.short = now
        elif state.best is None or self._smaller(values, state.best.values):
            state.best = now

    def _proven(self, state: _State, best: MeasuredMachine) -> MeasuredMachine | None:
        """The best machine swept whole; None if a rule does not hold that was not looked at: it counts from now on."""
        whole = self.measuring.measured(best.values, everything=True)
        if not whole.trouble and not whole.broken and whole.record is not None and whole.record.verdict == "clear":
            return whole
        self.tried = [one for one in self.tried if one is not best]
        self.tried.append(whole)
        if not whole.trouble:
            state.here = state.short = whole
        state.best, state.reach, state.beside = None, None, []
        self.measuring.look_at(names for kind, names, _ in whole.broken if kind == "pair")
        return None
