"""Random solids of few triangles for random machines: one or two along the joints of each part, and obstacles."""

from collections.abc import Mapping, Sequence

import numpy as np
import plain_meshes
from linkage_machines import Floats
from scipy.linalg import null_space

from assembly.geometry.mesh import Mesh
from assembly.kinematics.assembling import assemble
from assembly.kinematics.solver import solve
from assembly.model.machine import Machine

Random = np.random.Generator

SURFACE_ERRORS = (0.0, 0.0, 0.0, 0.02)
OBSTACLES = 2


def direction(random: Random) -> Floats:
    vector = random.normal(size=3)
    return vector / np.linalg.norm(vector)


def along(start: Floats, end: Floats) -> Floats:
    """Rotation (3, 3) that takes z to the direction from ``start`` to ``end``."""
    line = end - start
    if np.linalg.norm(line) < 1e-9:
        return np.eye(3)
    line = line / np.linalg.norm(line)
    side = null_space(line[None])[:, 0]
    return np.stack([side, np.cross(line, side), line], axis=1)


def tube(radius: float, wall: float, length: float, sides: int) -> tuple[Floats, np.ndarray]:
    """Along z from 0: four rings of corners, outside and inside at both ends."""
    turn = 2 * np.pi * np.arange(sides) / sides
    ring = np.column_stack([np.cos(turn), np.sin(turn), 0 * turn])
    rings = [ring * (r, r, 0) + (0, 0, z) for r, z in ((radius, 0), (radius, length), (radius - wall, length))]
    rings.append(ring * (radius - wall, radius - wall, 0))
    faces = []
    for a in range(4):
        for i in range(sides):
            j, b = (i + 1) % sides, (a + 1) % 4
            faces += [(a * sides + i, a * sides + j, b * sides + j), (a * sides + i, b * sides + j, b * sides + i)]
    return np.concatenate(rings), np.array(faces)


def solid(random: Random, start: Floats, end: Floats) -> Mesh:
    """One solid between two points, clear of both: rod, plate, box, ball or tube."""
    length = max(8.0, 0.7 * float(np.linalg.norm(end - start)))
    kind = random.integers(5)
    if kind == 0:
        vertices, faces = plain_meshes.cylinder(random.uniform(1, 4), length, int(random.integers(3, 8)))
    elif kind == 1:
        vertices, faces = plain_meshes.box((random.uniform(8, 25), random.uniform(0.4, 2), length), (0, 0, length / 2))
    elif kind == 2:
        vertices, faces = plain_meshes.box((*random.uniform(3, 12, size=2), length), (0, 0, length / 2))
    elif kind == 3:
        vertices, faces = plain_meshes.ball(min(length / 2, random.uniform(3, 12)), 1, (0, 0, length / 2))
    else:
        vertices, faces = tube(random.uniform(4, 8), random.uniform(0.5, 2), length, int(random.integers(4, 8)))
    middle = (start + end) / 2 + random.normal(scale=4, size=3)
    placed = (vertices - (0, 0, length / 2)) @ along(start, end).T + middle
    return Mesh(placed, faces, float(random.choice(SURFACE_ERRORS)))


def joint_places(made: Machine, part: str) -> list[Floats]:
    places = [
        np.asarray(at)
        for joint in made.joints.values()
        for name, at in ((joint.first, joint.at_first), (joint.second, joint.at_second))
        if name == part
    ]
    return places if len(places) > 1 else [*places, *(place + np.array((35.0, 10, 5)) for place in places)]


def dressed(random: Random, made: Machine) -> dict[str, list[Mesh]]:
    """One or two solids for every moving part, along its joints."""
    shapes: dict[str, list[Mesh]] = {}
    for name, part in made.parts.items():
        if not part.fixed:
            places = joint_places(made, name)
            pairs = [places[:2], places[-2:]][: int(random.integers(1, 3)) if len(places) > 2 else 1]
            shapes[name] = [solid(random, *pair) for pair in pairs]
    return shapes


def obstacles(random: Random, made: Machine, shapes: Mapping[str, Sequence[Mesh]]) -> list[Mesh]:
    """Small fixed solids, each a little off a corner of a moving part as it stands at some setting of the range."""
    mechanism = assemble(made)
    low, high = (np.array([getattr(drive, end) for drive in made.drives.values()]) for end in ("low", "high"))
    settings = random.uniform(low, high, size=(OBSTACLES, len(low)))
    solved = solve(mechanism, settings)
    found = []
    for k in range(OBSTACLES):
        part = str(random.choice(list(shapes)))
        frame = mechanism.world_from_rest(solved.posture, part)[k]
        corner = random.choice(shapes[part][0].vertices)
        place = frame[:3, :3] @ corner + frame[:3, 3] + random.uniform(3, 9) * direction(random)
        size = random.choice([2.0, 6.0])
        found.append(Mesh(*plain_meshes.box((size, size, size), place), float(random.choice(SURFACE_ERRORS))))
    return found
