"""What a file says with its dimensions at the ends of their tolerances, and bounds on all that lies between.

A number of the file is a function of the dimensions p, which lie in a box. It is enclosed by

    value(p) = value(0) + G p + e,    |e| <= rest,

with G the slopes between the ends of each tolerance. What is straight in every dimension has no rest. Of the rest of
others the share of one dimension is measured at its ends and halfway, and that of each two, and of all, together where
they are at their farther ends. *Assumed*: of these smooth functions the sum of all shares, doubled, holds what lies
between and what is of higher order. Arithmetic that is not smooth is told (``bent_texts``), and nothing is proven.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from assembly.errors import InputError
from assembly.geometry.mesh import Floats
from assembly.model.arithmetic import bent_names_in, names_in
from assembly.model.machine import Machine
from assembly.model.perturbed import Perturbations, Reading
from assembly.model.positions import Place
from assembly.model.source import tables_of

SURE = 2.0
"""How many times the measured shares hold what is not straight."""
STRAIGHT = 1e-9
"""mm: rests below are rounding."""

Numbers = Callable[[Reading], Floats]
"""Some numbers of a reading, as one array of a fixed shape."""


@dataclass(frozen=True, slots=True)
class Tolerance:
    """A dimension of the file that lies between ``low`` and ``high`` of its ``value``, the lower not above 0.

    ``text`` is what stands in the file, ``general`` the class that the tolerance is from, if it states none.
    """

    name: str
    value: float
    text: str
    low: float
    high: float
    general: str = ""

    @property
    def place(self) -> Place:
        """Where the file has it."""
        return ("dimensions", self.name)

    @property
    def ends(self) -> tuple[float, float]:
        """Both ends of what is looked at: the value as drawn lies between them."""
        return min(self.low, 0.0), max(self.high, 0.0)

    @property
    def farther(self) -> float:
        """The end that lies farther off."""
        low, high = self.ends
        return high if high >= -low else low

    @property
    def reach(self) -> float:
        """How far off it may be."""
        return abs(self.farther)

    def off_by(self, change: float) -> float | str:
        """What stands in the file where the dimension is ``change`` off."""
        return f"({self.text}) + ({change!r})" if self.text else self.value + change


def tolerances_of(machine: Machine) -> tuple[Tolerance, ...]:
    """The dimensions of ``machine`` that have a tolerance, in the order of the file."""
    entries = machine.dimensions.items()
    every = (Tolerance(name, one.value, one.text, *one.limits, one.general) for name, one in entries)
    return tuple(one for one in every if one.low or one.high)


@dataclass(frozen=True, slots=True, eq=False)
class DimensionBound:
    """Numbers as functions of k dimensions: ``value`` (...), ``slopes`` (k, ...) and ``rest`` (...), not negative."""

    value: Floats
    slopes: Floats
    rest: Floats

    @property
    def movers(self) -> list[int]:
        """The dimensions that anything here depends on."""
        return [number for number, slope in enumerate(self.slopes) if np.any(slope)]


@dataclass(frozen=True, eq=False)
class Readings:
    """Readings of the file of ``machine`` with some of its ``tolerances`` used up.

    Raises InputError for a machine that no file describes.
    """

    machine: Machine
    tolerances: tuple[Tolerance, ...]
    perturbations: Perturbations = field(init=False)
    _made: dict[tuple[tuple[int, float], ...], Reading] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "perturbations", Perturbations(self.machine))

    @property
    def base(self) -> Reading:
        """The file as it is."""
        return self.perturbations.base

    def at(self, changes: Mapping[int, float]) -> Reading:
        """The file with dimensions, by their numbers, so much off. InputError where it cannot be read so."""
        key = tuple(sorted(changes.items()))
        if not key:
            return self.base
        if key not in self._made:
            numbers = {self.tolerances[k].place: self.tolerances[k].off_by(change) for k, change in key}
            self._made[key] = self.perturbations.reading(numbers)
        return self._made[key]

    def samples(self, number: int) -> tuple[float, ...]:
        """Where one dimension is looked at: the ends of its tolerance and halfway."""
        low, high = self.tolerances[number].ends
        return tuple(change for change in (low, high, low / 2, high / 2) if change)

    def together(self, *numbers: int) -> dict[int, float]:
        """Some dimensions at their farther ends."""
        return {number: self.tolerances[number].farther for number in numbers}

    def enclosure(self, of: Numbers) -> DimensionBound:
        """What the numbers ``of`` a reading come to anywhere in the box of the dimensions."""
        return enclosed(self, lambda changes: of(self.at(changes)))


def enclosed(readings: Readings, at: Callable[[Mapping[int, float]], Floats]) -> DimensionBound:
    """The enclosure of what ``at`` gives for dimensions that are so much off; each time an array of one shape."""
    value = at({})
    single: list[dict[float, Floats]] = []
    slopes = np.zeros((len(readings.tolerances), *value.shape))
    rest = np.zeros(value.shape)
    for number, one in enumerate(readings.tolerances):
        found = {change: at({number: change}) - value for change in readings.samples(number)}
        low, high = one.ends
        slopes[number] = (found.get(high, 0.0) - found.get(low, 0.0)) / (high - low)
        slopes[number][np.abs(slopes[number]) * one.reach <= STRAIGHT] = 0.0
        rest += np.max([np.abs(off - slopes[number] * change) for change, off in found.items()], axis=0)
        single.append(found)
    # A dimension that alone moves nothing may still scale what another moves, as the arm of a lean that is drawn at 0.
    for first, second in combinations(range(len(single)), 2):
        rest += _beyond_alone(readings.together(first, second), value, single, at)
    if len(single) > 2:
        rest += _beyond_alone(readings.together(*range(len(single))), value, single, at)
    return DimensionBound(value, slopes, np.where(rest <= STRAIGHT, 0.0, SURE * rest))


def _beyond_alone(
    changes: Mapping[int, float],
    value: Floats,
    single: Sequence[Mapping[float, Floats]],
    at: Callable[[Mapping[int, float]], Floats],
) -> Floats:
    """What dimensions that are off by ``changes`` together do beyond what each of them does alone."""
    return np.asarray(np.abs(at(changes) - value - sum(single[number][change] for number, change in changes.items())))


def bent_texts(machine: Machine, tolerances: tuple[Tolerance, ...]) -> tuple[str, ...]:
    """Arithmetic of the file in which a dimension with a tolerance stands inside a function with kinks or jumps."""
    if machine.origin is None:
        return ()
    varying = _varying(machine, {one.name for one in tolerances})
    texts = dict.fromkeys(_texts(tables_of(machine.origin.source)))
    return tuple(text for text in texts if _bent(text) & varying)


def uncounted_lengths(machine: Machine) -> tuple[str, ...]:
    """Parts that write a tolerance beside a length of their own, which is none of a dimension."""
    parts = tables_of(machine.origin.source).get("parts", {}) if machine.origin is not None else {}
    return tuple(name for name, part in parts.items() if _states(part) or _states(part.get("set_length")))


def _states(table: object) -> bool:
    """Whether a table, or one of a list of tables, has a tolerance."""
    tables = table if isinstance(table, list) else [table]
    return any(isinstance(one, Mapping) and "plus_minus" in one for one in tables)


def _varying(machine: Machine, own: set[str]) -> set[str]:
    """All dimensions that lean on ``own``, these too."""
    leans = {name: names_in(entry.text) for name, entry in machine.dimensions.items() if entry.text}
    while more := {name for name, used in leans.items() if name not in own and used & own}:
        own = own | more
    return own


def _bent(text: str) -> frozenset[str]:
    try:
        return bent_names_in(text)
    except InputError:
        return frozenset()


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for each in value.values():
            yield from _texts(each)
    elif isinstance(value, list | tuple):
        for each in value:
            yield from _texts(each)
