"""What is known of measures and figures of wheels from earlier sweeps, under a key of everything that they depend on.

No solid comes into them: they hang on the equations, on the features that they are of and on the wheels, on how rolls
and limits are judged, and on the names by which they are told. So an edit of a part's shape leaves all of them known.
"""

from __future__ import annotations

from assembly.clearance.proof.cache_keys import digest_of, motion_of, rolls_of
from assembly.clearance.proof.cached import FiguresCache
from assembly.clearance.proof.joint_search import JointSearch
from assembly.clearance.proof.wheel_search import all_measured
from assembly.kinematics.mechanism import Mechanism
from assembly.record import MeasureEntry

Measured = tuple[MeasureEntry, ...]


def motion_key(mechanism: Mechanism, of: str, asked: object = None) -> str:
    """The key of what hangs on motions alone, and on what is ``asked``: equations, rolls, joints and names."""
    bodies = mechanism.bodies
    rolls = [(sorted(turned), told) for turned, told in rolls_of(mechanism)]
    names = list(bodies.body_of.items()), [bodies.label(body) for body in range(len(bodies))]
    return digest_of((of, motion_of(mechanism), rolls, names, mechanism.machine.joints, asked))


def measures_key(mechanism: Mechanism, *, judged_only: bool) -> str:
    """The key of all measures of a machine."""
    machine = mechanism.machine
    return motion_key(mechanism, "measures", (machine.measures, machine.running, judged_only))


def known_measures(
    mechanism: Mechanism, search: JointSearch, cache: FiguresCache | None, *, judged_only: bool
) -> Measured:
    """As ``all_measured``, as far as ``cache`` knows them; what was found in time is kept in it."""
    if cache is None:
        return all_measured(mechanism, search, judged_only=judged_only)
    key = measures_key(mechanism, judged_only=judged_only)
    known = cache.look_up_figures([key], Measured).get(key)
    if known is not None:
        return known
    found = all_measured(mechanism, search, judged_only=judged_only)
    if not search.stopped:
        cache.keep_figures({key: found})
    return found
