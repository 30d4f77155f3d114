"""Seats: the joints whose bearing a shape forms, and the size of those that the file leaves to the program."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from assembly.model.fault_list import shown
from assembly.model.file_tables import BEARING, SEAT_HINT, JointTable
from assembly.model.machine import Joint, Part, Shape
from assembly.model.positions import Place
from assembly.model.reading import Bench

SEAT_FACET_ERROR = 0.05
"""mm: how far the ball that is cut out at a seat may lie inside the true one."""
AT_JOINT = 1e-3
"""mm: a ball whose middle is no farther from a joint's place is that joint's bearing."""
_STEP = 100
"""Seats that the program takes are rounded up to this part of a mm."""


def read_seats(name: str, seats: Sequence[str], place: Place, bench: Bench) -> tuple[str, ...]:
    """``seats`` of the shape ``name`` at ``place``; each must be a joint of the shape's own part."""
    bench.log.check_name(name, "shape", (*place, "name"))
    part = str(place[1])
    for number, joint in enumerate(seats):
        where = (*place, "bearing_of", number) if len(seats) > 1 else (*place, "bearing_of")
        tie = bench.ties.get(joint)
        if bench.log.knows(joint, bench.ties, "joint", where) and tie and part not in (tie.first, tie.second):
            message = f"{shown(joint)} joins {shown(tie.first)} and {shown(tie.second)}, not {shown(part)}"
            bench.log.add(where, message, "`bearing_of` names a joint of the shape's own part")
    return tuple(seats)


@dataclass(frozen=True, slots=True)
class BallSeat:
    """A seat that holds the balls drawn at a joint: its radius in mm, that of the largest, and whose that is."""

    radius: float
    reach: float
    part: str
    shape: str


def ball_seat(joint: Joint, parts: Mapping[str, Part]) -> BallSeat | None:
    """The seat of a joint of which a ball is drawn there, in either part; None where none is.

    The ball that is cut out of both parts must hold the whole bearing ball. Source: closed form. The farthest point of
    a bored ball with flat faces is the rim of a face, √(B² + d²)/2 from its middle for a width B and a face diameter d;
    its surface error, and what the facets of the cut lack, are added.
    """
    found = list(_balls(joint, parts))
    return max(found, key=lambda seat: seat.radius, default=None)


def _balls(joint: Joint, parts: Mapping[str, Part]) -> Iterator[BallSeat]:
    for part, at in ((joint.first, joint.at_first), (joint.second, joint.at_second)):
        for shape in parts[part].shapes:
            if shape.ball is not None and np.linalg.norm(np.subtract(shape.ball, at)) <= AT_JOINT:
                reach = _reach(shape, at)
                yield BallSeat(ceil(_STEP * (reach + SEAT_FACET_ERROR)) / _STEP, reach, part, shape.name)


def _reach(shape: Shape, at: Sequence[float]) -> float:
    return float(np.linalg.norm(shape.mesh.vertices - np.array(at), axis=1).max()) + shape.mesh.surface_error


def left_to_program(table: JointTable, bench: Bench) -> bool:
    """Whether a joint's seat is the word that leaves it to the program, and no dimension of that name."""
    return table.seat_radius == BEARING and BEARING not in bench.figures.dimensions


def with_left_seats(
    joints: Mapping[str, Joint], parts: Mapping[str, Part], tables: Mapping[str, JointTable], bench: Bench
) -> dict[str, Joint]:
    """``joints`` with the seats that their ``tables`` leave to the program, each noted with the radius that is taken.

    A joint where no ball is drawn is a fault: nothing says how large its bearing is.
    """
    every = {**tables, **bench.mirror.twins(tables, lambda _name, table: table)}
    made = dict(joints)
    for name in (name for name in joints if left_to_program(every[name], bench)):
        joint, found = joints[name], ball_seat(joints[name], parts)
        if found is not None:
            made[name] = replace(joint, seat=found.radius)
            message = f"its seat is {found.radius:.4g} mm, which holds {found.shape} of {found.part}"
            bench.note(("joints", name), message)
            continue
        place = ("joints", name if name in tables else bench.mirror.other_side(name), "seat_radius")
        if not bench.log.has_faults(place):
            message = f"no ball of {shown(joint.first)} or {shown(joint.second)} is drawn at this joint"
            bench.log.add(place, message, SEAT_HINT)
    return made
