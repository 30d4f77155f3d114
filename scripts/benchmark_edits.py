"""What a sweep costs after an edit of one part, with what the sweep before left in the result cache."""

from __future__ import annotations

import os
import shutil
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from benchmark_machines import edited
from command_times import processor_seconds

from assembly.api.main_check import Effort, sweep
from assembly.model.machine import Machine

Seconds = tuple[float, float]
"""On the clock, and of the processor."""


def edits(machine: Machine, effort: Effort, most: int | None) -> dict[str, Any]:
    """A sweep with nothing known, one unchanged, and one after each of ``most`` parts was edited, all others known.

    Each in a process of its own that holds nothing but the machine as it was read; start and reading are not counted.
    """
    names = list(machine.parts)
    count = min(most or len(names), len(names))
    found: dict[str, Seconds] = {}
    with TemporaryDirectory() as folder:
        before, known = (Path(folder) / name for name in ("before.sqlite3", "known.sqlite3"))
        cold, unchanged = (_apart(machine, before, effort) for _ in range(2))
        for name in (names[number * len(names) // count] for number in range(count)):
            shutil.copyfile(before, known)
            found[name] = _apart(edited(machine, name), known, effort)
    shares = {name: (own[0] / cold[0], own[1] / cold[1]) for name, own in found.items()}
    worst = max(shares, key=lambda name: shares[name][1])
    figures = {
        "cold_s": round(cold[0], 2),
        "cold_processor_s": round(cold[1], 2),
        "unchanged_s": round(unchanged[0], 2),
        "unchanged_processor_s": round(unchanged[1], 2),
        "parts": count,
        "mean_share_s": round(sum(own[0] for own in shares.values()) / count, 3),
        "mean_share_processor_s": round(sum(own[1] for own in shares.values()) / count, 3),
        "worst": worst,
        "worst_share_processor_s": round(shares[worst][1], 3),
        "share_by_part": {name: round(own[1], 3) for name, own in shares.items()},
    }
    return {f"edits_{name}": value for name, value in figures.items()}


def _apart(machine: Machine, known: Path, effort: Effort) -> Seconds:
    with ProcessPoolExecutor(1, mp_context=get_context("fork")) as pool:
        return pool.submit(_swept, machine, known, effort).result()


def _swept(machine: Machine, known: Path, effort: Effort) -> Seconds:
    """What a sweep of ``machine`` takes in this process, with what is ``known``."""
    os.environ["SWINGROOM_MEMORY"] = str(known)
    before, start = processor_seconds(), time.perf_counter()
    sweep(machine, effort=effort)
    return time.perf_counter() - start, processor_seconds() - before
