"""Wall and processor time of whole commands, with nothing known from before and once more unchanged."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

REPOSITORY = Path(__file__).resolve().parent.parent
SURE = (0, 1, 3)
"""Exit statuses of a command that has given its answer."""
OPTIONS = {"stop": ("--no-picture",), "sweep": ("--no-picture",)}


def command_times(command: str, machine: Path, cores: int, before: Path | None) -> dict[str, Any]:
    """What ``command`` takes for a machine file; also by the sources in the folder ``before``, and how they compare."""
    figures = _times(command, machine, cores, REPOSITORY)
    if before is not None:
        figures |= {f"before_{name}": value for name, value in _times(command, machine, cores, before).items()}
        for name in ("s", "processor_s"):
            figures[f"before_over_now_{name}"] = round(figures[f"before_{name}"] / figures[name], 2)
    return {f"{command}_{name}": value for name, value in figures.items()}


def _times(command: str, machine: Path, cores: int, sources: Path) -> dict[str, float]:
    with TemporaryDirectory() as folder:
        seconds, used = _run(command, machine, cores, sources, Path(folder))
        again, used_again = _run(command, machine, cores, sources, Path(folder))
    return {
        "s": round(seconds, 2),
        "processor_s": round(used, 2),
        "wall_over_processor": round(seconds / used, 3),
        "unchanged_s": round(again, 2),
        "unchanged_processor_s": round(used_again, 2),
    }


def _run(command: str, machine: Path, cores: int, sources: Path, folder: Path) -> tuple[float, float]:
    """Wall and processor seconds of one run; what it keeps for the next lies in ``folder``."""
    more = *OPTIONS.get(command, ()), "--out", str(folder / "out"), "--cores", str(cores)
    place = {"PYTHONPATH": str(sources), "SWINGROOM_MEMORY": str(folder / "known.sqlite3")}
    used, start = _of_children(), time.perf_counter()
    run = subprocess.run(
        [sys.executable, "-m", "assembly", command, str(machine), *more],
        env={**os.environ, **place},
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    if run.returncode not in SURE:
        raise RuntimeError(f"`{command}` ended with {run.returncode}: {run.stderr[-500:]}")
    return time.perf_counter() - start, _of_children() - used


def _of_children() -> float:
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return usage.ru_utime + usage.ru_stime


def processor_seconds() -> float:
    """Of this process and those that it has waited for."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(usage.ru_utime + usage.ru_stime for usage in used)


def peak_memory() -> float:
    """MiB: the main process and its largest worker, as many times as there were workers at the most."""
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    worker = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    return (own + worker) / 1024
