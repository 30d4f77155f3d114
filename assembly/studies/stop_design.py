"""Where each stop must stand: the setting it may act at, what dictates that, and the height that acts there.

For every setting looked at of the other drives, the way from rest to the stop's end is gone until something comes too
near or a joint too near its limit; play and the give of the pad are taken off, and the stop must be struck before. The
one height that does so everywhere is the answer. Found at settings: ``stop_proof`` proves the outcome.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import ceil, degrees

import numpy as np

from assembly.clearance.outcome import Setting
from assembly.clearance.run_out import Cause, RunOut, Ways
from assembly.clearance.stop_gap import Meeting, StopGap
from assembly.errors import Fault, InputError, SwingroomError
from assembly.geometry.mesh import Floats
from assembly.model.machine import DriveKind
from assembly.model.travel_stop import StopBolt, TravelStop
from assembly.motion.cell_motion import bound_motion
from assembly.motion.mechanism import Mechanism, Solved
from assembly.motion.solver import solve
from assembly.motion.travel import seen
from assembly.strength.pressing import Pressing, held, pressing

ROUNDS = 12
"""Of finding the height from the pad's give and the give from the height."""
BEFORE = 0.02
"""mm: how near the two stand where their contact is looked at."""
MOST_UNSQUARE = 30.0
"""Degrees between the pad's line and the push beyond which a contact is said not to be square (common practice)."""


@dataclass(frozen=True, slots=True)
class WayFound:
    """One setting of the other drives: what ends the way there, where the stop may act at most, and where it acts."""

    ends: RunOut
    """With the margins asked for."""
    free: RunOut
    """Without any: what would really touch or run out first."""
    at_most: float
    acts: float
    """Setting of the stop's drive; nan where it is never struck."""


@dataclass(frozen=True, slots=True, eq=False)
class Contact:
    """Where and how the stop is struck at the way that governs it, in the world, mm."""

    on_stop: Floats
    on_other: Floats
    shape: str
    unsquare_deg: float
    """Between the stop's line and the push; 0 is square."""
    approach: float
    """mm by which the two come nearer per unit of the drive."""
    drift_mm: float
    """How far the contact wanders on the stop while the other drives move."""


@dataclass(frozen=True, slots=True, eq=False)
class StopDesign:
    """A stop's recommended ``height`` and what speaks for it, and how the stop acts at the height it is given.

    ``ways``: one per setting of the other drives; ``governing``: the number of the way that dictates the height.
    ``play`` and ``give`` are in the drive's unit. ``faults``: why it is no stop, in words.
    """

    stop: TravelStop
    recommended: float | None
    height: float | None
    ways: tuple[WayFound, ...] = ()
    governing: int = 0
    give: float = 0.0
    contact: Contact | None = None
    pressing: Pressing | None = None
    faults: tuple[str, ...] = ()

    @property
    def lever_mm(self) -> float | None:
        """Lever arm of a turning drive's stop."""
        return None if self.contact is None else degrees(self.contact.approach)

    @property
    def per_turn(self) -> float | None:
        """Units of the drive per turn of the stop's bolt."""
        if self.contact is None or not isinstance(self.stop.form, StopBolt):
            return None
        return self.stop.form.pitch / self.contact.approach


class Designer:
    """Designs the stops of one machine. ``mechanism``: without its stops, its drives widened."""

    def __init__(self, mechanism: Mechanism, wide: Ways, free: Ways, others: Mapping[str, Floats]) -> None:
        self.mechanism, self.wide, self.free, self.others = mechanism, wide, free, others
        self.drives = mechanism.machine.drives
        self._ends: dict[tuple[str, int, int], list[RunOut]] = {}
        self.designed: dict[str, StopDesign] = {}

    def ways(self, drive: str, sign: int, ways: Ways) -> list[RunOut]:
        """What ends the ways along ``drive``, found once."""
        key = drive, sign, id(ways)
        if key not in self._ends:
            end = self.drives[drive].high if sign > 0 else self.drives[drive].low
            self._ends[key] = ways.run_out(list(self.drives).index(drive), end, self.others[drive])
        return self._ends[key]
