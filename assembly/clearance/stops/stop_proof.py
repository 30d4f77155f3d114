"""Proof of a stop design by sweeping the machine with its stops built in, over the range that they leave.

Every pair but those that are meant to strike must keep its clearance all over that range, play and the give of pads
added; every rated joint and every measure must stay within its limits; and each stop is shown to be struck by the end
of the range, wherever the other drives stand.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from math import ceil, copysign

from assembly.clearance.narrow_phase.checked_pairs import Pairs, gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort, Setting, Verdict
from assembly.clearance.proof.blocked_roll import judge_unchosen
from assembly.clearance.proof.cached import ResultCache
from assembly.clearance.proof.joint_search import GRAIN, Extremes, JointSearch, joint_search
from assembly.clearance.proof.measure_search import measured
from assembly.clearance.proof.pair_state import PairsSwept
from assembly.clearance.proof.recalled_sweep import recalled_sweep
from assembly.clearance.proof.rod_search import end_where_rolled, prove_roll
from assembly.clearance.proof.some_roll import ChosenRoll
from assembly.clearance.proof.wheel_search import limits_measured
from assembly.clearance.stops.stop_contact import StruckProof, prove_struck
from assembly.clearance.stops.stop_fit import StopDesign
from assembly.kinematics.assembling import assemble
from assembly.kinematics.joint_limits import Limit, limits_of
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rod_roll import Rod
from assembly.model.machine import Machine
from assembly.model.stop_solids import with_stops, without_stops
from assembly.model.travel_stop import RangeEnd
from assembly.progress import Progress
from assembly.record import MeasureEntry


@dataclass(frozen=True, slots=True, eq=False)
class StopProof:
    """The sweep of the stopped range of ``mechanism``, stops built in, and what is proven of each stop by name."""

    mechanism: Mechanism
    pairs: Pairs
    swept: PairsSwept
    struck: Mapping[str, StruckProof]
    joints: tuple[tuple[Limit, Extremes | None], ...]
    """Every motion that has a limit, and its bounds over the stopped range; None if nothing is proven of it."""
    measures: tuple[MeasureEntry, ...] = ()
    """Those that have limits, over the stopped range."""


def prove_stops(
    machine: Machine,
    designs: Mapping[str, StopDesign],
    effort: Effort,
    progress: Progress,
    executor: Executor | None = None,
    struck: Mapping[str, StruckProof] | None = None,
    chosen: Sequence[ChosenRoll] = (),
    memory: ResultCache | None = None,
) -> StopProof | None:
    """Sweep ``machine`` with stops of these ``designs`` over the range that they leave.

    None if there is no stop, or one that is none. ``struck``: what is known already of where they are struck.
    ``chosen``: the rolls of parts with ``roll = "some"``. What ``memory`` knows of a pair is not searched again.
    """
    if not designs or any(design.faults for design in designs.values()):
        return None
    stopped = _stopped(machine, designs)
    whole = with_stops(stopped, {name: design.to_make or 0.0 for name, design in designs.items()})
    mechanism = assemble(whole)
    pairs = gather_pairs(whole, mechanism.bodies)
    # Only the nearest pairs are told: none is closed in on for more than that it keeps what is required.
    swept, pairs_found = recalled_sweep(mechanism, pairs, replace(effort, interest_mm=0.0), progress, executor, memory)
    told, _ = judge_unchosen(mechanism, pairs, chosen, pairs_found)
    swept = replace(swept, pairs=tuple(one.result for one in told))
    progress("prove stops", 0, 0)
    struck = struck_proofs(machine, designs) if struck is None else struck
    limits = limits_of(mechanism)
    search = joint_search(mechanism, swept.groups)
    found = _joint_bounds(search, limits)
    joints = tuple(zip(limits, found, strict=True))
    return StopProof(mechanism, pairs, swept, struck, joints, _limited(mechanism, search))


def _limited(mechanism: Mechanism, search: JointSearch) -> tuple[MeasureEntry, ...]:
    """Every measure and figure of wheels that has limits; not those at one setting that the stops keep off."""
    limited = [one for one in mechanism.machine.measures.values() if one.limits != (None, None)]
    drives = mechanism.machine.drives
    wheels = [
        one
        for one in limits_measured(mechanism, search)
        if all(drives[name].low <= setting <= drives[name].high for name, setting in one.at_least.items())
    ]
    return (*measured(mechanism, search, limited), *wheels)


def _joint_bounds(search: JointSearch, limits: Sequence[Limit]) -> list[Extremes | None]:
    """Bounds on each limit's motion; the ends of rods that can roll are proven to be served by some roll, or not."""
    found = search.extremes([(limit.motion, limit.stated) for limit in limits])
    return [
        one if limit.rod is None else _end_of_rod(search, limit, limit.rod)
        for limit, one in zip(limits, found, strict=True)
    ]


def _end_of_rod(search: JointSearch, limit: Limit, rod: Rod) -> Extremes | None:
    """How far an end leans where its rod is rolled to serve all ends; None if that is neither proven nor refuted."""
    return None if prove_roll(search, rod)[0] is Verdict.UNDECIDED else end_where_rolled(search, limit)


def struck_proofs(machine: Machine, designs: Mapping[str, StopDesign]) -> dict[str, StruckProof]:
    """For each stop by name, whether it is proven to be struck by the end of the range that all of them leave."""
    bare = assemble(_stopped(machine, designs))
    return {
        name: prove_struck(bare, design.stop, design.to_make or 0.0, _struck_by(design), design.contact.places)
        for name, design in designs.items()
        if design.contact is not None
    }


def unproven(proof: StopProof) -> Iterator[Setting]:
    """Settings at which a pair, a joint, a measure or a loop was found that is not proven to hold, worst kinds first.

    None for a measure of which nothing is proven, or that is held at one setting only: no stop that acts sooner helps.
    """
    ranked = sorted(
        proof.swept.pairs, key=lambda one: (one.verdict is not Verdict.FAILS, one.least - one.pair.required)
    )
    yield from (one.at for one in ranked if one.verdict is not Verdict.CLEAR)
    for limit, found in proof.joints:
        if found is not None and found.proven_most > limit.high + GRAIN:
            yield found.at_most
        if found is not None and found.proven_least < limit.low - GRAIN:
            yield found.at_least
    for side in (side for one in proof.measures for side in one.sides if one.at_least != one.at_most):
        if side.verdict != "clear" and side.proven is not None:
            yield tuple(side.at.values())
    yield from (tuple(lost.at.values()) for lost in proof.swept.unreachable)


def _struck_by(design: StopDesign) -> float:
    """Setting of the stop's drive by which it must be struck, wherever the others stand."""
    return design.stop.side.sign * (max(abs(way.acts) for way in design.ways) + design.yields.pressed)


def _stopped(machine: Machine, designs: Mapping[str, StopDesign]) -> Machine:
    """``machine`` without its stops, each drive's range ending where the first of its hard stops has given way."""
    bare = without_stops(machine)
    drives = {}
    for name, drive in bare.drives.items():
        ends = {RangeEnd.LOW: drive.low, RangeEnd.HIGH: drive.high}
        for side in RangeEnd:
            own = [
                _struck_by(design) + side.sign * (design.stop.margin.play + design.yields.give)
                for design in designs.values()
                if (design.stop.drive, design.stop.side) == (name, side) and design.stop.ahead_of is None
            ]
            if own:
                ends[side] = _rounded_out(min(own, key=abs))
        drives[name] = replace(drive, low=ends[RangeEnd.LOW], high=ends[RangeEnd.HIGH], beyond=None)
    return replace(bare, drives=drives)


def _rounded_out(end: float) -> float:
    """To the next hundredth away from rest: what is proven is what is printed."""
    return copysign(ceil(100 * abs(end) - 1e-6) / 100, end)
