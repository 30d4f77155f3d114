"""One setting that a builder asks for: checked against the drives, and the posture there."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite

import numpy as np

from assembly.errors import AssemblyError, Fault, InputError
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve, unreachable
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Drive, Machine

LEAST_SHOWN = 0.01
"""mm: less is reported with its first digit, not as 0.00."""


def checked_settings(machine: Machine, settings: Mapping[str, float]) -> tuple[float, ...]:
    """One value per drive of ``machine``, in its order. InputError names every wrong one."""
    faults = []
    for name, value in settings.items():
        drive = machine.drives.get(name)
        if drive is None:
            faults.append(Fault(f"there is no drive {shown(name)}", hint=nearest(name, machine.drives, "drives")))
        elif not isfinite(value) or not drive.low <= value <= drive.high:
            faults.append(Fault(f"drive {shown(name)} cannot be set to {value:zg}", hint=_range_hint(drive)))
    if faults:
        raise InputError(*faults)
    return tuple(float(settings.get(name, 0.0)) for name in machine.drives)


def _range_hint(drive: Drive) -> str:
    return f"its range in the file is {drive.low:g} to {drive.high:g} {drive.unit}"


def _end(held_twice: bool) -> str:
    """What ends the way there, as far as that is known."""
    if held_twice:
        return "; the loop is held by more than it needs, and farther on not all of it goes together exactly"
    return " before it locks or folds over"


def posture_at(mechanism: Mechanism, at: tuple[float, ...]) -> Posture:
    """The one posture at a setting. AssemblyError names the loop that does not close where it cannot be reached."""
    solved = solve(mechanism, np.array([at], dtype=np.float64).reshape(1, -1))
    if solved.reached[0]:
        return solved.posture
    lost = unreachable(mechanism, solved, 0)
    where = ", ".join(f"{name} {value:zg}" for name, value in zip(mechanism.machine.drives, at, strict=True))
    miss = f"{lost.miss_mm:z.2f}" if lost.miss_mm >= LEAST_SHOWN else f"{lost.miss_mm:.1g}"
    raise AssemblyError(
        Fault(
            f"the machine cannot be put together at {where}: the loop {' - '.join(lost.loop)} misses by {miss} mm",
            file=mechanism.machine.file,
            hint=f"from the zero position it goes {100 * lost.share:z.0f} % of the way there{_end(lost.held_twice)}",
        )
    )
