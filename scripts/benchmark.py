"""Measure Swingroom side by side with checking poses one by one; prints JSON, and a table with ``--table``.

    python3 scripts/benchmark.py [--machine FILE] [--cores 2] [--sample 40] [--growth] [--table]
    python3 scripts/benchmark.py --command stop [--before FOLDER]

All figures come from one run on one machine. The peers check every pair at every pose of a 1° grid, with poses
that Swingroom solved (not counted); they are measured on an even sample of the grid and scaled up to all of it.
Peers that cannot use several processes by themselves are measured on one and divided by ``--cores``, as if they
could. With ``--command`` only that whole command is measured, with nothing known from before and once more unchanged;
``--before`` names the sources of an earlier commit to be measured beside it. Needs the environment of
``scripts/test.py``; Coal is measured where the package ``coal`` is installed.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from command_times import command_times, peak_memory, processor_seconds

from assembly.clearance.narrow_phase.checked_pairs import Pairs, gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.narrow_phase.queries import Job, bench
from assembly.clearance.proof.pair_state import PairsSwept
from assembly.clearance.proof.sweep import sweep_pairs
from assembly.geometry.rotations import inverse_rigid
from assembly.kinematics.assembling import assemble
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve
from assembly.model.machine import Drive, Joint, Machine, Part
from assembly.model.reader import read_machine
from assembly.studies.sensitivity import SweptFigures, sensitivities
from assembly.studies.sweep.whole_sweep import sweep_machine

Result = TypeVar("Result")

REPOSITORY = Path(__file__).resolve().parent.parent
DEMO = REPOSITORY / "meshes" / "parcel_trike" / "parcel_trike.toml"
GRID_STEP = 1.0
"""Degrees (or mm) between the poses that the peers check."""


def main() -> None:
    """Run what was asked for and print it."""
    asked = _arguments()
    if asked.command:
        print(json.dumps(command_times(asked.command, asked.machine.resolve(), asked.cores, asked.before), indent=2))
        return
    machine = read_machine(asked.machine)
    mechanism = assemble(machine)
    pairs = gather_pairs(machine, mechanism.bodies)
    figures: dict[str, Any] = {
        "machine": machine.name,
        "cores": asked.cores,
        "parts": len(machine.parts),
        "triangles": sum(len(part.mesh.faces) for part in machine.parts.values()),
        "pairs": len(pairs.checked),
    }
    figures |= _poses(mechanism)
    figures |= _sweeps(mechanism, pairs, asked.cores)
    figures |= _sensitivities(machine, asked.cores)
    figures |= _peers(mechanism, pairs, asked, figures)
    if asked.growth:
        figures["growth"] = _growth(machine, asked.cores)
    figures["peak_memory_mib"] = round(peak_memory())
    print(json.dumps(figures, indent=2))
    if asked.table:
        print(_table(figures))


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--machine", type=Path, default=DEMO, help="mechanism file to measure with")
    parser.add_argument("--cores", type=int, default=2)
    parser.add_argument("--sample", type=int, default=40, help="poses of the grid on which the peers are measured")
    parser.add_argument("--growth", action="store_true", help="also 1, 2, 4 and 8 copies side by side (long)")
    parser.add_argument("--command", help="only the time of this whole command, such as stop")
    parser.add_argument("--before", type=Path, help="with --command: sources of an earlier commit, measured too")
    parser.add_argument("--table", action="store_true", help="also the ratios as a table")
    return parser.parse_args()


def _grid(mechanism: Mechanism) -> np.ndarray[Any, np.dtype[np.float64]]:
    steps = [
        np.linspace(drive.low, drive.high, round((drive.high - drive.low) / GRID_STEP) + 1)
        for drive in mechanism.machine.drives.values()
    ]
    return np.stack(np.meshgrid(*steps, indexing="ij"), axis=-1).reshape(-1, len(steps))


def _poses(mechanism: Mechanism) -> dict[str, Any]:
    grid = _grid(mechanism)
    seconds, solved = _timed(lambda: solve(mechanism, grid))
    return {
        "grid_poses": len(grid),
        "poses_reached": int(solved.reached.sum()),
        "ms_per_pose_one_core": round(1e3 * seconds / len(grid), 3),
        "poses_per_s": round(len(grid) / seconds),
    }


def _sweeps(mechanism: Mechanism, pairs: Pairs, cores: int) -> dict[str, Any]:
    figures: dict[str, Any] = {}
    for name, effort in (("verdict", Effort(cores=cores, decide_only=True)), ("bracket", Effort(cores=cores))):
        single = replace(effort, cores=1)
        alone, _ = _timed(lambda effort=single: sweep_pairs(mechanism, pairs, effort, _silent))
        before = processor_seconds()
        seconds, result = _timed(lambda effort=effort: sweep_pairs(mechanism, pairs, effort, _silent))
        used = processor_seconds() - before
        figures |= {
            f"{name}_s": round(seconds, 2),
            f"{name}_processor_s": round(used, 2),
            f"{name}_wall_over_processor": round(seconds / used, 3),
            f"{name}_speedup_over_one_core": round(alone / seconds, 2),
            f"{name}_queries": result.work.queries,
            f"{name}_poses": result.work.poses,
            f"{name}_fcl_share": round(result.work.query_seconds / used, 3),
            f"{name}_stages_s": result.work.seconds,
            f"{name}_verdicts": _counted(result),
        }
    figures["queries_per_s"] = round(figures["bracket_queries"] / figures["bracket_s"])
    return figures


def _sensitivities(machine: Machine, cores: int) -> dict[str, Any]:
    """What all derivatives cost after a sweep, against a sweep a step up and one a step down for every dimension."""
    effort = Effort(cores=cores)
    seconds, (checked, record) = _timed(lambda: sweep_machine(machine, effort, _silent))
    found = SweptFigures(
        checked.mechanism,
        checked.pairs,
        checked.found,
        record.joints,
        record.rods,
        effort,
        checked.swept.collision_models,
    )
    before = processor_seconds()
    own, (numbers, figures) = _timed(lambda: sensitivities(found, _silent))
    used, dimensions = processor_seconds() - before, len(machine.dimensions)
    return {
        "derivatives": len(numbers) * len(figures),
        "derivatives_s": round(own, 2),
        "derivatives_processor_s": round(used, 2),
        "difference_sweeps_s": round(2 * dimensions * seconds, 1),
        "differences_over_derivatives": round(2 * dimensions * seconds / own, 1),
    }


def _counted(result: PairsSwept) -> dict[str, int]:
    verdicts = [pair.verdict.value for pair in result.pairs]
    return {verdict: verdicts.count(verdict) for verdict in sorted(set(verdicts))}


def _peers(mechanism: Mechanism, pairs: Pairs, asked: argparse.Namespace, figures: dict[str, Any]) -> dict[str, Any]:
    grid = _grid(mechanism)
    sample = grid[np.unique(np.linspace(0, len(grid) - 1, asked.sample).astype(int))]
    posture = solve(mechanism, sample).posture
    factor = len(grid) / len(sample)
    measured = {
        "grid_fcl": _fcl_grid(mechanism, pairs, posture, asked.cores),
        "grid_trimesh": _trimesh_grid(mechanism, pairs, posture) / asked.cores,
    }
    if importlib.util.find_spec("coal") is not None:
        measured["grid_coal"] = _coal_grid(mechanism, pairs, posture) / asked.cores
    found: dict[str, Any] = {"sampled_poses": len(sample)}
    for name, seconds in measured.items():
        whole = seconds * factor
        found[f"{name}_s"] = round(whole, 1)
        found[f"{name}_over_verdict"] = round(whole / figures["verdict_s"], 1)
        found[f"{name}_over_bracket"] = round(whole / figures["bracket_s"], 1)
    return found


def _fcl_grid(mechanism: Mechanism, pairs: Pairs, posture: Posture, cores: int) -> float:
    """Seconds for every pair at every posture through python-fcl, on all cores, solids made ready before."""
    numbers = {exclusion: number for number, exclusion in enumerate(pairs.solids)}
    jobs = []
    for pair in pairs.checked:
        a = mechanism.world_from_rest(posture, pair.a)
        b = mechanism.world_from_rest(posture, pair.b)
        jobs.append(Job(numbers[pair.trim_a], numbers[pair.trim_b], inverse_rigid(a) @ b))
    with bench(list(pairs.solids.values()), cores) as ready:
        ready.measure([replace(job, a_from_b=job.a_from_b[:1]) for job in jobs])
        return _timed(lambda: ready.measure(jobs))[0]


def _trimesh_grid(mechanism: Mechanism, pairs: Pairs, posture: Posture) -> float:
    """Seconds for every pair at every posture through trimesh's CollisionManager, on one core."""
    import trimesh
    from trimesh.collision import CollisionManager

    managers = {}
    for exclusion, solid in pairs.solids.items():
        managers[exclusion] = CollisionManager()
        mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.faces, process=False)
        managers[exclusion].add_object("solid", mesh)
    places = {part: mechanism.world_from_rest(posture, part) for part in mechanism.machine.parts}

    def check() -> None:
        for k in range(len(posture)):
            for exclusion, manager in managers.items():
                manager.set_transform("solid", places[exclusion.part][k])
            for pair in pairs.checked:
                managers[pair.trim_a].min_distance_other(managers[pair.trim_b])

    return _timed(check)[0]


def _coal_grid(mechanism: Mechanism, pairs: Pairs, posture: Posture) -> float:
    """Seconds for every pair at every posture through Coal's mesh distance, on one core."""
    import coal

    models = {}
    for exclusion, solid in pairs.solids.items():
        model = coal.BVHModelOBBRSS()
        model.beginModel(len(solid.mesh.faces), 3 * len(solid.mesh.faces))
        for corners in solid.mesh.vertices[solid.mesh.faces]:
            model.addTriangle(*corners)
        model.endModel()
        models[exclusion] = model
    places = {
        part: [coal.Transform3s(place[:3, :3], place[:3, 3]) for place in mechanism.world_from_rest(posture, part)]
        for part in mechanism.machine.parts
    }

    def check() -> None:
        request = coal.DistanceRequest()
        for k in range(len(posture)):
            for pair in pairs.checked:
                result = coal.DistanceResult()
                coal.distance(
                    models[pair.trim_a], places[pair.a][k], models[pair.trim_b], places[pair.b][k], request, result
                )

    return _timed(check)[0]


def _growth(machine: Machine, cores: int) -> list[dict[str, Any]]:
    """Seconds to decide 1, 2, 4 and 8 copies of the machine in a row, all moved by the same drives."""
    rows = []
    for copies in (1, 2, 4, 8):
        mechanism = assemble(_row_of(machine, copies))
        pairs = gather_pairs(mechanism.machine, mechanism.bodies)
        seconds, result = _timed(
            lambda m=mechanism, p=pairs: sweep_pairs(m, p, Effort(cores=cores, decide_only=True), _silent)
        )
        parts = len(mechanism.machine.parts)
        rows.append(
            {
                "copies": copies,
                "parts": parts,
                "pairs": len(pairs.checked),
                "s": round(seconds, 2),
                "queries": result.work.queries,
            }
        )
    return rows


def _row_of(machine: Machine, copies: int) -> Machine:
    corners = np.concatenate([part.mesh.bounds for part in machine.parts.values()])
    pitch = 1.5 * float(np.ptp(corners[:, 1]))
    parts: dict[str, Part] = {}
    joints: dict[str, Joint] = {}
    ratios: dict[str, dict[str, float]] = {name: {} for name in machine.drives}
    for copy in range(copies):
        shift = np.eye(4)
        shift[1, 3] = copy * pitch
        for name, part in machine.parts.items():
            shapes = tuple(
                replace(shape, mesh=shape.mesh.moved(shift), seats=tuple(f"{seat} {copy}" for seat in shape.seats))
                for shape in part.shapes
            )
            parts[f"{name} {copy}"] = replace(part, name=f"{name} {copy}", shapes=shapes)
        for name, joint in machine.joints.items():
            joints[f"{name} {copy}"] = _moved_joint(joint, copy, copy * pitch)
        for name, drive in machine.drives.items():
            ratios[name] |= {f"{joint} {copy}": ratio for joint, ratio in drive.ratios.items()}
    drives: dict[str, Drive] = {name: replace(drive, ratios=ratios[name]) for name, drive in machine.drives.items()}
    clearance = replace(machine.clearance, parts={}, pairs={}, ignored={})
    return replace(machine, parts=parts, joints=joints, drives=drives, clearance=clearance)


def _moved_joint(joint: Joint, copy: int, shift: float) -> Joint:
    def moved(place: tuple[float, float, float]) -> tuple[float, float, float]:
        return place[0], place[1] + shift, place[2]

    names = {end: f"{getattr(joint, end)} {copy}" for end in ("name", "first", "second")}
    return replace(joint, **names, at_first=moved(joint.at_first), at_second=moved(joint.at_second))


def _table(figures: dict[str, Any]) -> str:
    lines = ["| against | seconds for the grid | times the proven verdict | times the bracket |", "|---|---|---|---|"]
    for name, words in (
        ("grid_fcl", "python-fcl, every pair at every pose"),
        ("grid_trimesh", "trimesh's CollisionManager"),
        ("grid_coal", "Coal, every pair at every pose"),
    ):
        if f"{name}_s" in figures:
            ratios = figures[f"{name}_over_verdict"], figures[f"{name}_over_bracket"]
            lines.append(f"| {words} | {figures[f'{name}_s']} | {ratios[0]} | {ratios[1]} |")
    return "\n".join(lines)


def _timed(do: Callable[[], Result]) -> tuple[float, Result]:
    start = time.perf_counter()
    result = do()
    return time.perf_counter() - start, result


def _silent(stage: str, done: int, total: int) -> None:
    """No progress: only the result is wanted."""


if __name__ == "__main__":
    main()
