"""Pairs that never move against each other: one look at rest settles them."""

from __future__ import annotations

from collections.abc import Mapping

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Pairs
from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.kinematics.mechanism import Mechanism
from assembly.record import StillEntry

SURELY_MM = 1e-6
"""What is proven to be farther apart than this does not touch."""


def coupled_pairs(
    mechanism: Mechanism, every: Pairs, proven: Mapping[CheckedPair, float] | None = None
) -> tuple[StillEntry, ...]:
    """Those of the pairs that never move that are too near, nearest first: 0 mm where one strikes or holds the other.

    Pairs of which it is ``proven`` (mm) that they keep their clearance are not measured.
    """
    known = proven or {}
    witnesses = Witnesses(mechanism, every.solids)
    still = []
    for pair in every.checked:
        if pair.rigidly_coupled and not known.get(pair, 0.0) >= max(pair.required, SURELY_MM):
            inside = witnesses.contained(pair, mechanism.home)
            distance = 0.0 if inside else witnesses.nearest(pair, mechanism.home).distance
            still.append(StillEntry(pair.a, pair.b, distance, pair.required))
    near = (one for one in still if one.too_near)
    return tuple(sorted(near, key=lambda one: one.distance_mm - one.required_mm))
