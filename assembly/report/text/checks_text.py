"""Prototype checks in words: what to measure, what it should be, and whether what was read agrees."""

from __future__ import annotations

import shlex
from collections.abc import Iterator

from assembly.record import ChecksRecord, PrototypeCheckEntry
from assembly.report.text.layout import TONES, Block, Heading, Line, Table, Tone
from assembly.report.text.words import figure, setting, unit_sign

NOTHING = "–"
SHOWN = 0.005
"""mm or degrees: less is not told."""
WHAT = {"clearance": "clearance", "distance": "distance from", "measure": "measure"}


def checks_blocks(record: ChecksRecord, command: str) -> Iterator[Block]:
    """The whole answer; ``command`` is the one that was run."""
    given = any(one.answer for one in record.checks)
    if given:
        word = "LOOK AGAIN" if record.verdict == "fails" else "AGREES"
        yield Line(f"{word}: {record.reason}", TONES[record.verdict])
    else:
        asked = "Measure these first: they show soonest whether the machine is the one that was swept"
        yield Line(f"{asked} ({record.swept.upper()})", Tone.GOOD)
    yield Heading("Checks on the machine")
    yield Table(
        ("check", "should be", "±", "read", "answer"),
        tuple(map(_row, record.checks)),
        frozenset(("should be", "±", "read")),
        tuple(Tone.BAD if one.answer == "look again" else Tone.PLAIN for one in record.checks),
        row_is=("check", "checks"),
    )
    yield Heading("How to measure them, and what each shows first")
    for one in record.checks:
        yield Line(f"{one.name}: {_how(one, record)}", indent=1)
    yield Heading("What to do now")
    yield from (Line(f"- {told}", indent=1) for told in _advice(record, command))


def _row(one: PrototypeCheckEntry) -> tuple[str, ...]:
    sign = unit_sign(one.unit)
    read = NOTHING if one.reading is None else figure(one.reading) + sign
    return one.name, figure(one.expected) + sign, figure(one.plus_minus), read, (one.answer or NOTHING).upper()


def _how(one: PrototypeCheckEntry, record: ChecksRecord) -> str:
    between = "" if one.kind == "clearance" else f" {' to '.join(one.between)}"  # a pair is what its check is called by
    at = f"at {setting(one.at, record.drives)}" if one.at else "with all drives at 0"
    name, off = next(iter(one.shows.items()), ("", 0.0))
    parts = [f"{figure(one.reading_error)} reading"]
    parts += [f"{figure(one.by_tolerances)} tolerances"] if one.by_tolerances >= SHOWN else []
    parts += [f"{figure(one.surface_error)} drawn surfaces"] if one.surface_error >= SHOWN else []
    told = f"; shows {name} off by {figure(off)}" if name else ""  # the others stand in the record
    return f"{WHAT[one.kind]}{between} {at} (± {' + '.join(parts)}){told}"


def _advice(record: ChecksRecord, command: str) -> Iterator[str]:
    off = [one for one in record.checks if one.answer == "look again"]
    for one in off:
        by = figure(abs((one.reading or 0.0) - one.expected))
        yield f"{one.name} is {by}{unit_sign(one.unit)} off: read it again at that very setting"
        if one.shows:
            then = "write readings into [measured], and let `swingroom measured` find which it is"
            yield f"if it stays so, mark {', '.join(one.shows)} with may_differ, {then}"
    missing = [one for one in record.checks if one.answer is None]
    if missing:
        example = shlex.quote(f"{missing[0].name}=VALUE")
        yield f"type in what you read: {command} --reading {example}"
    if not missing and not off:
        yield "all five agree: what was swept is what stands there, as far as these tell"
