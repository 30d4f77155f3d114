"""What is known of ways from earlier designs, under a key of everything that what ends a way depends on.

A way ends at the first of all pairs, joints and measures, so its key covers all of them: the motion, every pair's
solids, bodies and clearance, every limit, and the names by which the end is told. One edit to any of these makes all
ways unknown.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from assembly.clearance.narrow_phase.checked_pairs import Pairs
from assembly.clearance.narrow_phase.pair_result import Effort, Setting
from assembly.clearance.proof.cache_keys import digest_of, motion_of, pair_keys
from assembly.clearance.proof.cached import ResultCache
from assembly.clearance.region.run_out import RunOut
from assembly.clearance.stops.design_tasks import Kept
from assembly.kinematics.joint_limits import limits_of
from assembly.kinematics.measure_limits import measure_limits
from assembly.kinematics.mechanism import Mechanism


@dataclass(frozen=True, slots=True)
class WayAsked:
    """The way of drive ``column`` from rest to its setting ``end``, others as in ``row``, and what is kept on it."""

    column: int
    end: float
    row: Setting
    kept: Kept


class EndsCache(Protocol):
    """Keeps what ends ways from one design to the next."""

    def look_up_ends(self, keys: Sequence[str]) -> Mapping[str, RunOut]:
        """What is known by these keys; those that are not known are left out."""

    def keep_ends(self, known: Mapping[str, RunOut]) -> None:
        """Note what is known by these keys."""


class StopsCache(ResultCache, EndsCache, Protocol):
    """Keeps what is known of pairs, and of ways."""


class WayKeys:
    """Keys of the ways of one machine with the ``pairs`` that are looked at."""

    def __init__(self, mechanism: Mechanism, pairs: Pairs) -> None:
        names = [(pair.a, pair.b) for pair in pairs.checked]
        bodies = [mechanism.bodies.label(body) for roll in mechanism.idle for body in roll.bodies]
        limits = limits_of(mechanism), measure_limits(mechanism)
        self._machine = digest_of((motion_of(mechanism), pair_keys(mechanism, pairs, Effort()), names, bodies, limits))

    def of(self, way: WayAsked) -> str:
        """The key of one way."""
        return digest_of(("end of a way", self._machine, way.column, way.end, way.row, way.kept))


class RecalledEnds:
    """What ends ways of the machine of ``keys``, as far as ``cache`` knows it."""

    def __init__(self, keys: WayKeys, cache: EndsCache) -> None:
        self._keys, self._cache = keys, cache

    def known(self, ways: Sequence[WayAsked]) -> dict[WayAsked, RunOut]:
        """Those of the ways that are known, and what ends them."""
        keys = {self._keys.of(way): way for way in ways}
        return {keys[key]: end for key, end in self._cache.look_up_ends([*keys]).items()}

    def keep(self, found: Mapping[WayAsked, RunOut]) -> None:
        """Note what ends these ways."""
        self._cache.keep_ends({self._keys.of(way): end for way, end in found.items()})
