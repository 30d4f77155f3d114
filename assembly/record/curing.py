"""What would cure a pair, as an entry of the record."""

from __future__ import annotations

from typing import TYPE_CHECKING

from assembly.record.cure_entries import CureEntry, NearerEntry

if TYPE_CHECKING:
    from assembly.studies.cures import Cure


def cure_entry(cure: Cure | None) -> CureEntry | None:
    """A cure in figures."""
    from assembly.clearance.seat_cure import SeatCure

    if cure is None:
        return None
    if isinstance(cure, SeatCure):
        return CureEntry(joint=cure.joint, seat_mm=cure.radius, bearing=cure.bearing, clear=cure.clear, ball=cure.ball)
    nearer = tuple(NearerEntry(one.a, one.b, one.before, one.after) for one in cure.nearer)
    return CureEntry(cure.part, cure.shape, cure.amount, cure.direction, nearer)
