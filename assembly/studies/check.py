"""The main job: how near every pair of parts comes at any setting of the drives, and what shows it."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from assembly.clearance.outcome import Effort, PairResult, SweepResult
from assembly.clearance.pairs import Pairs, gather_pairs
from assembly.clearance.sweep import Progress, sweep
from assembly.clearance.witness import Witness, Witnesses
from assembly.model.machine import Machine
from assembly.motion.assembling import assemble
from assembly.motion.mechanism import Mechanism
from assembly.motion.rows import Posture
from assembly.motion.solver import solve

Made = TypeVar("Made")


@dataclass(frozen=True, slots=True, eq=False)
class PairFound:
    """One pair's result and what shows it at its setting; ``witness`` is None where nothing was measured."""

    result: PairResult
    witness: Witness | None

    @property
    def room(self) -> float:
        """Clearance in mm beyond what is required; an overlap counts by its depth, below zero."""
        least = -self.result.overlap.depth if self.result.overlap else self.result.least
        return least - self.result.pair.required


@dataclass(frozen=True, slots=True, eq=False)
class CheckResult:
    """Everything the main job found, the pair with the least room first; ``seconds`` per stage."""

    mechanism: Mechanism
    pairs: Pairs
    swept: SweepResult
    found: tuple[PairFound, ...]
    effort: Effort
    seconds: dict[str, float]


def check(machine: Machine, effort: Effort, progress: Progress, executor: Executor | None = None) -> CheckResult:
    """Sweep ``machine`` over the whole range of its drives. Raises AssemblyError where it cannot be put together.

    ``progress`` is told each stage, and how many pairs of how many are done with it. ``executor``: where
    distances are measured; default is ``effort.cores`` processes of this machine.
    """
    seconds: dict[str, float] = {}

    def stage(name: str, do: Callable[[], Made]) -> Made:
        progress(name, 0, 0)
        start = time.monotonic()
        made = do()
        seconds[name] = round(time.monotonic() - start, 3)
        return made

    mechanism = stage("assemble", lambda: assemble(machine))
    pairs = stage("gather pairs", lambda: gather_pairs(machine, mechanism.bodies))
    swept = stage("sweep", lambda: sweep(mechanism, pairs, effort, progress, executor))
    found = stage("nearest points", lambda: show(mechanism, pairs, swept))
    return CheckResult(mechanism, pairs, swept, found, effort, {**seconds, **swept.work.seconds})


def show(mechanism: Mechanism, pairs: Pairs, swept: SweepResult) -> tuple[PairFound, ...]:
    """Each pair with its nearest points and shapes at the setting that shows its least; least room first."""
    shape = len(swept.pairs), len(mechanism.machine.drives)
    solved = solve(mechanism, np.array([result.at for result in swept.pairs], dtype=np.float64).reshape(shape))
    witnesses = Witnesses(mechanism, pairs.solids)
    found = []
    for index, result in enumerate(swept.pairs):
        measured = np.isfinite(result.least) and bool(solved.reached[index])
        posture = solved.posture.take(np.array([index]))
        found.append(_show_pair(witnesses, result, posture) if measured else PairFound(result, None))
    return tuple(sorted(found, key=lambda pair: pair.room))


def _show_pair(witnesses: Witnesses, result: PairResult, posture: Posture) -> PairFound:
    """A sweep that was stopped leaves its strikes without an overlap; it is then taken where the strike was seen."""
    witness = witnesses.nearest(result.pair, posture)
    if result.overlap is None and result.least <= 0:
        result = replace(result, overlap=witnesses.overlap(result.pair, posture, result.at))
    if result.overlap is not None and witness.distance <= 0:
        x, y, z = result.overlap.where
        witness = replace(witness, point_a=(x, y, z), point_b=(x, y, z))
    return PairFound(result, witness)
