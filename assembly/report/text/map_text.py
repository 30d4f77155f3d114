"""A map in words: its least, what fails in it, and what it is not."""

from __future__ import annotations

from collections.abc import Iterator

from assembly.record import MapCell, MapRecord
from assembly.report.text.headline import answer_lines
from assembly.report.text.layout import Block, Heading, Line, Tone
from assembly.report.text.words import below, chain, count, figure, gap, setting, short, signed, tiny, unit_sign

MOST_STILL = 3
"""Pairs that never move, and are too near, told one by one."""


def map_blocks(record: MapRecord, command: str) -> Iterator[Block]:
    """What a map shows; ``command`` is the one that gives the verdict."""
    if record.answer is not None:
        yield from answer_lines(record.answer)
    yield from _unsettled(record)
    yield Line(f"{record.machine.name}: {subject(record)}, {_lattice(record)}", Tone.QUIET)
    yield _least(record)
    yield from _proven(record)
    yield from _too_near(record)
    yield from _unreached(record)
    yield from _still(record)
    whole = "the whole machine, joints and all" if record.answer is not None else "every pair over the whole range"
    yield Line(f"A map is no verdict: `{command}` proves {whole}.", Tone.QUIET)
    yield Heading("What to do now")
    yield from (Line(f"- {text}", indent=1) for text in _advice(record, command))


def _advice(record: MapRecord, command: str) -> Iterator[str]:
    """Steps for the bench, the most pressing first."""
    ranges = command.replace(" sweep ", " range ", 1)
    if record.fails or record.still:
        yield f"what to change, by how much: {command.replace(' sweep ', ' helps ', 1)}"
        yield f"or end the motion sooner; how far the drives can go: {ranges}"
    elif record.unreached:
        yield f"end the drives before what cannot be reached; how far they can go: {ranges}"
    elif record.undecided:
        yield f"sweep the whole machine, which says what keeps it open: {command}"
    else:
        yield f"nothing about these; before you cut, sweep the whole machine: {command}"


def subject(record: MapRecord) -> str:
    """What is mapped."""
    if record.pair is not None:
        return f"{record.pair[0]} and {record.pair[1]}"
    if record.pairs == 1:
        return "the one pair that moves against each other"
    return f"all {record.pairs} pairs that move against each other"


def required_text(record: MapRecord) -> str:
    """What the pairs must keep."""
    if record.required_mm is None:
        return "required: by each pair's own rule"
    return f"required: {short(record.required_mm)} mm"


def _lattice(record: MapRecord) -> str:
    told = [
        f"{name} {signed(record.drives[name].from_)} to {signed(record.drives[name].to)}"
        f"{unit_sign(record.drives[name].unit)} in {count(cells, 'step')}"
        for name, cells in record.counts.items()
    ]
    held = f"; held: {setting(record.held, record.drives)}" if record.held else ""
    return f"{' with '.join(told)}{held}"


def _least(record: MapRecord) -> Line:
    cell = record.least
    if cell is None:
        return Line("No setting of the map can be reached.", Tone.BAD)
    strike = " (they strike)" if not cell.least_mm else ""
    told = f"{_names(record, cell)}{gap(cell.least_mm or 0.0)} mm{strike} at {_at(record, cell)}"
    return Line(f"Smallest of what was measured: {told}.", _measured(record))


def _unsettled(record: MapRecord) -> Iterator[Block]:
    """What the figures of pairs without a single roll are, and the answer where it does not stand above."""
    for one in record.unsettled:
        if record.answer is None:
            tone = Tone.BAD if one.verdict == "fails" else Tone.OPEN
            yield Line(f"{one.verdict.upper()} by the sweep of the whole range: {one.a} and {one.b}: {one.why}.", tone)
        yield Line(f"The figures of {one.a} and {one.b} are those of the worst roll at each setting.", Tone.OPEN)


def squares(record: MapRecord) -> str:
    """How many pieces the map has: squares over two drives, steps along one."""
    return count(len(record.cells), "square" if len(record.counts) > 1 else "step")


def _names(record: MapRecord, cell: MapCell) -> str:
    return "" if record.pair else f"{cell.a} and {cell.b}, "


def _at(record: MapRecord, cell: MapCell) -> str:
    return setting(cell.at, record.drives)


def _proven(record: MapRecord) -> Iterator[Block]:
    bare = sum(cell.proven_mm is None for cell in record.cells)
    if record.proven_mm is None:
        yield Line(f"Proven: nothing in {bare} of {squares(record)}.", Tone.OPEN)
    elif record.proven_mm > 0:
        if record.answer is None or record.answer.verdict != "clear":
            yield Line(f"Proven: nowhere below {figure(below(record.proven_mm))} mm.")
    elif record.least and record.least.least_mm:
        yield Line("Proven: nothing; contact somewhere between the measured settings is not ruled out.", Tone.OPEN)


def _too_near(record: MapRecord) -> Iterator[Block]:
    worst = record.lowest(lambda cell: cell.room_mm)
    if record.failing and worst is not None:
        missing = ""
        if worst.room_mm and record.answer is None:
            most = f"{_at(record, worst)} misses most, {figure(-below(worst.room_mm))} mm"
            missing = f"; {most}, and between them more may be missing"
        cells = f"{len(record.failing)} of {squares(record)}"
        yield Line(f"Measured below what is required in {cells}{missing}.", _measured(record))


def _measured(record: MapRecord) -> Tone:
    """Of what was measured too near: what was measured at the worst roll of several shows no failure yet."""
    if not record.failing:
        return Tone.PLAIN
    return Tone.BAD if record.fails else Tone.OPEN


def _unreached(record: MapRecord) -> Iterator[Block]:
    if record.lost is not None:
        cells = f"{record.unreached} of {squares(record)}"
        where = setting(record.lost.at, record.drives)
        loop = f"the loop {chain(record.lost.loop)} misses by {tiny(record.lost.miss_mm)} mm"
        yield Line(f"Cannot be reached: {cells}, the first at {where}, where {loop}.", Tone.BAD)


def _still(record: MapRecord) -> Iterator[Block]:
    if record.still_pairs:
        pairs = count(record.still_pairs, "pair that never moves", "pairs that never move")
        yield Line(f"Not in the map: {pairs} against each other.", Tone.QUIET)
    for one in record.still[:MOST_STILL]:
        near = f"{gap(one.distance_mm)} mm where {short(one.required_mm)} mm is required"
        yield Line(f"Of these {one.a} and {one.b} are too near: {near}.", Tone.BAD)
    if len(record.still) > MOST_STILL:
        yield Line(f"{len(record.still) - MOST_STILL} more of these are too near.", Tone.BAD)
