"""What is to be varied, as it is asked for: ``arm=190:210:5``, ``spacer=0,1,2 washers of 1.5``, or lists of sets."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from itertools import product
from math import prod

from assembly.errors import Fault, InputError
from assembly.model.fault_list import shown
from assembly.model.thread_standards import COARSE
from assembly.model.variation import DIGITS, Variable, Variables
from assembly.record import VariedEntry

MOST = 2000
"""Variants of one run."""
LARGEST = Decimal(10) ** 9
HOW = "such as arm=190:210:5, arm=190,200 or spacer=0,1,2"
FEWER = "take larger steps, or vary fewer numbers at once"
EVERY = "all"
"""Stands for every value that the file says a dimension may be."""
_UNIT = re.compile(
    r"^(?P<values>.*?)\s+(?P<unit>half\s+turns?|turns?|washers?|spacers?|steps?)(?:\s+of\s+(?P<size>\S+))?$"
)
_TURNS = {"turn": 1.0, "half turn": 0.5}


@dataclass(frozen=True, slots=True)
class VariedValues:
    """One number, and the values that it takes one after another, in mm or as the number is.

    ``counted`` and ``step``: where they were asked for in steps from what the file has, what a step is.
    """

    variable: Variable
    values: tuple[float, ...]
    counted: str = ""
    step: float = 0.0

    @property
    def entry(self) -> VariedEntry:
        """What the record says of it."""
        one = self.variable
        return VariedEntry(one.name, one.kind, one.value, one.line, self.counted, self.step)


@dataclass(frozen=True, slots=True)
class AskedVariant:
    """One set of numbers, with what the builder calls it, if anything."""

    values: Mapping[Variable, float]
    name: str = ""


@dataclass(frozen=True, slots=True)
class AskedVariants:
    """The machine as the file has it, and all sets that differ from it and from each other, in order."""

    varied: tuple[VariedEntry, ...]
    sets: tuple[AskedVariant, ...]


def all_combinations(variables: Variables, wanted: Sequence[str]) -> AskedVariants:
    """Every value of each of ``wanted`` with every value of the others, the last varied quickest.

    Raises InputError, for every one that is wrong at once.
    """
    faults: list[Fault] = []
    given: list[VariedValues] = []
    for text in wanted:
        try:
            given.append(_varied(variables, text))
        except InputError as error:
            faults += error.faults
    names = [one.variable.name for one in given]
    faults += [Fault(f"{shown(name)} is varied twice", hint="give each number one --vary") for name in _twice(names)]
    if faults:
        raise InputError(*faults)
    check_number(prod(len(one.values) for one in given))
    every = product(*(one.values for one in given))
    sets = [AskedVariant(dict(zip((one.variable for one in given), values, strict=True))) for values in every]
    return AskedVariants(tuple(one.entry for one in given), without_doubles(sets, [one.variable for one in given]))


def given_sets(variables: Variables, sets: Iterable[tuple[str, Mapping[str, float]]]) -> AskedVariants:
    """Sets of numbers by name, each with what it is called. Numbers that a set does not name stay as in the file.

    Raises InputError.
    """
    given = list(sets)
    check_number(len(given))
    names = list(dict.fromkeys(name for _, numbers in given for name in numbers))
    faults: list[Fault] = []
    known: dict[str, Variable] = {}
    for name in names:
        try:
            known[name] = variables.named(name)
        except InputError as error:
            faults += error.faults
    if not names and not faults:
        faults.append(Fault("no number is varied", hint="name at least one number with a value"))
    if faults:
        raise InputError(*faults)
    every = [
        AskedVariant({known[name]: float(numbers.get(name, known[name].value)) for name in names}, called)
        for called, numbers in given
    ]
    varied = tuple(VariedValues(one, ()).entry for one in known.values())
    return AskedVariants(varied, without_doubles(every, list(known.values())))


def check_number(number: int) -> None:
    """InputError for more variants than one run makes."""
    if number > MOST:
        raise InputError(Fault(f"that makes {number} variants; at most {MOST} can be made at once", hint=FEWER))


def without_doubles(sets: Iterable[AskedVariant], variables: Sequence[Variable]) -> tuple[AskedVariant, ...]:
    """The sets that are neither the file's own nor as one before them; the file's own comes first."""
    own = AskedVariant({one: one.value for one in variables}, "as in the file")
    kept = {tuple(own.values.values()): own}
    for one in sets:
        kept.setdefault(tuple(one.values.values()), one)
    return tuple(kept.values())


def _twice(names: Sequence[str]) -> list[str]:
    return sorted({name for name in names if names.count(name) > 1})


def _varied(variables: Variables, text: str) -> VariedValues:
    """``NAME=VALUES``, or ``NAME=COUNTS UNIT of SIZE`` for what is counted from what the file has."""
    name, equals, rest = text.partition("=")
    if not equals or not name.strip() or not rest.strip():
        raise InputError(Fault(f"{shown(text)} is not NAME=VALUES", hint=f"write {HOW}"))
    variable = variables.named(name.strip())
    if rest.strip() == EVERY:
        return VariedValues(variable, _choices(variable))
    counted = _UNIT.match(rest.strip())
    values = _values(text, counted["values"] if counted else rest)
    if counted is None:
        if variable.kind == "joint":
            hint = f"write {variable.name}=1,2 washers of 1.5 for one or two of 1.5 mm"
            raise InputError(Fault(f"{shown(text)} does not say how thick a washer is", hint=hint))
        return VariedValues(variable, tuple(map(float, values)))
    unit = " ".join(counted["unit"].split()).removesuffix("s")
    step = _step(text, variable, unit, counted["size"])
    start = Decimal(repr(variable.value))
    made = tuple(round(float(start + each * step), DIGITS) for each in values)
    return VariedValues(variable, made, f"{unit}s of {step.normalize():zf} mm", float(step))


def _choices(variable: Variable) -> tuple[float, ...]:
    """All that the file says a number may be."""
    if not variable.choices:
        hint = f"mark it by `sizes`, or by `may_be` and `step`; or write {variable.name}=FROM:TO:STEP"
        raise InputError(Fault(f"the file has no list of what {shown(variable.name)} may be", hint=hint))
    check_number(len(variable.choices))
    return variable.choices


def _values(text: str, given: str) -> list[Decimal]:
    """The numbers of a list, or of a range ``FROM:TO:STEP``, its end among them where the steps come to it."""
    pieces = given.split(":")
    if len(pieces) == 1:
        return [_number(text, piece) for piece in given.split(",")]
    if len(pieces) != 3:
        raise InputError(Fault(f"{shown(text)} is not FROM:TO:STEP", hint=f"write {HOW}"))
    start, end, step = (_number(text, piece) for piece in pieces)
    if not step:
        raise InputError(Fault(f"{shown(text)} has a step of 0", hint="give the step by which it goes on"))
    steps = (end - start) / step
    if steps < 0:
        hint = f"write {start}:{end}:{-step}"
        told = f"{shown(text)} is empty: a step of {step} leads from {start} away from {end}"
        raise InputError(Fault(told, hint=hint))
    check_number(int(steps) + 1)
    return [start + number * step for number in range(int(steps) + 1)]


def _number(text: str, piece: str) -> Decimal:
    try:
        number = Decimal(piece.strip())
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite() or abs(number) > LARGEST or (number and number.adjusted() < -DIGITS):
        given = shown(piece.strip()) if piece.strip() else "nothing"
        raise InputError(Fault(f"{given} in {shown(text)} is not a number", hint=f"write {HOW}"))
    return number


def _step(text: str, variable: Variable, unit: str, size: str | None) -> Decimal:
    """What one turn, washer or step makes, mm: as given, or as the file has it."""
    share = Decimal(str(_TURNS.get(unit, 1.0)))
    if size is not None:
        pitch = COARSE.get(size.upper()) if unit in _TURNS else None
        given = Decimal(str(pitch)) if pitch is not None else _number(text, size)
        if given <= 0:
            raise InputError(Fault(f"{shown(text)} has {unit}s of {size}", hint="give what one of them makes in mm"))
        return share * given
    own = variable.pitch if unit in _TURNS else variable.step
    if own is None:
        what, such = ("the pitch of the thread", "M8") if unit in _TURNS else ("how much one is", "1.5")
        hint = f"write {text.strip()} of {such}"
        raise InputError(Fault(f"{shown(text)} does not say {what}", hint=hint))
    return share * Decimal(repr(own))
