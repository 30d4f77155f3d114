"""The answer to a joint and a rod, and to the whole machine from the answers to its pairs, joints and rods."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from assembly.clearance.proof.joint_search import GRAIN, Limits
from assembly.record import (
    JointEntry,
    MeasureEntry,
    PairEntry,
    Record,
    RodEntry,
    ThreadedRodEntry,
    UnreachableEntry,
    VerdictWord,
)

Joints = tuple[Sequence[JointEntry], Sequence[RodEntry]]


def joint_verdict(limits: Limits, proven: Limits, reserve: float | None, *, rolls: bool) -> VerdictWord | None:
    """Whether both limits are ``proven`` to be kept, or a setting shows one passed; None without limits.

    An end of a rod that can roll fails only where no roll serves the rod, which is not known here.
    """
    if limits == (None, None):
        return None
    (low, high), (least, most) = limits, proven
    kept = (
        low is None or (least is not None and least >= low - GRAIN),
        high is None or (most is not None and most <= high + GRAIN),
    )
    if all(kept):
        return "clear"
    return "fails" if reserve is not None and reserve < -GRAIN and not rolls else "undecided"


def shared_verdicts(
    joints: Sequence[JointEntry], rods: Sequence[RodEntry]
) -> tuple[tuple[JointEntry, ...], tuple[RodEntry, ...]]:
    """Joints and rods, of which each may prove the other.

    What is not proven of an end itself is what is known of its rod; and where each end is proven to keep its limit at
    one roll, that proves the rod.
    """
    of_rod = {end: rod.verdict for rod in rods for end in rod.ends}
    kept = {joint.name for joint in joints if joint.verdict == "clear"}
    return (
        tuple(
            replace(joint, verdict=of_rod.get(joint.name, "undecided")) if joint.verdict == "undecided" else joint
            for joint in joints
        ),
        tuple(replace(rod, verdict="clear") if kept.issuperset(rod.ends) else rod for rod in rods),
    )


def of_pairs(record: Record, names: Iterable[tuple[str, str]]) -> Record:
    """What ``record`` says of the pairs of ``names`` alone, with the verdict on them."""
    wanted = {frozenset(pair) for pair in names}
    pairs = tuple(pair for pair in record.pairs if {pair.a, pair.b} in wanted)
    verdict, reason = machine_verdict(pairs, ((), ()), record.unreachable, record.unreachable_share)
    return replace(record, pairs=pairs, not_checked=(), joints=(), rods=(), measures=(), verdict=verdict, reason=reason)


def machine_verdict(
    pairs: Sequence[PairEntry],
    joints: Joints,
    lost: Sequence[UnreachableEntry],
    lost_share: float,
    joints_stopped: str = "",
    measures: Sequence[MeasureEntry] = (),
    threads: Sequence[ThreadedRodEntry] = (),
) -> tuple[VerdictWord, str]:
    """The worst answer of all, and what it rests on; ``joints_stopped``: why the joints' search ended early."""
    lost_told = f"{max(100 * lost_share, 0.01):z.2f} % of the range"
    failing = [*_pairs(pairs), *([f"{lost_told} cannot be reached"] if any(place.missed for place in lost) else [])]
    failing += [*_joints(joints), *_threads(threads), *_measures(measures)]
    if failing:
        return "fails", "; ".join([*failing, *_undecided(pairs)])
    open_ends = [*_open(pairs, joints, joints_stopped), *_open_measures(measures)]
    if lost and not open_ends:
        open_ends.append(f"{lost_told} could not be proven")
    if not pairs:
        open_ends.append("no pair of parts is checked")
    if open_ends:
        return "undecided", "; ".join(open_ends)
    every = "the only pair is" if len(pairs) == 1 else f"all {len(pairs)} pairs are"
    return "clear", f"{every} proven over the whole range"


def _pairs(pairs: Sequence[PairEntry]) -> Iterator[str]:
    failing = sum(pair.verdict == "fails" for pair in pairs)
    if failing:
        verb = "comes nearer than it may" if failing == 1 else "come nearer than they may"
        yield f"{_share(failing, pairs)} {verb}"


def _undecided(pairs: Sequence[PairEntry]) -> Iterator[str]:
    """How many pairs are open beside what fails."""
    number = sum(pair.verdict == "undecided" for pair in pairs)
    if number:
        yield f"{_share(number, pairs)} {'is' if number == 1 else 'are'} undecided"


def _joints(joints: Joints) -> Iterator[str]:
    past = _named(joint.name for joint in joints[0] if joint.verdict == "fails")
    binding = [rod for rod in joints[1] if rod.verdict == "fails" and not set(past) & set(rod.ends)]
    if past:
        yield f"past their limits: {', '.join(past)}"
    if binding:
        yield f"bound however they roll: {', '.join(' with '.join(rod.parts) for rod in binding)}"


def _measures(measures: Sequence[MeasureEntry]) -> Iterator[str]:
    past = _named(measure.name for measure in measures if measure.verdict == "fails")
    if past:
        yield f"measures beyond their limits: {', '.join(past)}"


def _open_measures(measures: Sequence[MeasureEntry]) -> Iterator[str]:
    undecided = [measure for measure in measures if measure.verdict == "undecided"]
    if undecided:
        yield f"measures not proven to keep their limits: {', '.join(_named(one.name for one in undecided))}"


def _threads(rods: Sequence[ThreadedRodEntry]) -> Iterator[str]:
    short = [rod.name for rod in rods if rod.verdict == "fails"]
    if short:
        yield f"threads that do not keep their rule: {', '.join(short)}"


def _open(pairs: Sequence[PairEntry], joints: Joints, joints_stopped: str) -> list[str]:
    undecided = [pair for pair in pairs if pair.verdict == "undecided"]
    reasons = []
    if undecided:
        verb = "is" if len(undecided) == 1 else "are"
        reasons.append(f"{_share(len(undecided), pairs)} {verb} not proven: {undecided[0].why}")
    names = _named(joint.name for joint in joints[0] if joint.verdict == "undecided")
    if names:
        reasons.append(f"not proven to keep their limits: {', '.join(names)}")
    bound = _named(" with ".join(rod.parts) for rod in joints[1] if rod.verdict == "undecided" and joints_stopped)
    if bound and not names:
        reasons.append(f"not proven to lie at ease: {', '.join(bound)}")
    if joints_stopped and (names or bound):
        reasons[-1] += f" ({joints_stopped})"
    return reasons


def _named(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(names))


def _share(number: int, pairs: Sequence[PairEntry]) -> str:
    return "the only pair" if len(pairs) == 1 else f"{number} of {len(pairs)} pairs"
