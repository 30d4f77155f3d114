"""What is known of measures and figures of wheels from earlier sweeps, under a key of everything that they depend on.

No solid comes into them: they hang on the equations, on the features that they are of and on the wheels, on how rolls
and limits are judged, and on the names by which they are told. So an edit of a part's shape leaves all of them known.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from assembly.clearance.proof.cache_keys import digest_of, motion_of, rolls_of
from assembly.clearance.proof.joint_search import JointSearch
from assembly.clearance.proof.wheel_search import all_measured
from assembly.kinematics.mechanism import Mechanism
from assembly.record import MeasureEntry

Measured = tuple[MeasureEntry, ...]


class MeasuresCache(Protocol):
    """Keeps what is known of measures from one sweep to the next."""

    def look_up_measures(self, keys: Sequence[str]) -> Mapping[str, Measured]:
        """What is known by these keys; those that are not known are left out."""

    def keep_measures(self, known: Mapping[str, Measured]) -> None:
        """Note what is known by these keys."""


def measures_key(mechanism: Mechanism, *, judged_only: bool) -> str:
    """The key of all measures of a machine."""
    machine, bodies = mechanism.machine, mechanism.bodies
    rolls = [(sorted(turned), told) for turned, told in rolls_of(mechanism)]
    names = list(bodies.body_of.items()), [bodies.label(body) for body in range(len(bodies))]
    asked = machine.measures, machine.running, machine.joints, judged_only
    return digest_of(("measures", motion_of(mechanism), rolls, names, asked))


def known_measures(
    mechanism: Mechanism, search: JointSearch, cache: MeasuresCache | None, *, judged_only: bool
) -> Measured:
    """As ``all_measured``, as far as ``cache`` knows them; what was found in time is kept in it."""
    if cache is None:
        return all_measured(mechanism, search, judged_only=judged_only)
    key = measures_key(mechanism, judged_only=judged_only)
    known = cache.look_up_measures([key]).get(key)
    if known is not None:
        return known
    found = all_measured(mechanism, search, judged_only=judged_only)
    if not search.stopped:
        cache.keep_measures({key: found})
    return found
