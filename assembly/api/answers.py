"""Single numbers that give a pair the room that is wanted, each swept in full before it is reported."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil, copysign

from assembly.api.losses import losses
from assembly.api.main_check import SweepResult, sweep
from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.proof.sweep import STOPPED_BY_HAND
from assembly.errors import AssemblyError, InputError
from assembly.model.machine import Machine
from assembly.model.parameters import Parameter, with_number
from assembly.progress import Progress
from assembly.record import (
    AnswerEntry,
    FigureEntry,
    NoAnswerEntry,
    NumberEntry,
    Record,
)
from assembly.studies.sweep.check import check
from assembly.time_limit import check_time

TRIALS = 7
"""Times that the pair is swept by itself while a number is closed in on."""
FARTHER = 1.5
"""By how much more a change is made that was not enough."""
LEAST_SHARE = 0.25
"""Of the way between a change that is not enough and one that is, below which the next is not tried."""
CLOSE = 0.1
"""A change that is known to so much is reported."""
DIGITS = 6
NEAR_ENOUGH = 0.05
"""mm by which more than is wanted may be proven."""
SPARE = 0.01
"""mm beyond what is wanted that trials aim at: what is proven lies a little below what is found."""
TRIAL_BRACKET = 0.02
"""mm"""
GRAIN = 0.01
"""A change is rounded up to this."""
FARTHEST = 60.0
"""mm, degrees or as the number is: what must change by more is better drawn anew."""
LEAST_GAIN = 0.02
"""mm of clearance for each 1 of the number: below this nothing is tried."""
NEVER_BROKEN = ("clear",)


@dataclass(frozen=True, slots=True)
class Wish:
    """The two parts whose distance is to become ``wanted`` mm, and how many answers are looked for."""

    pair: tuple[str, str]
    wanted: float
    most: int


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A number, and by how much it must change by its slope."""

    parameter: Parameter
    change: float


def find_answers(
    swept: SweepResult,
    figure: FigureEntry,
    numbers: tuple[Sequence[NumberEntry], Sequence[Parameter]],
    wish: Wish,
    progress: Progress,
) -> tuple[tuple[AnswerEntry, ...], tuple[NoAnswerEntry, ...]]:
    """The smallest changes of one number each that hold, and those that were tried in vain."""
    answers: list[AnswerEntry] = []
    vain: list[NoAnswerEntry] = []
    for candidate in list(_candidates(figure, numbers, wish))[: 2 * wish.most]:
        if len(answers) == wish.most:
            break
        progress(f"try {candidate.parameter.name}", 0, 0)
        found = _answer(swept, figure, candidate, wish, progress)
        if isinstance(found, AnswerEntry):
            answers.append(found)
        else:
            vain.append(NoAnswerEntry(candidate.parameter.name, found))
    return tuple(answers), tuple(vain)


def _candidates(
    figure: FigureEntry, numbers: tuple[Sequence[NumberEntry], Sequence[Parameter]], wish: Wish
) -> Iterator[_Candidate]:
    """Numbers that stand in the file as such, the smallest change first."""
    missing = wish.wanted + SPARE - figure.kept_mm
    made = []
    for parameter in numbers[1]:
        if parameter.worked_out:
            continue
        up, down = gains(figure, parameter.name)
        gain = up if up >= down else -down
        if max(up, down) > LEAST_GAIN and abs(missing / gain) <= FARTHEST:
            made.append(_Candidate(parameter, missing / gain))
    yield from sorted(made, key=lambda one: abs(one.change))


def gains(figure: FigureEntry, number: str) -> tuple[float, float]:
    """What the figure gains at the least, at all that governs it alike, for 1 more and for 1 less of a number."""
    up, down = [], []
    for place in figure.places:
        slope = next((one for one in place.slopes if one.number == number), None)
        up.append(slope.up or 0.0 if slope else 0.0)
        down.append(-(slope.down or 0.0) if slope else 0.0)
    return min(up, default=0.0), min(down, default=0.0)


def _answer(
    swept: SweepResult, figure: FigureEntry, candidate: _Candidate, wish: Wish, progress: Progress
) -> AnswerEntry | str:
    """The answer that a number gives, or why it gives none."""
    machine, effort = swept.checked.mechanism.machine, swept.checked.effort
    try:
        found = _closed_in(machine, figure, candidate, wish, effort)
        if isinstance(found, str):
            return found
        after, kept = found
        changed = with_number(machine, candidate.parameter.place, after)
        now = sweep(changed, effort=replace(effort, pairs=(wish.pair,)), progress=progress)
        if now.stopped_by_hand:
            raise KeyboardInterrupt
    except (InputError, AssemblyError) as error:
        return error.faults[0].message
    pair = now.pair(*wish.pair)
    broken = _broken(swept.record, now.record)
    if broken:
        return f"at {after:g} {broken}"
    if pair.verdict != "clear" or pair.proven_mm is None or pair.least_mm is None:
        return f"at {after:g} the pair is not proven to keep what is wanted"
    return AnswerEntry(
        number=candidate.parameter.name,
        before=candidate.parameter.value,
        after=after,
        least_mm=pair.least_mm,
        proven_mm=max(pair.proven_mm, kept),
        verdict=now.record.verdict,
        reason=now.record.reason,
        worse=tuple(sorted(losses(swept.record, now.record), key=lambda one: one.after - one.before)),
    )


def _closed_in(
    machine: Machine, figure: FigureEntry, candidate: _Candidate, wish: Wish, effort: Effort
) -> tuple[float, float] | str:
    """The value of a number, changed least, at which the pair, swept by itself, keeps what is wanted; what is proven.

    By secants from what is not enough and what is, and by halves where those do not close in.
    """
    start, sign = candidate.parameter.value, copysign(1.0, candidate.change)
    short, enough = (0.0, figure.kept_mm), None
    change = abs(candidate.change)
    for _ in range(TRIALS):
        change = ceil(change / GRAIN - 1e-9) * GRAIN
        value = round(start + sign * change, DIGITS)
        kept = _kept(with_number(machine, candidate.parameter.place, value), wish.pair, effort)
        if kept >= wish.wanted:
            enough = change, kept
        elif enough is None and kept <= short[1] + GRAIN:
            return f"it helps at first and then no more: at {value:g} something else governs"
        else:
            short = change, kept
        if enough is not None and (enough[1] <= wish.wanted + NEAR_ENOUGH or enough[0] - short[0] <= CLOSE):
            break
        change = _next_change(short, enough, wish.wanted + SPARE)
        if change > FARTHEST:
            return f"it would have to change by more than {FARTHEST:g}"
    if enough is None:
        return "no value was found that is proven to do"
    return round(start + sign * enough[0], DIGITS), enough[1]


def _next_change(short: tuple[float, float], enough: tuple[float, float] | None, aim: float) -> float:
    """The change to try next: where the line through what is known reaches ``aim``, kept between what is known."""
    if enough is None:
        return FARTHER * short[0]
    share = (aim - short[1]) / (enough[1] - short[1])
    return short[0] + min(max(share, LEAST_SHARE), 1 - LEAST_SHARE) * (enough[0] - short[0])


def _kept(machine: Machine, pair: tuple[str, str], effort: Effort) -> float:
    """What a pair is proven to keep, mm; of one that fails what was found, and minus the depth of one that overlaps."""
    own = replace(effort, bracket_mm=TRIAL_BRACKET, bracket_share=0.0, pairs=(pair,))
    checked = check(machine, own, lambda *_: None, only=(pair,))
    if checked.swept.stopped == STOPPED_BY_HAND:
        raise KeyboardInterrupt
    (found,) = checked.found
    check_time()  # what a sweep that was cut short says is no ground for an answer
    result = found.result
    if result.overlap is not None:
        return -(result.overlap.at_most or result.overlap.depth)
    if result.verdict is Verdict.FAILS or result.proven is None:
        return result.least
    return result.proven


def _broken(before: Record, now: Record) -> str:
    """The first rule that held and does not hold any more; nothing if all of them do."""
    held = {frozenset((pair.a, pair.b)) for pair in before.pairs if pair.verdict == "clear"}
    for pair in now.pairs:
        if pair.verdict != "clear" and frozenset((pair.a, pair.b)) in held:
            return f"{pair.a} – {pair.b} {_fails(pair.verdict)}"
    kept = {(joint.name, joint.motion) for joint in before.joints if joint.verdict in NEVER_BROKEN}
    for joint in now.joints:
        if joint.verdict in ("fails", "undecided") and (joint.name, joint.motion) in kept:
            return f"joint {joint.name} {_fails(joint.verdict)}"
    free = {rod.parts for rod in before.rods if rod.verdict in NEVER_BROKEN}
    for rod in now.rods:
        if rod.verdict != "clear" and rod.parts in free:
            return f"rod {' with '.join(rod.parts)} {_fails(rod.verdict)}"
    if now.unreachable and not before.unreachable:
        return "part of the range cannot be reached or proven"
    return ""


def _fails(verdict: str) -> str:
    return "fails" if verdict == "fails" else "is not decided"
