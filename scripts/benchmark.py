"""Measure Swingroom side by side with checking poses one by one; prints JSON, and a table with ``--table``.

    python3 scripts/benchmark.py [--figure NAME ...] [--machine FILE] [--cores 2] [--sample 40] [--table]
    python3 scripts/benchmark.py --command loads [--before FOLDER]

All figures come from one run on one machine. ``--figure`` picks some: ``sweeps`` (verdict and bracket, on one core and
on all), ``peers`` (with the sweeps that they are held against), ``derivatives``, ``growth`` (1, 2, 4 and 8 copies side
by side), ``large`` (three copies with finer facets: a hundred parts and a million triangles), ``pedals`` (a third drive
that turns all round), ``edits`` (one part after another edited, the others known), and whole commands: ``stop``,
``range``, ``page`` (also what it takes more than its sweep) and ``unchanged`` (a sweep again). Without it sweeps,
derivatives and peers are measured. Each is told on the error stream as it is known; memory is of the process that
measures it (``peak``: with its largest worker, what both share twice; ``held together``: by all, each page once), so
``large`` is always measured in one of its own. The peers check every pair at every pose of a 1° grid, with poses that
Swingroom solved (not counted); they are measured on an even sample of the grid and scaled up to all of it. Peers that
cannot use several processes by themselves are measured on one and divided by ``--cores``, as if they could. With
``--command`` only that whole command is measured, with nothing known from before and once more unchanged; ``--before``
names the sources of an earlier commit to be measured beside it. Needs the environment of ``scripts/test.py``; Coal is
measured where the package ``coal`` is installed.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Any, TypeVar

from benchmark_edits import edits
from benchmark_machines import finer, grid_of, row_of, with_pedals
from benchmark_peers import PEERS, peers
from command_times import command_times, peak_memory, processor_seconds
from memory_watch import MemoryWatch

from assembly.clearance.narrow_phase.checked_pairs import Pairs, gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof.pair_state import PairsSwept
from assembly.clearance.proof.sweep import sweep_pairs
from assembly.kinematics.assembling import assemble
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.solver import solve
from assembly.model.machine import Machine
from assembly.model.reader import read_machine
from assembly.studies.sensitivity import SweptFigures, sensitivities
from assembly.studies.sweep.whole_sweep import sweep_machine

Result = TypeVar("Result")
Figures = dict[str, Any]

REPOSITORY = Path(__file__).resolve().parent.parent
DEMO = REPOSITORY / "meshes" / "parcel_trike" / "parcel_trike.toml"
USUAL = ("sweeps", "derivatives", "peers")
COPIES = (1, 2, 4, 8)
LARGE = 3
"""Copies with finer facets."""


def main() -> None:
    """Run what was asked for and print it."""
    asked = _arguments()
    if asked.command:
        print(json.dumps(command_times(asked.command, asked.machine.resolve(), asked.cores, asked.before), indent=2))
        return
    names = dict.fromkeys([*(asked.figure or USUAL), *(["growth"] if asked.growth else [])])
    if "peers" in names:
        names = {"sweeps": None} | names
    figures: Figures = {}
    for name in names:
        own = _elsewhere(name, asked) if name == "large" and len(names) > 1 else FIGURES[name](asked, figures)
        print(f"{name}: {json.dumps(own)}", file=sys.stderr, flush=True)
        figures |= own
    print(json.dumps(figures | {"peak_memory_mib": round(peak_memory())}, indent=2))
    if asked.table:
        print(_table(figures))


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--figure", action="append", choices=FIGURES, help="only these; may be given several times")
    parser.add_argument("--machine", type=Path, default=DEMO, help="mechanism file to measure with")
    parser.add_argument("--cores", type=int, default=2)
    parser.add_argument("--sample", type=int, default=40, help="poses of the grid on which the peers are measured")
    parser.add_argument("--edits", type=int, help="edit so many parts, spread over all; default is each of them")
    parser.add_argument("--growth", action="store_true", help="also 1, 2, 4 and 8 copies side by side (long)")
    parser.add_argument("--command", help="only the time of this whole command, such as stop")
    parser.add_argument("--before", type=Path, help="sources of an earlier commit, measured too for whole commands")
    parser.add_argument("--table", action="store_true", help="also the ratios as a table")
    return parser.parse_args()


def _elsewhere(name: str, asked: argparse.Namespace) -> Figures:
    """One figure measured by a process of its own, for its memory."""
    command = [sys.executable, __file__, "--figure", name, "--machine", str(asked.machine), "--cores", str(asked.cores)]
    run = subprocess.run(command, capture_output=True, text=True, check=True)
    found: Figures = json.loads(run.stdout)
    return {key: value for key, value in found.items() if key.startswith(name)}


def _sweeps(asked: argparse.Namespace, _known: Figures) -> Figures:
    """What decides and what brackets all pairs, on one core and on all."""
    mechanism, pairs = _ready(read_machine(asked.machine))
    figures = _size(mechanism.machine, pairs) | {"cores": asked.cores} | _poses(mechanism)
    for name, effort in _efforts(asked):
        alone, _ = _timed(partial(_swept, mechanism, pairs, replace(effort, cores=1)))
        before = processor_seconds()
        seconds, result = _timed(partial(_swept, mechanism, pairs, effort))
        used = processor_seconds() - before
        figures |= {
            f"{name}_s": round(seconds, 2),
            f"{name}_processor_s": round(used, 2),
            f"{name}_wall_over_processor": round(seconds / used, 3),
            f"{name}_one_core_s": round(alone, 2),
            f"{name}_speedup_over_one_core": round(alone / seconds, 2),
            f"{name}_queries": result.work.queries,
            f"{name}_poses": result.work.poses,
            f"{name}_fcl_share": round(result.work.query_seconds / used, 3),
            f"{name}_stages_s": result.work.seconds,
            f"{name}_verdicts": _counted(result),
        }
    figures["queries_per_s"] = round(figures["bracket_queries"] / figures["bracket_s"])
    return figures


def _efforts(asked: argparse.Namespace) -> tuple[tuple[str, Effort], ...]:
    return ("verdict", Effort(cores=asked.cores, decide_only=True)), ("bracket", Effort(cores=asked.cores))


def _poses(mechanism: Mechanism) -> Figures:
    grid = grid_of(mechanism)
    seconds, solved = _timed(lambda: solve(mechanism, grid))
    return {
        "grid_poses": len(grid),
        "poses_reached": int(solved.reached.sum()),
        "ms_per_pose_one_core": round(1e3 * seconds / len(grid), 3),
        "poses_per_s": round(len(grid) / seconds),
    }


def _peers(asked: argparse.Namespace, known: Figures) -> Figures:
    """The grid by python-fcl and others, against the sweeps of the same run."""
    return peers(*_ready(read_machine(asked.machine)), asked.cores, asked.sample, known)


def _derivatives(asked: argparse.Namespace, _known: Figures) -> Figures:
    """What all derivatives cost after a sweep, against a sweep a step up and one a step down for every dimension."""
    machine, effort = read_machine(asked.machine), Effort(cores=asked.cores)
    seconds, (checked, record) = _timed(lambda: sweep_machine(machine, effort, _silent))
    found = SweptFigures(
        checked.mechanism,
        checked.pairs,
        checked.found,
        record.joints,
        record.rods,
        record.measures,
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


def _growth(asked: argparse.Namespace, _known: Figures) -> Figures:
    """Seconds to decide 1, 2, 4 and 8 copies of the machine in a row, and how many times as long each takes."""
    machine, rows = read_machine(asked.machine), list[Figures]()
    for copies in COPIES:
        mechanism, pairs = _ready(row_of(machine, copies))
        before = processor_seconds()
        seconds, result = _timed(partial(_swept, mechanism, pairs, Effort(cores=asked.cores, decide_only=True)))
        used = processor_seconds() - before
        own = {"copies": copies, "s": round(seconds, 2), "processor_s": round(used, 2), "queries": result.work.queries}
        rows.append(own | _size(mechanism.machine, pairs))
        print(f"growth: {json.dumps(rows[-1])}", file=sys.stderr, flush=True)
    doublings = [round(after["s"] / own["s"], 2) for own, after in pairwise(rows)]
    return {"growth": rows, "growth_per_doubling": doublings}


def _large(asked: argparse.Namespace, _known: Figures) -> Figures:
    """Three copies with finer facets, from the file to the verdict, and the memory of that."""
    with MemoryWatch() as watch:
        reading, machine = _timed(lambda: finer(asked.machine))
        making, (mechanism, pairs) = _timed(lambda: _ready(row_of(machine, LARGE)))
        seconds, result = _timed(lambda: _swept(mechanism, pairs, Effort(cores=asked.cores, decide_only=True)))
    figures = _size(mechanism.machine, pairs) | {
        "read_s": round(reading, 2),
        "put_together_s": round(making, 2),
        "verdict_s": round(seconds, 2),
        "s": round(reading + making + seconds, 2),
        "verdicts": _counted(result),
        "held_together_mib": round(watch.peak_mib),
        "peak_memory_mib": round(peak_memory()),
    }
    return {f"large_{name}": value for name, value in figures.items()}


def _pedals(asked: argparse.Namespace, _known: Figures) -> Figures:
    """Verdict and bracket with pedals and shoes as a third drive over 360°."""
    mechanism, pairs = _ready(with_pedals(asked.machine))
    figures = _size(mechanism.machine, pairs)
    for name, effort in _efforts(asked):
        before = processor_seconds()
        seconds, result = _timed(partial(_swept, mechanism, pairs, effort))
        figures |= {f"{name}_s": round(seconds, 2), f"{name}_processor_s": round(processor_seconds() - before, 2)}
        figures[f"{name}_verdicts"] = _counted(result)
    return {f"pedals_{name}": value for name, value in figures.items()}


def _edits(asked: argparse.Namespace, _known: Figures) -> Figures:
    """A sweep with nothing known, and one after each of several parts was edited, all others known."""
    return edits(read_machine(asked.machine), Effort(cores=asked.cores), asked.edits)


def _command(name: str, asked: argparse.Namespace, _known: Figures) -> Figures:
    """A whole command, with nothing known and once more unchanged; also by the sources ``--before``."""
    return command_times(name, asked.machine.resolve(), asked.cores, asked.before)


def _page(asked: argparse.Namespace, known: Figures) -> Figures:
    """The page with nothing known, and the sweep alone: what it takes more than its sweep."""
    figures = {**_command("sweep", asked, known), **_command("page", asked, known)}
    for name in ("s", "processor_s"):
        figures[f"page_more_than_sweep_{name}"] = round(figures[f"page_{name}"] - figures[f"sweep_{name}"], 2)
    return figures


FIGURES: dict[str, Callable[[argparse.Namespace, Figures], Figures]] = {
    "sweeps": _sweeps,
    "derivatives": _derivatives,
    "peers": _peers,
    "growth": _growth,
    "large": _large,
    "pedals": _pedals,
    "edits": _edits,
    "stop": partial(_command, "stop"),
    "range": partial(_command, "range"),
    "page": _page,
    "unchanged": partial(_command, "sweep"),
}


def _ready(machine: Machine) -> tuple[Mechanism, Pairs]:
    mechanism = assemble(machine)
    return mechanism, gather_pairs(machine, mechanism.bodies)


def _swept(mechanism: Mechanism, pairs: Pairs, effort: Effort) -> PairsSwept:
    return sweep_pairs(mechanism, pairs, effort, _silent)


def _size(machine: Machine, pairs: Pairs) -> Figures:
    triangles = sum(len(part.mesh.faces) for part in machine.parts.values())
    return {"machine": machine.name, "parts": len(machine.parts), "triangles": triangles, "pairs": len(pairs.checked)}


def _counted(result: PairsSwept) -> dict[str, int]:
    verdicts = [pair.verdict.value for pair in result.pairs]
    return {verdict: verdicts.count(verdict) for verdict in sorted(set(verdicts))}


def _table(figures: Figures) -> str:
    lines = ["| against | seconds for the grid | times the proven verdict | times the bracket |", "|---|---|---|---|"]
    for name, words in PEERS:
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
