"""A night in words: one line for each machine, then in full what got worse."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from assembly.record import Comparison, PairEntry, Record
from assembly.report.text.layout import Block, Heading, Line, Tone
from assembly.report.text.words import count, gap, pair_depth, pair_least, short, unit_sign

NightStanding = Literal["clear", "undecided", "fails", "input"]
"""How a file came out; ``input``: it, or a place to write to, is wrong."""
FROM_BEST: tuple[NightStanding, ...] = ("clear", "undecided", "fails", "input")
WORDS: dict[NightStanding, str] = {"clear": "CLEAR", "undecided": "UNDECIDED", "fails": "FAILS", "input": "BROKEN"}
OTHERS_NAMED = 5
"""Files about something else that are named one by one."""


@dataclass(frozen=True, slots=True)
class NightChange:
    """What changed against the run before, in a few words and in full."""

    words: str
    worse: bool
    blocks: tuple[Block, ...]
    found: Comparison | None = None


@dataclass(frozen=True, slots=True)
class NightEntry:
    """One file of the night. ``faults``: what went wrong, one line each; ``notes``: what cost no result."""

    file: str
    standing: NightStanding
    record: Record | None
    change: NightChange | None
    faults: tuple[str, ...]
    notes: tuple[str, ...]
    seconds: float


@dataclass(frozen=True, slots=True)
class NightNotes:
    """What is reported once: files about something else, nights that were cut short, and what lies where."""

    others: tuple[Path, ...]
    cut_short: tuple[Path, ...]
    folder: Path
    left: int
    """Files that were not checked, because the night was stopped by hand."""


TONES = {"clear": Tone.GOOD, "undecided": Tone.OPEN, "fails": Tone.BAD, "input": Tone.BAD}


def file_line(entry: NightEntry) -> Line:
    """Verdict, least room, and what changed."""
    pieces = [entry.faults[0].removeprefix(f"{entry.file}:").lstrip()] if entry.faults else []
    if len(entry.faults) > 1:
        pieces.append(f"{count(len(entry.faults) - 1, 'more fault')}, see below")
    if entry.record is not None:
        pieces += _told(entry.record)
    if entry.change is not None:
        pieces.append(entry.change.words)
    told = f"{WORDS[entry.standing]:9}  {entry.file}: {'; '.join(pieces)}"
    return Line(" ".join(told.splitlines()), TONES[entry.standing], whole=True)


def _told(record: Record) -> Iterator[str]:
    if record.pairs:
        yield _least(record.pairs[0])
    yield from _least_measure(record)
    if record.verdict != "clear":
        yield record.reason


def _least_measure(record: Record) -> Iterator[str]:
    """The measure with the least margin."""
    sides = [(one, side, side.margin) for one in record.measures for side in one.sides if side.margin is not None]
    if sides:
        one, side, margin = min(sides, key=lambda each: each[2])
        sign = unit_sign(one.unit)
        told = f"{gap(margin)}{sign} short of" if margin >= 0 else f"{gap(-margin)}{sign} beyond"
        yield f"measure {one.name} {told} its {side.motion} of {short(side.limit)}{sign}"


def _least(pair: PairEntry) -> str:
    names = f"{pair.a} – {pair.b}"
    if pair.overlap is not None:
        return f"{names} {pair_depth(pair.overlap)} mm deep in each other"
    if pair.least_mm is None or pair.room_mm is None:
        return f"{names} not even looked at"
    apart = f"{names}, {pair_least(pair)} mm apart"
    if pair.closed_in:
        return f"least margin {gap(pair.room_mm)} mm ({apart})"
    return f"least margin not closed in on ({apart})"


def night_blocks(entries: Sequence[NightEntry], notes: NightNotes) -> Iterator[Block]:
    """Everything after the lines of the files: what got worse, what was left out, and how it came out."""
    worse = [(entry.file, entry.change) for entry in entries if entry.change is not None and entry.change.worse]
    for file, change in worse:
        yield Heading(f"What got worse: {file}")
        yield from change.blocks
    yield from _faults(entries)
    yield from _left_out(entries, notes)
    yield Line("")
    yield _summary(entries, len(worse), notes)
    yield Line(f"records, tables, pictures, and the page of what fails or got worse: {notes.folder}")


def _faults(entries: Sequence[NightEntry]) -> Iterator[Block]:
    """Every fault of the files that have more than their line could say."""
    for entry in entries:
        if len(entry.faults) > 1:
            yield Heading(f"What is wrong: {entry.file}")
            yield from (Line(fault, Tone.BAD, 1, whole=True) for fault in entry.faults)


def _left_out(entries: Sequence[NightEntry], notes: NightNotes) -> Iterator[Block]:
    told = [f"{entry.file}: {note}" for entry in entries for note in entry.notes]
    if notes.others:
        named = ", ".join(map(str, notes.others[:OTHERS_NAMED]))
        more = f" and {len(notes.others) - OTHERS_NAMED} more" if len(notes.others) > OTHERS_NAMED else ""
        verb = "is" if len(notes.others) == 1 else "are"
        told.append(f"{count(len(notes.others), 'TOML file')} {verb} no mechanism file: {named}{more}")
    told += [f"the night of {path.name} was cut short; what it had finished lies in {path}" for path in notes.cut_short]
    if told:
        yield Heading("Worth knowing")
        yield from (Line(text, indent=1) for text in told)


def _summary(entries: Sequence[NightEntry], worse: int, notes: NightNotes) -> Line:
    numbers = {word: sum(entry.standing == word for entry in entries) for word in FROM_BEST}
    pieces = [f"{number} {WORDS[word]}" for word, number in reversed(numbers.items()) if number]
    stopped = f"; stopped by hand, {count(notes.left, 'file')} left unchecked" if notes.left else ""
    told = f"{count(len(entries), 'file')}: {', '.join(pieces) or 'none'}; {worse or 'none'} got worse{stopped}"
    bad, unsure = numbers["fails"] or numbers["input"], numbers["undecided"] or notes.left
    return Line(told, Tone.BAD if bad else Tone.OPEN if unsure else Tone.GOOD)
