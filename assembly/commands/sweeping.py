"""The main job as commands run it: pairs, joints and rods of one machine over the whole range, as a record."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from assembly.clearance.outcome import Effort
    from assembly.model.machine import Machine
    from assembly.record import Record
    from assembly.report.terminal import Progress
    from assembly.studies.check import CheckResult


@dataclass(frozen=True, slots=True)
class Swept:
    """What was found, its record, and how long it took."""

    checked: CheckResult
    record: Record
    seconds: float


def run_sweep(machine: Machine, effort: Effort, told: Progress) -> Swept:
    """Check every pair over the whole range and measure every joint and rod."""
    from assembly.clearance.joint_search import JointSearch
    from assembly.record import check_record
    from assembly.studies.check import check
    from assembly.studies.joint_ranges import joint_ranges
    from assembly.studies.rod_rolls import rod_rolls

    began = time.monotonic()
    checked = check(machine, effort, told)
    told("joints", 0, 0)
    search = JointSearch(checked.mechanism, checked.swept.cells)
    joints = joint_ranges(checked.mechanism, search)
    record = check_record(checked, joints, rod_rolls(checked.mechanism, search))
    return Swept(checked, record, round(time.monotonic() - began, 3))
