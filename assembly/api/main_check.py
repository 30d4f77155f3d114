"""The main job: every pair, joint and rod of one machine over the whole range, as a result that knows its record.

A result shows itself in few lines at a prompt and in a notebook.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from assembly.api.cores import all_cores
from assembly.api.picture_scenes import MakeScene, nearest_scene
from assembly.api.swept_figures import with_figures
from assembly.cache.sealed_rows import cache_path
from assembly.cache.sqlite_cache import open_memory
from assembly.clearance.narrow_phase.pair_result import Effort as Effort
from assembly.clearance.proof.sweep import STOPPED_BY_HAND
from assembly.errors import Fault, InputError
from assembly.history import SHRANK_MM, compare
from assembly.model.fault_list import nearest
from assembly.model.machine import Machine
from assembly.progress import Progress, no_progress
from assembly.record import Comparison, PairEntry, Record, json_text, save
from assembly.report.text.sweep_text import NOT_CLOSED_IN
from assembly.report.text.words import below, millimetres, pair_depth, pair_least, pair_setting, short
from assembly.studies.sweep.check import CheckResult
from assembly.studies.sweep.whole_sweep import sweep_machine

if TYPE_CHECKING:
    from assembly.record import PairEntry, Record

SHOWN = 5
"""Pairs that are shown; all are in ``pairs``."""
COLUMNS = ("pair", "least", "proven", "required", "at", "verdict")


def short_text(record: Record) -> str:
    """Verdict, reason and the nearest pairs, a line each."""
    head = f"{record.machine.name}: {record.verdict.upper()}, {record.reason}"
    return "\n".join([head, *("  " + ", ".join(_line(row)) for row in _rows(record)), *_left(record, "  ")])


def html_table(record: Record) -> str:
    """The same as a table; every text of the file is escaped."""
    head = "".join(f"<th>{name}</th>" for name in COLUMNS)
    rows = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in _rows(record))
    title = f"<b>{escape(record.machine.name)}: {record.verdict.upper()}</b>, {escape(record.reason)}"
    more = "".join(f"<p>{line}</p>" for line in _left(record, ""))
    return f"<p>{title}</p><table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>{more}"


def _rows(record: Record) -> Iterator[tuple[str, ...]]:
    for pair in record.pairs[:SHOWN]:
        proven = "–" if pair.proven_mm is None else millimetres(below(pair.proven_mm))
        yield (
            f"{pair.a} – {pair.b}",
            _least(pair),
            proven,
            f"{short(pair.required_mm)} mm",
            pair_setting(pair, record.drives) if pair.closed_in or pair.verdict != "clear" else NOT_CLOSED_IN,
            pair.verdict,
        )


def _least(pair: PairEntry) -> str:
    if pair.overlap is not None:
        return f"{pair_depth(pair.overlap)} mm deep"
    return "–" if pair.least_mm is None else f"{pair_least(pair)} mm"


def _line(row: tuple[str, ...]) -> tuple[str, ...]:
    pair, least, proven, required, at, verdict = row
    return f"{pair}: {least}", f"proven {proven}", f"required {required}", f"at {at}", verdict


def _left(record: Record, indent: str) -> list[str]:
    left = len(record.pairs) - SHOWN
    return [f"{indent}and {left} more in .pairs"] if left > 0 else []


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class SweepResult:
    """What one sweep found.

    Attributes
    ----------
    record : Record
        All figures in mm, degrees, N and N·m: what ``record.json`` holds.
    checked : CheckResult
        The same before it was made plain, for pictures and further measurements.
    seconds : float
        How long it took.
    notes : tuple of str
        What is to be said of the result cache, a sentence each; mostly nothing.

    """

    checked: CheckResult
    record: Record
    seconds: float
    notes: tuple[str, ...] = ()

    @property
    def verdict(self) -> str:
        """``clear`` (proven at every setting), ``fails`` (a setting shows it) or ``undecided``."""
        return self.record.verdict

    @property
    def pairs(self) -> tuple[PairEntry, ...]:
        """All checked pairs, the one with the least room first."""
        return self.record.pairs

    @property
    def stopped_by_hand(self) -> bool:
        """Whether it was cut short by Ctrl-C."""
        return self.record.work.stopped == STOPPED_BY_HAND

    def pair(self, first: str, second: str) -> PairEntry:
        """The result of one pair of parts, in either order.

        Raises
        ------
        InputError
            If the two are no checked pair; says why they were not checked, or which names come near.

        """
        wanted = {first, second}
        for entry in self.record.pairs:
            if {entry.a, entry.b} == wanted:
                return entry
        for left in self.record.not_checked:
            if {left.a, left.b} == wanted:
                raise InputError(Fault(f"{first} and {second} were not checked: {left.reason}"))
        unknown = next((name for name in (first, second) if name not in self.record.parts), "")
        if unknown:
            raise InputError(Fault(f"there is no part `{unknown}`", hint=nearest(unknown, self.record.parts, "parts")))
        raise InputError(Fault(f"{first} and {second} are no pair", hint="name two different parts"))

    def compare(self, before: SweepResult | Record, *, shrank_mm: float = SHRANK_MM) -> Comparison:
        """What changed since ``before``; a clearance that shrank by more than ``shrank_mm`` counts as worse."""
        earlier = before.record if isinstance(before, SweepResult) else before
        return compare(earlier, self.record, shrank_mm=shrank_mm)

    def scene(self, rank: int = 0) -> MakeScene | None:
        """What a picture shows of the pair with the least room, or of another by its ``rank``; None if not measured."""
        return nearest_scene(self.checked, rank, self.record)

    def to_json(self) -> str:
        """The record as JSON text."""
        return json_text(self.record)

    def save(self, path: str | Path) -> None:
        """Write the record to ``path``, whole or not at all.

        Raises
        ------
        OutputError
            If it cannot be written there.

        """
        save(self.record, Path(path))

    def __repr__(self) -> str:
        return short_text(self.record)

    def _repr_html_(self) -> str:
        return html_table(self.record)


def sweep(
    machine: Machine,
    *,
    effort: Effort | None = None,
    progress: Progress = no_progress,
    cached: bool = True,
) -> SweepResult:
    """Check every pair of parts of ``machine`` over the whole range of its drives, and every joint and rod.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    effort : Effort, optional
        How closely to close in (mm), how long to go on (s) and how many processes to use; by default all cores.
    progress : callable, optional
        Called with the name of the stage, how many pairs are done and how many there are.
    cached : bool
        Take what earlier sweeps found of a pair under the same key from the result cache. The figures are the same to
        the last bit. What is found is kept in the cache either way.

    Returns
    -------
    SweepResult
        For every pair a least distance (mm, with the setting that shows it) and a lower bound that holds at every
        setting of the range, between the computed poses too.

    Raises
    ------
    AssemblyError
        If the machine cannot be put together at rest.

    """
    began = time.monotonic()
    notes: list[str] = []
    asked = effort or Effort(cores=all_cores())
    place = cache_path(os.environ)
    with open_memory(place, notes.append, anew=not cached) as memory:
        checked, record = sweep_machine(machine, asked, progress, memory, known=memory)
        record = with_figures(record, checked.mechanism, memory)
    return SweepResult(checked, record, round(time.monotonic() - began, 3), tuple(notes))
