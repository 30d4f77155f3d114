"""Which rules of a machine hold at given settings: loops that close, limits of joints and measures, clearances.

Every rule is reported by its room: what is left of it, in mm or in the joint's unit, below 0 where it is broken. Rules
have numbers: 0 that all loops close, then the pairs, then the limits of joints, then those of measures.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Pairs
from assembly.clearance.narrow_phase.distance import contained_at
from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.proof.pair_search import PieceSearch
from assembly.clearance.proof.pair_table import DISTANCE, ROOM, PairTable
from assembly.clearance.proof.rolled_least import RolledQuery, least_over_rolls
from assembly.clearance.proof.solid_table import Boxes, SolidTable
from assembly.clearance.proof.swept_before import SweptBefore
from assembly.clearance.region.carried import STRIDES, BelowQuery, distances_below, in_strides
from assembly.clearance.region.lattice_distances import measured_lattice
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.joint_limits import Limit, limits_of
from assembly.kinematics.measure_limits import measure_limits
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.rod_roll import windows
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import follow, solve
from assembly.kinematics.turn_counts import reserves

ROUNDING = 1e-6
"""mm or degrees of arithmetic: a rule that is short of less is kept."""
AT_HAND = 1.0
"""mm or degrees: rules with less clearance just inside the border of what is usable are looked at just outside."""
NONE, LOOPS = -1, 0
"""Numbers: of no rule, and of the rule that all loops close."""


class RuleKind(StrEnum):
    """What a rule is about."""

    LOOP = "loop"
    """The machine can be put together, and reached from rest without passing a dead centre."""
    PAIR = "pair"
    """Two parts keep their clearance."""
    JOINT = "joint"
    """A joint keeps its limit."""
    MEASURE = "measure"
    """A measure keeps its limits."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: the pair or the limit that it is about, none of both for the loops."""

    kind: RuleKind
    pair: CheckedPair | None = None
    limit: Limit | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """How the rules stand at N settings (N, d).

    ``pair`` and ``limit`` (N,): numbers of the rules of either kind with the least room, -1 if there is none, and
    ``pair_room`` mm and ``limit_room``, infinite if there is none. Nothing is known where a setting is not reached.
    """

    settings: Floats
    reached: Flags
    pair: Ids
    pair_room: Floats
    limit: Ids
    limit_room: Floats

    @property
    def worst(self) -> Ids:
        """Number (N,) of the broken rule with the least room, -1 where all rules hold."""
        worst = np.where(self.pair_room <= self.limit_room, self.pair, self.limit)
        holds = np.minimum(self.pair_room, self.limit_room) >= -ROUNDING
        return np.where(self.reached, np.where(holds, NONE, worst), LOOPS)

    def joined(self, other: Standing) -> Standing:
        """These settings and those of ``other`` after them."""
        names = Standing.__slots__
        return Standing(*(np.concatenate([getattr(self, name), getattr(other, name)]) for name in names))


class Rules:
    """The rules of a machine with the ``pairs`` that are to be kept apart, measured on the bench of the ``stock``.

    ``before``: the machine in the file's own ranges, with what a sweep has proven in them; ``mechanism`` may go beyond.
    """

    def __init__(
        self, before: SweptBefore, mechanism: Mechanism, pairs: Pairs, stock: tuple[SolidTable, Bench]
    ) -> None:
        self.mechanism = mechanism
        of_joints, of_measures = limits_of(mechanism), measure_limits(mechanism)
        self.limits = (*of_joints, *of_measures)
        drives = before.mechanism.machine.drives.values()
        self._low, self._high = (np.array([getattr(one, end) for one in drives]) for end in ("low", "high"))
        self.every = (
            Rule(RuleKind.LOOP),
            *(Rule(RuleKind.PAIR, pair=pair) for pair in pairs.checked),
            *(Rule(RuleKind.JOINT, limit=limit) for limit in of_joints),
            *(Rule(RuleKind.MEASURE, limit=limit) for limit in of_measures),
        )
        self._survey = PairTable(mechanism, *stock, before.bounds_of(pairs.checked))
        self._required = [pair.required for pair in pairs.checked]
        self._first_limit = 1 + len(self._required)
        self.swallowing: set[int] = set()
        """Pairs one of which was seen inside the other; in between settings no others are."""

    def over(self, settings: Floats) -> Standing:
        """How they stand over a whole lattice of settings (N, d)."""
        solved = solve(self.mechanism, settings)
        swept = self._swept(solved)
        centres = measured_lattice(self._survey, solved, swept)
        room, pair = centres.found[ROOM].copy(), centres.owner[ROOM].copy()
        touching = centres.found[DISTANCE] <= 0
        pair[touching & (room >= -ROUNDING)] = centres.owner[DISTANCE][touching & (room >= -ROUNDING)]
        room[touching] = np.minimum(room[touching], -2 * ROUNDING)
        boxes = Boxes(self.mechanism, solved.posture)
        holds = solved.reached & (room >= -ROUNDING)
        for number, whole in self._meeting(boxes, holds, swept):
            rows = np.flatnonzero(solved.reached & (room >= -ROUNDING) & (boxes.gaps(whole) <= 0))
            solids = whole.a.solid, whole.b.solid
            apart = np.maximum(centres.bounds[solids], 0.0) if solids in centres.bounds else np.zeros(len(settings))
            rows = rows[self._swallowed(whole, solved.posture.take(rows), apart[rows])]
            if len(rows):
                self.swallowing.add(number)
            pair[rows], room[rows] = number, -2 * ROUNDING - self._required[number]
        left = self._reserves(solved)
        least = left.argmin(axis=0) if len(left) else np.zeros(len(settings), dtype=np.intp)
        limit_room = np.min(left, axis=0, initial=np.inf)
        limit = np.where(np.isfinite(limit_room), self._first_limit + least, NONE)
        return Standing(settings, solved.reached, np.where(pair >= 0, 1 + pair, NONE), room, limit, limit_room)

    def _swept(self, solved: Solved) -> Flags:
        """At which settings (N,) that holds which a sweep has proven: in the file's ranges, where every rod can roll.

        Where the ends of a rod allow no roll at all, a sweep says nothing of the pairs that it moves.
        """
        own = (solved.settings >= self._low) & (solved.settings <= self._high)
        swept = np.asarray(own.all(axis=1) & solved.reached)
        for rod in self._survey.rods.values():
            rows = np.flatnonzero(swept)
            swept[rows] = windows(rod, solved.posture.take(rows)).free() >= 0
        return swept

    def _meeting(self, boxes: Boxes, holds: Flags, swept: Flags) -> list[tuple[int, PieceSearch]]:
        """Pairs whose boxes meet at a setting that is still open and at which no sweep has proven them apart."""
        still = self._survey.still
        gaps = boxes.every_gap([whole for _, whole in still])
        apart = np.array([self._survey.proven[number] > 0 for number, _ in still], dtype=bool)
        open_ = (gaps <= 0) & holds & ~(apart[:, None] & swept)
        return [still[place] for place in np.flatnonzero(open_.any(axis=1)).tolist()]

    def rooms(self, settings: Floats, asked: Flags | None = None) -> Floats:
        """Room (R, N) of every rule at settings (N, d); where a pair keeps its clearance, not more than is left.

        Of pairs only those ``asked`` (R, N) where given, all others counting as kept. To be called once a lattice was
        looked at: parts inside one another are looked for among the pairs that were found so on it.
        """
        solved = solve(self.mechanism, settings)
        rows = np.flatnonzero(solved.reached)
        found = np.full((len(self.every), len(settings)), np.inf)
        pairs = [
            (number, rows if asked is None else rows[asked[1 + number, rows]]) for number in range(len(self._required))
        ]
        for (number, some), room in zip(pairs, self._pair_rooms(solved, pairs, AT_HAND), strict=True):
            found[1 + number, some] = room
        found[self._first_limit :, rows] = self._reserves(solved.take(rows))
        found[LOOPS, ~solved.reached] = -np.inf
        return found

    def keeps(self, settings: Floats, numbers: Ids) -> tuple[Ids, Floats]:
        """Which rule (N,) is broken at each setting, the loops' or the one of ``numbers`` (N,), or -1.

        And the room (N,) of the latter, infinite where it is large, nan where there is none.
        """
        solved = solve(self.mechanism, settings)
        broken, found = np.where(solved.reached, NONE, LOOPS), np.full(len(settings), np.nan)
        known, asked = solved.reached & (numbers > LOOPS), []
        for number in np.unique(numbers[known]).tolist():
            rows = np.flatnonzero(known & (numbers == number))
            if number >= self._first_limit:
                found[rows] = reserves(self.limits[number - self._first_limit], self.mechanism, solved.take(rows))
            else:
                asked.append((number - 1, rows))
        for (_, rows), room in zip(asked, self._pair_rooms(solved, asked, AT_HAND), strict=True):
            found[rows] = room
        short = found < -ROUNDING
        broken[short] = numbers[short]
        return broken, found

    def gone(self, inside: Floats, outside: Floats) -> Floats:
        """Share (N,) of the straight ways between settings (N, d) after which loops do not close any more."""
        return follow(self.mechanism, solve(self.mechanism, inside), np.arange(len(inside)), outside).share

    def _reserves(self, solved: Solved) -> Floats:
        found = [reserves(limit, self.mechanism, solved) for limit in self.limits]
        return np.array(found).reshape(len(self.limits), len(solved.settings))

    def _pair_rooms(self, solved: Solved, asked: Sequence[tuple[int, Ids]], beyond: float) -> Iterator[Floats]:
        """Room of each asked pair at its rows, infinite from ``beyond`` mm on, or where boxes show that it is kept."""
        rolling = dict(self._survey.rolling)
        least = [np.full(len(solved.settings), np.inf) for _ in asked]
        rolled = {
            index: RolledQuery(rolling[number], rows, np.full(len(rows), self._required[number] + beyond))
            for index, (number, rows) in enumerate(asked)
            if number in rolling
        }
        anchors = [in_strides(len(solved.settings), stride) for stride in STRIDES[1:-1]]
        over_rolls = least_over_rolls(self._survey, solved.posture, [*rolled.values()], anchors)
        for index, over in zip(rolled, over_rolls, strict=True):
            one = rolled[index]
            least[index][one.rows] = np.where(over.distance < one.below, over.distance, np.inf)
        looks = [*self._looks(solved, {k: one for k, one in enumerate(asked) if k not in rolled}, beyond)]
        found = distances_below(self._survey, solved.posture, [one for _, one in looks])
        for (index, look), distances in zip(looks, found, strict=True):
            least[index][look.rows] = np.minimum(least[index][look.rows], distances)
        for (number, rows), distance in zip(asked, least, strict=True):
            if number in self.swallowing:
                held = rows[distance[rows] > 0]
                whole, none = self._survey.wholes[number], np.zeros(len(held))
                distance[held[self._swallowed(whole, solved.posture.take(held), none)]] = 0.0
            room = distance[rows] - self._required[number]
            yield np.where(distance[rows] <= 0, np.minimum(room, -2 * ROUNDING), room)

    def _looks(
        self, solved: Solved, asked: Mapping[int, tuple[int, Ids]], beyond: float
    ) -> Iterator[tuple[int, BelowQuery]]:
        """Every shape against every other of the pairs ``asked`` where boxes do not show that the pair is kept."""
        boxes = Boxes(self.mechanism, solved.posture)
        some = [(index, number, rows) for index, (number, rows) in asked.items() if len(rows)]
        gaps = boxes.every_gap([self._survey.wholes[number] for _, number, _ in some])
        for (index, number, rows), gap in zip(some, gaps, strict=True):
            required = self._required[number]
            close = rows[_short(gap[rows], required)]
            for piece in self._survey.pieces(number) if len(close) else ():
                own = boxes.gaps(piece)[close]
                near = _short(own, required)
                if near.any():
                    yield index, BelowQuery(piece, close[near], required + beyond, own[near])

    def _swallowed(self, whole: PieceSearch, posture: Posture, apart: Floats) -> Flags:
        if not len(posture):
            return np.zeros(0, dtype=bool)
        job, collision_models = self._survey.job(whole, posture), self._survey.bench.collision_models
        return contained_at(collision_models[job.a], collision_models[job.b], job.a_from_b, apart)


def _short(gaps: Floats, required: float) -> Flags:
    """Where boxes (N,) mm apart do not show that the clearance is kept."""
    return np.asarray((gaps < required) | (gaps <= 0))
