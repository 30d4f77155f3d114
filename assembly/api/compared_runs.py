"""Two runs side by side, each kept in the history, in a file, or made now."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from assembly.api.kept_runs import Note, existing, machine_key
from assembly.api.loading import load
from assembly.errors import Fault, InputError
from assembly.history import compare
from assembly.model.machine import Machine
from assembly.record import Comparison, Record, load_record

RECORD_SUFFIX = ".json"
MOST_DIGITS = 30


@dataclass(frozen=True, slots=True)
class _Run:
    """A record, how it is called, and, where it is known, by what its machine goes and its number in the history."""

    record: Record
    told: str
    key: str = ""
    number: int | None = None


@dataclass(frozen=True, slots=True)
class RunSources:
    """Where runs come from: the history's file, or a sweep of a mechanism file."""

    history: Path
    sweep: Callable[[Machine], Record]
    note: Note

    def compared(self, words: Sequence[str], shrank_mm: float) -> Comparison:
        """What is not as it was from the first to the second of ``words``; one goes against its last good run.

        Each is the number of a kept run, a record in JSON, or a mechanism file. Raises InputError if one is none.
        """
        if len(words) > 2:
            raise InputError(Fault(f"{len(words)} runs are given", hint="give two, or one against the last good run"))
        before, now = map(self._run, words) if len(words) == 2 else self._against_last_good(words[0])
        return compare(before.record, now.record, shrank_mm=shrank_mm, told=(before.told, now.told))

    def _against_last_good(self, word: str) -> tuple[_Run, _Run]:
        """The last kept run before ``word`` of the same machine that was clear, and ``word`` itself."""
        if word.endswith(RECORD_SUFFIX):
            hint = "give both runs: swingroom compare BEFORE.json NOW.json"
            raise InputError(Fault(f"{word} does not say which machine's last good run is meant", hint=hint))
        if (number := _number(word)) is not None:
            now = self._kept(number)
            return self._kept(self._last_good(now.key, now.number)), now
        machine = load(Path(word))
        before = self._kept(self._last_good(machine_key(Path(word))))
        return before, self._swept(machine, word)

    def _last_good(self, key: str, before: int | None = None) -> int:
        with existing(self.history, self.note) as history:
            number = history.last(key, good=True, before=before)
        if number is None:
            named = "name one of `swingroom history`: swingroom compare RUN FILE"
            hint = f"keep one with `swingroom sweep FILE --keep`, or {named}"
            earlier = "" if before is None else f" before run {before}"
            raise InputError(Fault(f"no kept run of {key}{earlier} was clear", hint=hint))
        return number

    def _run(self, word: str) -> _Run:
        if (number := _number(word)) is not None:
            return self._kept(number)
        if word.endswith(RECORD_SUFFIX):
            return _Run(load_record(Path(word)), word)
        return self._swept(load(Path(word)), word)

    def _kept(self, number: int) -> _Run:
        with existing(self.history, self.note) as history:
            return _Run(history.record(number), f"run {number}", history.entry(number).key, number)

    def _swept(self, machine: Machine, file: str) -> _Run:
        return _Run(self.sweep(machine), f"{file} as it is")


def _number(word: str) -> int | None:
    """The number of a run, None if the word is a file; no run has as many digits as are read of it."""
    return int(word[:MOST_DIGITS]) if word.isascii() and word.isdigit() else None
