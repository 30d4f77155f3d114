"""Measure what a sweep costs after an edit: of one part at a time, with what the sweep before left in the result cache.

    python3 scripts/edited_parts.py [--machine FILE] [--parts 6] [--every] [--cores 1]

Each sweep is a process of its own that reads the file, draws one part 0.01 mm farther up (a change of the file that
leaves its joints alone) and sweeps the whole machine; nothing is drawn or written. All are told in processor time,
because machines are shared: the first with nothing known, the second unchanged. Prints JSON. ``--parts``: so many of
them, evenly over the file, or ``--every`` one. Needs the environment of ``scripts/test.py``.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import shutil
from dataclasses import replace
from pathlib import Path
from statistics import fmean
from tempfile import TemporaryDirectory

import numpy as np
from command_times import processor_seconds

from assembly.api.main_check import Effort, sweep
from assembly.model.machine import Machine
from assembly.model.reader import read_machine

DEMO = Path(__file__).resolve().parent.parent / "meshes" / "parcel_trike" / "parcel_trike.toml"
FARTHER_UP = 0.01
"""mm by which a part is drawn elsewhere."""


def main() -> None:
    """Measure what was asked for and print it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--machine", type=Path, default=DEMO)
    parser.add_argument("--parts", type=int, default=6)
    parser.add_argument("--every", action="store_true")
    parser.add_argument("--cores", type=int, default=1)
    asked = parser.parse_args()
    names = list(read_machine(asked.machine).parts)
    count = len(names) if asked.every else min(asked.parts, len(names))
    chosen = [names[k] for k in np.linspace(0, len(names) - 1, count).round().astype(int)]
    with TemporaryDirectory() as folder:
        before = Path(folder) / "before.sqlite3"
        cold, _ = _measured(asked.machine, "", before, asked.cores)
        again, _ = _measured(asked.machine, "", before, asked.cores)
        edited = {}
        for name in chosen:
            known = Path(folder) / "known.sqlite3"
            shutil.copyfile(before, known)
            edited[name] = _measured(asked.machine, name, known, asked.cores)
    shares = {name: round(seconds / cold, 3) for name, (seconds, _) in edited.items()}
    figures = {
        "cold_processor_s": round(cold, 2),
        "unchanged_processor_s": round(again, 2),
        "edited_processor_s": {name: round(seconds, 2) for name, (seconds, _) in edited.items()},
        "edited_pairs_recalled": {name: recalled for name, (_, recalled) in edited.items()},
        "edited_over_cold": shares,
        "edited_over_cold_mean": round(fmean(shares.values()), 3),
        "edited_over_cold_most": max(shares.values()),
    }
    print(json.dumps(figures, indent=2))


def _measured(file: Path, part: str, known: Path, cores: int) -> tuple[float, int]:
    """Processor seconds of one sweep in a process of its own, and how many of its pairs were known from before."""
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(_swept, (file, part, known, cores))


def _swept(file: Path, part: str, known: Path, cores: int) -> tuple[float, int]:
    os.environ["SWINGROOM_MEMORY"] = str(known)
    record = sweep(_edited(read_machine(file), part), effort=Effort(cores=cores)).record
    return processor_seconds(), record.work.recalled


def _edited(machine: Machine, name: str) -> Machine:
    if not name:
        return machine
    up, part = np.eye(4), machine.parts[name]
    up[2, 3] = FARTHER_UP
    shapes = tuple(replace(shape, mesh=shape.mesh.moved(up)) for shape in part.shapes)
    return replace(machine, parts={**machine.parts, name: replace(part, shapes=shapes)})


if __name__ == "__main__":
    main()
