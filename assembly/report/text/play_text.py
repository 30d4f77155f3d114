"""Play in words: what a part does by hand, as it is measured at a rim, at the bars and at a part's end."""

from __future__ import annotations

from collections.abc import Iterator

from assembly.record import DriveByHandEntry, PartByHandEntry, PlayRecord, RimEntry
from assembly.report.text.layout import Block, Heading, Line, Table, Tone
from assembly.report.text.spread_text import play_blocks
from assembly.report.text.words import figure, setting, unit_sign

NOTHING = "–"
CAUTION = (
    "Bearings, spokes, tyres and bent arms that give are not in it: what goes farther than told is worn, or bends. "
    "People ride on it: have someone competent look at its steering."
)
HEADS = {"top": "top", "front": "front"}


def play_text_blocks(record: PlayRecord, command: str) -> Iterator[Block]:
    """The whole answer; ``command`` is the one that was run."""
    yield _answer(record)
    if record.rims:
        yield Heading("Rims, shaken along the axle with the drives held, from end to end")
        yield Table(
            ("wheel", "at", "radius mm", "goes mm", "at most mm", "most from"),
            tuple(map(_rim_row, record.rims)),
            frozenset(("radius mm", "goes mm", "at most mm")),
        )
    if record.by_drives:
        yield Heading(f"Drives, with {' and '.join(record.by_drives[0].held)} held, from end to end")
        yield Table(("drive", "goes"), tuple(map(_drive_row, record.by_drives)), frozenset(("goes",)))
    if record.parts:
        yield Heading("Parts, drives held: any point of them, either way")
        yield Table(
            ("part", "goes mm", "turns °", "at most mm", "most from"),
            tuple(map(_part_row, record.parts)),
            frozenset(("goes mm", "turns °", "at most mm")),
            row_is=("part that goes less", "parts that go less"),
        )
    yield Line("goes: to first order in the play of all joints at once; at most: proven", Tone.QUIET, 1)
    yield from play_blocks(record.play)
    yield Heading("What to do now")
    yield from (Line(f"- {text}", indent=1) for text in _advice(record, command))
    yield Line("")
    yield Line(CAUTION, Tone.QUIET)


def _answer(record: PlayRecord) -> Line:
    at = setting(record.at, record.drives)
    rim = max(record.rims, key=lambda one: one.goes_mm, default=None)
    if rim is not None:
        where = f"at its {rim.place}, {figure(rim.radius_mm, 0)} mm out"
        told = f"the rim of {rim.wheel} goes {figure(rim.goes_mm)} mm {where}"
    elif record.parts:
        told = f"{record.parts[0].part} goes {figure(record.parts[0].goes_mm)} mm either way at its end"
    else:
        told = "no part goes anywhere by hand"
    return Line(f"{told[0].upper()}{told[1:]}, shaken by hand at {at}", Tone.GOOD)


def _at_most(value: float | None) -> str:
    return NOTHING if value is None else figure(value)


def _rim_row(one: RimEntry) -> tuple[str, ...]:
    return (
        one.wheel,
        HEADS[one.place],
        figure(one.radius_mm, 0),
        figure(one.goes_mm),
        _at_most(one.at_most_mm),
        one.most_of or NOTHING,
    )


def _drive_row(one: DriveByHandEntry) -> tuple[str, ...]:
    return one.drive, "freely" if one.goes is None else f"{figure(one.goes)}{unit_sign(one.unit)}"


def _part_row(one: PartByHandEntry) -> tuple[str, ...]:
    return one.part, figure(one.goes_mm), figure(one.turns_deg), _at_most(one.at_most_mm), one.most_of


def _advice(record: PlayRecord, command: str) -> Iterator[str]:
    first = max(record.rims, key=lambda one: one.goes_mm, default=None)
    if first is not None:
        yield (
            f"hold the bars, shake {first.wheel} at the {first.place} of its rim: more than {figure(first.goes_mm)} mm "
            f"is wear, and {first.most_of} gives most"
        )
    elif record.parts:
        one = record.parts[0]
        goes = f"its end goes {figure(2 * one.goes_mm)} mm in all, {one.most_of} gives most"
        yield f"hold the drives and shake {one.part}: {goes}"
    if not record.by_drives:
        yield f"for what the bars do with a part held: {command} --hold PART"
    yield "what it takes of every clearance: swingroom spread"
