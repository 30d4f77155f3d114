"""Which further reading would tell the most: among all distances between two places that a tape can be held to.

These are joints and points of readings, and they are looked at with all drives at 0 and with one drive at an end. What
the readings know of the numbers, with what the file allows, is the information M = AᵀA + 1 over x. A reading with
derivatives g adds g gᵀ; it is the one that makes det M largest (D-optimal, matrix determinant lemma), and the next is
the one that does after it. Source: common practice of the design of experiments.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve
from assembly.model.feature import GROUND, FeatureKind
from assembly.model.machine import Machine
from assembly.model.measure import MeasureKind
from assembly.record import NextReadingEntry
from assembly.studies.survey.adjustment import Adjustment
from assembly.studies.survey.observed import ObservedMachine

USUAL_ERROR = 1.0
"""mm: of a tape, where no reading of the file says how good they are."""
LEAST_APART = 20.0
"""mm: what lies nearer is not measured with a tape."""
MOST_SPOTS = 40
TOLD = 3
LEAST_GAIN = 0.05
"""A reading that makes the determinant larger by less than this share is not worth the way."""
AT_ZERO = 1.25
"""How much more another setting must tell than all drives at 0, where reading is easier."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place that a tape can be held to: a joint as its first part has it, or a point of a reading."""

    words: str
    joint: str = ""
    reading: str = ""
    number: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """All distances between two of ``spots`` at each of ``settings`` (n, d): pairs run faster than settings."""

    spots: list[Spot]
    settings: Floats

    @property
    def pairs(self) -> list[tuple[int, int]]:
        """Which two spots each distance is between."""
        return list(combinations(range(len(self.spots)), 2))

    @property
    def count(self) -> int:
        """How many distances there are."""
        return len(self.pairs) * len(self.settings)

    def distances(self, mechanism: Mechanism) -> Floats:
        """All distances (c,) in mm of one machine; NaN where a setting is not reached."""
        solved = solve(mechanism, self.settings)
        places = np.array([_places(mechanism, spot, solved.posture) for spot in self.spots])
        first, second = np.array(self.pairs).T
        apart = np.linalg.norm(places[first] - places[second], axis=2)
        return np.asarray(np.where(solved.reached, apart, np.nan).T.reshape(-1))


def _places(mechanism: Mechanism, spot: Spot, posture: Posture) -> Floats:
    """Where a spot is (n, 3) at each posture."""
    machine = mechanism.machine
    if spot.joint:
        part, at = machine.joints[spot.joint].first, machine.joints[spot.joint].at_first
    else:
        feature = machine.measures[spot.reading].features[spot.number]
        part, at = feature.part, feature.at or (0.0, 0.0, 0.0)
    if part == GROUND:
        return np.tile(np.array(at), (len(posture.centres), 1))
    world = mechanism.world_from_rest(posture, part)
    return np.asarray(world[:, :3, :3] @ np.array(at) + world[:, :3, 3])


def candidates_of(machine: Machine) -> Candidates:
    """The distances that are looked at; of a machine of many joints and readings those of the first."""
    zero = np.zeros(len(machine.drives))
    ends = [[one.low, one.high] for one in machine.drives.values()]
    single = [np.where(np.arange(len(zero)) == k, end, zero) for k, both in enumerate(ends) for end in both if end]
    return Candidates(list(_spots(machine))[:MOST_SPOTS], np.array([zero, *single]))


def _spots(machine: Machine) -> Iterator[Spot]:
    """Points of readings first, then joints that move; each place once."""
    known = set()
    for one in machine.survey.observations:
        for number, feature in enumerate(one.measure.features):
            if feature.kind is FeatureKind.POINT and (feature.part, feature.at) not in known:
                known.add((feature.part, feature.at))
                yield Spot(feature.words, reading=one.name, number=number)
    for joint in machine.joints.values():
        ends = (joint.first, joint.at_first), (joint.second, joint.at_second)
        if joint.kind.has_freedom and not any(end in known for end in ends):
            known.update(ends)
            yield Spot(joint.name, joint=joint.name)


def next_readings(observed: ObservedMachine, solution: Adjustment) -> tuple[NextReadingEntry, ...]:
    """The readings that would tell the most, the best first; none where all is known as well as it can be."""
    candidates = candidates_of(observed.machine)
    if not observed.uncertain or not candidates.pairs:
        return ()
    expected, error = candidates.distances(observed.made(solution.numbers)), _error(observed)
    slopes = observed.slopes(solution.numbers, candidates.distances, candidates.count)
    scaled = slopes * observed.reach / error
    scaled[~(expected >= LEAST_APART)] = 0.0
    used = solution.scaled[solution.used]
    information = used.T @ used + np.eye(len(observed.uncertain))
    made = []
    for _ in range(TOLD):
        covariance = np.asarray(np.linalg.inv(information), dtype=np.float64)
        best = most_telling(scaled, covariance, len(candidates.pairs))
        if best is None:
            break
        information = information + np.outer(scaled[best], scaled[best])
        spread = np.sqrt(np.diag(covariance)), np.sqrt(np.diag(np.linalg.inv(information)))
        made.append(_entry(observed, candidates, best, float(expected[best]), error, spread))
    return tuple(made)


def most_telling(scaled: Floats, covariance: Floats, at_zero: int) -> int | None:
    """The distance, by its number, that makes the determinant largest; None where none gains.

    ``scaled`` (c, k): derivatives over x in units of a reading's error. The first ``at_zero`` have all drives at 0.
    """
    gains = np.log1p(np.einsum("ck,kl,cl->c", scaled, covariance, scaled))
    gains[at_zero:] /= AT_ZERO
    best = int(np.argmax(gains))
    return best if gains[best] >= LEAST_GAIN else None


def _entry(
    observed: ObservedMachine,
    candidates: Candidates,
    best: int,
    expected: float,
    error: float,
    spread: tuple[Floats, Floats],
) -> NextReadingEntry:
    before, after = spread
    most = int(np.argmin(after / before))
    row, pair = divmod(best, len(candidates.pairs))
    first, second = (candidates.spots[k].words for k in candidates.pairs[pair])
    at = settings_of(observed.machine, tuple(candidates.settings[row].tolist()))
    one = observed.uncertain[most]
    known = float(before[most]) * one.may_differ, float(after[most]) * one.may_differ
    return NextReadingEntry(first, second, at, expected, error, one.name, *known)


def _error(observed: ObservedMachine) -> float:
    """What a tape is off by, as the readings of the file say."""
    every = [one.plus_minus for one in observed.observations if one.measure.kind is MeasureKind.DISTANCE]
    return float(np.median(every)) if every else USUAL_ERROR
