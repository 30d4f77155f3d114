"""A machine with other values of its marked dimensions: put together, its rules measured and their slopes taken."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof.cached import ResultCache
from assembly.clearance.proof.joint_search import joint_search
from assembly.clearance.proof.sweep import STOPPED_BY_HAND
from assembly.clearance.proof.wheel_search import all_measured
from assembly.clearance.sensitivity.smallest_change import MarginRow, RuleKey
from assembly.errors import AssemblyError, InputError
from assembly.geometry.mesh import Floats
from assembly.model.allowed import Allowed
from assembly.model.machine import Machine
from assembly.progress import Progress
from assembly.record import FigureEntry, GoverningEntry, MarginEntry, NumberEntry, PairEntry, Record
from assembly.studies.sensitivity import SweptFigures, sensitivities
from assembly.studies.sweep.check import CheckResult, check
from assembly.studies.sweep.joint_ranges import joints_of
from assembly.studies.sweep.sweep_record import sweep_record
from assembly.time_limit import check_time

AIM = 0.01
"""mm or degrees that a rule is to keep: what is proven lies a little below what is found."""
BROKEN = 0.02
"""mm or degrees: a rule that is not proven to hold, though what was measured would do, counts as missed by so much."""
KINKED = 1e-6
"""Slopes upwards and downwards that differ by more are two rows."""
NEAR = 10.0
"""mm of margin below which a pair is swept in every trial; the others are when a proposal is swept whole."""
_Margin = tuple[MarginEntry, float, str]
"""What is told of a rule, what it keeps if surfaces are off as far as they may be, and its verdict."""


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredMachine:
    """One machine with ``values`` (n,) of its marked dimensions.

    ``rules``: all of them by what is told, ``rows``: the same, linear over the dimensions. ``broken``: those that are
    not proven to hold. ``trouble``: why it could not be measured; then nothing else is known.
    """

    values: Floats
    record: Record | None = None
    rules: Mapping[RuleKey, MarginEntry] = field(default_factory=dict)
    rows: tuple[MarginRow, ...] = ()
    broken: tuple[RuleKey, ...] = ()
    stays: Mapping[str, str] = field(default_factory=dict)
    """Dimensions that cannot be changed by themselves, each with the reason."""
    trouble: str = ""

    @property
    def missed(self) -> float:
        """By how much in mm and degrees its rules are missed altogether."""
        return self.missed_at(self.values)

    def missed_at(self, values: Floats) -> float:
        """By how much its rules would be missed with other values (n,) if they were linear."""
        worst: dict[RuleKey, float] = {}
        for row in self.rows:
            margin = float(row.margin + row.slopes @ (values - row.values))
            worst[row.rule] = min(margin, worst.get(row.rule, 0.0))
        return -sum(worst.values()) + 0.0

    def kept(self, rules: Collection[RuleKey]) -> float:
        """The least that some rules keep beyond what is aimed at, mm or degrees; below 0 where one is missed."""
        return min((row.margin for row in self.rows if row.rule in rules), default=AIM) - AIM


@dataclass(slots=True, eq=False)
class Measuring:
    """Measures changed machines. ``only``: the pairs that trials sweep, if not all.

    ``wish``: a pair of parts and the clearance in mm that it is to keep instead of the file's.
    """

    machine: Machine
    allowed: Sequence[Allowed]
    effort: Effort
    memory: ResultCache
    progress: Progress
    wish: tuple[tuple[str, str], float] | None = None
    only: Collection[tuple[str, str]] = ()
    count: int = 0

    def measured(self, values: Floats, *, everything: bool) -> MeasuredMachine:
        """The machine with these values, all of its pairs or those that matter.

        Raises TimeLimitError where the time is over, and KeyboardInterrupt.
        """
        self.count += 1
        try:
            return self._measured(values, () if everything else self.only)
        except (InputError, AssemblyError) as error:
            return MeasuredMachine(values, trouble=error.faults[0].message)

    def today(self) -> MeasuredMachine:
        """The machine as it is, all of it; from then on trials sweep the pairs that are near their rule.

        Raises InputError for pairs that do not exist, and AssemblyError.
        """
        found = self._measured(np.array([one.value for one in self.allowed]), ())
        pairs = found.record.pairs if found.record else ()
        near = ((one.a, one.b) for one in pairs if one.sure_room_mm is None or one.sure_room_mm < NEAR)
        self.only = frozenset(near)
        return found

    def _measured(self, values: Floats, only: Collection[tuple[str, str]]) -> MeasuredMachine:
        names = [one.name for one in self.allowed]
        checked, record = self._swept(self._changed(dict(zip(names, values.tolist(), strict=True))), only)
        figures = SweptFigures(
            checked.mechanism,
            checked.pairs,
            checked.found,
            record.joints,
            record.rods,
            record.measures,
            self.effort,
            checked.swept.collision_models,
        )
        numbers, told = sensitivities(figures, self.progress, names)
        check_time()
        errors = {frozenset((one.a, one.b)): one.surface_error_mm for one in record.pairs}
        margins = dict(_margins(record, errors))
        return MeasuredMachine(
            values=values,
            record=record,
            rules={rule: entry for rule, (entry, _, _) in margins.items()},
            rows=tuple(_rows(margins, told, names, values)),
            broken=tuple(rule for rule, (_, _, verdict) in margins.items() if verdict != "clear"),
            stays=dict(_staying(numbers, told)),
        )

    def look_at(self, pairs: Iterable[tuple[str, ...]]) -> None:
        """Let trials sweep these pairs too, if they do not sweep all."""
        if self.only:
            self.only = frozenset((*self.only, *((names[0], names[1]) for names in pairs)))

    def _changed(self, values: Mapping[str, float]) -> Machine:
        """The machine of the file with other values, and with what is wished of a pair."""
        changed = {name: value for name, value in values.items() if value != self.machine.dimensions[name].value}
        made = self.machine.with_dimensions(**changed) if changed else self.machine
        if self.wish is None:
            return made
        pair, wanted = self.wish
        rules = replace(made.clearance, pairs={**made.clearance.pairs, frozenset(pair): wanted})
        return replace(made, clearance=rules)

    def _swept(self, machine: Machine, only: Collection[tuple[str, str]]) -> tuple[CheckResult, Record]:
        checked = check(machine, self.effort, self.progress, memory=self.memory, only=only)
        if checked.swept.stopped == STOPPED_BY_HAND:
            raise KeyboardInterrupt
        check_time()  # what a sweep that was cut short says is no ground for a proposal
        self.progress("joints", 0, 0)
        search = joint_search(checked.mechanism, checked.swept.groups)
        joints = joints_of(checked.mechanism, search)
        return checked, sweep_record(checked, joints, all_measured(checked.mechanism, search, judged_only=True))


def _rows(
    margins: Mapping[RuleKey, _Margin], figures: Sequence[FigureEntry], names: Sequence[str], values: Floats
) -> Iterator[MarginRow]:
    """All rules as rows over the dimensions ``names``; one that is broken and has no slopes is a row without any."""
    sloped = set()
    for figure in figures:
        rule: RuleKey = (figure.kind, figure.names, figure.motion)
        if rule in margins:
            sloped.update([rule] if figure.places else [])
            deep = figure.kind == "pair" and figure.room < -(figure.required or 0.0)
            for place in figure.places:
                kept = _sure(margins[rule]) + place.room - figure.room
                yield from (MarginRow(rule, values, kept, way) for way in _ways(place, names, deep=deep))
    for rule, margin in margins.items():
        if margin[2] != "clear" and rule not in sloped:
            yield MarginRow(rule, values, _sure(margin), np.zeros(len(names)))


def _sure(margin: _Margin) -> float:
    """What a rule keeps for certain: what is proven to hold does, and what is not does not."""
    _, sure, verdict = margin
    return max(sure, AIM) if verdict == "clear" else min(sure, -BROKEN)


def _ways(place: GoverningEntry, names: Sequence[str], *, deep: bool) -> Floats:
    """Slopes (k, n) of what a place keeps: one row, or two where upwards and downwards differ.

    Both hold of what is the least of several features. Two parts that stand ``deep`` in each other come free by
    whatever way is open first, so there the larger slope holds.
    """
    slopes = {slope.number: slope for slope in place.slopes}
    ways = np.zeros((2, len(names)))
    for number, name in enumerate(names):
        slope = slopes.get(name)
        if slope is not None and slope.up is not None and slope.down is not None:
            ways[:, number] = slope.up, slope.down
    up, down = ways
    if deep:
        return np.where(np.abs(up) >= np.abs(down), up, down)[None]
    rounded = up > down
    ways[:, rounded] = ((up + down) / 2)[rounded]
    return ways if np.abs(ways[0] - ways[1]).max(initial=0.0) > KINKED else ways[:1]


def _margins(record: Record, errors: Mapping[frozenset[str], float]) -> Iterator[tuple[RuleKey, _Margin]]:
    """Every rule with its margin: as it is told, and less what surfaces may be off; and its verdict."""
    for pair in record.pairs:
        error = errors[frozenset((pair.a, pair.b))]
        entry = MarginEntry("pair", (pair.a, pair.b), "", "mm", pair.room_mm, pair.required_mm)
        yield ("pair", entry.names, ""), (entry, _margin_of_pair(pair, error), pair.verdict)
    for joint in record.joints:
        if joint.verdict is not None:
            entry = MarginEntry("joint", (joint.name,), joint.motion, joint.unit, joint.reserve)
            yield ("joint", entry.names, joint.motion), (entry, joint.reserve or 0.0, joint.verdict)
    for rod in record.rods:
        entry = MarginEntry("rod", rod.parts, "roll", "deg", rod.free)
        yield ("rod", rod.parts, "roll"), (entry, rod.free, rod.verdict)
    for one in record.measures:
        for side in one.sides:
            entry = MarginEntry("measure", (one.name,), side.motion, one.unit, side.margin)
            kept = -1.0 if side.margin is None else side.margin
            yield ("measure", entry.names, side.motion), (entry, kept, side.verdict)
    if record.unreachable:
        entry = MarginEntry("range", (), "", "", None)
        yield ("range", (), ""), (entry, -1.0, "undecided")


def _margin_of_pair(pair: PairEntry, error: float) -> float:
    """What a pair keeps beyond what is required, mm, surfaces off as far as they may be."""
    room = -1.0 if pair.room_mm is None else pair.room_mm
    if pair.verdict == "undecided" and pair.proven_mm is not None:
        return min(room - error, pair.proven_mm - pair.required_mm)
    return room - error


def _staying(numbers: Sequence[NumberEntry], figures: Sequence[FigureEntry]) -> Iterator[tuple[str, str]]:
    """Dimensions that cannot be changed by themselves."""
    torn = {
        slope.number
        for figure in figures
        for place in figure.places
        for slope in place.slopes
        if slope.up is None or slope.down is None
    }
    for number in numbers:
        if number.refused:
            yield number.name, number.refused
        elif number.name in torn:
            yield number.name, "changed alone it pulls a loop apart that is held by more than it needs"
