"""What the proof of a stop design says of it, as entries of the record."""

from __future__ import annotations

from assembly.clearance.narrow_phase.pair_result import PairResult
from assembly.clearance.proof.joint_search import GRAIN, Extremes
from assembly.clearance.stops.stop_proof import StopProof
from assembly.kinematics.joint_limits import Limit
from assembly.kinematics.mechanism import settings_of
from assembly.model.machine import Machine
from assembly.record import LimitEntry, NearEntry, ProofEntry, StruckEntry, VerdictWord
from assembly.studies.shared import drive_entries, finite

NEAREST_KEPT = 5
"""Clear pairs of the proof that the record names, the nearest."""


def proof_entry(proof: StopProof) -> ProofEntry:
    """The sweep of the stopped range, its pairs that are not clear first, and what is proven of every stop."""
    machine, swept = proof.mechanism.machine, proof.swept
    worst = sorted(swept.pairs, key=lambda one: (one.verdict.value == "clear", one.least - one.pair.required))
    open_ = sum(result.verdict.value != "clear" for result in worst)
    near = tuple(_near(result, machine) for result in worst[: open_ + NEAREST_KEPT])
    joints = tuple(_limit(limit, found) for limit, found in proof.joints)
    struck = tuple(
        StruckEntry(name, one.at, one.proven, settings_of(machine, one.gap or ()), one.missed)
        for name, one in proof.struck.items()
    )
    return ProofEntry(
        drives=drive_entries(machine),
        pairs=len(swept.pairs),
        near=near,
        joints=joints,
        struck=struck,
        unreachable=len(swept.unreachable),
        cells=swept.work.cells,
        distance_queries=swept.work.queries,
        measures=proof.measures,
    )


def proof_verdict(proof: ProofEntry) -> tuple[VerdictWord, str]:
    """What the sweep of the stopped range and the proofs of its stops say."""
    if not proof.pairs:
        return "undecided", "there is no pair of parts to check, so nothing was shown"
    failing = [pair for pair in proof.near if pair.verdict == "fails"]
    if failing:
        return "fails", f"{failing[0].a} and {failing[0].b} come too near before the stops act"
    past = [one.joint for one in proof.joints if one.verdict == "fails"]
    if past:
        return "fails", f"past their limit before the stops act: {', '.join(past)}"
    beyond = [one.name for one in proof.measures if one.verdict == "fails"]
    if beyond:
        return "fails", f"measures beyond their limits before the stops act: {', '.join(beyond)}"
    if any(pair.verdict == "undecided" for pair in proof.near) or proof.unreachable:
        return "undecided", "not all of the stopped range could be proven"
    if any(one.verdict == "undecided" for one in proof.joints):
        return "undecided", "not all joints are proven to keep their limits"
    unsure = [one.name for one in proof.measures if one.verdict == "undecided"]
    if unsure:
        return "undecided", f"measures not proven to keep their limits: {', '.join(unsure)}"
    missed = [one.stop for one in proof.struck if one.missed]
    if missed:
        return "fails", f"not struck at every setting of the other drives: {', '.join(missed)}"
    open_ = [one.stop for one in proof.struck if not one.proven]
    if open_:
        return "undecided", f"not proven to be struck everywhere: {', '.join(open_)}"
    return "clear", "every stop acts before anything else, proven over the whole stopped range"


def _near(result: PairResult, machine: Machine) -> NearEntry:
    return NearEntry(
        a=result.pair.a,
        b=result.pair.b,
        required_mm=result.pair.required,
        least_mm=finite(result.least),
        closed_in=result.closed_in,
        proven_mm=result.proven,
        at=settings_of(machine, result.at, result.rolls),
        verdict=result.verdict.value,
        why=result.why,
    )


def _limit(limit: Limit, found: Extremes | None) -> LimitEntry:
    low, high = limit.stated
    unit = limit.motion.unit
    if found is None:
        return LimitEntry(limit.joint, unit, None, None, None, None, low, high, "undecided")
    passed = found.most > limit.high + GRAIN or found.least < limit.low - GRAIN
    kept = found.proven_most <= limit.high + GRAIN and found.proven_least >= limit.low - GRAIN
    least, most = map(finite, (found.proven_least, found.proven_most))
    verdict: VerdictWord = "fails" if passed else "clear" if kept else "undecided"
    return LimitEntry(limit.joint, unit, found.least, found.most, least, most, low, high, verdict)
