"""The answer to the whole machine, from the answers to its pairs, joints and rods."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from assembly.record.entries import PairEntry, UnreachableEntry
from assembly.record.joint_entries import JointEntry, RodEntry
from assembly.record.values import VerdictWord

Joints = tuple[Sequence[JointEntry], Sequence[RodEntry]]


def machine_verdict(
    pairs: Sequence[PairEntry], joints: Joints, lost: Sequence[UnreachableEntry], lost_share: float
) -> tuple[VerdictWord, str]:
    """The worst answer of all, and what it rests on."""
    lost_told = f"{max(100 * lost_share, 0.01):z.2f} % of the range"
    failing = [*_pairs(pairs), *([f"{lost_told} cannot be reached"] if any(place.missed for place in lost) else [])]
    failing += _joints(joints)
    if failing:
        return "fails", "; ".join([*failing, *_undecided(pairs)])
    open_ends = _open(pairs, joints)
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


def _open(pairs: Sequence[PairEntry], joints: Joints) -> list[str]:
    undecided = [pair for pair in pairs if pair.verdict == "undecided"]
    reasons = []
    if undecided:
        verb = "is" if len(undecided) == 1 else "are"
        reasons.append(f"{_share(len(undecided), pairs)} {verb} not proven: {undecided[0].why}")
    names = _named(joint.name for joint in joints[0] if joint.verdict == "undecided")
    if names:
        reasons.append(f"not proven to keep their limits: {', '.join(names)}")
    return reasons


def _named(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(names))


def _share(number: int, pairs: Sequence[PairEntry]) -> str:
    return "the only pair" if len(pairs) == 1 else f"{number} of {len(pairs)} pairs"
