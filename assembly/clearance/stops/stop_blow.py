"""What a stop is designed on, and how it is struck where it acts."""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees

import numpy as np

from assembly.clearance.region.run_out import RunOut
from assembly.clearance.stops.stop_gap import StopGap
from assembly.geometry.mesh import Floats, Ids
from assembly.geometry.rotations import inverse_rigid
from assembly.kinematics.cell_motion import CellMotion, bound_motion
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.solver import solve
from assembly.kinematics.travel import seen
from assembly.model.travel_stop import TravelStop

JUST_BEFORE = 0.01
"""Drive units before the contact at which it is looked at."""

PRESSED = 0.02
"""mm by which a stop is pressed where it is shown to be struck."""


@dataclass(frozen=True, slots=True, eq=False)
class StopContact:
    """Where and how a stop is struck at the way that governs it; points in the world, mm."""

    on_stop: Floats
    on_other: Floats
    shape: str
    unsquare_deg: float
    """Between the stop's line and the push; 0 is square."""
    approach: float
    """mm by which the two come nearer per unit of the drive."""
    places: Floats
    """(K, 3): where the stop is struck at the ways looked at, on the stop drawn at rest."""
    error_mm: float
    """How far the true surface of what strikes may lie from its facets."""
    drift_mm: float = 0.0
    """How far the place that strikes wanders on the stop while the other drives move."""

    @property
    def unsure(self) -> float:
        """Drive units by which it may be struck sooner or later than its facets say."""
        return self.error_mm / self.approach

    def pressed(self, times: float) -> float:
        """Drive units past first contact at which it is shown to be struck, wherever the true surface lies.

        ``times``: how many times as far as is enough where a flat end meets a face.
        """
        return times * (self.error_mm + PRESSED) / self.approach


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What a stop is designed on: ways to its end, with its margins and without any.

    ``others`` (M, d): settings of the other drives, 0 in the stop's own column. ``wanted``: the end of the range that
    the file asks of the stop's drive on its side. ``held_back``: drive units by which the stop must act sooner than
    its margins ask, so that it can be proven; ``pressing``: how many times ``PRESSED`` it is pressed for that.
    """

    mechanism: Mechanism
    column: int
    wanted: float
    others: Floats
    ends: tuple[RunOut, ...]
    free: tuple[RunOut, ...]
    held_back: float = 0.0
    pressing: float = 1.0

    def solved(self, settings: Floats, rows: Ids | None = None) -> Solved:
        """The machine with the stop's drive at ``settings``, the others as in ``rows``, all if none are given."""
        whole = (self.others if rows is None else self.others[rows]).copy()
        whole[:, self.column] = settings
        return solve(self.mechanism, whole)

    def end(self, stop: TravelStop) -> float:
        """How far the stop's drive is looked at on its side."""
        drive = self.mechanism.machine.drives[stop.drive]
        return drive.high if stop.side.sign > 0 else drive.low

    def told(self, row: int) -> str:
        """One setting of the other drives in words."""
        drives = self.mechanism.machine.drives.values()
        others = [f"{drive.name} {self.others[row, k]:+zg}" for k, drive in enumerate(drives) if k != self.column]
        return ", ".join(others) or "every setting"


def contacts_of(stop: TravelStop, ground: Ground, gap: StopGap, height: float, acts: Floats) -> list[StopContact]:
    """How ``stop`` of ``height`` is struck on each of M ways, its drive standing at ``acts`` (M,)."""
    solved = ground.solved(acts - stop.side.sign * JUST_BEFORE)
    motion = bound_motion(ground.mechanism, solved, np.full_like(solved.settings, 1e-6))
    return [_contact(stop, ground, gap, height, solved, motion, row) for row in range(len(acts))]


def _contact(
    stop: TravelStop, ground: Ground, gap: StopGap, height: float, every: Solved, motions: CellMotion, row: int
) -> StopContact:
    """How the stop is struck at one of the settings."""
    here, mechanism = np.array([row]), ground.mechanism
    solved, motion = every.take(here), motions.take(here)
    met = gap.meeting(height, solved)
    carrier, other = (mechanism.bodies.body_of[part] for part in (stop.carrier, stop.other))
    drawn = _drawn(mechanism, solved, stop.other, met.on_other)
    rate = seen(motion, other, carrier, drawn, 0.0, mechanism.bodies.centres).rate[0, ground.column]
    along = mechanism.world_from_rest(solved.posture, stop.carrier)[0][:3, :3] @ np.array(stop.along)
    square = degrees(float(np.arccos(np.clip(abs(along @ met.direction), -1.0, 1.0))))
    approach = float(-stop.side.sign * rate @ met.direction)
    place = _drawn(mechanism, solved, stop.carrier, met.on_stop)
    return StopContact(met.on_stop, met.on_other, met.shape, square, approach, place[None], met.error_mm)


def drift_of(stop: TravelStop, ground: Ground, contact: StopContact, struck: Solved, governing: int) -> float:
    """How far in mm the place of the other part that strikes at the governing way is from there at the others."""
    mechanism = ground.mechanism
    place = _drawn(mechanism, struck.take(np.array([governing])), stop.other, contact.on_other)
    stop_from_world = inverse_rigid(mechanism.world_from_rest(struck.posture, stop.carrier))
    stop_from_other = stop_from_world @ mechanism.world_from_rest(struck.posture, stop.other)
    places = stop_from_other[:, :3, :3] @ place + stop_from_other[:, :3, 3]
    return float(np.linalg.norm(places - places[governing], axis=1).max())


def _drawn(mechanism: Mechanism, solved: Solved, part: str, point: Floats) -> Floats:
    """A point of the world as it lies in ``part`` drawn at rest."""
    rest_from_world = inverse_rigid(mechanism.world_from_rest(solved.posture, part))[0]
    return np.asarray(rest_from_world[:3, :3] @ point + rest_from_world[:3, 3])
