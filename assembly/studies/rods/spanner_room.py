"""Whether a spanner has room to turn a tube and its lock nuts: the sector that it sweeps, held against all other parts.

The sector is one more solid: what an open spanner fills while it is swung through one flat of the hexagon, or through
half of one where it is turned over between two swings. It is tried at directions all round the rod, with the machine at
one setting. The rod's own part is left out: the spanner is on it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import Solid
from assembly.clearance.narrow_phase.distance import CollisionModel, meets, nearest
from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.rotations import across, unit
from assembly.geometry.shapes.plates import plate
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.model.machine import Part
from assembly.model.thread_standards import SpannerSize, spanner_for
from assembly.model.threaded_rod import ThreadedRod
from assembly.record import SpannerEntry, SpannerWord
from assembly.studies.shared import point
from assembly.time_limit import check_time

SWINGS = (60.0, 30.0)
"""Degrees: a flat of the hexagon, and half of one, for which the spanner is turned over between two swings."""
TRIED = 24
"""Directions round the rod."""
HANDLE = 0.5
"""Width of a spanner's handle, as a share of its head (common practice)."""
STEP = np.deg2rad(2.0)


def spanner_room(mechanism: Mechanism, posture: Posture, rod: ThreadedRod) -> tuple[SpannerEntry, ...]:
    """Room for a spanner on each lock nut of ``rod``, and on its tube where that has flats, at one posture."""
    solids = {
        name: CollisionModel(_solid(part))
        for name, part in mechanism.machine.parts.items()
        if name != rod.part and part.shapes
    }
    places = {name: mechanism.world_from_rest(posture, name)[0] for name in solids}
    return tuple(_room(place, solids, places) for place in _places(mechanism, posture, rod))


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """What is turned: the middle of its flats (3,) mm and the rod's line (3,), in the world."""

    rod: str
    what: SpannerWord
    joint: str
    flats: float
    size: SpannerSize
    at: Floats
    along: Floats


def _places(mechanism: Mechanism, posture: Posture, rod: ThreadedRod) -> Iterator[_Place]:
    world_from_rest = mechanism.world_from_rest(posture, rod.part)[0]
    ends = []
    for end in rod.ends:
        joint = mechanism.machine.joints[end.joint]
        drawn = joint.at_first if joint.first == rod.part else joint.at_second
        ends.append(world_from_rest[:3, :3] @ np.asarray(drawn) + world_from_rest[:3, 3])
    along = unit(ends[1] - ends[0])
    for end, ball, way in zip(rod.ends, ends, (along, -along), strict=True):
        if end.lock_nut is not None:
            face = end.ball_to_tip - end.engaged
            middle = ball + (face - end.lock_nut.height / 2) * way
            flats = end.lock_nut.across_flats
            yield _Place(rod.name, "lock nut", end.joint, flats, rod.spanner or spanner_for(flats), middle, along)
    if rod.tube_flats is not None:
        size = rod.spanner or spanner_for(rod.tube_flats)
        yield _Place(rod.name, "tube", "", rod.tube_flats, size, (ends[0] + ends[1]) / 2, along)


def _solid(part: Part) -> Solid:
    return Solid(part.mesh, (part.name,), (0,), (part.mesh,))


def _room(place: _Place, solids: dict[str, CollisionModel], places: dict[str, Floats]) -> SpannerEntry:
    """The widest swing that is free in some direction, in that with most clearance; else how it is blocked."""
    reach = float(np.hypot(place.size.length, HANDLE * place.size.head / 2)) + place.size.thickness
    near = [name for name, model in solids.items() if _within(model.solid.mesh, places[name], place.at, reach)]
    found: list[tuple[float, str, Floats]] = []
    for swing in SWINGS:
        model = CollisionModel(_part_of(sector(place.size, swing)))
        found = [_tried(model, solids, places, near, _turned(place, number)) for number in range(TRIED)]
        if any(clearance > 0 for clearance, _, _ in found):
            break
    clearance, part, start = max(found, key=lambda one: one[0])
    free = sum(one[0] > 0 for one in found)
    blocking = [name for each, name, _ in found if each <= 0]
    middle = start[:3, 0] * np.cos(np.deg2rad(swing / 2)) + start[:3, 1] * np.sin(np.deg2rad(swing / 2))
    return SpannerEntry(
        rod=place.rod,
        what=place.what,
        joint=place.joint,
        across_flats_mm=place.flats,
        length_mm=place.size.length,
        swing_deg=swing,
        free=free,
        tried=TRIED,
        handle=point(middle),
        clearance_mm=clearance if free and np.isfinite(clearance) else None,
        part=part if free else max(set(blocking), key=blocking.count),
    )


def _part_of(mesh: Mesh) -> Solid:
    return Solid(mesh, ("spanner",), (0,), (mesh,))


def _within(mesh: Mesh, place: Floats, at: Floats, reach: float) -> bool:
    """Whether a ball round a part comes within reach."""
    low, high = mesh.bounds
    middle = place[:3, :3] @ ((low + high) / 2) + place[:3, 3]
    return float(np.linalg.norm(middle - at) - np.linalg.norm(high - low) / 2) <= reach


def _turned(place: _Place, number: int) -> Floats:
    """Where the sector stands (4, 4): its middle on the nut, square to the rod, begun in one of the directions."""
    u, v = across(place.along)
    angle = 2 * np.pi * number / TRIED
    first = np.cos(angle) * u + np.sin(angle) * v
    made = np.eye(4)
    made[:3, :3] = np.column_stack([first, np.cross(place.along, first), place.along])
    made[:3, 3] = place.at
    return made


def _tried(
    spanner: CollisionModel,
    solids: dict[str, CollisionModel],
    places: dict[str, Floats],
    near: Sequence[str],
    start: Floats,
) -> tuple[float, str, Floats]:
    """The least clearance in mm of the sector to any part, less its surface error; 0 or less where it strikes."""
    least, part = np.inf, ""
    for name in near:
        check_time()
        model = solids[name]
        distance = nearest(spanner, model, start, places[name]).distance
        sure = distance - model.solid.mesh.surface_error
        if distance <= 0 or meets(spanner, model, start, places[name]):
            sure = min(0.0, sure)
        if sure < least:
            least, part = sure, name
        if least <= 0:
            break
    return float(least), part, start


def sector(size: SpannerSize, swing: float) -> Mesh:
    """What a spanner of a size fills as it is swung by so many degrees from the x axis towards y, about the z axis.

    A disc as wide as its head, and its handle everywhere between both ends. Drawn round the true outline, never within.
    """
    radius, half, head = np.hypot(size.length, HANDLE * size.head / 2), HANDLE * size.head / 2, size.head / 2
    end = np.deg2rad(swing)
    corners = [np.arcsin(half / radius), np.arcsin(min(1.0, half / head))]
    marks = np.array([-corner for corner in corners] + [0.0, end] + [end + corner for corner in corners])
    even = np.arange(-np.pi + end / 2, np.pi + end / 2 - STEP / 2, STEP)
    angles = np.sort(np.concatenate([even[np.abs(even[:, None] - marks).min(axis=1) > STEP / 4], marks]))
    beside = np.maximum(np.maximum(-angles, angles - end), 0.0)
    with np.errstate(divide="ignore"):
        handle = np.where(beside < np.pi / 2, np.minimum(radius, half / np.sin(np.minimum(beside, np.pi / 2))), 0.0)
    outline = np.maximum(handle, head) / np.cos(STEP / 2)
    corners_uv = outline[:, None] * np.column_stack([np.cos(angles), np.sin(angles)])
    return plate(corners_uv, size.thickness, at=[0, 0, 0], normal=[0, 0, 1], along=[1, 0, 0])
