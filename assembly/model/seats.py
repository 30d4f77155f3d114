"""The names that a shape or mesh carries: its own, and those of the joints whose bearing it forms."""

from __future__ import annotations

from collections.abc import Sequence

from assembly.model.bench import Bench
from assembly.model.faults import shown
from assembly.model.positions import Place


def read_seats(name: str, seats: Sequence[str], place: Place, bench: Bench) -> tuple[str, ...]:
    """``seats`` of the shape ``name`` at ``place``; each must be a joint of the shape's own part."""
    bench.log.check_name(name, "shape", (*place, "name"))
    part = str(place[1])
    for number, joint in enumerate(seats):
        where = (*place, "seat", number) if len(seats) > 1 else (*place, "seat")
        tie = bench.ties.get(joint)
        if bench.log.knows(joint, bench.ties, "joint", where) and tie and part not in (tie.first, tie.second):
            message = f"{shown(joint)} joins {shown(tie.first)} and {shown(tie.second)}, not {shown(part)}"
            bench.log.add(where, message, "a seat names a joint of its own part")
    return tuple(seats)
