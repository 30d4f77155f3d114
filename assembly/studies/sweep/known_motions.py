"""What earlier sweeps found of joints, rods and measures.

No solid comes into them, so an edit of a shape leaves them known. They are searched over the same cells, whose number
is limited for all of them together; so where one of them is not known, measures are searched after the joints, as if
neither was.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from assembly.clearance.proof.cached import FiguresCache
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.joint_search import joint_search
from assembly.clearance.proof.known_measures import Measured, known_measures, measures_key, motion_key
from assembly.kinematics.mechanism import Mechanism
from assembly.studies.sweep.joint_ranges import JointsFound, joints_of


@dataclass(frozen=True, slots=True)
class KeptJoints:
    """All of ``JointsFound``, its rolls as a list: JSON has no keys of several names."""

    found: JointsFound
    rolls: tuple[tuple[tuple[str, ...], tuple[float, float]], ...]

    @property
    def joints(self) -> JointsFound:
        """As they were found."""
        return replace(self.found, rolls=dict(self.rolls))


def joints_key(mechanism: Mechanism) -> str:
    """The key of all that is told of joints, and of rods that roll."""
    return motion_key(mechanism, "joints")


def motions_found(
    mechanism: Mechanism, groups: CellGroups, cache: FiguresCache | None, *, judged_only: bool
) -> tuple[JointsFound, Measured]:
    """Joints and measures over the whole range, on the cells of a sweep; as far as ``cache`` knows both, from it.

    What was found in time is kept in it.
    """
    known = _known(mechanism, cache, judged_only=judged_only) if cache is not None else None
    if known is not None:
        return known
    search = joint_search(mechanism, groups)
    joints = joints_of(mechanism, search)
    if cache is not None and not search.stopped:
        cache.keep_figures({joints_key(mechanism): KeptJoints(replace(joints, rolls={}), tuple(joints.rolls.items()))})
    return joints, known_measures(mechanism, search, cache, judged_only=judged_only)


def _known(mechanism: Mechanism, cache: FiguresCache, *, judged_only: bool) -> tuple[JointsFound, Measured] | None:
    """Both, None where one is not known."""
    of_joints, of_measures = joints_key(mechanism), measures_key(mechanism, judged_only=judged_only)
    joints = cache.look_up_figures([of_joints], KeptJoints).get(of_joints)
    measures = cache.look_up_figures([of_measures], Measured).get(of_measures)
    return None if joints is None or measures is None else (joints.joints, measures)
