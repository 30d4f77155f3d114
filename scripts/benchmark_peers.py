"""What checking poses one by one takes: python-fcl, the same behind boxes, trimesh's CollisionManager, and Coal.

Every peer looks at all pairs at the same postures, which it is given. Solids are made ready before the clock runs.
"""

from __future__ import annotations

import importlib.util
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from benchmark_machines import grid_of

from assembly.clearance.narrow_phase.bounding_balls import hull_corners
from assembly.clearance.narrow_phase.checked_pairs import Exclusion, Pairs
from assembly.clearance.narrow_phase.queries import Job, bench
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import inverse_rigid
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve

PEERS = (
    ("grid_fcl", "python-fcl, every pair at every pose"),
    ("grid_boxes_fcl", "boxes of each pose by numpy, python-fcl for pairs whose boxes come nearer than is required"),
    ("grid_trimesh", "trimesh's CollisionManager"),
    ("grid_coal", "Coal, every pair at every pose"),
)


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """The pairs, at some postures."""

    mechanism: Mechanism
    pairs: Pairs
    posture: Posture
    cores: int


def peers(mechanism: Mechanism, pairs: Pairs, cores: int, sample: int, figures: dict[str, Any]) -> dict[str, Any]:
    """Seconds of every peer, scaled up from ``sample`` poses to the whole grid, and against ``figures`` of sweeps."""
    grid = grid_of(mechanism)
    settings = grid[np.unique(np.linspace(0, len(grid) - 1, sample).astype(int))]
    asked, factor = Grid(mechanism, pairs, solve(mechanism, settings).posture, cores), len(grid) / len(settings)
    boxes_s, share = _boxes_fcl_grid(asked)
    measured = {
        "grid_fcl": _fcl_grid(asked),
        "grid_boxes_fcl": boxes_s,
        "grid_trimesh": _trimesh_grid(asked) / cores,
    }
    if importlib.util.find_spec("coal") is not None:
        measured["grid_coal"] = _coal_grid(asked) / cores
    found: dict[str, Any] = {"sampled_poses": len(settings), "grid_boxes_fcl_asked_share": round(share, 4)}
    for name, seconds in measured.items():
        whole = seconds * factor
        found[f"{name}_s"] = round(whole, 1)
        found[f"{name}_over_verdict"] = round(whole / figures["verdict_s"], 1)
        found[f"{name}_over_bracket"] = round(whole / figures["bracket_s"], 1)
    return found


def _fcl_grid(grid: Grid) -> float:
    """Seconds for every pair at every posture through python-fcl, on all cores."""
    jobs = _jobs(grid)
    with bench(list(grid.pairs.solids.values()), grid.cores) as ready:
        ready.measure([replace(job, a_from_b=job.a_from_b[:1]) for job in jobs])
        return _seconds(lambda: ready.measure(jobs))


def _boxes_fcl_grid(grid: Grid) -> tuple[float, float]:
    """Seconds with the pairs first that boxes do not keep apart, on all cores, and the share of those.

    A box is that of the convex hull's corners where they stand: the smallest along the axes, worked out for all
    postures at once; what numpy takes on one core is divided by ``cores``. Only whether a clearance is kept is asked.
    """
    numbers = {exclusion: number for number, exclusion in enumerate(grid.pairs.solids)}
    corners = [hull_corners(solid.mesh) for solid in grid.pairs.solids.values()]
    places = [grid.mechanism.world_from_rest(grid.posture, exclusion.part) for exclusion in grid.pairs.solids]
    pairs = np.array([(numbers[pair.trim_a], numbers[pair.trim_b]) for pair in grid.pairs.checked])
    required = np.array([pair.required for pair in grid.pairs.checked])
    near: list[np.ndarray[Any, np.dtype[np.bool_]]] = []

    def look() -> None:
        boxes = np.array([_box(*each) for each in zip(corners, places, strict=True)])
        first, second = boxes[pairs[:, 0]], boxes[pairs[:, 1]]
        gaps = np.maximum(first[:, :, 0] - second[:, :, 1], second[:, :, 0] - first[:, :, 1]).clip(min=0.0)
        near.append(np.einsum("pnk,pnk->pn", gaps, gaps) <= required[:, None] ** 2)

    boxes_s = _seconds(look)
    jobs = [
        replace(job, a_from_b=job.a_from_b[rows]) for job, rows in zip(_jobs(grid), near[0], strict=True) if rows.any()
    ]
    with bench(list(grid.pairs.solids.values()), grid.cores) as ready:
        ready.measure([replace(job, a_from_b=job.a_from_b[:1]) for job in jobs])
        return boxes_s / grid.cores + _seconds(lambda: ready.measure(jobs)), float(near[0].mean())


def _box(corners: Floats, places: Floats) -> Floats:
    """The box (N, 2, 3) of corners (k, 3) at N places (N, 4, 4)."""
    seen = corners @ places[:, :3, :3].transpose(0, 2, 1) + places[:, None, :3, 3]
    return np.stack([seen.min(axis=1), seen.max(axis=1)], axis=1)


def _jobs(grid: Grid) -> list[Job]:
    numbers = {exclusion: number for number, exclusion in enumerate(grid.pairs.solids)}
    places = {part: grid.mechanism.world_from_rest(grid.posture, part) for part in grid.mechanism.machine.parts}
    return [
        Job(numbers[pair.trim_a], numbers[pair.trim_b], inverse_rigid(places[pair.a]) @ places[pair.b])
        for pair in grid.pairs.checked
    ]


def _trimesh_grid(grid: Grid) -> float:
    """Seconds for every pair at every posture through trimesh's CollisionManager, on one core."""
    import trimesh
    from trimesh.collision import CollisionManager

    managers: dict[Exclusion, Any] = {}
    for exclusion, solid in grid.pairs.solids.items():
        managers[exclusion] = CollisionManager()
        mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.faces, process=False)
        managers[exclusion].add_object("solid", mesh)
    places = {part: grid.mechanism.world_from_rest(grid.posture, part) for part in grid.mechanism.machine.parts}

    def check() -> None:
        for k in range(len(grid.posture)):
            for exclusion, manager in managers.items():
                manager.set_transform("solid", places[exclusion.part][k])
            for pair in grid.pairs.checked:
                managers[pair.trim_a].min_distance_other(managers[pair.trim_b])

    return _seconds(check)


def _coal_grid(grid: Grid) -> float:
    """Seconds for every pair at every posture through Coal's mesh distance, on one core."""
    import coal

    models = {}
    for exclusion, solid in grid.pairs.solids.items():
        model = coal.BVHModelOBBRSS()
        model.beginModel(len(solid.mesh.faces), 3 * len(solid.mesh.faces))
        for corners in solid.mesh.vertices[solid.mesh.faces]:
            model.addTriangle(*corners)
        model.endModel()
        models[exclusion] = model
    parts, posture = grid.mechanism.machine.parts, grid.posture
    places = {
        part: [coal.Transform3s(place[:3, :3], place[:3, 3]) for place in grid.mechanism.world_from_rest(posture, part)]
        for part in parts
    }

    def check() -> None:
        request = coal.DistanceRequest()
        for k in range(len(posture)):
            for pair in grid.pairs.checked:
                result = coal.DistanceResult()
                coal.distance(
                    models[pair.trim_a], places[pair.a][k], models[pair.trim_b], places[pair.b][k], request, result
                )

    return _seconds(check)


def _seconds(do: Callable[[], object]) -> float:
    start = time.perf_counter()
    do()
    return time.perf_counter() - start
