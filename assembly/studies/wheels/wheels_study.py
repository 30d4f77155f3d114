"""What ``swingroom wheels`` tells: figures over lean and steer, at the ends, where toe is set, and over the range."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from assembly.clearance.proof.joint_search import joint_search
from assembly.clearance.proof.some_roll import with_swept_rolls
from assembly.clearance.proof.wheel_search import figures_measured, limits_measured
from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.kinematics.assembling import assemble
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Machine
from assembly.model.wheel import Road, Wheel, WheelWord
from assembly.progress import Progress, no_progress
from assembly.record import (
    FORMAT,
    FrameLeanEntry,
    MeasureTrack,
    WheelEntry,
    WheelFigureEntry,
    WheelsRecord,
    WheelTables,
)
from assembly.studies.shared import drive_entries, finite, judged_measures, machine_entry, program_entry
from assembly.studies.wheels.standing import Standing, lowest_entries, standing_at, turning_entries

EXAMPLE = (
    "write [wheels.NAME] with `part`, `centre`, `spin = [0, 1, 0]`, `tyre_diameter`, `section` and "
    '`kingpin = ["lower point", "upper point"]`'
)
STEPS = 5
"""Settings along each drive of the table, from end to end."""
SHARE = 0.5
"""Of a drive's range, where it is looked at what it does."""
LEADING = WheelWord.LEAN, WheelWord.STEER
TURNING = WheelWord.STEER, WheelWord.OUTER_ERROR
FRAME = WheelWord.LEAN, WheelWord.PITCH
"""Figures that tell which drives lean and steer, how it turns, and how its frame stands."""
LEAST_EFFECT = 0.01
"""degrees: a drive that leans or steers the machine by less does not lean or steer it."""


@dataclass(frozen=True, slots=True)
class WheelWish:
    """The drives down and across the table, None for those that lean and steer most, and settings along each.

    ``over_range``: bracket every figure over the whole range, not only those that have limits.
    """

    down: str | None = None
    across: str | None = None
    steps: int = STEPS
    over_range: bool = False


def look_at_wheels(machine: Machine, wish: WheelWish, progress: Progress = no_progress) -> WheelsRecord:
    """Everything about the wheels of ``machine``.

    Raises InputError where it has none or ``wish`` names what there is not, AssemblyError if it cannot be put together.
    """
    if not machine.running.wheels:
        raise InputError(Fault("the file has no wheels", file=machine.file, hint=EXAMPLE))
    _check_drives(machine, wish)
    progress("assemble", 0, 0)
    mechanism = assemble(with_swept_rolls(machine, 1, progress)[0])
    tables = wheel_tables(mechanism, wish)
    progress("measures", 0, 0)
    search = joint_search(mechanism)
    every = figures_measured(mechanism, search) if wish.over_range else limits_measured(mechanism, search)
    verdict, reason = judged_measures(every)
    return WheelsRecord(
        format=FORMAT,
        kind="wheels",
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        verdict=verdict,
        reason=reason,
        tables=tables,
        measures=every,
    )


def wheel_tables(mechanism: Mechanism, wish: WheelWish) -> WheelTables:
    """The wheels of ``mechanism``, which has some, at the settings of ``wish``."""
    machine = mechanism.machine
    leans, steers = _leading_drives(mechanism, wish)
    grid = _grid(mechanism, [name for name in (leans, steers) if name], wish.steps)
    standing = standing_at(mechanism, grid)
    single = standing_at(mechanism, np.array([_zeros(machine), _toe_set(machine)]).reshape(2, -1))
    road = machine.running.road
    return WheelTables(
        road=_road_words(road),
        frame=road.frame or "what stands still",
        wheels=tuple(_wheel_entry(one) for one in machine.running.wheels.values()),
        toe_set_at=settings_of(machine, _toe_set(machine)),
        figures=_figure_entries(single),
        leans=leans,
        steers=steers,
        track=_track(standing, [name for name in (leans, steers) if name]),
        lean_ends=tuple(_lean_ends(mechanism, leans)),
        turning=tuple(turning_entries(standing_at(mechanism, _ends(mechanism, steers), TURNING))) if steers else (),
        lowest=lowest_entries(standing),
        toe_wanted=road.toe_wanted,
    )


def _check_drives(machine: Machine, wish: WheelWish) -> None:
    faults = [
        Fault(f"there is no drive {shown(name)}", hint=nearest(name, machine.drives, "drives"))
        for name in (wish.down, wish.across)
        if name is not None and name not in machine.drives
    ]
    if wish.down is not None and wish.down == wish.across:
        told = f"drive {shown(wish.down)} goes down and across at once"
        faults.append(Fault(told, hint="name two different drives, or one alone"))
    if faults:
        raise InputError(*faults)


def _wheel_entry(one: Wheel) -> WheelEntry:
    return WheelEntry(one.name, one.part, one.side.value, one.tyre_diameter, one.section, one.toe_diameter)


def _figure_entries(single: Standing) -> tuple[WheelFigureEntry, ...]:
    """Every figure with all drives at 0, and where toe is set."""
    return tuple(
        WheelFigureEntry(
            one.name, one.word.value, one.of_wheels, one.unit, *(single.known(one.name, k) for k in range(2))
        )
        for one in single.figures
    )


def _leading_drives(mechanism: Mechanism, wish: WheelWish) -> tuple[str | None, str | None]:
    """The drive that leans the frame against the road most, and the other one that steers most, or as wished."""
    drives = list(mechanism.machine.drives.values())
    if not drives:
        return None, None
    rows = np.array([_zeros(mechanism.machine)] * (2 * len(drives) + 1)).reshape(2 * len(drives) + 1, -1)
    for number, drive in enumerate(drives):
        rows[2 * number + 1, number], rows[2 * number + 2, number] = SHARE * drive.low, SHARE * drive.high
    standing = standing_at(mechanism, rows, LEADING)
    leans = wish.down or _strongest(standing, WheelWord.LEAN, {wish.across})
    steers = wish.across or _strongest(standing, WheelWord.STEER, {leans})
    if leans is None and wish.down is None:
        leans = next((drive.name for drive in drives if drive.name != steers), None)
    return leans, steers


def _strongest(standing: Standing, word: WheelWord, without: set[str | None]) -> str | None:
    """The drive that changes the figures of ``word`` most, of those not ``without``; None if none does."""
    effect = {}
    for number, name in enumerate(standing.mechanism.machine.drives):
        rows = [0, 2 * number + 1, 2 * number + 2]
        values = [standing.values[one.name][rows] for one in standing.figures if one.word is word]
        found = np.nan_to_num([np.nanmax(each) - np.nanmin(each) if np.isfinite(each).any() else 0 for each in values])
        effect[name] = float(np.max(found, initial=0.0))
    kept = {name: value for name, value in effect.items() if name not in without and value > LEAST_EFFECT}
    return max(kept, key=kept.__getitem__) if kept else None


def _grid(mechanism: Mechanism, names: list[str], steps: int) -> Floats:
    """Settings over the drives ``names``, each from end to end with 0; the others as toe is set."""
    machine = mechanism.machine
    lines = [_line(machine, name, steps) for name in names]
    start = np.array(_toe_set(machine))
    settings = np.tile(start, (int(np.prod([len(line) for line in lines])), 1)).reshape(-1, len(machine.drives))
    columns = [list(machine.drives).index(name) for name in names]
    if columns:
        settings[:, columns] = np.array(list(product(*lines)))
    return settings


def _line(machine: Machine, name: str, steps: int) -> Floats:
    """From one end to 0 and on to the other."""
    drive = machine.drives[name]
    half = (steps + 1) // 2
    low, high = np.linspace(drive.low, 0.0, half), np.linspace(0.0, drive.high, half)
    return np.unique(np.concatenate([low, high]))


def _zeros(machine: Machine) -> tuple[float, ...]:
    return (0.0,) * len(machine.drives)


def _toe_set(machine: Machine) -> tuple[float, ...]:
    at = machine.running.road.toe_set_at
    return tuple(float(at.get(name, 0.0)) for name in machine.drives)


def _ends(mechanism: Mechanism, name: str) -> Floats:
    """The zero position with one drive at its ends."""
    machine = mechanism.machine
    rows = np.zeros((2, len(machine.drives)))
    rows[:, list(machine.drives).index(name)] = machine.drives[name].low, machine.drives[name].high
    return rows


def _lean_ends(mechanism: Mechanism, leans: str | None) -> list[FrameLeanEntry]:
    """How the frame stands with the leaning drive at 0 and at its ends."""
    rows = np.zeros((1, len(mechanism.machine.drives)))
    if leans:
        low, high = _ends(mechanism, leans)
        rows = np.stack([low, rows[0], high])
    standing = standing_at(mechanism, rows, FRAME)
    lean, pitch = WheelWord.LEAN.value, WheelWord.PITCH.value
    return [
        FrameLeanEntry(standing.setting(row), standing.known(lean, row), standing.known(pitch, row))
        for row in range(len(rows))
    ]


def _track(standing: Standing, along: list[str]) -> MeasureTrack:
    machine = standing.mechanism.machine
    held = {name: value for name, value in settings_of(machine, _toe_set(machine)).items() if name not in along}
    values = {name: tuple(finite(value) for value in every.tolist()) for name, every in standing.values.items()}
    at = tuple(standing.setting(row) for row in range(len(standing.solved.settings)))
    return MeasureTrack(tuple(along), held, at, values)


def _road_words(road: Road) -> str:
    """What the road is."""
    if road.plane is not None:
        return f"the {road.plane.words}"
    tyres = " and ".join([", ".join(road.rests_on[:-1])] * (len(road.rests_on) > 1) + [road.rests_on[-1]])
    point = f" and the point {road.contact.words}" if road.contact else ""
    return f"the plane under {'the tyre' if len(road.rests_on) == 1 else 'the tyres'} of {tyres}{point}"
