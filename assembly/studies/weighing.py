"""What a machine weighs: parts, all together over the range, its lean moment, and where it would turn over.

Common physics of a stiff machine that stands still. Settings are looked at one by one; nothing between them is proven.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import atan, degrees

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import rotation_from_vector
from assembly.kinematics.assembling import assemble
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.solver import solve
from assembly.kinematics.stance import contact_edges, stance_at
from assembly.model.machine import Machine
from assembly.model.masses import PointMass, centre_of, height_above, masses_of
from assembly.model.quantities import GRAVITY
from assembly.model.weights import ContactLine, MachineLean, OnPart, Weights
from assembly.record import (
    AxisWord,
    BendEntry,
    CentreSpanEntry,
    LeanEntry,
    LeanMomentEntry,
    PartWeightEntry,
    RoadTurnOverEntry,
    TurnOverEntry,
    WeightsRecord,
)
from assembly.studies.shared import drive_entries, machine_entry, point, program_entry

LEVELS = {1: 49, 2: 17, 3: 7, 4: 5}
"""Settings of each drive that are looked at, by how many drives there are; three of each beyond."""
MOST_DRIVES = 6
"""Beyond these, drives are moved one at a time."""
LEANS = 49
MOMENTS_TOLD = 8
STEPS = (1.0, 2.0, 5.0, 10.0, 30.0, 90.0)
"""Degrees between leans that are told, the finest of which there are so many or fewer."""
CLOSE = 1e-6
"""Degrees within which the lean at which it turns over is found."""
DOWN = np.array([0.0, 0.0, -1.0])
AXES: tuple[AxisWord, ...] = ("x", "y", "z")


def weigh(machine: Machine) -> WeightsRecord:
    """Masses and centres of ``machine``.

    Raises InputError where the file says nothing of weights, AssemblyError if it cannot be put together.
    """
    masses = masses_of(machine)
    weights = machine.weights or Weights()
    scale = _Scale(assemble(machine), masses)
    settings = _settings(machine)
    centres, reached = scale.centres(settings)
    home = scale.centres(np.zeros((1, len(machine.drives))))[0][0]
    lean = None if weights.lean is None else _lean(scale, weights.lean, home)
    return WeightsRecord(
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        mass_kg=scale.whole,
        centre=point(home),
        parts=tuple(sorted(map(_part_entry, masses), key=lambda one: -one.mass_kg)),
        unknown=tuple(one.part for one in masses if one.why and not one.mass),
        spans=tuple(_spans(machine, settings[reached], centres[reached])),
        settings=len(settings),
        lost=int((~reached).sum()),
        lean=lean,
        contacts=tuple(_turn_over(scale, weights.lean, line, home) for line in weights.contacts),
        on_road=tuple(_on_road(scale, settings[reached])),
    )


def _part_entry(one: PointMass) -> PartWeightEntry:
    told = one.told
    if one.name:
        by = "stated"
    elif told is None:
        by = ""
    elif told.mass is not None:
        by = "stated"
    else:
        by = f"{told.material or 'density'}, {told.density or 0.0:g} kg/dm³"
    source = told.source if told is not None and told.mass is None else ""
    return PartWeightEntry(one.part, one.mass, one.at, by, source, one.volume, one.why, one.name)


def _settings(machine: Machine) -> Floats:
    """Settings (N, d) all over the ranges, with all drives at 0 among them."""
    drives = list(machine.drives.values())
    if len(drives) > MOST_DRIVES:
        rows = [np.zeros(len(drives))]
        for number, drive in enumerate(drives):
            for end in (drive.low, drive.high):
                rows.append(np.zeros(len(drives)))
                rows[-1][number] = end
        return np.array(rows)
    levels = [_levels(drive.low, drive.high, LEVELS.get(len(drives), 3)) for drive in drives]
    return np.array(list(product(*levels)))


def _levels(low: float, high: float, number: int) -> list[float]:
    """Values from end to end, 0 among them where it is in the range."""
    values = np.linspace(low, high, number)
    if low <= 0 <= high:
        values[int(np.argmin(np.abs(values)))] = 0.0
    return sorted({low, high, *values.tolist()})


@dataclass(frozen=True, slots=True, eq=False)
class _Scale:
    """A machine with its masses."""

    mechanism: Mechanism
    masses: tuple[PointMass, ...]

    @property
    def whole(self) -> float:
        """The mass of all, kg."""
        return centre_of(self.masses)[0]

    def centres(self, settings: Floats) -> tuple[Floats, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
        """The centre (N, 3) of all at N settings, and which of them are reached."""
        solved = solve(self.mechanism, settings)
        moment = np.zeros((len(settings), 3))
        for one in self.masses:
            if one.mass:
                place = self.mechanism.world_from_rest(solved.posture, one.part)
                moment += one.mass * (place[:, :3, :3] @ np.asarray(one.at) + place[:, :3, 3])
        return moment / self.whole, solved.reached

    def places(self, of: OnPart, settings: Floats) -> Floats:
        """Where a point that moves with a part stands (N, 3)."""
        if not of.part:
            return np.tile(np.asarray(of.at), (len(settings), 1))
        place = self.mechanism.world_from_rest(solve(self.mechanism, settings).posture, of.part)
        return np.asarray(place[:, :3, :3] @ np.asarray(of.at) + place[:, :3, 3])

    def leans(self, lean: MachineLean) -> Floats:
        """Settings (N, d) of the drive that leans the machine from end to end, the others at 0."""
        names = list(self.mechanism.machine.drives)
        drive = self.mechanism.machine.drives[lean.drive]
        return self.at_leans(lean, np.array(_levels(drive.low, drive.high, LEANS)), names)

    def at_leans(self, lean: MachineLean, values: Floats, names: Sequence[str]) -> Floats:
        """Settings (N, d) with that drive at ``values`` (N,), the others at 0."""
        settings = np.zeros((len(values), len(names)))
        settings[:, names.index(lean.drive)] = values
        return settings


def _spans(machine: Machine, settings: Floats, centres: Floats) -> Iterator[CentreSpanEntry]:
    for number, axis in enumerate(AXES):
        low, high = int(centres[:, number].argmin()), int(centres[:, number].argmax())
        at = [settings_of(machine, tuple(settings[row].tolist())) for row in (low, high)]
        yield CentreSpanEntry(axis, float(centres[low, number]), float(centres[high, number]), *at)


def _downs(scale: _Scale, lean: MachineLean | None, settings: Floats) -> Floats:
    """The way weights pull (N, 3) as the fixed parts see it: square to the road, where wheels say what that is.

    Else turned with the drive where it is the fixed parts that lean.
    """
    stance = stance_at(scale.mechanism, solve(scale.mechanism, settings).posture)
    if stance is not None:
        return -stance.road.normal.value
    if lean is None or not lean.frame:
        return np.tile(DOWN, (len(settings), 1))
    values = settings[:, list(scale.mechanism.machine.drives).index(lean.drive)]
    turns = rotation_from_vector(np.deg2rad(values)[:, None] * np.asarray(lean.along))
    return np.asarray(turns @ DOWN)


def _on_road(scale: _Scale, settings: Floats) -> Iterator[RoadTurnOverEntry]:
    """For each line between contacts on the road, how far inside of it the centre stands, at ``settings`` and at 0."""
    every = np.vstack([np.zeros((1, settings.shape[1])), settings])
    stance = stance_at(scale.mechanism, solve(scale.mechanism, every).posture)
    if stance is None or not stance.road.contacts:
        return
    centres, up = scale.centres(every)[0], stance.road.normal.value
    heights = np.einsum("ij,ij->i", centres, up) - stance.road.height.value
    edges = contact_edges(stance)
    middle = np.mean([point for _, *ends in edges for point in ends], axis=0)
    for name, start, end in edges:
        square = np.cross(up, end - start)
        square *= np.sign(np.einsum("ij,ij->i", middle - start, square))[:, None]
        inside = np.einsum("ij,ij->i", centres - start, square) / np.linalg.norm(square, axis=1)
        if np.isfinite(inside[0]):
            worst = int(np.nanargmin(inside))
            at = settings_of(scale.mechanism.machine, tuple(every[worst].tolist()))
            yield RoadTurnOverEntry(name, float(inside[0]), float(heights[0]), float(inside[worst]), at)


def _lean(scale: _Scale, lean: MachineLean, home: Floats) -> LeanEntry:
    drives = scale.mechanism.machine.drives
    values = _told_leans(drives[lean.drive].low, drives[lean.drive].high)
    centres, reached = scale.centres(scale.at_leans(lean, values, list(drives)))
    moments = _moments(scale, lean, values, centres)
    return LeanEntry(
        drive=lean.drive,
        frame=lean.frame,
        height_mm=height_above((lean.at, lean.along), point(home)),
        moments=tuple(
            LeanMomentEntry(*each) for each in zip(values[reached].tolist(), moments[reached].tolist(), strict=True)
        ),
        bends=tuple(BendEntry(v, r, degrees(atan(v * v / (GRAVITY * r)))) for v, r in lean.corners),
    )


def _told_leans(low: float, high: float) -> Floats:
    """Both ends and round leans between them."""
    step = next((each for each in STEPS if (high - low) / each <= MOMENTS_TOLD), STEPS[-1])
    inner = step * np.arange(np.ceil(low / step), np.floor(high / step) + 1)
    return np.array(sorted({low, high, *(each for each in inner.tolist() if low < each < high)}))


def _moments(scale: _Scale, lean: MachineLean, values: Floats, centres: Floats) -> Floats:
    """N·m (N,) about the line leaned about; above 0 where they lean the machine farther the way it leans."""
    settings = scale.at_leans(lean, values, list(scale.mechanism.machine.drives))
    pull = scale.whole * GRAVITY * _downs(scale, lean, settings)
    about = np.cross(centres - np.asarray(lean.at), pull) @ np.asarray(lean.along) / 1e3
    way = np.where(values < 0, -1.0, 1.0) * (-1.0 if lean.frame else 1.0)
    return np.asarray(about * way)


def _turn_over(scale: _Scale, lean: MachineLean | None, line: ContactLine, home: Floats) -> TurnOverEntry:
    drives = list(scale.mechanism.machine.drives)
    zero = np.zeros((1, len(drives)))
    side = 1.0 if _inside(scale, lean, line, zero, 1.0)[0] >= 0 else -1.0
    inside = float(_inside(scale, lean, line, zero, side)[0])
    start, end = (scale.places(each, zero)[0] for each in line.points)
    along = (end - start) / np.linalg.norm(end - start)
    height = float(np.linalg.norm(np.cross(home - start, along)) ** 2 - inside**2) ** 0.5
    entry = TurnOverEntry(line.name, inside, height, inside / height if height > 0 else None, None, None, ())
    if lean is None:
        return entry
    settings = scale.leans(lean)
    values, margins = settings[:, drives.index(lean.drive)], _inside(scale, lean, line, settings, side)
    worst = int(np.nanargmin(margins))
    over = tuple(_crossings(scale, lean, line, side, values, margins))
    return TurnOverEntry(line.name, inside, height, entry.sideways, float(margins[worst]), float(values[worst]), over)


def _inside(scale: _Scale, lean: MachineLean | None, line: ContactLine, settings: Floats, side: float) -> Floats:
    """How far inside of a contact line (N,) mm the centre stands, seen along the pull; NaN where not reached."""
    centres, reached = scale.centres(settings)
    start, end = (scale.places(each, settings) for each in line.points)
    square = np.cross(end - start, _downs(scale, lean, settings))
    square /= np.linalg.norm(square, axis=1, keepdims=True)
    return np.where(reached, side * np.einsum("ij,ij->i", centres - start, square), np.nan)


def _crossings(
    scale: _Scale, lean: MachineLean, line: ContactLine, side: float, values: Floats, margins: Floats
) -> Iterator[float]:
    """Leans at which the centre is just over a contact line, by halving between neighbours on either side of it."""
    names = list(scale.mechanism.machine.drives)
    for first, second, one, other in zip(values, values[1:], margins, margins[1:], strict=False):
        if np.isnan(one) or np.isnan(other) or (one >= 0) == (other >= 0):
            continue
        low, high = float(first), float(second)
        while high - low > CLOSE:
            middle = (low + high) / 2
            found = _inside(scale, lean, line, scale.at_leans(lean, np.array([middle]), names), side)[0]
            low, high = (middle, high) if (found >= 0) == (one >= 0) else (low, middle)
        yield (low + high) / 2
