"""Where a slack hose may touch another part: every shape that it can take is kept in, and bounded over the range.

A hose of length L that is held at points H1 to Hn reaches a point P between Hi and the next only if
|P Hi| + |P Hi+1| and all other distances from held point to held point are together no more than L: it lies in an
ellipsoid about each two of them. The distance from a part to these, less the hose's radius, is what is told. In a cell
the sums change by no more than the held points move as the part sees them, so that all ellipsoids of the cell lie in
those of its centre with so much more length.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import isfinite

import numpy as np

from assembly.clearance.proof.joint_search import Extremes, JointSearch
from assembly.clearance.proof.measure_search import drives_of, rolling_doubt, still, unproven_share
from assembly.geometry.inside import contains
from assembly.geometry.mesh import Floats
from assembly.geometry.two_foci import FacetLots, facets_to_size, least_gap
from assembly.kinematics.cell_motion import CellMotion
from assembly.kinematics.expansion import ROUNDING
from assembly.kinematics.frames import over_cells
from assembly.kinematics.joint_motion import Span
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.roll_bearing import bears_on
from assembly.kinematics.rows import Posture
from assembly.kinematics.taylor import Taylor, inner_product
from assembly.model.cable import CableRun
from assembly.model.machine import Part
from assembly.record import HoseNearEntry, VerdictWord
from assembly.time_limit import out_of_time

FACET = 25.0
"""mm: longer edges are cut, so that what a facet's tangent plane leaves out is small."""
ENOUGH = 10.0
"""mm beyond what is required: no part that is farther is looked at more closely."""
MOST_CHILDREN = 300
"""Cells that may be cut out of others for each part."""
SEEN = 16
"""Settings that are looked at beside the middles of cells."""
DECIDE = 1e6
"""mm: a bracket so wide that only the required clearance is decided."""
GRAIN = 1e-6
"""mm of rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class HoseBand:
    """How far (mm) a part at least is from every shape of a hose, as a motion that can be searched over the range.

    ``body``: of the part, its ``facets`` as drawn, off by ``error``; what is farther than ``enough`` is told as that.
    ``holders``: the bodies of the held ``points`` (n, 3) as drawn; ``rest`` (B, 3): the bodies' points as drawn.
    """

    name: str
    body: int
    facets: FacetLots
    error: float
    holders: tuple[int, ...]
    points: Floats
    length: float
    radius: float
    rest: Floats
    enough: float = np.inf
    unit: str = "mm"
    turning: bool = False

    @property
    def bodies(self) -> tuple[int, ...]:
        """The part's body and those that hold the hose."""
        return tuple(dict.fromkeys((self.body, *self.holders)))

    def among(self, bodies: Sequence[int]) -> HoseBand:
        """The same over these ``bodies`` only, in this order."""
        holders = tuple(map(bodies.index, self.holders))
        return replace(self, body=bodies.index(self.body), holders=holders, rest=self.rest[list(bodies)])

    def values(self, posture: Posture) -> Floats:
        """A lower bound (N,) on the clearance at each posture."""
        return self._clearance(posture, np.zeros(len(posture)))

    def _clearance(self, posture: Posture, longer: Floats) -> Floats:
        """The same for a hose that is by so much (N,) longer."""
        held = self.held(posture)
        straight = np.array([np.linalg.norm(b - a, axis=1) for a, b in pairwise(held)])
        found = np.full(len(posture), np.inf)
        enough = self.enough + self.radius + self.error
        for number, (a, b) in enumerate(pairwise(held)):
            length = self.length + longer - straight.sum(axis=0) + straight[number]
            found = np.minimum(found, least_gap(self.facets, a, b, length, enough))
        return found - self.radius - self.error

    def held(self, posture: Posture) -> list[Floats]:
        """Where the held points lie, each (N, 3), as the part was drawn."""
        return [self._seen(posture, body, at) for body, at in zip(self.holders, self.points, strict=True)]

    def _seen(self, posture: Posture, body: int, at: Floats) -> Floats:
        """Where a point of ``body`` lies (N, 3) as the part was drawn."""
        place = posture.centres[:, body] + posture.rotations[:, body] @ (at - self.rest[body])
        gone = place - posture.centres[:, self.body]
        return np.asarray(np.einsum("nji,nj->ni", posture.rotations[:, self.body], gone) + self.rest[self.body])

    def span(self, motion: CellMotion, values: Floats) -> Span:
        """Nothing is bounded from above but by the value itself."""
        reach = np.zeros(len(values))
        for weight, relative in self._relative(motion):
            reach += weight * np.sqrt(sum(one.reach**2 for one in relative))
        with np.errstate(invalid="ignore"):
            known = motion.certified & np.isfinite(reach)
            longer = np.where(known, ROUNDING * reach, 0.0)
            low = np.where(known, self._clearance(motion.posture, longer) - GRAIN, -np.inf)
        return Span(low, values, np.zeros_like(motion.half))

    def rates(self, motion: CellMotion) -> Floats:
        """How fast (N, d) the held points move as the part sees them, per drive unit."""
        total = np.zeros_like(motion.half)
        for weight, relative in self._relative(motion):
            total += weight * np.sqrt(sum(one.first**2 for one in relative))
        return total

    def _relative(self, motion: CellMotion) -> Iterator[tuple[float, list[Taylor]]]:
        """Of each held point that moves against the part: how often it counts, and its coordinates there."""
        frames, last = over_cells(motion, self.rest), len(self.holders) - 1
        origin = frames.point(self.body, self.rest[self.body])
        axes = [frames.direction(self.body, axis) for axis in np.eye(3)]
        for number, (body, at) in enumerate(zip(self.holders, self.points, strict=True)):
            if body != self.body:
                away = frames.point(body, at) - origin
                yield (1.0 if number in (0, last) else 2.0), [inner_product(axis, away) for axis in axes]


def hose_near(mechanism: Mechanism, search: JointSearch, run: CableRun) -> tuple[HoseNearEntry, ...]:
    """Every part that does not hold the hose of ``run``, whose outer is cut: how near the hose may come to it.

    The parts that hold it are left out, since it touches them where it is held.
    """
    holders = {each.part for each in run.points}
    parts = [part for name, part in mechanism.machine.parts.items() if name not in holders and part.shapes]
    rules = [mechanism.machine.clearance.for_pair(part.name, "") for part in parts]
    if why := out_of_time():
        return tuple(_not_looked_at(part, rule, why) for part, rule in zip(parts, rules, strict=True))
    bands = [_band(mechanism, run, part) for part in parts]
    few = search.seen.take(np.arange(0, len(search.seen.settings), max(1, len(search.seen.settings) // SEEN)))
    own = replace(search, children_left=MOST_CHILDREN * len(parts), stopped="", seen=few)
    moving = [bool(drives_of(mechanism, band)) for band in bands]
    known = [
        _touching(own, band, rule) if moves else _still(own, band)
        for band, rule, moves in zip(bands, rules, moving, strict=True)
    ]
    left = [(band, (rule, None)) for band, rule, found in zip(bands, rules, known, strict=True) if found is None]
    searched = iter(own.extremes(left, DECIDE))
    return tuple(
        _entry(mechanism, own, part, band, rule, next(searched) if found is None else found)
        for part, band, rule, found in zip(parts, bands, rules, known, strict=True)
    )


def _not_looked_at(part: Part, rule: float, why: str) -> HoseNearEntry:
    """A part of which nothing is known, as there was no time."""
    return HoseNearEntry(
        part=part.name, required=rule, may_touch=False, least=None, proven=None, at={}, verdict="undecided", why=why
    )


def _still(search: JointSearch, band: HoseBand) -> Extremes:
    """What stays as it is with all drives at 0; NaN where there was no time to look."""
    value = float("nan")
    with search.in_time():
        value = float(band.values(search.mechanism.home)[0])
    return still(search.mechanism, value)


def _touching(search: JointSearch, band: HoseBand, rule: float) -> Extremes | None:
    """What the settings that were looked at say where one has it nearer than ``rule``: then nothing can be proven."""
    if not len(search.seen.settings):
        return None
    found: Floats | None = None
    with search.in_time():
        found = band.values(search.seen.posture)
    if found is None or found.min() >= rule:
        return None
    row = int(found.argmin())
    at = tuple(search.seen.settings[row].tolist())
    return Extremes(float(found[row]), float(found.max()), at, at, -np.inf, np.inf, found)


def _band(mechanism: Mechanism, run: CableRun, part: Part) -> HoseBand:
    bodies, mesh = mechanism.bodies, part.mesh
    return HoseBand(
        part.name,
        bodies.body_of.get(part.name, 0),
        FacetLots.of(facets_to_size(mesh, FACET)),
        mesh.surface_error,
        tuple(bodies.body_of.get(each.part, 0) for each in run.points),
        np.array(run.held),
        run.outer or 0.0,
        (run.diameter or 0.0) / 2,
        bodies.centres,
        mechanism.machine.clearance.for_pair(part.name, "") + ENOUGH,
    )


def _rolling(mechanism: Mechanism, search: JointSearch, band: HoseBand) -> str:
    """Why what is told does not hold at every roll of what can roll, empty where it does."""
    way = [*zip(band.holders, band.points, strict=True), (band.body, band.facets.facets[0, 0])]
    for roll in mechanism.idle:
        if not roll.clamped and bears_on(mechanism, roll, way):
            return (
                "a part that holds it or that it may touch can roll about its own line; this is told at one turn of it"
            )
    return rolling_doubt(mechanism, band, search.seen.posture)


def _entry(
    mechanism: Mechanism, search: JointSearch, part: Part, band: HoseBand, rule: float, found: Extremes | None
) -> HoseNearEntry:
    inside = True  # until there was time to see that it is not
    with search.in_time():
        inside = bool(contains(part.mesh, np.concatenate(band.held(mechanism.home))).any())
    bounded = found is not None and isfinite(found.proven_least)
    unproven = unproven_share(search, band) if bounded and drives_of(mechanism, band) else 0.0
    rolling = _rolling(mechanism, search, band) if mechanism.idle else ""
    least = proven = None
    at: tuple[float, ...] = (0.0,) * len(mechanism.machine.drives)
    verdict: VerdictWord = "undecided"
    if found is not None:
        least, at = (found.least if isfinite(found.least) else None), found.at_least
        proven = found.proven_least if bounded and not (unproven or rolling or inside) else None
        verdict = "clear" if proven is not None and proven >= rule else "undecided"
    return HoseNearEntry(
        part=part.name,
        required=rule,
        may_touch=inside or (least is not None and least < rule),
        least=least,
        proven=proven,
        at=settings_of(mechanism.machine, at) if at else {},
        verdict=verdict,
        why=rolling or search.stopped,
    )
