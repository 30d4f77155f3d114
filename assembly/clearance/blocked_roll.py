"""What fails of a part of which some roll is asked and none was found: what blocks every roll at one setting.

Such a part is judged as free to roll. A pair that fails at some of its rolls may hold at another, so it is undecided,
but where it is shown to block every roll that the ends allow at one setting, between the looked-at ones too.
Turned by φ rad about its line, no point of a part moves farther than its arm times φ. So a pair that is d apart at one
roll is no farther apart than d + arm |φ| at all that are within φ of it (closed form); where that is less than it must
keep, none of them serves. Spans of rolls are halved until that is shown of each, or a roll is found that serves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from assembly.clearance.known import PairFound
from assembly.clearance.outcome import PairResult, Verdict
from assembly.clearance.pairs import Pairs
from assembly.clearance.roll_fan import roll_travel
from assembly.clearance.search import PairSearch
from assembly.clearance.some_roll import ChosenRoll, parts_of
from assembly.clearance.stock import Stock
from assembly.clearance.witness import Witnesses
from assembly.motion.mechanism import Mechanism
from assembly.motion.rod_roll import HALF_TURN, rods, windows
from assembly.motion.rolling import GRAIN, roll_name
from assembly.motion.rolls import rolled_about
from assembly.motion.rows import Posture
from assembly.motion.solver import solve

MOST_LOOKS = 2000
"""Rolls at which a pair is measured at most; what is then open is not shown."""
NONE_FOUND = (
    "no single roll of {} was found at which all its pairs and ends hold; "
    "a roll that changes with the setting is not looked for"
)


def judge_unchosen(
    mechanism: Mechanism, pairs: Pairs, chosen: Sequence[ChosenRoll], found: Sequence[PairFound]
) -> tuple[list[PairFound], tuple[ChosenRoll, ...]]:
    """``found`` and ``chosen`` as they are to be told where no roll was found of a part of which some roll is asked.

    Pairs that fail at some of its rolls are undecided; one that blocks every roll where it was found worst fails.
    """
    named = {parts_of(mechanism, roll): roll_name(mechanism.bodies, roll) for roll in mechanism.idle}
    lost = {named[one.parts]: one for one in chosen if one.degrees is None}
    told = []
    for pair in found:
        result = pair.result
        names = [name for name in result.rolls if name in lost]
        if names and result.verdict is not Verdict.CLEAR:
            place = _blocked_at(mechanism, pairs, pair) if result.verdict is Verdict.FAILS else ""
            if place:
                why = f"at {place} it blocks every roll of {lost[names[0]].parts[0]} that the ends allow"
                lost[names[0]] = replace(lost[names[0]], blocked=f"at {place} {result.pair.a} and {result.pair.b}")
                result = replace(result, why=f"{result.why}; {why}", region=None, first_contacts=())
            else:
                result = _opened(result, " and ".join(" with ".join(lost[name].parts) for name in names))
        told.append(replace(pair, result=result))
    return told, tuple(lost.get(named[one.parts], one) for one in chosen)


def _opened(result: PairResult, names: str) -> PairResult:
    """A pair of which nothing is known but that it fails at some rolls."""
    why = NONE_FOUND.format(names)
    return replace(result, verdict=Verdict.UNDECIDED, why=why, region=None, first_contacts=(), overlap=None)


def _blocked_at(mechanism: Mechanism, pairs: Pairs, found: PairFound) -> str:
    """The setting at which ``found`` was seen worst, in words, if its pair blocks every roll there; else nothing."""
    drives = list(mechanism.machine.drives)
    at = found.result.at[: len(drives)]
    solved = solve(mechanism, np.array([at]))
    (search,) = Stock(mechanism, pairs.solids).add([found.result.pair])
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
    rod = next((rod for rod in rods(mechanism) if rod.number == number), None)
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
