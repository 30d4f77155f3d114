"""Gathering what is wrong with a mechanism file: places, nearest names, and one error with all faults."""

from __future__ import annotations

import bisect
import difflib
import re
from collections.abc import Collection, Iterable
from functools import lru_cache
from itertools import islice, pairwise

from assembly.errors import Fault, InputError
from assembly.model.positions import Place, Positions

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_LONGEST_NAME = 300
_LEAST_PIECE = 3
_LONGEST_SHOWN = 60
_MOST_LISTED = 12
MOST_TOLD = 50
"""Faults of one file that are reported in full; later ones are only counted, so that a long file does not take long."""
MOST_COUNTED = 4000
"""Faults beyond those that are told; with so many the rest of the file is not read any more."""
_MOST_COMPARED = 60
"""Names that are compared letter by letter with a misspelt one."""


def place_text(place: Place) -> str:
    """``place`` as it would be written: ``parts.frame.shapes[2].diameter``, odd names in quotes."""
    text = ""
    for step in place:
        if isinstance(step, int):
            text += f"[{step}]"
        else:
            text += "." * bool(text) + (step if _BARE_KEY.fullmatch(step) else f'"{_printable(step)}"')
    return text


def shown(value: object) -> str:
    """A value of the file in backticks, cut where it is long, control characters made visible."""
    text = {True: "true", False: "false"}.get(value, str(value)) if isinstance(value, bool) else str(value)
    text = _printable(text)
    return f"`{text if len(text) <= _LONGEST_SHOWN else text[:_LONGEST_SHOWN] + '…'}`"


def given(value: object) -> str:
    """What stands in the file, for a message: a list by its length, a table as such, anything else itself."""
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, dict):
        return "a table"
    return f"the text {shown(value)}" if isinstance(value, str) else shown(value)


def listed(names: Iterable[str]) -> str:
    """Names in backticks, the first dozen of them."""
    every = list(names)
    more = f" and {len(every) - _MOST_LISTED} more" if len(every) > _MOST_LISTED else ""
    return ", ".join(shown(name) for name in every[:_MOST_LISTED]) + more


def nearest(name: str, known: Iterable[str], what: str) -> str:
    """The hint for an unknown name: the known one that looks most like it, else the known ones."""
    every = list(known)
    close = closest(name, every)
    if close is not None:
        return f"the nearest of the {what} is {shown(close)}"
    return f"{what} of this file: {listed(every)}" if every else f"this file has no {what}"


def nearest_key(given_keys: Iterable[str], known: Collection[str]) -> str:
    """The hint for a table that has none of the ``known`` keys of which it needs one."""
    near = next((key for key in (closest(one, known) for one in islice(given_keys, MOST_TOLD)) if key), None)
    return f"the nearest is {shown(near)}" if near else f"one of these keys is needed: {listed(known)}"


def comma_hint(value: object, wanted: int | None) -> str:
    """The hint for a list that is longer than ``wanted`` because a decimal comma may have split a number."""
    if not isinstance(value, list) or wanted is None or not wanted < len(value) <= 2 * wanted:
        return ""
    split = any(type(whole) is int and type(rest) is int and rest >= 0 for whole, rest in pairwise(value))
    return "for decimals use a point: 12.5, not 12,5" if split else ""


def closest(name: str, known: Iterable[str]) -> str | None:
    """The known name that looks most like ``name``, or None where none does."""
    every = list(known)
    if not every:
        return None
    found = difflib.get_close_matches(name[:_LONGEST_NAME], _alike(name, every), n=1, cutoff=0.6)
    if not found and len(name) >= _LEAST_PIECE:
        return next((other for other in every if name in other), None)
    return found[0] if found else None


def _alike(name: str, every: list[str]) -> list[str]:
    """Of many names those that begin, and those that end, most like ``name``: its neighbours in the alphabet."""
    if len(every) <= _MOST_COMPARED:
        return every
    forwards, backwards = _ranked(tuple(every))
    return [*_neighbours(name, forwards), *(other[::-1] for other in _neighbours(name[::-1], backwards))]


@lru_cache(maxsize=2)
def _ranked(names: tuple[str, ...]) -> tuple[list[str], list[str]]:
    """``names`` in the order of the alphabet, and the same with each read backwards."""
    return sorted(names), sorted(name[::-1] for name in names)


def _neighbours(name: str, ranked: list[str]) -> list[str]:
    place = bisect.bisect(ranked, name)
    return ranked[max(0, place - _MOST_COMPARED // 4) : place + _MOST_COMPARED // 4]


def _printable(text: str) -> str:
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text)


class FaultLog:
    """Every fault of one file. ``marks`` also counts values lost to a fault told elsewhere."""

    def __init__(self, file: str, positions: Positions) -> None:
        self._file = file
        self._positions = positions
        self._faults: list[Fault] = []
        self._faulty: set[Place] = set()
        """The places of all faults, and of what they lie in."""
        self._more = 0
        self.marks = 0

    def add(self, place: Place, message: str, hint: str = "") -> None:
        """Note one fault at ``place``; as ``count`` where the log is full."""
        if self.is_full:
            self.count(place, 1)
            return
        self.marks += 1
        self._mark(place)
        self._faults.append(Fault(message, place_text(place), self._file, self.line(place), hint))

    def count(self, place: Place, number: int) -> None:
        """Count faults in what stands at ``place``, of a log that is full; raises ``error`` where they are too many."""
        self.marks += number
        self._more += number
        if self._more >= MOST_COUNTED:
            raise self.error()
        self._mark(place)

    def _mark(self, place: Place) -> None:
        """Note that ``place`` is faulty, and all that it lies in."""
        for length in range(len(place), -1, -1):
            if place[:length] in self._faulty:
                return
            self._faulty.add(place[:length])

    @property
    def is_full(self) -> bool:
        """Whether further faults are only counted: then solids need not be made, nor mesh files read."""
        return len(self._faults) >= MOST_TOLD

    def empty(self) -> FaultLog:
        """A log of the same file without faults, for what is tried."""
        return FaultLog(self._file, self._positions)

    def line(self, place: Place) -> int | None:
        """The line of ``place`` in the file, or of the nearest table round it; None where it is not there."""
        return self._positions.line(place)

    def knows(self, name: str, known: Collection[str], what: str, place: Place) -> bool:
        """Whether ``name`` is one of the ``known``; a fault where it is not."""
        if name not in known:
            self.add(place, f"unknown {what} {shown(name)}", self.nearest(name, known, f"{what}s"))
        return name in known

    def nearest(self, name: str, known: Iterable[str], what: str) -> str:
        """The hint ``nearest``, which is not looked for where nobody will see it."""
        return "" if self.is_full else nearest(name, known, what)

    def check_names(self, names: Iterable[str], what: str, place: Place) -> None:
        """A fault for every key below ``place`` that could not be printed on one line of a report."""
        for name in names:
            self.check_name(name, what, (*place, name))

    def check_name(self, name: str, what: str, place: Place) -> None:
        """A fault where ``name``, given at ``place``, could not be printed on one line of a report."""
        reason = ""
        if not name.strip():
            reason = f"the name of a {what} is empty"
        elif len(name) > _LONGEST_NAME:
            reason = f"the name of a {what} has {len(name)} characters"
        elif not name.isprintable():
            reason = f"the name of a {what} holds a character that cannot be printed"
        if reason:
            self.add(place, reason, f"names are 1 to {_LONGEST_NAME} letters, digits, _, - and spaces")

    def add_fault(self, place: Place, fault: Fault) -> None:
        """Note a fault raised by code that does not know the file, at ``place``."""
        self.add(place, fault.message, fault.hint)

    def pass_over(self) -> None:
        """A value cannot be known because of a fault that is already told; whatever needs it is left out."""
        self.marks += 1

    def has_faults(self, place: Place) -> bool:
        """Whether a fault was noted at ``place`` or inside it."""
        return place in self._faulty

    def error(self) -> InputError:
        """The error with every fault, in the order of the lines."""
        told = sorted(self._faults, key=lambda fault: fault.line or 0)
        hint = f"mend the first {MOST_TOLD} and read the file again"
        rest = f"and at least {self._more} more faults" if self._more else "and perhaps more"
        more = [Fault(rest, file=self._file, hint=hint)] if self.is_full else []
        return InputError(*told, *more)

    def raise_if_full(self) -> None:
        """Raise ``error`` where no further fault would be told: what comes after would only be counted."""
        if self.is_full:
            raise self.error()

    def raise_faults(self) -> None:
        """Raise ``error`` where there is a fault."""
        if self._faults:
            raise self.error()
