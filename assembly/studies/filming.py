"""What a picture or a film is to show: where every part stands, at one setting or on a way over the drives."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.geometry.moving_parts import Figure, Places
from assembly.kinematics.assembling import assemble
from assembly.kinematics.at_setting import checked_settings, posture_at
from assembly.kinematics.drive_path import way_along
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.placed_parts import figures_of, places_of
from assembly.kinematics.roll_columns import rolled_parts
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Machine
from assembly.record import FilmRecord, LeftOutEntry
from assembly.studies.shared import drive_entries

MOST_ENDS = 4
"""Drives that one film goes round the ends of: there are 2 to the power of their number."""


@dataclass(frozen=True, slots=True)
class FilmWish:
    """Drives in ``settings`` stand there, the others at 0.

    ``run`` names a drive that goes from there to both ends of its range and back; ``ends`` goes once round all ends
    of all drives that are not set. Either takes about ``frames`` steps; with neither the machine stands still.
    """

    settings: Mapping[str, float] = field(default_factory=dict)
    run: str | None = None
    ends: bool = False
    frames: int = 1


@dataclass(frozen=True, slots=True, eq=False)
class Filmed:
    """The figures of the machine, the settings (N, d) that were reached, and where the figures stand at each."""

    record: FilmRecord
    figures: tuple[Figure, ...]
    settings: Floats
    places: Places


def film(machine: Machine, wish: FilmWish) -> Filmed:
    """Where all parts stand, as wished.

    Raises InputError for a drive there is not or a value outside its range, AssemblyError if the machine cannot be
    put together, be it at rest or where the wish begins.
    """
    at = np.array(checked_settings(machine, wish.settings))
    corners = _corners(machine, wish, at)
    mechanism = assemble(machine)
    start = posture_at(mechanism, tuple(at.tolist()))
    figures = figures_of(mechanism)
    if len(corners) == 1:
        return Filmed(_record(mechanism, corners), figures, corners, places_of(mechanism, start))
    ranges = np.array([drive.high - drive.low for drive in machine.drives.values()])
    way = way_along(mechanism, _steps(corners, ranges, wish.frames))
    record = _record(mechanism, way.solved.settings, way.left_out)
    return Filmed(record, figures, way.solved.settings, places_of(mechanism, way.solved.posture))


def _record(mechanism: Mechanism, settings: Floats, left_out: Iterable[LeftOutEntry] = ()) -> FilmRecord:
    machine = mechanism.machine
    reached = tuple(settings_of(machine, tuple(at)) for at in settings.tolist())
    return FilmRecord(machine.name, drive_entries(machine), reached, tuple(left_out), rolled_parts(mechanism))


def _corners(machine: Machine, wish: FilmWish, at: Floats) -> Floats:
    """The settings (k, d) between which the way is straight; one alone where nothing is to move."""
    if wish.run is not None:
        if wish.run not in machine.drives:
            hint = nearest(wish.run, machine.drives, "drives")
            raise InputError(Fault(f"there is no drive {shown(wish.run)}", hint=hint))
        return _with_drive(at, machine, wish.run)
    if not wish.ends:
        return at[None]
    free = [name for name in machine.drives if name not in wish.settings]
    if not 1 <= len(free) <= MOST_ENDS:
        message = f"{len(free)} drives are free, and a film goes round the ends of 1 to {MOST_ENDS}"
        raise InputError(Fault(message, hint="hold others with --set NAME=VALUE" if free else "leave out a --set"))
    return _round_the_ends(at, machine, free)


def _with_drive(at: Floats, machine: Machine, name: str) -> Floats:
    """From ``at`` with one drive to its high end, its low end, and back."""
    index, drive = list(machine.drives).index(name), machine.drives[name]
    corners = np.repeat(at[None], 4, axis=0)
    corners[1:3, index] = drive.high, drive.low
    return corners


def _round_the_ends(at: Floats, machine: Machine, free: list[str]) -> Floats:
    """From ``at`` to every corner of the range, one drive at a time (a Gray code), and back."""
    if len(free) == 1:
        return _with_drive(at, machine, free[0])
    codes = [step ^ step >> 1 for step in range(2 ** len(free))]
    corners = np.repeat(at[None], len(codes) + 3, axis=0)
    for bit, name in enumerate(free):
        drive, index = machine.drives[name], list(machine.drives).index(name)
        corners[1:-1, index] = [drive.low if code >> bit & 1 else drive.high for code in (*codes, codes[0])]
    return corners


def _steps(corners: Floats, ranges: Floats, frames: int) -> Floats:
    """About ``frames`` settings evenly along the way, every corner among them, the last of them not again."""
    legs = (np.abs(np.diff(corners, axis=0)) / np.where(ranges > 0, ranges, 1.0)).max(axis=1)
    counts = np.maximum(np.rint(frames * legs / max(float(legs.sum()), 1e-12)), legs > 0).astype(int)
    pieces = [
        np.linspace(one, other, count, endpoint=False)
        for (one, other), count in zip(pairwise(corners), counts.tolist(), strict=True)
    ]
    return np.concatenate(pieces) if counts.any() else corners[:1]
