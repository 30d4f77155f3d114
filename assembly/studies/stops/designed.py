"""All stops of a machine as they are designed, and what ends each direction of its drives without them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from assembly.clearance.region.run_out import RunOut
from assembly.clearance.stops.stop_fit import StopDesign
from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism
from assembly.model.machine import Machine
from assembly.model.travel_stop import RangeEnd


@dataclass(frozen=True, slots=True, eq=False)
class DriveDirection:
    """One direction of one drive: what ends each way without any stop, and the stops declared for it, by name.

    ``others`` (M, d): the settings of the other drives, one for each way.
    """

    drive: str
    side: RangeEnd
    others: Floats
    free: tuple[RunOut, ...]
    stops: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class StopsDesigned:
    """All stops of ``machine`` by name, and all directions of its drives; ``mechanism`` is without the stops."""

    machine: Machine
    mechanism: Mechanism
    designs: Mapping[str, StopDesign]
    directions: tuple[DriveDirection, ...]
    lost: Mapping[str, str] = field(default_factory=dict)
    """Why nothing is known of what ends at a roll that was not found, by the name of its column."""
