"""Left against right: numbers that were fitted on both sides, and readings that were taken on both, in the mirror."""

from __future__ import annotations

from collections.abc import Iterator
from math import hypot, isfinite

from assembly.model.feature import Feature
from assembly.model.measure_reader import flip_feature
from assembly.model.mirror import Mirror
from assembly.model.positions import Place
from assembly.model.survey import Observation
from assembly.record import SidesEntry
from assembly.studies.survey.adjustment import Adjustment
from assembly.studies.survey.observed import ObservedMachine

ACROSS = 1
"""The coordinate that the mirror turns round."""
SAME = 1e-6
"""mm: features that differ by less are one."""


def two_sides(observed: ObservedMachine, solution: Adjustment) -> tuple[SidesEntry, ...]:
    """Every number and reading of one side beside that of the other."""
    return (*_numbers(observed, solution), *_readings(observed))


def _numbers(observed: ObservedMachine, solution: Adjustment) -> Iterator[SidesEntry]:
    mirror, places = observed.mirror, [one.place for one in observed.uncertain]
    for k, one in enumerate(observed.uncertain):
        across = _place_across(mirror, one.place)
        if across is None or across not in places[k + 1 :]:
            continue
        other = places.index(across)
        sign = -1.0 if one.place[-1] == ACROSS else 1.0
        fitted, drawn = (float(each[k] - sign * each[other]) for each in (solution.numbers, solution.drawn))
        error = hypot(float(solution.errors[k]), float(solution.errors[other]))
        names = one.name, observed.uncertain[other].name
        yield SidesEntry("number", *names, "mm", fitted, drawn, error if isfinite(error) else None)


def _place_across(mirror: Mirror, place: Place) -> Place | None:
    """Where the file has the same of the other side; None where it has no such thing: dimensions have no sides."""
    if place[0] == "dimensions":
        return None
    other = tuple(mirror.other_side(step) if isinstance(step, str) else step for step in place)
    return None if other == place else other


def _readings(observed: ObservedMachine) -> Iterator[SidesEntry]:
    mirror, every = observed.mirror, list(observed.observations)
    values = observed.values(observed.drawn)
    for k, one in enumerate(every):
        for number in range(k + 1, len(every)):
            other = every[number]
            if _twins(mirror, one, other):
                error = hypot(one.plus_minus, other.plus_minus)
                drawn = float(values[k] - values[number])
                apart = one.reading - other.reading
                yield SidesEntry("reading", one.name, other.name, one.measure.unit, apart, drawn, error)


def _twins(mirror: Mirror, one: Observation, other: Observation) -> bool:
    """Whether two readings with all drives at 0 are of the same on either side."""
    if one.measure.kind is not other.measure.kind or any(one.at.values()) or any(other.at.values()):
        return False
    if one.measure.axis or other.measure.axis:
        return False
    flipped = [flip_feature(mirror, each) for each in one.measure.features]
    own = list(other.measure.features)
    parts = {each.part for each in (*flipped, *own)}
    across = any(mirror.other_side(part) != part for part in parts) or _sided(one, flipped)
    return across and (_alike(flipped, own) or _alike(flipped, own[::-1]))


def _sided(one: Observation, flipped: list[Feature]) -> bool:
    """Whether the mirror takes a reading somewhere else."""
    return not _alike(list(one.measure.features), flipped)


def _alike(features: list[Feature], others: list[Feature]) -> bool:
    return len(features) == len(others) and all(
        a.part == b.part and a.kind is b.kind and _near(a.at, b.at) and _near(a.along, b.along)
        for a, b in zip(features, others, strict=True)
    )


def _near(a: tuple[float, ...] | None, b: tuple[float, ...] | None) -> bool:
    if a is None or b is None:
        return a is b
    return all(abs(x - y) <= SAME for x, y in zip(a, b, strict=True))
