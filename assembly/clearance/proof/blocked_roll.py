"""Which pairs fail if no roll was found for a part with ``roll = "some"``: those that block every roll at a setting.

Such a part is judged as free to roll. A pair that fails at some of its rolls may hold at another, so it is undecided,
but where it is shown to block every roll that the ends allow at one setting, between the looked-at ones too.
Turned by φ rad about its line, no point of a part moves farther than its arm times φ. So a pair that is d apart at one
roll is no farther apart than d + arm |φ| at all that are within φ of it (closed form); where that is less than it must
keep, none of them serves. Spans of rolls are halved until that is shown of each, or a roll is found that serves.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Executor
from contextlib import suppress
from dataclasses import replace

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import Pairs, gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort, PairResult, Verdict
from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.clearance.proof.cached import PairFound
from assembly.clearance.proof.pair_search import PairSearch
from assembly.clearance.proof.refiner import Progress
from assembly.clearance.proof.roll_fan import roll_travel
from assembly.clearance.proof.solid_table import SolidTable
from assembly.clearance.proof.some_roll import ChosenRoll, parts_of
from assembly.clearance.proof.sweep import sweep_pairs
from assembly.errors import TimeLimitError
from assembly.kinematics.assembling import assemble
from assembly.kinematics.idle_rolls import rolled_about
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rod_roll import HALF_TURN, rods_of, windows
from assembly.kinematics.roll_columns import GRAIN, roll_name
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve
from assembly.model.machine import Machine

MOST_LOOKS = 2000
"""Rolls at which a pair is measured at most; what is then open is not shown."""
NONE_FOUND = (
    "no single roll of {} was found at which all its pairs and ends hold; "
    "a roll that changes with the setting is not looked for"
)


def judge_unchosen(
    mechanism: Mechanism, pairs: Pairs, chosen: Sequence[ChosenRoll], found: Sequence[PairFound]
) -> tuple[list[PairFound], tuple[ChosenRoll, ...]]:
    """``found`` and ``chosen`` as reported if no roll was found for a part with ``roll = "some"``.

    Pairs that fail at some of its rolls are undecided; one that blocks every roll where it was found worst fails.
    """
    lost = lost_rolls(mechanism, chosen)
    told = []
    for pair in found:
        result = pair.result
        names = [name for name in result.rolls if name in lost]
        if names and result.verdict is not Verdict.CLEAR:
            place = ""
            with suppress(TimeLimitError):
                place = _blocked_at(mechanism, pairs, pair) if result.verdict is Verdict.FAILS else ""
            if place:
                why = f"at {place} it blocks every roll of {lost[names[0]].parts[0]} that the ends allow"
                lost[names[0]] = replace(lost[names[0]], blocked=f"at {place} {result.pair.a} and {result.pair.b}")
                result = replace(result, why=f"{result.why}; {why}", region=None, first_contacts=())
            else:
                result = _opened(result, why_unsettled(names, lost))
        told.append(replace(pair, result=result))
    by_parts = {one.parts: one for one in lost.values()}
    return told, tuple(by_parts.get(one.parts, one) for one in chosen)


def unsettled(
    mechanism: Mechanism, chosen: Sequence[ChosenRoll], results: Iterable[PairResult]
) -> tuple[PairResult, ...]:
    """Those of ``results`` that are not clear and that a part moves for which no roll was found."""
    lost = lost_rolls(mechanism, chosen)
    return tuple(one for one in results if one.verdict is not Verdict.CLEAR and set(one.rolls) & lost.keys())


def swept_unsettled(
    machine: Machine, chosen: Sequence[ChosenRoll], cores: int, progress: Progress, executor: Executor | None = None
) -> tuple[PairResult, ...]:
    """The same, found by the sweep of the pairs concerned: what one that measures at settings cannot judge.

    No pair's answer depends on another's, so these are the answers that a sweep of the whole ``machine`` gives.
    """
    parts = {part for one in chosen if one.degrees is None for part in one.parts}
    if not parts:
        return ()
    mechanism = assemble(machine)
    pairs = gather_pairs(machine, mechanism.bodies)
    own = pairs.only(pair for pair in pairs.moving.checked if parts & {pair.a, pair.b})
    found = [
        PairFound(result, None) for result in sweep_pairs(mechanism, own, Effort(cores=cores), progress, executor).pairs
    ]
    told, _ = judge_unchosen(mechanism, own, chosen, found)
    return unsettled(mechanism, chosen, (one.result for one in told))


def lost_rolls(mechanism: Mechanism, chosen: Sequence[ChosenRoll]) -> dict[str, ChosenRoll]:
    """Columns of the parts for which no roll was found, by their names."""
    named = {parts_of(mechanism, roll): roll_name(mechanism.bodies, roll) for roll in mechanism.idle}
    return {named[one.parts]: one for one in chosen if one.degrees is None}


def why_unsettled(names: Iterable[str], lost: Mapping[str, ChosenRoll]) -> str:
    """Why nothing is known of a pair that fails at some of the rolls ``names``; empty if one was found for each."""
    told = " and ".join(" with ".join(lost[name].parts) for name in names if name in lost)
    return NONE_FOUND.format(told) if told else ""


def _opened(result: PairResult, why: str) -> PairResult:
    """A pair of which nothing is known but that it fails at some rolls."""
    return replace(result, verdict=Verdict.UNDECIDED, why=why, region=None, first_contacts=(), overlap=None)


def _blocked_at(mechanism: Mechanism, pairs: Pairs, found: PairFound) -> str:
    """The setting at which ``found`` was seen worst, in words, if its pair blocks every roll there; else nothing."""
    drives = list(mechanism.machine.drives)
    at = found.result.at[: len(drives)]
    solved = solve(mechanism, np.array([at]))
    (search,) = SolidTable(mechanism, pairs.solids).add([found.result.pair])
    if not solved.reached[0]:
        return ""
    if not blocks_every_roll(mechanism, Witnesses(mechanism, pairs.solids), search, solved.posture):
        return ""
    return ", ".join(f"{name} {value:zg}" for name, value in zip(drives, at, strict=True))


def blocks_every_roll(mechanism: Mechanism, witnesses: Witnesses, search: PairSearch, posture: Posture) -> bool:
    """Whether the pair of ``search`` is nearer than it must be at every roll allowed at ``posture``, solved unrolled.

    Only of a pair that one roll alone moves. Not where the ends allow no roll: that is the rod's own fault.
    """
    if len(search.rolls) != 1:
        return False
    (number,) = search.rolls
    rod = next((rod for rod in rods_of(mechanism) if rod.number == number), None)
    ends = None if rod is None else windows(rod, posture)
    if ends is not None and ends.free()[0] < 0:
        return False
    arm, required = roll_travel(mechanism, search) / 2, search.pair.required
    waiting, looks = [(0.0, HALF_TURN)], 0
    while waiting and looks < MOST_LOOKS:
        middle, half = waiting.pop()
        roll = np.array([middle])
        room = np.inf if ends is None else float(ends.room(roll)[0])
        if room < -half - GRAIN:
            continue
        looks += 1
        rolled = rolled_about(mechanism.home, posture, mechanism.idle[number], roll)
        distance = witnesses.nearest(search.pair, rolled).distance
        if distance >= required and room >= -GRAIN:
            return False
        if distance + arm * np.deg2rad(half) >= required:
            waiting += [(middle - half / 2, half / 2), (middle + half / 2, half / 2)]
    return not waiting
