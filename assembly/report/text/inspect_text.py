"""What a file holds, in words."""

from __future__ import annotations

from collections.abc import Iterator

from assembly.record import LEAST_MISS, EditEntry, InspectRecord, LoopEntry, PartEntry, TieEntry
from assembly.report.text.layout import Block, Heading, Line, Table, Tone
from assembly.report.text.one_screen import fits
from assembly.report.text.sweep_text import not_checked_blocks
from assembly.report.text.words import (
    chain,
    count,
    figure,
    moved_parts,
    short,
    told_findings,
    true_minus,
    unit_sign,
    whole_range,
)

FINDINGS_SHOWN, MOVED_SHOWN = 2, 1
"""Of what is worth knowing, and groups of parts that an edited length moved, on one screen."""
PART_COLUMNS = ("part", "triangles", "off by mm", "size mm", "moves with", "shapes")
EDIT_COLUMNS = ("part", "what", "mm", "as drawn", "line", "moves the point by")
"""The last of either only where it fits."""
JOINT_COLUMNS = ("joint", "kind", "first part", "second part", "seat mm", "angle limit", "gap at 0")
"""The last only where a joint is apart: what arithmetic alone leaves is no gap."""
SHAPES_NAMED = 3
"""Shapes named in a part's row; the record has all."""


def inspect_screen(record: InspectRecord) -> Iterator[Block]:
    """All of it where it fits on one screen; else tables without the column that takes a line of its own."""
    whole = tuple(inspect_blocks(record))
    yield from whole if fits(whole, files=0) else inspect_blocks(record, narrow=True)


def inspect_blocks(record: InspectRecord, *, narrow: bool = False) -> Iterator[Block]:
    """Parts, joints, freedoms, loops, findings and the pairs that are not checked; ``narrow``: for one screen."""
    yield from _answer(record)
    yield from _parts(record, narrow)
    yield from _edits(record, narrow)
    yield from _joints(record)
    yield from _freedoms(record)
    yield from _findings(record)
    yield from not_checked_blocks(record.not_checked)
    yield from _to_check(record)
    yield Heading("What to do now")
    yield Line(f"- {_advice(record)}", indent=1)


def _answer(record: InspectRecord) -> Iterator[Line]:
    """Whether it goes together, and how much of it there is."""
    parts, joints = count(len(record.parts), "part"), count(len(record.joints), "joint")
    for fault in record.faults:
        yield Line(f"CANNOT BE PUT TOGETHER: {fault}", Tone.BAD)
    if not record.faults:
        known = f"; {count(len(record.findings), 'finding')} worth knowing, see below" if record.findings else ""
        swept = f"`swingroom sweep` will check {count(record.pairs_checked, 'pair')}"
        yield Line(f"GOES TOGETHER with all drives at 0: {parts} and {joints}; {swept}{known}", Tone.GOOD)
    triangles = sum(part.triangles for part in record.parts)
    held = f"{parts}, {triangles} triangles, {joints}, {count(len(record.drives), 'drive')}"
    yield Line(f"{record.machine.name}: {held} ({whole_range(record.drives)})", Tone.QUIET)


def _to_check(record: InspectRecord) -> Iterator[Block]:
    """The pairs that a sweep will look at, or would, if the machine could be put together."""
    would = "A sweep checks" if not record.faults else "Nothing is checked before this is mended; a sweep will check"
    aside = f"what is left out of {count(len(record.seats), 'joined pair')}" if record.seats else ""
    yield Heading(f"{would} {count(record.pairs_checked, 'pair')}; joined ones without the joint's own bearing", aside)
    for seat in record.seats:
        yield Line(f"{seat.a} – {seat.b}: {seat.left_out}", indent=1)


def _parts(record: InspectRecord, narrow: bool) -> Iterator[Block]:
    columns = PART_COLUMNS[:-1] if narrow else PART_COLUMNS
    yield Heading("Parts")
    yield Table(
        columns=columns,
        rows=tuple(_part_row(part)[: len(columns)] for part in record.parts),
        figures=frozenset(("triangles", "off by mm")),
        row_is=("part", "parts"),
    )
    yield Line("off by: how far the triangles may lie from the true surface", Tone.QUIET, 1)


def _part_row(part: PartEntry) -> tuple[str, ...]:
    names = [shape.name for shape in part.shapes[:SHAPES_NAMED]]
    more = [f"and {len(part.shapes) - SHAPES_NAMED} more"] if len(part.shapes) > SHAPES_NAMED else []
    size = " × ".join(short(value, 1) for value in part.size_mm)
    others = f" and {len(part.moves_with) - 1} more" if len(part.moves_with) > 1 else ""
    ties = "fixed" if part.fixed else "".join(part.moves_with[:1]) + others
    return part.part, str(part.triangles), figure(part.surface_error_mm, 3), size, ties, ", ".join([*names, *more])


def _edits(record: InspectRecord, narrow: bool) -> Iterator[Block]:
    edited = [edit for edit in record.edits if edit.from_ or edit.moved_mm > 0]
    if not edited:
        return
    columns = EDIT_COLUMNS[:-1] if narrow else EDIT_COLUMNS
    yield Heading("Lengths and points of a part's own")
    yield Table(
        columns=columns,
        rows=tuple(_edit_row(edit)[: len(columns)] for edit in edited),
        figures=frozenset(("mm", "as drawn", "moves the point by", "line")),
    )


def _edit_row(edit: EditEntry) -> tuple[str, ...]:
    line = "–" if edit.line is None else str(edit.line)
    if edit.length_mm is None or edit.drawn_mm is None:
        return edit.part, edit.point, "–", "–", line, figure(edit.moved_mm)
    tolerance = f" ± {short(edit.plus_minus)}" if edit.plus_minus else ""
    length = short(edit.length_mm) + tolerance
    return edit.part, f"{edit.from_} to {edit.point}", length, short(edit.drawn_mm), line, figure(edit.moved_mm)


def _joints(record: InspectRecord) -> Iterator[Block]:
    apart = any(_open(joint.miss_mm) for joint in record.joints)
    moved = [_moved(text) for text in moved_parts(record.assembled)]
    yield Heading("Joints", most=min(len(moved), MOVED_SHOWN))
    yield Table(
        columns=JOINT_COLUMNS if apart else JOINT_COLUMNS[:-1],
        rows=tuple(_joint_row(joint)[: None if apart else -1] for joint in record.joints),
        figures=frozenset(("seat mm", "angle limit", "gap at 0")),
        tones=tuple(Tone.BAD if _open(joint.miss_mm) else Tone.PLAIN for joint in record.joints),
        row_is=("joint", "joints"),
    )
    yield from moved
    for loop in record.loops:
        yield Line(f"loop {chain(loop.joints)}: {_closing(loop)}", Tone.BAD if _open(loop.miss_mm) else Tone.PLAIN, 1)


def _moved(text: str) -> Line:
    """What an edited length moved; on one screen without the names of all parts."""
    names, shift = text.rsplit(": ", 1)
    first, *others = names.split(", ")
    more = f" and {count(len(others), 'more part')}" if others else ""
    return Line(f"an edited length moved {text}", indent=1, brief=f"an edited length moved {first}{more}: {shift}")


def _closing(loop: LoopEntry) -> str:
    if loop.miss_mm is None:
        return "not put together"
    return f"DOES NOT CLOSE, misses by {figure(loop.miss_mm)} mm" if _open(loop.miss_mm) else "closes"


def _open(miss: float | None) -> bool:
    return miss is not None and miss > LEAST_MISS


def _gap(miss: float | None) -> str:
    """What a joint misses by; of arithmetic alone it is nothing."""
    return "–" if miss is None else figure(miss if _open(miss) else 0.0)


def _joint_row(joint: TieEntry) -> tuple[str, ...]:
    seat = short(joint.seat_mm) if joint.seat_mm else "–"
    rating = f"{short(joint.limit)}{unit_sign('deg')}" if joint.limit is not None else "–"
    return joint.name, joint.kind, joint.first, joint.second, seat, rating, _gap(joint.miss_mm)


def _freedoms(record: InspectRecord) -> Iterator[Block]:
    mobility = record.mobility
    yield Heading("Freedoms with all at 0, drives let go", most=1)
    idle = count(sum(freedom.count for freedom in record.freedoms), "other", "others")
    spare = count(mobility.redundant, "demand of the joints says", "demands of the joints say")
    counting = f"; counting joints would give {mobility.counted}, but {spare} nothing new" if mobility.redundant else ""
    driven = count(mobility.driven, "motion of a joint", "motions of joints")
    yield Line(f"{mobility.freedoms} in all: the drives set {driven}, and {idle}{counting}", indent=1)
    for freedom in record.freedoms:
        what = f"{freedom.what}; {freedom.held}"
        yield Line(f"{' with '.join(freedom.parts)} {true_minus(what)}", indent=1)


def _findings(record: InspectRecord) -> Iterator[Block]:
    if not record.findings:
        yield Heading("Worth knowing: nothing")
        return
    yield Heading("Worth knowing (no verdict changes by it)", most=FINDINGS_SHOWN)
    yield from (Line(text, indent=1) for text in told_findings(record.findings))


def _advice(record: InspectRecord) -> str:
    if record.faults:
        return "mend what is told at the top, then inspect again"
    return "where this is the machine you meant: run `swingroom sweep` on the same file"
