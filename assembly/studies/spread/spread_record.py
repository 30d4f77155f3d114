"""The record of a spread: every figure with what is proven of it, by slopes, by squares and by random machines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import isfinite

from assembly.clearance.tolerances.readings import Tolerance
from assembly.clearance.tolerances.worst_case import WorstCase
from assembly.model.machine import Machine
from assembly.record import (
    FORMAT,
    FigureEntry,
    JointEntry,
    MeasureEntry,
    RodEntry,
    SampledEntry,
    SpreadFigureEntry,
    SpreadRecord,
    ToleranceEntry,
    VerdictWord,
)
from assembly.studies.shared import drive_entries, machine_entry, play_entries, program_entry
from assembly.studies.spread.figures import FirstOrder, first_order_of
from assembly.studies.spread.made_anew import CONFIDENCE, MadeAnew

GRAIN = 1e-6
"""mm or degrees: a rule missed by less is kept."""
Proven = tuple[float | None, str]
"""What is proven of a margin, None for nothing, and why not more."""
UNPROVEN = "the motion is not proven in all of the range"
NO_PLAY = "what the play of joints does to it is not bounded"
HELD = 0.0
"""Margin of a rod of which it is known that it holds, and not by how much."""


@dataclass(frozen=True, slots=True, eq=False)
class WorstFigures:
    """What a sweep of the machine as built proves: of pairs, joints, rods and measures."""

    worst: WorstCase
    joints: Sequence[JointEntry] = ()
    rods: Sequence[RodEntry] = ()
    measures: Mapping[str, MeasureEntry] = field(default_factory=dict)

    def proven(self, figure: FigureEntry) -> Proven:
        """The margin that is proven of a figure."""
        if figure.kind == "stop":
            return None, "where a stop is struck is told by its slopes alone"
        if self.worst.refused or self.worst.built is None:
            return None, "; ".join(self.worst.refused)
        if figure.kind == "pair":
            return self._pair(figure)
        if figure.kind == "measure":
            return self._measure(figure)
        if self.worst.unproven_share > 0:
            return None, UNPROVEN
        if figure.kind == "joint":
            return self._joint(figure)
        return self._rod(figure) if self.worst.loose is None else (None, NO_PLAY)

    def _pair(self, figure: FigureEntry) -> Proven:
        names = set(figure.names)
        found = next((one for pair, one in self.worst.pairs.items() if {pair.a, pair.b} == names), None)
        if found is None or found.proven is None or not isfinite(found.proven):
            return None, found.why if found else "it is not checked"
        if self.worst.unproven_share > 0:
            return None, UNPROVEN
        return found.proven - (figure.required or 0.0), found.why

    def _joint(self, figure: FigureEntry) -> Proven:
        name = figure.names[0]
        why = self.worst.built.open_joints.get(name, "") if self.worst.built else ""
        found = next((one for one in self.joints if (one.name, one.motion) == (name, figure.motion)), None)
        if why or found is None:
            return None, why or "it is not bounded"
        sides = ((found.limit_high, found.proven_most, 1.0), (found.limit_low, found.proven_least, -1.0))
        left = [None if proven is None else way * (limit - proven) for limit, proven, way in sides if limit is not None]
        known = [one for one in left if one is not None]
        if not left or len(known) < len(left):
            return None, "its limit is not proven to be kept"
        if self.worst.loose is None:
            return min(known), ""
        by = self.worst.loose.get(name)
        return (None, NO_PLAY) if by is None else (min(known) - by, "")

    def keeps_joint(self, name: str) -> bool:
        """Whether a joint is proven to keep all of its limits."""
        entries = [one for one in self.joints if one.name == name]
        by = 0.0 if self.worst.loose is None else self.worst.loose.get(name)
        if not entries or by is None or any(one.verdict not in (None, "clear") for one in entries):
            return False
        sides = [
            (limit, proven, way)
            for one in entries
            for limit, proven, way in (
                (one.limit_high, one.proven_most, 1.0),
                (one.limit_low, one.proven_least, -1.0),
            )
            if limit is not None
        ]
        return not by or all(proven is not None and way * (limit - proven) >= by for limit, proven, way in sides)

    def _rod(self, figure: FigureEntry) -> Proven:
        names = set(figure.names)
        found = next((one for one in self.rods if names <= set(one.parts)), None)
        if found is None or found.verdict != "clear":
            return None, "no roll is proven to serve its ends at every setting"
        return HELD, "some roll is proven to serve its ends at every setting"

    def _measure(self, figure: FigureEntry) -> Proven:
        name = figure.names[0]
        found = self.measures.get(name)
        why = self.worst.built.open_measures.get(name, "") if self.worst.built else ""
        why = why or (NO_PLAY if self.worst.loose is not None else "")
        if why or found is None:
            return None, why or "it is not bounded"
        if figure.motion == "value":
            return None, ""
        if self.worst.unproven_share > 0:
            return None, UNPROVEN
        end, limit = (
            (found.proven_least, found.limit_low) if figure.motion == "least" else (found.proven_most, found.limit_high)
        )
        if end is None or limit is None:
            return None, found.why
        return (end - limit if figure.motion == "least" else limit - end), ""

    def range_of(self, figure: FigureEntry) -> tuple[float, float] | None:
        """What a measure is proven to stay between at every setting."""
        found = self.measures.get(figure.names[0]) if figure.kind == "measure" else None
        if found is None or found.proven_least is None or found.proven_most is None or self.worst.built is None:
            return None
        if figure.names[0] in self.worst.built.open_measures or self.worst.unproven_share > 0:
            return None
        if self.worst.loose is not None:
            return None
        return found.proven_least, found.proven_most

    def taken_of(self, figure: FigureEntry) -> tuple[float, float]:
        """What of a pair's bound the growth of its shapes and the play of joints take off, mm."""
        pairs = self.worst.pairs.items()
        found = (one for pair, one in pairs if {pair.a, pair.b} == set(figure.names))
        return next(((one.growth, one.play) for one in found), (0.0, 0.0))


@dataclass(frozen=True, slots=True, eq=False)
class SpreadFound:
    """All that a spread rests on, of one machine."""

    machine: Machine
    nominal: tuple[VerdictWord, str]
    tolerances: Sequence[Tolerance]
    anew: MadeAnew
    worst: WorstFigures
    sampled: Sequence[SampledEntry | None]
    machines: int
    seed: int
    others: Sequence[str] = ()
    """What is open of pairs that are no figures, in words."""

    def record(self) -> SpreadRecord:
        """The record, the figure with the least margin first."""
        figures = [
            self._figure(number, figure, one)
            for number, (figure, one) in enumerate(zip(self.anew.figures, self.sampled, strict=True))
        ]
        verdict, reason = self._verdict(figures)
        return SpreadRecord(
            format=FORMAT,
            kind="spread",
            program=program_entry(),
            machine=machine_entry(self.machine),
            drives=drive_entries(self.machine),
            verdict=verdict,
            reason=reason,
            tolerances=tuple(
                ToleranceEntry(one.name, one.value, one.low, one.high, one.general) for one in self.tolerances
            ),
            figures=tuple(figures),
            refused=self.worst.worst.refused,
            seed=self.seed,
            machines=self.machines,
            confidence=CONFIDENCE,
            unproven_share=self.worst.worst.unproven_share,
            play=play_entries(self.machine),
        )

    def _figure(self, number: int, figure: FigureEntry, sampled: SampledEntry | None) -> SpreadFigureEntry:
        slopes = first_order_of(figure, self.tolerances)
        proven, why = self.worst.proven(figure)
        shown = self._shown(number, figure, slopes)
        growth, play = self.worst.taken_of(figure) if figure.kind == "pair" and proven is not None else (0.0, 0.0)
        return SpreadFigureEntry(
            kind=figure.kind,
            names=figure.names,
            motion=figure.motion,
            unit=figure.unit,
            required=figure.required,
            nominal=figure.room,
            at=figure.places[0].at if figure.places else {},
            proven=proven,
            why=why,
            shown=shown,
            off=slopes.off,
            by_slopes=figure.room - slopes.worst,
            root_sum=slopes.root_sum,
            middle=slopes.middle,
            sampled=sampled,
            shares=slopes.shares,
            verdict=_judged(figure, proven, shown),
            growth=growth,
            play=play,
            range=self.worst.range_of(figure),
        )

    def _shown(self, number: int, figure: FigureEntry, slopes: FirstOrder) -> float | None:
        """The margin at the worst machine by the slopes, made anew; None where it is not known."""
        if not figure.places or figure.kind in ("stop", "rod"):
            return None
        value = self.anew.values([slopes.off.get(one.name, 0.0) for one in self.tolerances])[number]
        return float(value) if isfinite(value) else None

    def _verdict(self, figures: Sequence[SpreadFigureEntry]) -> tuple[VerdictWord, str]:
        if self.nominal[0] == "fails":
            return "fails", f"as drawn: {self.nominal[1]}"
        failing = [one for one in figures if one.verdict == "fails"]
        if failing:
            told = " and ".join(failing[0].names)
            return (
                "fails",
                f"{len(failing)} of {_rules(figures)} rules can be broken within the tolerances: {told} first",
            )
        if self.worst.worst.refused:
            return "undecided", self.worst.worst.refused[0]
        if self.nominal[0] != "clear":
            return "undecided", f"as drawn: {self.nominal[1]}"
        opened = [one for one in figures if one.verdict == "undecided"]
        if opened or self.others:
            told = f"{' and '.join(opened[0].names)}: {opened[0].why}" if opened else self.others[0]
            return "undecided", f"{len(opened) + len(self.others)} rules are not proven within the tolerances; {told}"
        if self.worst.worst.unproven_share > 0:
            return "undecided", UNPROVEN
        loose = "wherever joints stand in their play" if self.worst.worst.loose is not None else ""
        off = f"whatever the dimensions are within their tolerances; {ASSUMED}" if self.tolerances else ""
        return "clear", f"every rule is proven to hold {' and '.join(one for one in (loose, off) if one)}"


ASSUMED = "products and sines of them are assumed to stay within twice what they come to at the ends"


def _rules(figures: Sequence[SpreadFigureEntry]) -> int:
    return sum(one.verdict is not None for one in figures)


def _judged(figure: FigureEntry, proven: float | None, shown: float | None) -> VerdictWord | None:
    if figure.verdict is None:
        return None
    if figure.verdict == "fails" or (shown is not None and shown < -GRAIN):
        return "fails"
    if proven is None or (figure.kind == "pair" and proven + (figure.required or 0.0) <= 0):
        return "undecided"
    return "clear" if proven >= -GRAIN else "undecided"
