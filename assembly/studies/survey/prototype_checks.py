"""The five numbers to measure on the machine that would show soonest that it is not the machine that was drawn.

Candidates are clearances and measures of the sweep at the settings that govern them, and distances between two joints.
Each number of the file may be off by some ``wrong_by``; a candidate with slopes g over them, told ± T, makes the
determinant of 1 + Σ (g wrong_by)(g wrong_by)ᵀ / T² larger, and the five are those that do it most, one after another.
The least clearance comes first in any case: it is what the verdict hangs on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import settings_of
from assembly.model.machine import Machine
from assembly.model.perturbed import Perturbations
from assembly.model.survey import Uncertain
from assembly.record import CheckWord, FigureEntry, MeasureEntry, PairEntry, PrototypeCheckEntry, Record
from assembly.studies.survey.next_reading import LEAST_APART, candidates_of, most_telling
from assembly.studies.survey.observed import ObservedMachine

TOLD = 5
SHOWN = 3
"""Numbers of the file that a check is said to show."""
WELDED = 3.0
"""mm: what a careful shop is off by in a welded point (REFERENCE: common practice, 1/8 in)."""
SHARE, LEAST_WRONG = 0.02, 0.5
"""A dimension is taken for wrong by this share of it and so much more, but by no more than ``WELDED``."""
GAP_ERROR = 0.3
"""mm: of a clearance taken with a calliper or feeler gauges."""


@dataclass(frozen=True, slots=True)
class ReadingErrors:
    """What readings are off by in 19 of 20 cases: distances and clearances in mm, angles in degrees."""

    distance: float
    angle: float

    def of(self, kind: str, unit: str) -> float:
        """That of one kind of check."""
        if unit == "deg":
            return self.angle
        return min(self.distance, GAP_ERROR) if kind == "clearance" else self.distance


@dataclass(frozen=True, slots=True, eq=False)
class _Candidate:
    """A check with its slopes (k,) over the numbers of the file; ``off_zero``: some drive is not at 0."""

    entry: PrototypeCheckEntry
    slopes: Floats
    off_zero: bool


def prototype_checks(
    machine: Machine, record: Record, figures: Sequence[FigureEntry], errors: ReadingErrors
) -> tuple[PrototypeCheckEntry, ...]:
    """The checks, the least clearance first. ``figures`` with their slopes are those of the sweep's ``record``."""
    numbers = _numbers(machine)
    every = [*_of_sweep(record, figures, numbers, errors), *_distances(machine, numbers, errors)]
    tolerances = np.array([_tolerance(machine, one) for one in numbers])
    made = [_with_tolerance(one, numbers, tolerances) for one in every]
    wrong = np.array([one.may_differ for one in numbers])
    scaled = np.array([one.slopes * wrong / one.entry.plus_minus for one in made]).reshape(len(made), len(numbers))
    first = next((k for k, one in enumerate(made) if one.entry.kind == "clearance"), None)
    return tuple(made[k].entry for k in _chosen(made, scaled, first))


def _chosen(made: Sequence[_Candidate], scaled: Floats, first: int | None) -> list[int]:
    """The places of the checks, one after another."""
    order = sorted(range(len(made)), key=lambda k: made[k].off_zero)
    at_zero = sum(not one.off_zero for one in made)
    information, chosen = np.eye(scaled.shape[1]), list[int]()
    while len(chosen) < min(TOLD, len(made)):
        if first is not None and not chosen:
            best = first
        else:
            covariance = np.asarray(np.linalg.inv(information), dtype=np.float64)
            found = most_telling(scaled[order], covariance, at_zero)
            if found is None or order[found] in chosen:
                break
            best = order[found]
        chosen.append(best)
        information = information + np.outer(scaled[best], scaled[best])
    return chosen


def _numbers(machine: Machine) -> tuple[Uncertain, ...]:
    """Every number of the file that is not worked out from others, and what it may be wrong by."""
    marked = {one.name: one.may_differ for one in machine.survey.uncertain}
    found = []
    for one in Perturbations(machine).parameters:
        if one.kind == "dimension" and one.worked_out:
            continue
        usual = WELDED if one.kind != "dimension" else min(WELDED, SHARE * abs(one.value) + LEAST_WRONG)
        found.append(Uncertain(one.name, one.place, one.value, marked.get(one.name, usual)))
    return tuple(found)


def _tolerance(machine: Machine, number: Uncertain) -> float:
    """By how much the file lets a number be off; 0 where it says nothing."""
    entry = machine.dimensions.get(number.name) if number.place[0] == "dimensions" else None
    return 0.0 if entry is None else max(map(abs, entry.limits))


def _with_tolerance(one: _Candidate, numbers: Sequence[Uncertain], tolerances: Floats) -> _Candidate:
    """The candidate with what it is told ±, and what it would show first."""
    entry = one.entry
    by_tolerances = float(np.abs(one.slopes) @ tolerances)
    total = entry.reading_error + by_tolerances + entry.surface_error
    shows = {
        number.name: total / abs(slope)
        for number, slope in zip(numbers, one.slopes.tolist(), strict=True)
        if abs(slope) * number.may_differ > total
    }
    least = dict(sorted(shows.items(), key=lambda each: each[1])[:SHOWN])
    return replace(one, entry=replace(entry, by_tolerances=by_tolerances, plus_minus=total, shows=least))


def _of_sweep(
    record: Record, figures: Sequence[FigureEntry], numbers: Sequence[Uncertain], errors: ReadingErrors
) -> Iterator[_Candidate]:
    """Clearances that were closed in on and measures, where they govern; the least clearance first."""
    pairs = {(one.a, one.b): one for one in record.pairs if one.closed_in and one.overlap is None}
    measures = {one.name: one for one in record.measures}
    for figure in sorted(figures, key=lambda one: (one.kind != "pair", one.room)):
        if not figure.places:
            continue
        slopes = {one.number: ((one.up or 0.0) + (one.down or 0.0)) / 2 for one in figure.places[0].slopes}
        row = np.array([slopes.get(one.name, 0.0) for one in numbers])
        made = _figure(figure, pairs, measures, errors)
        if made is not None:
            yield _Candidate(made, row, any(made.at.values()))


def _figure(
    figure: FigureEntry,
    pairs: Mapping[tuple[str, str], PairEntry],
    measures: Mapping[str, MeasureEntry],
    errors: ReadingErrors,
) -> PrototypeCheckEntry | None:
    at = figure.places[0].at
    if figure.kind == "pair":
        a, b = figure.names
        pair = pairs.get((a, b)) or pairs.get((b, a))
        if pair is None or pair.least_mm is None or pair.least_mm <= 0:
            return None
        error, rough = errors.of("clearance", "mm"), pair.surface_error_mm
        settings = {name: value for name, value in pair.at.items() if value}
        return _entry(f"{a}-{b}{_suffix(settings)}", "clearance", (a, b), settings, pair.least_mm, error, rough)
    measure = measures.get(figure.names[0]) if figure.kind == "measure" else None
    if measure is None:
        return None
    value = {"least": measure.least, "most": measure.most}.get(figure.motion, measure.zero)
    if value is None:
        return None
    settings = {name: each for name, each in at.items() if each}
    made = _entry(
        f"{measure.name}{_suffix(settings)}",
        "measure",
        (measure.name,),
        settings,
        value,
        errors.of("measure", measure.unit),
    )
    return replace(made, unit=measure.unit)


def _distances(machine: Machine, numbers: tuple[Uncertain, ...], errors: ReadingErrors) -> Iterator[_Candidate]:
    """Distances between two joints, or points of readings, with all drives at 0 and with one at an end."""
    observed, candidates = ObservedMachine(machine, numbers), candidates_of(machine)
    if not candidates.pairs:
        return
    expected = candidates.distances(observed.made(observed.drawn))
    slopes = observed.slopes(observed.drawn, candidates.distances, candidates.count)
    for row, value in enumerate(expected.tolist()):
        if not value >= LEAST_APART:
            continue
        setting, pair = divmod(row, len(candidates.pairs))
        first, second = (candidates.spots[k].words for k in candidates.pairs[pair])
        every = settings_of(machine, tuple(candidates.settings[setting].tolist()))
        at = {name: each for name, each in every.items() if each}
        name = f"{first}-{second}{_suffix(at)}".replace(" ", "_")
        entry = _entry(name, "distance", (first, second), at, value, errors.of("distance", "mm"))
        yield _Candidate(entry, slopes[row], bool(at))


def _suffix(at: Mapping[str, float]) -> str:
    """What tells a check at a setting from the same one with all drives at 0."""
    return "".join(f"@{name}{value:+z.1f}" for name, value in at.items())


def _entry(
    name: str,
    kind: CheckWord,
    between: tuple[str, ...],
    at: Mapping[str, float],
    expected: float,
    error: float,
    rough: float = 0.0,
) -> PrototypeCheckEntry:
    return PrototypeCheckEntry(name, kind, between, "mm", at, expected, error + rough, error, 0.0, rough, {})
