"""The main job as commands run it: pairs, joints and rods of one machine over the whole range, as a record."""

from __future__ import annotations

import os
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.arguments import Positive
from assembly.commands.common import say

if TYPE_CHECKING:
    from assembly.clearance.outcome import Effort
    from assembly.model.machine import Machine
    from assembly.record import Record
    from assembly.report.terminal import Progress
    from assembly.studies.check import CheckResult


BY_HAND = "stopped by hand"
"""What the record of a sweep says that was stopped so."""
BRACKET = click.option(
    "--bracket", type=Positive(), default=0.1, show_default=True, help="Close in to this many mm (or 2 %)."
)
ANEW = click.option("--anew", is_flag=True, help="Compute everything again, also what earlier runs found.")


@dataclass(frozen=True, slots=True)
class Swept:
    """What was found, its record, how long it took, and what is to be said of the memory, a line each."""

    checked: CheckResult
    record: Record
    seconds: float
    notes: tuple[str, ...] = ()


def sweep_aloud(machine: Machine, effort: Effort, *, anew: bool = False) -> Swept:
    """The same as ``run_sweep``, with its progress and what is to be said of the memory on stderr."""
    from assembly.report.terminal import progress

    with progress(sys.stderr) as told:
        swept = run_sweep(machine, effort, told, anew=anew)
    say("".join(f"{note}\n" for note in swept.notes), sys.stderr)
    return swept


def run_sweep(machine: Machine, effort: Effort, told: Progress, *, anew: bool = False) -> Swept:
    """Check every pair over the whole range and measure every joint and rod.

    What earlier runs found of a pair is taken from the memory unless everything is to be computed ``anew``.
    """
    from assembly.clearance.joint_search import JointSearch
    from assembly.memory import default_place, open_memory
    from assembly.record import check_record
    from assembly.studies.check import check
    from assembly.studies.joint_ranges import joint_ranges
    from assembly.studies.rod_rolls import rod_rolls

    began = time.monotonic()
    notes: list[str] = []
    with open_memory(default_place(os.environ, sys.platform, Path.home()), notes.append, anew=anew) as memory:
        checked = check(machine, effort, told, memory=memory)
    told("joints", 0, 0)
    search = JointSearch(checked.mechanism, checked.swept.cells)
    joints = joint_ranges(checked.mechanism, search)
    record = check_record(checked, joints, rod_rolls(checked.mechanism, search))
    return Swept(checked, record, round(time.monotonic() - began, 3), tuple(notes))
