"""What the builder's measures come to: with all drives at 0, least and most over the range, and along drives.

Least and most are proven; what stands along one or two drives is worked out at the settings that are told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise, product
from math import ceil, isfinite

import numpy as np

from assembly.clearance.proof.joint_search import joint_search
from assembly.clearance.proof.measure_search import measured
from assembly.clearance.proof.some_roll import with_swept_rolls
from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.kinematics.assembling import assemble
from assembly.kinematics.at_setting import checked_settings
from assembly.kinematics.joint_motion import nearest_turn
from assembly.kinematics.measure_figures import measure_motion
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.solver import solve
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Drive, Machine
from assembly.progress import Progress, no_progress
from assembly.record import FORMAT, MeasureEntry, MeasuresRecord, MeasureTrack
from assembly.studies.shared import drive_entries, judged_measures, machine_entry, program_entry

EXAMPLE = (
    'write one, such as [measures.NAME] with `angle = [{ on = "PART", line = ["p", "q"] }, '
    '{ on = "ground", along = [1, 0, 0] }]`'
)
STEPS = (13, 5)
"""Settings told along the first drive and along the second, if no other number is asked for."""
MOST_ALONG = 2
SHORT_STEP = 30.0
"""degrees between settings at which turns are counted: no angle goes half a turn from one to the next."""


@dataclass(frozen=True, slots=True)
class MeasureWish:
    """Drives ``along`` which measures are told, at ``steps`` settings each, the others ``held``; none for no curve."""

    along: tuple[str, ...] = ()
    held: Mapping[str, float] = field(default_factory=dict)
    steps: int | None = None


def measure(machine: Machine, wish: MeasureWish, progress: Progress = no_progress) -> MeasuresRecord:
    """Every measure of ``machine``.

    Raises InputError where it has none or ``wish`` names what there is not, AssemblyError if it cannot be put together.
    """
    if not machine.measures:
        raise InputError(Fault("the file has no measures", file=machine.file, hint=EXAMPLE))
    at = _checked(machine, wish)
    progress("assemble", 0, 0)
    mechanism = assemble(with_swept_rolls(machine, 1, progress)[0])
    progress("measures", 0, 0)
    every = measured(mechanism, joint_search(mechanism))
    verdict, reason = judged_measures(every)
    return MeasuresRecord(
        format=FORMAT,
        kind="measures",
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        verdict=verdict,
        reason=reason,
        measures=every,
        track=_track(mechanism, every, wish, at) if wish.along else None,
    )


def _checked(machine: Machine, wish: MeasureWish) -> tuple[float, ...]:
    """The setting that drives are held at. InputError names what is wrong."""
    faults = [
        Fault(f"there is no drive {shown(name)}", hint=nearest(name, machine.drives, "drives"))
        for name in wish.along
        if name not in machine.drives
    ]
    if len(wish.along) > MOST_ALONG or len(set(wish.along)) < len(wish.along):
        faults.append(Fault("measures are told along one or two different drives", hint="name each with one --along"))
    if both := set(wish.along) & set(wish.held):
        faults.append(Fault(f"drive {shown(min(both))} is held and moved at once", hint="leave out one of both"))
    if not wish.along and (wish.held or wish.steps):
        faults.append(Fault("drives are held along no drive", hint="name the drive that moves with --along"))
    if faults:
        raise InputError(*faults)
    return checked_settings(machine, wish.held)


def _track(
    mechanism: Mechanism, every: Sequence[MeasureEntry], wish: MeasureWish, at: tuple[float, ...]
) -> MeasureTrack:
    """All measures at a lattice of settings; an angle about a line counts its turns on from the zero position."""
    drives = list(mechanism.machine.drives.values())
    columns = [list(mechanism.machine.drives).index(name) for name in wish.along]
    counts = [wish.steps or default for default in STEPS]
    finer = max((_finer(drives[column], count) for column, count in zip(columns, counts, strict=False)), default=1)
    lines = [_steps(drives[column], count, finer) for column, count in zip(columns, counts, strict=False)]
    settings = np.tile(np.array(at), (int(np.prod([len(line) for line in lines])), 1))
    settings[:, columns] = np.array(list(product(*lines)))
    solved = solve(mechanism, settings)
    shape = tuple(len(line) for line in lines)
    zero = tuple(int(np.abs(line).argmin()) for line in lines)
    told = [np.arange(0, len(line), finer) for line in lines]
    values = {}
    for one, (name, measure) in zip(every, mechanism.machine.measures.items(), strict=True):
        found = measure_motion(measure, mechanism).values(solved.posture)
        found = np.where(solved.reached, found, np.nan).reshape(shape)
        if measure.is_turn and one.least is not None:
            found = _counted_on(found, zero)
        values[name] = tuple(_known(value) for value in found[np.ix_(*told)].reshape(-1).tolist())
    kept = np.arange(len(settings)).reshape(shape)[np.ix_(*told)].reshape(-1)
    return MeasureTrack(
        along=wish.along,
        held={name: value for name, value in settings_of(mechanism.machine, at).items() if name not in wish.along},
        at=tuple(settings_of(mechanism.machine, setting) for setting in settings[kept].tolist()),
        values=values,
    )


def _finer(drive: Drive, count: int) -> int:
    """Into how many parts each step is cut for counting turns."""
    if drive.unit != "deg":
        return 1
    return max(1, ceil((drive.high - drive.low) / max(count - 1, 1) / SHORT_STEP))


def _steps(drive: Drive, count: int, finer: int) -> Floats:
    """``count`` settings from end to end, the zero position and what lies between them for counting added."""
    even = np.union1d(np.linspace(drive.low, drive.high, max(count, 2)), [0.0])
    even = even[np.append(True, np.diff(even) > 1e-9 * (drive.high - drive.low))]
    parts = [np.linspace(a, b, finer, endpoint=False) for a, b in pairwise(even)]
    return np.concatenate([*parts, even[-1:]])


def _counted_on(values: Floats, zero: tuple[int, ...]) -> Floats:
    """Angles over a lattice with whole turns told apart, from the zero position on along the first axis, then on."""
    counted = values.copy()
    for axis, start in enumerate(zero):
        along = np.moveaxis(counted, axis, 0)
        for here in range(start + 1, len(along)):
            along[here] = nearest_turn(along[here], along[here - 1])
        for here in range(start - 1, -1, -1):
            along[here] = nearest_turn(along[here], along[here + 1])
    return counted


def _known(value: float) -> float | None:
    return value if isfinite(value) else None
