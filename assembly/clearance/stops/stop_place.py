"""Where a stop of known height is struck, and how that changes: the gap before it closes, told in units of its drive.

Just before the stop is struck the gap g(s, p) to what meets it closes as the drive s goes on; it is struck where g is
0, so that ds/dp = -(∂g/∂p) / (∂g/∂s).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Exclusion, without_exclusion
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.sensitivity.governing import Governing
from assembly.clearance.sensitivity.pair_place import PairPlace
from assembly.clearance.stops.stop_gap import StopGap
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.solver import solve
from assembly.model.travel_stop import TravelStop

STEP = 0.01
"""Drive units before it is struck at which a stop is looked at, and over which the closing of its gap is measured."""
SLOWEST = 1e-4
"""mm per unit of the drive: a stop that is struck by less is slid along."""


@dataclass(frozen=True, slots=True, eq=False)
class StopPlace:
    """A stop is struck at ``acts``, in units of its drive away from rest, the other drives at rest.

    ``places`` are those of the gap just before, ``per_mm`` how much later it is struck for each mm of more gap there.
    """

    acts: float
    per_mm: float
    places: list[PairPlace]


def stop_place(mechanism: Mechanism, stop: TravelStop) -> StopPlace | None:
    """None where the stop is not built in, or not struck within the range of its drive with the others at rest."""
    drives = list(mechanism.machine.drives)
    if stop.height is None or stop.name not in mechanism.machine.parts or stop.drive not in drives:
        return None
    column, drive = drives.index(stop.drive), mechanism.machine.drives[stop.drive]
    end, rest = drive.high if stop.side.sign > 0 else drive.low, np.zeros((1, len(drives)))
    gap = StopGap(mechanism, stop)
    acts = float(gap.contacts(stop.height, column, end, rest)[0])
    if np.isnan(acts) or not acts:
        return None
    exclusions = Exclusion(stop.name), Exclusion(stop.other)
    solids = {each: without_exclusion(mechanism.machine.parts[each.part], each) for each in exclusions}
    governing = Governing(mechanism, solids, Effort(), {})
    pair = CheckedPair(stop.name, stop.other, 0.0, *exclusions, rigidly_coupled=False)
    before = np.repeat(rest, 3, axis=0)
    before[:, column] = acts - stop.side.sign * STEP * np.array([1.0, 2.0, 3.0])
    solved = solve(mechanism, before)
    near, _, far = (governing.distance(pair, solved.posture.take(np.array([row]))) for row in range(3))
    pace = (far - near) / (2 * STEP)
    if not solved.reached.all() or pace < SLOWEST:
        return None
    return StopPlace(abs(acts), 1 / pace, governing.nearest_at(pair, before[1], solved.posture.take(np.array([1]))))
