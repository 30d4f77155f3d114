"""What to grind off either part of a pair so that it keeps a clearance, swept so before it is advised."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembly.clearance.cures.trials import CLOSED_IN, tried
from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Pairs, Solid
from assembly.clearance.narrow_phase.distance import CollisionModel, meets, nearest
from assembly.clearance.narrow_phase.drawn_shapes import DrawnShape
from assembly.clearance.narrow_phase.pair_result import PairResult, Verdict
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.removal.covering_balls import UnsettledError
from assembly.clearance.removal.places import DepthMap, RemovalPlace, removal_places
from assembly.clearance.removal.removed import FLATTENED, ShapeRemoval, removals, with_removed
from assembly.geometry.mesh import Floats, Mesh, joined
from assembly.geometry.shells import components
from assembly.model.machine import JointKind, Machine, Shape
from assembly.progress import Progress
from assembly.record import AddedEntry, GroundPartEntry, GroundPlaceEntry
from assembly.studies.shared import finite, point

TOUCHES = 0.05
"""mm between two shapes that are welded or bolted on each other."""
AT_JOINT = 10.0
"""mm from a joint within which what is drawn of a part bears it: an eye may be as large round its pin or ball."""


@dataclass(frozen=True, slots=True, eq=False)
class GroundPart:
    """What goes from one part; ``gone`` and ``kept`` as drawn, and how deep over its patches."""

    entry: GroundPartEntry
    gone: Mesh
    kept: Mesh
    depths: tuple[DepthMap, ...]


@dataclass(frozen=True, slots=True, eq=False)
class SweptPairs:
    """What a sweep of the machine found: cells, pairs and results."""

    groups: CellGroups
    pairs: Pairs
    results: Sequence[PairResult]


def ground(swept: SweptPairs, pair: CheckedPair, wanted: float, progress: Progress) -> tuple[GroundPart, ...]:
    """What goes from either part: what is proven and leaves enough first, then the less."""
    made = []
    for number, part in enumerate((pair.a, pair.b)):
        progress(f"cut {part}", number, 2)
        made.append(_ground(swept, pair, part, wanted, progress))
    return tuple(sorted(made, key=lambda one: (not one.entry.advised, one.entry.weakens, _volume(one.entry))))


def _volume(entry: GroundPartEntry) -> float:
    return sum(place.volume_mm3 for place in entry.places)


def _ground(swept: SweptPairs, pair: CheckedPair, part: str, wanted: float, progress: Progress) -> GroundPart:
    machine = swept.groups.mechanism.machine
    whole = machine.parts[part].mesh
    try:
        cut = removals(swept.groups, swept.pairs, pair, part, wanted)
    except UnsettledError as error:
        return GroundPart(GroundPartEntry(part, (), advised=False, against=str(error)), joined(()), whole, ())
    found = [removal_places(one) for one in cut]
    entries = tuple(_entry(machine, one, place) for one, (own, _) in zip(cut, found, strict=True) for place in own)
    after = _required(with_removed(machine, part, cut), pair, wanted)
    entry = GroundPartEntry(part, entries, advised=False, against=_against(machine, after, part, cut))
    if not entry.against:
        progress(f"sweep {part} so", 0, 0)
        names = {pair.a, pair.b}
        own = tried(swept.groups, after, lambda a, b: {a, b} == names, CLOSED_IN)
        others = tried(swept.groups, after, lambda a, b: part in (a, b) and {a, b} != names)
        results = (*own, *others)
        entry = _swept(entry, swept, pair, results)
    gone = joined(one.gone for one in cut)
    return GroundPart(entry, gone, after.parts[part].mesh, tuple(depths for _, depths in found))


def _required(machine: Machine, pair: CheckedPair, wanted: float) -> Machine:
    """``machine`` in which the pair must keep what is wanted."""
    pairs = {**machine.clearance.pairs, frozenset((pair.a, pair.b)): wanted}
    return replace(machine, clearance=replace(machine.clearance, pairs=pairs))


def _entry(machine: Machine, removal: ShapeRemoval, place: RemovalPlace) -> GroundPlaceEntry:
    name, far = _nearest_point(machine, place.at)
    return GroundPlaceEntry(
        shape=place.shape,
        depth_mm=place.depth + removal.whole.surface_error,
        at=point(place.at),
        outwards=point(place.outwards),
        length_mm=place.size[0],
        width_mm=place.size[1],
        nearest=name,
        nearest_mm=far,
        wall_mm=None if place.wall is None else max(place.wall - 2 * removal.whole.surface_error, 0.0),
        through=place.through,
        volume_mm3=place.volume,
        added=AddedEntry(removal.errors, removal.travel, removal.lattice, FLATTENED, removal.spare),
    )


def _nearest_point(machine: Machine, at: Floats) -> tuple[str, float]:
    """The named point or joint next to a place, and how far it is."""
    named = [(name, where) for name, where in machine.points.items()]
    named += [(f"joint {joint.name}", joint.at_first) for joint in machine.joints.values()]
    if not named:
        return "", 0.0
    far = np.linalg.norm(np.array([where for _, where in named]) - at, axis=1)
    return named[int(far.argmin())][0], float(far.min())


def _against(machine: Machine, after: Machine, part: str, cut: Sequence[ShapeRemoval]) -> str:
    """What speaks against grinding a part so, before it is swept; nothing if all is well."""
    if not cut:
        return "nothing of it was found to be in the way"
    before = {shape.name: shape for shape in machine.parts[part].shapes}
    now = {shape.name: shape for shape in after.parts[part].shapes}
    for one in cut:
        if before[one.shape].seats:
            return f"{one.shape} is the bearing of joint {before[one.shape].seats[0]}"
        if not len(one.kept.faces):
            return f"nothing would be left of {one.shape}"
        if len(_bodies(one.kept)) > len(_bodies(one.whole)):
            return f"{one.shape} would come apart"
    for one in cut:
        for other in before.values():
            joined_to = other.name != one.shape and _touch(one.whole, other.mesh)
            if joined_to and not _touch(one.kept, now[other.name].mesh):
                return f"{one.shape} would come off {other.name}"
    return _at_joints(machine, after, part)


def _at_joints(machine: Machine, after: Machine, part: str) -> str:
    """Which joint of a part loses what of the part is drawn at it, or what it is welded or bolted to; else nothing."""
    meshes = [[shape.mesh for shape in of.parts[part].shapes] for of in (machine, after)]
    for joint in machine.joints.values():
        if part not in (joint.first, joint.second) or joint.kind is JointKind.SLIDE:
            continue
        if joint.kind.has_freedom:
            at = np.array(joint.at_first if part == joint.first else joint.at_second)
            was, now = (_away(own, at) for own in meshes)
            if was <= AT_JOINT and now > was + TOUCHES:
                return f"joint {joint.name} would lose what bears it: nothing is then nearer to it than {now:z.2f} mm"
            continue
        other = joint.second if part == joint.first else joint.first
        beside = [shape.mesh for shape in machine.parts[other].shapes]
        was_on, is_on = (any(_touch(one, each) for one in own for each in beside) for own in meshes)
        if was_on and not is_on:
            return f"{part} would come off {other}"
    return ""


def _away(meshes: Sequence[Mesh], at: Floats) -> float:
    """Mm from a point (3,) to the nearest of some solids; 0 inside."""
    solids = [DrawnShape("", Shape("", mesh)) for mesh in meshes if len(mesh.faces)]
    return min((0.0 if solid.holds(at) else solid.from_surface(at) for solid in solids), default=np.inf)


def _bodies(mesh: Mesh) -> list[Mesh]:
    return [shell for shell in components(mesh) if shell.volume > 0]


def _touch(one: Mesh, other: Mesh) -> bool:
    """Whether two shapes meet, or as good as touch."""
    (low_a, high_a), (low_b, high_b) = one.bounds, other.bounds
    if (np.maximum(low_a, low_b) - np.minimum(high_a, high_b) > TOUCHES).any():
        return False
    still = np.eye(4)
    a, b = (CollisionModel(Solid(mesh, ("",), (0,), (mesh,))) for mesh in (one, other))
    return meets(a, b, still, still) or nearest(a, b, still, still).distance <= TOUCHES


def _swept(
    entry: GroundPartEntry, swept: SweptPairs, pair: CheckedPair, results: Sequence[PairResult]
) -> GroundPartEntry:
    """The entry with what the sweep of all pairs of the part found."""
    names = {pair.a, pair.b}
    own = next(one for one in results if {one.pair.a, one.pair.b} == names)
    held = {(one.pair.a, one.pair.b) for one in swept.results if one.verdict is Verdict.CLEAR}
    broken = next((one for one in results if one.verdict is not Verdict.CLEAR and _names(one) in held), None)
    against = "" if own.verdict is Verdict.CLEAR else f"the sweep does not prove it: {own.why}"
    if not against and broken is not None:
        against = f"{' – '.join(_names(broken))} is then not proven any more: {broken.why}"
    return replace(
        entry,
        advised=not against,
        against=against,
        verdict=own.verdict.value,
        least_mm=finite(own.least),
        proven_mm=finite(own.proven),
        pairs=len(results),
        still_failing=tuple(_still(swept.results, results)),
    )


def _names(one: PairResult) -> tuple[str, str]:
    return one.pair.a, one.pair.b


def _still(before: Sequence[PairResult], now: Sequence[PairResult]) -> Iterator[tuple[str, str]]:
    """The pairs that are not clear: of the part as it is swept now, of all others as they were."""
    new = {_names(one): one for one in now}
    for one in before:
        if new.get(_names(one), one).verdict is not Verdict.CLEAR:
            yield _names(one)
