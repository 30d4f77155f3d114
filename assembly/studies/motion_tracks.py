"""The motion of every drive as a track of solved postures, so close that going straight between them does no harm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from assembly.geometry.moving_parts import MovingModel, Track
from assembly.kinematics.array_stacks import stacked
from assembly.kinematics.assembling import assemble
from assembly.kinematics.at_setting import checked_settings, posture_at
from assembly.kinematics.keyframes import Keys, keys_towards
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.placed_parts import figures_of, places_of
from assembly.kinematics.roll_columns import rolled_parts
from assembly.model.machine import Machine
from assembly.progress import Progress
from assembly.record import ModelRecord, TrackEntry
from assembly.studies.shared import drive_entries

SECONDS = 3.0
"""What the way through the whole range of a drive takes."""


@dataclass(frozen=True, slots=True, eq=False)
class Tracked:
    """The machine with its tracks, and the record of each and of what the drives cannot reach."""

    model: MovingModel
    record: ModelRecord


def track_drives(
    machine: Machine, settings: Mapping[str, float], still: bool, progress: Progress = lambda *_: None
) -> Tracked:
    """The machine at ``settings`` (others at 0), and unless it is ``still`` one track for each drive, from there.

    Raises InputError for a drive there is not or a value outside its range, AssemblyError if the machine cannot be
    put together there.
    """
    at = checked_settings(machine, settings)
    progress("assemble", 0, 0)
    mechanism = assemble(machine)
    standing = places_of(mechanism, posture_at(mechanism, at))
    figures = figures_of(mechanism)
    tracks, made, left_out = [], [], []
    for index, name in enumerate(() if still else machine.drives):
        progress("move", index, 0)
        drive, start = machine.drives[name], np.array(at)
        up, down = (keys_towards(mechanism, figures, start, index, end) for end in (drive.high, drive.low))
        left_out += [keys.left_out for keys in (up, down) if keys.left_out is not None]
        values = [keys.solved.settings[:, index] for keys in (down, up)]
        low, high = (float(ends[-1]) for ends in values)
        if low < high:
            tracks.append(_track(mechanism, name, (up, down), index, (drive.high - drive.low) / SECONDS))
            count = len(values[0]) + len(values[1]) - 1
            made.append(TrackEntry(name, low, high, count, max(up.error_mm, down.error_mm)))
    model = MovingModel(machine.name, figures, standing, tuple(tracks))
    record = ModelRecord(
        name=machine.name,
        drives=drive_entries(machine),
        at=settings_of(machine, at),
        parts=len(figures),
        tracks=tuple(made),
        left_out=tuple(left_out),
        unrolled=rolled_parts(mechanism),
    )
    return Tracked(model, record)


def _track(mechanism: Mechanism, name: str, sides: tuple[Keys, Keys], drive: int, speed: float) -> Track:
    """From the start out along each side and back; ``speed`` is in the drive's unit for each second."""
    out, stop = [], 0
    for keys in sides:
        there = np.arange(len(keys.solved.settings)) + stop
        out += [*there, *there[-2::-1]]
        stop += len(there)
    solved = stacked(*(keys.solved for keys in sides)).take(np.array(out))
    steps = np.abs(np.diff(solved.settings[:, drive]))
    moved = np.concatenate([[True], steps > 0])
    seconds = np.concatenate([[0.0], np.cumsum(steps)]) / speed
    return Track(name, seconds[moved], places_of(mechanism, solved.posture.take(moved)))
