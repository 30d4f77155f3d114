"""Which pairs of parts are checked, with what of each part, and why the others are not.

Joined parts are checked too; only the joint's seat is left out: the named shapes that form the bearing, and
what lies inside the stated radius round the joint. The ball that is cut away is faceted from inside, so a
little less than the seat is left out, never more; as it stands it is the seat, and adds no error.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations
from math import inf

import numpy as np

from assembly.geometry.lost_pieces import cut_soundly
from assembly.geometry.mesh import Floats, Mesh, joined
from assembly.geometry.mesh_cache import MeshCache, mesh_digest
from assembly.geometry.shapes import sphere
from assembly.kinematics.bodies import Bodies
from assembly.model.machine import Joint, Machine, Part, RoundAbout, Shape, Vector
from assembly.model.seats import SEAT_FACET_ERROR
from assembly.record import NotCheckedEntry
from assembly.time_limit import check_time

ON_LINE = 1e-7
"""mm: a ball so near to a line leaves what is round about it round."""
_CUT = MeshCache(64 * 2**20)
"""Shapes without balls: variants of one machine, its edits and its ranges cut most shapes alike."""


@dataclass(frozen=True, slots=True)
class Exclusion:
    """What is left out of a part for one pair: names of joints whose bearing shapes go, and balls (centre, radius)."""

    part: str
    joints: frozenset[str] = frozenset()
    balls: tuple[tuple[Vector, float], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Solid:
    """A part as one pair sees it: its triangles, and which shape each range of triangles belongs to."""

    mesh: Mesh
    shapes: tuple[str, ...]
    starts: tuple[int, ...]
    """First triangle of each shape."""
    meshes: tuple[Mesh, ...] = ()
    """The shapes one by one."""
    round_about: tuple[RoundAbout | None, ...] = ()
    """What each shape is round about, where that is known; empty where nothing is known of any."""

    def shape_of(self, face: int) -> str:
        """Name of the shape that triangle ``face`` belongs to."""
        return self.shapes[self.number_of(face)]

    def number_of(self, face: int) -> int:
        """Number of the shape that triangle ``face`` belongs to."""
        return int(np.searchsorted(self.starts, face, side="right")) - 1

    def shape_with(self, vertex: Floats) -> str:
        """Name of the first shape that has this vertex (3,)."""
        row = int(np.flatnonzero((self.mesh.vertices == vertex).all(axis=1))[0])
        return self.shape_of(int(np.flatnonzero((self.mesh.faces == row).any(axis=1))[0]))

    def pieces(self) -> tuple[Solid, ...]:
        """Each shape as a solid of its own."""
        lines = self.round_about or (None,) * len(self.shapes)
        every = zip(self.shapes, self.meshes, lines, strict=True)
        return tuple(Solid(mesh, (name,), (0,), (mesh,), (line,)) for name, mesh, line in every)


@dataclass(frozen=True, slots=True)
class CheckedPair:
    """Two parts, what is left out of each, and the clearance in mm that they must keep."""

    a: str
    b: str
    required: float
    trim_a: Exclusion
    trim_b: Exclusion
    rigidly_coupled: bool
    """The two never move against each other: one look at rest settles them."""
    seat: str = ""
    """What was left out, in words."""


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """Every pair of the machine, in one list or the other, and the solids that the checked ones need."""

    checked: tuple[CheckedPair, ...]
    not_checked: tuple[NotCheckedEntry, ...]
    solids: Mapping[Exclusion, Solid]

    @property
    def moving(self) -> Pairs:
        """The pairs that move against each other."""
        return self.only(pair for pair in self.checked if not pair.rigidly_coupled)

    def only(self, chosen: Iterable[CheckedPair]) -> Pairs:
        """The pairs ``chosen`` alone, with the solids that they need; none of those is made yet."""
        kept = tuple(chosen)
        return replace(self, checked=kept, solids=Solids(self.solids, _trims(kept)))


class Solids(Mapping[Exclusion, Solid]):
    """Those of the solids of ``source`` that ``trims`` name, in the order of ``source``."""

    def __init__(self, source: Mapping[Exclusion, Solid], trims: Collection[Exclusion]) -> None:
        self._source, self._trims = source, tuple(exclusion for exclusion in source if exclusion in trims)

    def __getitem__(self, exclusion: Exclusion) -> Solid:
        return self._source[exclusion]

    def __iter__(self) -> Iterator[Exclusion]:
        return iter(self._trims)

    def __len__(self) -> int:
        return len(self._trims)


class _Trimmed(Mapping[Exclusion, Solid]):
    """Parts trimmed the first time that they are asked for: a cut is a boolean, and many a pair is known without."""

    def __init__(self, machine: Machine) -> None:
        self._machine = machine
        self._made: dict[Exclusion, Solid | None] = {}
        self._empty: dict[Exclusion, bool] = {}

    def want(self, exclusion: Exclusion) -> None:
        """Take note that ``exclusion`` belongs to the mapping."""
        self._made.setdefault(exclusion, None)

    def empty(self, exclusion: Exclusion) -> bool:
        """Whether nothing is left of the part; where a corner lies outside of all balls something is."""
        if exclusion not in self._empty:
            self._empty[exclusion] = self._nothing_left(exclusion)
        return self._empty[exclusion]

    def _nothing_left(self, exclusion: Exclusion) -> bool:
        self.want(exclusion)
        shapes = _kept_shapes(self._machine.parts[exclusion.part], exclusion)
        return not any(_reaches_out(shape, exclusion.balls) for shape in shapes) and not len(self[exclusion].mesh.faces)

    def __getitem__(self, exclusion: Exclusion) -> Solid:
        solid = self._made[exclusion]
        if solid is None:
            check_time()
            solid = self._made[exclusion] = without_exclusion(self._machine.parts[exclusion.part], exclusion)
        return solid

    def __iter__(self) -> Iterator[Exclusion]:
        return iter(self._made)

    def __len__(self) -> int:
        return len(self._made)


def gather_pairs(machine: Machine, bodies: Bodies) -> Pairs:
    """Sort all pairs of parts into checked and not checked; parts are trimmed at the seats of joints when needed."""
    rules = PairRules(machine, bodies)
    checked: list[CheckedPair] = []
    not_checked: list[NotCheckedEntry] = []
    for a, b in combinations(machine.parts, 2):
        check_time()
        pair = rules.sorted(a, b)
        if isinstance(pair, CheckedPair):
            checked.append(pair)
        else:
            not_checked.append(pair)
    return Pairs(tuple(checked), tuple(not_checked), Solids(rules.solids, _trims(checked)))


class PairRules:
    """What the file says of pairs: of most nothing, so that they keep their clearance as the parts are drawn."""

    def __init__(self, machine: Machine, bodies: Bodies) -> None:
        self._machine, self._bodies = machine, bodies
        self._joints = _joints_between(machine)
        self._stops = {frozenset((stop.name, stop.other)): stop.name for stop in list(machine.stops.values())[::-1]}
        self._whole = {name: Exclusion(name) for name in machine.parts}
        self.solids = _Trimmed(machine)
        self.named = self._joints.keys() | self._stops.keys() | machine.clearance.ignored.keys()
        """The pairs that joints, stops or the file's own words are about."""

    def sorted(self, a: str, b: str) -> CheckedPair | NotCheckedEntry:
        """A pair as it is checked, or why it is not."""
        names = frozenset((a, b))
        between = self._joints.get(names, ())
        reason = self._reason_to_skip(names, between) if names in self.named else None
        if reason:
            return NotCheckedEntry(a, b, reason)
        pair = _pair(self._machine, self._bodies, a, b, between) if between else self._unjoined(a, b)
        for exclusion in (pair.trim_a, pair.trim_b):
            self.solids.want(exclusion)
        empty = next((one.part for one in (pair.trim_a, pair.trim_b) if self.solids.empty(one)), None)
        return NotCheckedEntry(a, b, f"all of {empty} is seat of the joint between them") if empty else pair

    def _unjoined(self, a: str, b: str) -> CheckedPair:
        body_of, required = self._bodies.body_of, self._machine.clearance.for_pair(a, b)
        return CheckedPair(a, b, required, self._whole[a], self._whole[b], body_of[a] == body_of[b])

    def _reason_to_skip(self, names: frozenset[str], between: tuple[Joint, ...]) -> str | None:
        clearance = self._machine.clearance
        if names in clearance.ignored:
            return f"the file says: {clearance.ignored[names]}"
        if names in self._stops:
            return f"meant to strike: `swingroom stop` says where, stop {self._stops[names]}"
        fixed = [joint for joint in between if not joint.kind.has_freedom]
        if fixed and names not in clearance.pairs:
            return f"{fixed[0].kind} together by joint {fixed[0].name}"
        return None


def _trims(pairs: Iterable[CheckedPair]) -> set[Exclusion]:
    return {exclusion for pair in pairs for exclusion in (pair.trim_a, pair.trim_b)}


def without_exclusion(part: Part, exclusion: Exclusion) -> Solid:
    """``part`` without the bearing shapes and the balls that ``exclusion`` names."""
    cut = [(shape, _without_balls(shape, exclusion.balls)) for shape in _kept_shapes(part, exclusion)]
    cut = [(shape, mesh) for shape, mesh in cut if len(mesh.faces)]
    starts = tuple(np.cumsum([0, *(len(mesh.faces) for _, mesh in cut[:-1])]).tolist()) if cut else ()
    own = tuple(mesh for _, mesh in cut)
    lines = tuple(_still_round(shape, mesh, exclusion.balls) for shape, mesh in cut)
    return Solid(joined(own), tuple(shape.name for shape, _ in cut), starts, own, lines)


def _still_round(shape: Shape, mesh: Mesh, balls: Iterable[tuple[Vector, float]]) -> RoundAbout | None:
    """What a shape is round about with balls cut out: its line where all of them lie on it."""
    line = shape.round_about
    if line is None or mesh is shape.mesh:
        return line
    if line.along is None:
        return line if all(np.allclose(centre, line.at, rtol=0, atol=ON_LINE) for centre, _ in balls) else None
    away = [np.cross(np.subtract(centre, line.at), line.along) for centre, _ in balls]
    return line if all(np.linalg.norm(each) <= ON_LINE for each in away) else None


def _kept_shapes(part: Part, exclusion: Exclusion) -> list[Shape]:
    return [shape for shape in part.shapes if not exclusion.joints.intersection(shape.seats)]


def _reaches_out(shape: Shape, balls: Iterable[tuple[Vector, float]]) -> bool:
    outside = np.ones(len(shape.mesh.vertices), dtype=bool)
    for centre, radius in balls:
        outside &= np.linalg.norm(shape.mesh.vertices - np.array(centre), axis=1) > radius
    return bool(outside.any())


def _without_balls(shape: Shape, balls: Iterable[tuple[Vector, float]]) -> Mesh:
    mesh = shape.mesh
    for centre, radius in balls:
        low, high = mesh.bounds if len(mesh.faces) else np.full((2, 3), np.inf)
        nearest = np.clip(centre, low, high)
        if np.linalg.norm(nearest - centre) < radius:
            mesh = _CUT.made(mesh_digest(mesh, *centre, radius), partial(_without_ball, mesh, centre, radius))
    return mesh


def _without_ball(mesh: Mesh, centre: Vector, radius: float) -> Mesh:
    ball = sphere(centre, 2 * radius, facet_error=SEAT_FACET_ERROR)
    return cut_soundly(mesh, [replace(ball, surface_error=0.0)], widest=inf)


def _joints_between(machine: Machine) -> dict[frozenset[str], tuple[Joint, ...]]:
    between: dict[frozenset[str], tuple[Joint, ...]] = {}
    for joint in machine.joints.values():
        ends = frozenset((joint.first, joint.second))
        between[ends] = (*between.get(ends, ()), joint)
    return between


def _pair(machine: Machine, bodies: Bodies, a: str, b: str, between: tuple[Joint, ...]) -> CheckedPair:
    names = frozenset(joint.name for joint in between)
    trims = {}
    for part in (a, b):
        balls = tuple(
            (joint.at_first if joint.first == part else joint.at_second, joint.seat)
            for joint in between
            if joint.seat > 0
        )
        bearing = {seat for shape in machine.parts[part].shapes for seat in shape.seats}
        trims[part] = Exclusion(part, names & bearing, balls)
    seat = _seat_words(machine, between, trims)
    rigidly_coupled = bodies.body_of[a] == bodies.body_of[b]
    return CheckedPair(a, b, machine.clearance.for_pair(a, b), trims[a], trims[b], rigidly_coupled, seat)


def _seat_words(machine: Machine, between: tuple[Joint, ...], trims: Mapping[str, Exclusion]) -> str:
    words = [f"{joint.seat:g} mm round {joint.name}" for joint in between if joint.seat > 0]
    for part, exclusion in trims.items():
        shapes = [shape.name for shape in machine.parts[part].shapes if exclusion.joints.intersection(shape.seats)]
        if shapes:
            words.append(f"{', '.join(shapes)} of {part}")
    return f"left out as seat: {'; '.join(words)}" if words else ""
