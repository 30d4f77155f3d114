"""The pairs of a machine as built: of each part what one frame carries, kept apart by its growth as well.

    distance anywhere >= distance of what is drawn, carried by its frames - growth of both,

so a pair of what is drawn must keep its clearance and the growth of both (``grows``). The ball that is left out at a
seat is smaller by what it, and what of a shape lies inside it, may shift against each other: what lies outside of the
true ball lay outside of this one as drawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import product
from math import ceil

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Exclusion, Pairs, Solid, without_exclusion
from assembly.clearance.tolerances.as_built import AsBuilt
from assembly.clearance.tolerances.growth import Grown, Growth, farthest, relative
from assembly.clearance.tolerances.play_bounds import UNPROVEN, LoosePair, is_loose, play_bounds, side_of
from assembly.clearance.tolerances.reach import corners_within
from assembly.geometry.mesh import joined
from assembly.kinematics.bodies import Bodies
from assembly.kinematics.mechanism import Mechanism
from assembly.model.machine import Part, Shape, Vector
from assembly.time_limit import check_time

GRAIN = 1e-3
"""mm: growths are rounded up to this, so that shapes that grow alike stay together."""
ROUNDED_UP = 0.01
"""mm by which a seat that the program takes is larger than its ball."""


@dataclass(frozen=True, slots=True)
class GrownPair:
    """``pair`` of what is drawn, made of a pair of the machine, ``of``: by how much both ``grow`` together, mm.

    ``play`` mm: by how much more the play of joints may let them come nearer.
    """

    pair: CheckedPair
    of: CheckedPair
    grows: float
    play: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class GrownPairs:
    """All pairs as they are swept, and those of which nothing is known, with the reason."""

    swept: tuple[GrownPair, ...]
    solids: Mapping[Exclusion, Solid]
    unknown: Mapping[CheckedPair, str]

    @property
    def pairs(self) -> Pairs:
        """For the sweep."""
        return Pairs(tuple(one.pair for one in self.swept), (), self.solids)


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """Shapes of a part that one frame carries, as one pair sees them."""

    exclusion: Exclusion
    growth: float


@dataclass(eq=False)
class Pieces:
    """Parts as their pairs see them, in pieces; made once for pairs that leave out the same."""

    built: AsBuilt
    growth: Growth
    solids: dict[Exclusion, Solid] = field(default_factory=dict)
    _made: dict[tuple[Exclusion, tuple[str, ...]], list[_Piece] | str] = field(default_factory=dict)

    def prepare(self) -> None:
        """Find the frames of all shapes, before the machine that has them is put together."""
        for name, part in self.built.drawn.machine.parts.items():
            for shape in part.shapes:
                check_time()
                self.growth.of(name, shape)

    def of(self, exclusion: Exclusion, seats: tuple[str, ...]) -> list[_Piece] | str:
        """The pieces of a part; why nothing is known of one of its shapes. ``seats``: joints of the balls left out."""
        if (exclusion, seats) not in self._made:
            self._made[exclusion, seats] = self._pieces(exclusion, seats)
        return self._made[exclusion, seats]

    def _pieces(self, exclusion: Exclusion, seats: tuple[str, ...]) -> list[_Piece] | str:
        groups: dict[tuple[str, float], list[Solid]] = {}
        for shape in self.built.drawn.machine.parts[exclusion.part].shapes:
            if exclusion.joints.intersection(shape.seats):
                continue
            grown = self.growth.of(exclusion.part, shape)
            if isinstance(grown, str):
                return grown
            balls = tuple(
                (centre, left)
                for (centre, radius), joint in zip(exclusion.balls, seats, strict=True)
                if (left := radius - self._shift(exclusion.part, shape, grown, (joint, centre, radius))) > 0
            )
            solid = without_exclusion(Part(exclusion.part, (shape,)), Exclusion(exclusion.part, frozenset(), balls))
            if len(solid.mesh.faces):
                growth = float(np.ceil(grown.growth / GRAIN - 1e-6) * GRAIN)
                groups.setdefault((grown.carrier.name, growth), []).append(solid)
        return [self._piece(exclusion, *key, solids) for key, solids in groups.items()]

    def _piece(self, exclusion: Exclusion, frame: str, growth: float, solids: list[Solid]) -> _Piece:
        own = Exclusion(frame, exclusion.joints | {f"grows {growth:z.3f}", exclusion.part}, exclusion.balls)
        self.solids[own] = _together(solids)
        return _Piece(own, growth)

    def _shift(self, part: str, shape: Shape, grown: Grown, ball: tuple[str, Vector, float]) -> float:
        """By how much a seat's ball may shrink or shift against what of a shape lies inside it, mm."""
        joint, centre, radius = ball
        built, ends = self.built, np.array([one.ends for one in self.built.readings.tolerances])
        drawn = built.drawn.machine.joints[joint]
        end = 0 if drawn.first == part else 1
        middle = built.ends[joint, end]
        inside = corners_within(grown.corners, shape.mesh.faces, np.array(centre), radius)
        moved = 0.0
        if inside is not None:
            moved = farthest(relative(inside, middle.slopes), ends) + float(np.linalg.norm(middle.rest))
        return moved + self._shrinks(joint)

    def _shrinks(self, joint: str) -> float:
        """By how much the radius of a seat may be less, mm."""
        built, seat = self.built, self.built.seats[joint]
        reach = np.array([one.reach for one in built.readings.tolerances])
        less = float(np.abs(seat.slopes[:, 0]) @ reach + seat.rest[0])
        drawn = built.drawn.machine.joints[joint]
        if drawn.seat != built.readings.base.joints[joint].seat:
            less += ROUNDED_UP + max(self._balls_grow(part) for part in (drawn.first, drawn.second))
        return less

    def _balls_grow(self, part: str) -> float:
        shapes = [shape for shape in self.built.drawn.machine.parts[part].shapes if shape.ball is not None]
        every = [self.growth.of(part, shape) for shape in shapes]
        return max((np.inf if isinstance(one, str) else one.growth for one in every), default=0.0)


def _together(solids: list[Solid]) -> Solid:
    """Several solids of one shape each as one."""
    meshes = tuple(solid.mesh for solid in solids)
    starts = tuple(np.cumsum([0, *(len(mesh.faces) for mesh in meshes[:-1])]).tolist())
    names = tuple(name for solid in solids for name in solid.shapes)
    lines = tuple(line for solid in solids for line in (solid.round_about or (None,)))
    return Solid(joined(meshes), names, starts, meshes, lines)


def grown_pairs(built: AsBuilt, pieces: Pieces, pairs: Pairs, bodies: Bodies) -> GrownPairs:
    """``pairs`` of the drawn machine as pairs of the machine as built, whose ``bodies`` these are."""
    swept: list[GrownPair] = []
    unknown: dict[CheckedPair, str] = {}
    for pair in pairs.checked:
        check_time()
        seats = _seats(built, pair)
        sides = [pieces.of(trim, seats if trim.balls else ()) for trim in (pair.trim_a, pair.trim_b)]
        why = next((side for side in sides if isinstance(side, str)), None) or _rule_varies(built, pair)
        if why:
            unknown[pair] = why
            continue
        swept += [_grown_pair(pair, a, b, bodies) for a, b in product(*sides)]  # type: ignore[arg-type]  # no text left
    return GrownPairs(tuple(swept), pieces.solids, unknown)


def _grown_pair(pair: CheckedPair, a: _Piece, b: _Piece, bodies: Bodies) -> GrownPair:
    first, second = a.exclusion.part, b.exclusion.part
    coupled = bodies.body_of[first] == bodies.body_of[second]
    grows = a.growth + b.growth
    made = CheckedPair(first, second, pair.required + grows, a.exclusion, b.exclusion, coupled, pair.seat)
    return GrownPair(made, pair, grows)


def loosened(grown: GrownPairs, mechanism: Mechanism) -> GrownPairs:
    """``grown`` pairs of ``mechanism``, kept apart by what the play of its joints lets them come nearer as well."""
    if not is_loose(mechanism):
        return grown
    asked = []
    for one in grown.swept:
        bodies = mechanism.bodies.body_of
        a, b = (
            side_of(mechanism, bodies[name], grown.solids[trim], one.grows)
            for name, trim in ((one.pair.a, one.pair.trim_a), (one.pair.b, one.pair.trim_b))
        )
        asked.append(LoosePair(a, b))
    swept, unknown = [], dict(grown.unknown)
    for one, play in zip(grown.swept, play_bounds(mechanism, asked), strict=True):
        if play is None:
            unknown[one.of] = UNPROVEN
        else:
            more = ceil(play / GRAIN - 1e-6) * GRAIN
            swept.append(replace(one, pair=replace(one.pair, required=one.pair.required + more), play=more))
    return GrownPairs(tuple(swept), grown.solids, unknown)


def _seats(built: AsBuilt, pair: CheckedPair) -> tuple[str, ...]:
    """The joints round which balls are left out, in the order of the balls."""
    names, joints = {pair.a, pair.b}, built.drawn.machine.joints.items()
    return tuple(name for name, one in joints if {one.first, one.second} == names and one.seat > 0)


def _rule_varies(built: AsBuilt, pair: CheckedPair) -> str:
    readings = built.readings
    for number, one in enumerate(readings.tolerances):
        for change in readings.samples(number):
            if readings.at({number: change}).clearance != readings.base.clearance:
                return f"the clearance that {pair.a} and {pair.b} must keep varies with {one.name}"
    return ""
