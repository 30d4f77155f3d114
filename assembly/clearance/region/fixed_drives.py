"""Which drives a lattice is spread over, which are held, and what is wrong with how that was asked for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import isfinite

from assembly.errors import Fault
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Machine

MOST_FREE = 2


def free_and_fixed(machine: Machine, held: Mapping[str, float]) -> tuple[list[str], dict[str, float]]:
    """The first two drives that are not held; all others with their settings, 0 if none is given."""
    free = [name for name in machine.drives if name not in held][:MOST_FREE]
    return free, {name: float(held.get(name, 0.0)) for name in machine.drives if name not in free}


def fixed_drive_faults(machine: Machine, held: Mapping[str, float]) -> Iterator[Fault]:
    """Unknown drives, settings outside of the file's range, and no drive left to spread a lattice over."""
    for name, value in held.items():
        drive = machine.drives.get(name)
        if drive is None:
            yield unknown_drive(machine, name)
        elif not isfinite(value) or not drive.low <= value <= drive.high:
            hint = f"its range in the file is {drive.low:g} to {drive.high:g} {drive.unit}"
            yield Fault(f"drive {shown(name)} cannot be held at {value:g}", hint=hint)
    if not machine.drives:
        yield Fault("this machine has no drives to map it over", hint="`swingroom pose` shows it as it is drawn")
    elif not free_and_fixed(machine, held)[0]:
        yield Fault("every drive is held at a setting", hint="leave one or two drives free")


def unknown_drive(machine: Machine, name: str) -> Fault:
    """A drive that is not there, with the nearest that is."""
    return Fault(f"there is no drive {shown(name)}", hint=nearest(name, machine.drives, "drives"))
