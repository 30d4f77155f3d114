"""What the fuzz knows of a machine without asking the proof: trimesh, FCL and closed forms at a few settings."""

import io
import logging
import math
import warnings
from collections.abc import Iterator
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
from fuzz_meshes import SWEPT
from linkage_machines import Floats

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.geometry.mesh import Mesh
from assembly.kinematics.assembling import assemble
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.solver import solve
from assembly.model.reader import read_machine

SETTINGS, PAIRS = 6, 40
FARTHEST = 1e9
"""mm; what lies farther away is refused by the reader."""
WITHIN = 1e-3
"""mm by which a triangle must reach into what the box sweeps: above rounding in single precision and merged corners."""


def nearer_than_told(file: Path, seed: int) -> Iterator[str]:
    """Pairs of the machine in ``file`` that come nearer than they must, at rest, at the corners and by chance."""
    machine = read_machine(file)
    mechanism = assemble(machine)
    pairs = gather_pairs(machine, mechanism.bodies)
    settings = _settings(mechanism, np.random.default_rng(seed))
    solved = solve(mechanism, settings)
    if not solved.reached.all():
        yield f"no posture was found at {solved.settings[~solved.reached][0].tolist()}"
    for pair in pairs.checked[:PAIRS]:
        solids = [pairs.solids[trim].mesh for trim in (pair.trim_a, pair.trim_b)]
        places = [mechanism.world_from_rest(solved.posture, part) for part in (pair.a, pair.b)]
        for row in np.flatnonzero(solved.reached):
            distance = _distance(solids, (places[0][row], places[1][row]))
            if distance < pair.required - 1e-6:
                at = np.round(solved.settings[row], 3).tolist()
                yield f"{pair.a} and {pair.b} are {distance:.6g} mm apart at {at}, {pair.required:g} are required"
                break


def _settings(mechanism: Mechanism, random: np.random.Generator) -> Floats:
    drives = mechanism.machine.drives.values()
    low, high = (np.array([getattr(drive, end) for drive in drives]) for end in ("low", "high"))
    corners = np.array(list(product(*zip(low, high, strict=True)))).reshape(-1, len(low))
    return np.concatenate([np.zeros((1, len(low))), corners, random.uniform(low, high, (SETTINGS, len(low)))])[:24]


def _distance(solids: list[Mesh], places: Any) -> float:
    """mm between two placed meshes by trimesh's manager of FCL; -1 where they meet or one lies in the other."""
    import trimesh

    if not all(len(mesh.faces) for mesh in solids):
        return math.inf
    managers, moved = [], []
    for mesh, place in zip(solids, places, strict=True):
        manager = trimesh.collision.CollisionManager()
        manager.add_object("one", trimesh.Trimesh(mesh.vertices, mesh.faces, process=False), transform=place)
        managers.append(manager)
        moved.append((mesh.vertices @ place[:3, :3].T + place[:3, 3])[mesh.faces])
    inside = [winding(moved[1 - k], moved[k][0, 0]) > 0.5 for k in range(2)]
    if any(inside) or managers[0].in_collision_other(managers[1]):
        return -1.0
    return float(managers[0].min_distance_other(managers[1]))


def winding(triangles: Floats, point: Floats) -> float:
    """How often closed ``triangles`` (m, 3, 3) go round ``point`` (3,): solid angles by a published closed form."""
    a, b, c = np.moveaxis(triangles - point, 1, 0)
    la, lb, lc = (np.linalg.norm(each, axis=1) for each in (a, b, c))
    above = np.einsum("ij,ij->i", a, np.cross(b, c))
    below = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
    return float(2 * np.arctan2(above, below).sum() / (4 * np.pi))


def strikes_the_box(name: str, data: bytes) -> bool:
    """Whether a mesh file, read by trimesh alone, reaches into what the box of ``fuzz_meshes.MACHINE`` sweeps."""
    import trimesh

    ending = Path(name).suffix.lower().lstrip(".")
    logging.disable()
    try:
        with warnings.catch_warnings(action="ignore"):
            scene = trimesh.load_scene(io.BytesIO(data), file_type=ending, process=False)
            soup = [piece.triangles for piece in scene.dump() if isinstance(piece, trimesh.Trimesh)]
            triangles = np.concatenate([np.empty((0, 3, 3)), *soup])
    except Exception:  # what trimesh cannot read says nothing
        return False
    finally:
        logging.disable(logging.NOTSET)
    triangles = triangles[(np.abs(triangles) < FARTHEST).all(axis=(1, 2))]
    if not len(triangles):
        return False
    low, high = SWEPT[0] + WITHIN, SWEPT[1] - WITHIN
    near = np.all((triangles.min(axis=1) < high) & (triangles.max(axis=1) > low), axis=1)
    if any(_reaches_into(corners, low, high) for corners in triangles[near]):
        return True
    once = np.unique(triangles.reshape(-1, 9), axis=0).reshape(-1, 3, 3)  # a facet that is there again adds no solid
    rounds = winding(once, SWEPT.mean(axis=0))
    return abs(rounds) > 0.5 and abs(rounds - round(rounds)) < 1e-6  # no whole number where facets are turned


def _reaches_into(corners: Floats, low: Floats, high: Floats) -> bool:
    """Whether a triangle (3, 3) that is no mere point has a place in the box: cut by its six planes, one by one."""
    if np.ptp(corners, axis=0).max() < WITHIN:
        return False
    outline = list(corners)
    for axis, (limit, way) in product(range(3), ((0, 1.0), (1, -1.0))):
        edge = (low, high)[limit][axis]
        off = [way * (point[axis] - edge) for point in outline]
        kept = []
        for k, point in enumerate(outline):
            before, there = off[k - 1], off[k]
            if (before < 0) != (there < 0):
                kept.append(outline[k - 1] + before / (before - there) * (point - outline[k - 1]))
            if there >= 0:
                kept.append(point)
        outline = kept
    return bool(outline)
