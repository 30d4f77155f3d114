"""Pairs that never move against each other: one look at rest settles them."""

from __future__ import annotations

from assembly.clearance.narrow_phase.checked_pairs import Pairs
from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.kinematics.mechanism import Mechanism
from assembly.record import StillEntry


def coupled_pairs(mechanism: Mechanism, every: Pairs) -> tuple[StillEntry, ...]:
    """The pairs that a map of all leaves out, nearest first, at rest: 0 mm where one strikes or holds the other."""
    witnesses = Witnesses(mechanism, every.solids)
    still = []
    for pair in every.checked:
        if pair.rigidly_coupled:
            inside = witnesses.contained(pair, mechanism.home)
            distance = 0.0 if inside else witnesses.nearest(pair, mechanism.home).distance
            still.append(StillEntry(pair.a, pair.b, distance, pair.required))
    return tuple(sorted(still, key=lambda one: one.distance_mm - one.required_mm))
