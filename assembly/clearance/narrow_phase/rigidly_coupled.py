"""Pairs that never move against each other: one look at rest settles them."""

from __future__ import annotations

from dataclasses import dataclass

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Pairs
from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.kinematics.mechanism import Mechanism


@dataclass(frozen=True, slots=True)
class CoupledPair:
    """A pair that never moves against each other, and its distance in mm, 0 where one strikes or holds the other."""

    pair: CheckedPair
    distance: float


def still_pairs(mechanism: Mechanism, every: Pairs) -> tuple[CoupledPair, ...]:
    """The pairs that a map of all leaves out, nearest first, as they are at rest."""
    witnesses = Witnesses(mechanism, every.solids)
    still = []
    for pair in every.checked:
        if pair.rigidly_coupled:
            inside = witnesses.contained(pair, mechanism.home)
            still.append(CoupledPair(pair, 0.0 if inside else witnesses.nearest(pair, mechanism.home).distance))
    return tuple(sorted(still, key=lambda one: one.distance - one.pair.required))
