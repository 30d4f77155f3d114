"""A usable range in words: whether the file's own range lies in it, what ends it, and the tables of stops."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import trunc

from assembly.record import BreachEntry, FarthestEntry, GovernorEntry, RangeRecord, RuleEntry, StopsEntry, StretchEntry
from assembly.report.text.layout import Block, Heading, Line, Table, Tone
from assembly.report.text.words import (
    MINUS,
    chain,
    count,
    figure,
    gap,
    part,
    setting,
    short,
    signed,
    unit_sign,
    whole_range,
)

MOST_BREACHES, MOST_STILL, MOST_NAMES = 6, 3, 3
"""How many are reported one by one."""
STRETCH = ("stretch of its border", "stretches of its border")
BEYOND = "the end of what was looked at"


def range_blocks(record: RangeRecord, command: str) -> Iterator[Block]:
    """What a usable range shows; ``command`` is the one that proves."""
    yield from range_answer(record)
    yield Line(f"{record.machine.name}: {_looked(record)}", Tone.QUIET)
    if record.governors:
        yield Heading("What ends the usable range")
        yield _border(record)
    yield from trade_off_blocks(record)
    steps = " and ".join(f"{short(step)}{_unit(record, name)}" for name, step in record.steps.items())
    yield Line("")
    yield Line(
        f"Measured at settings {steps} apart, the border closed in on to {short(record.precision)} along these lines; "
        f"what is narrower than that is not seen. `{command}` proves the range that the file has.",
        Tone.QUIET,
    )
    yield Heading("What to do now")
    yield from (Line(f"- {text}", indent=1) for text in _advice(record, command))


def _advice(record: RangeRecord, command: str) -> Iterator[str]:
    """Steps for the bench, the most pressing first."""
    helps = command.replace(" sweep ", " helps ", 1)
    if not any(cell.usable for cell in record.cells):
        yield f"mend first what is broken with all drives at 0: {command}"
    elif record.still or any(one.verdict == "fails" for one in record.unsettled):
        yield f"mend first what no smaller range mends: {command}"
    elif record.fits:
        yield f"nothing, where the range is wide enough; before you cut, prove it: {command}"
        if any(one.rules for one in record.governors):
            yield "to go farther: change what ends the usable range, or write a wider range into the file and sweep it"
    elif record.undecided:
        yield f"sweep it, which says what keeps it open: {command}"
    else:
        yield f"what to change, by how much, so that the whole range holds: {helps}"
        yield f"or write a range within the usable one into the file, and prove it: {command}"


LIMITED = ("joint", "measure")
"""Kinds of rule that are a limit."""
NOT_PROVEN = (
    "Before you set a stop by these, write that range into the file and sweep it: between settings it can fail."
)


def trade_off_blocks(record: RangeRecord) -> Iterator[Block]:
    """For each stop of one drive the farthest stops of the other, and back."""
    for drive in record.looked:
        rows = [row for row in record.stops if row.drive == drive]
        if rows:
            title = f"For each {drive} stop, the farthest stops of {rows[0].other}: looked at, not proven"
            yield Heading(
                title, aside=f"the farthest stops of {rows[0].other} for {count(len(rows), 'stop')} of {drive}"
            )
            yield _stops(record, rows)
            yield Line("By: the numbers of what ends the usable range, above.", Tone.QUIET, indent=1)
            yield Line(NOT_PROVEN, Tone.QUIET, indent=1)


def rules_text(governor: GovernorEntry) -> str:
    """What governs, with the joints that reach the same limit in one."""
    if not governor.rules:
        return BEYOND
    told = [rule_text(rule) for rule in governor.rules if rule.kind != "joint"]
    limits: dict[str, list[str]] = {}
    for rule in governor.rules:
        if rule.kind == "joint":
            limits.setdefault(_limit(rule), []).append(rule.joint)
    return "; ".join([*told, *(_joints(limit, names) for limit, names in limits.items())])


def rule_text(rule: RuleEntry) -> str:
    """How a rule is broken."""
    if rule.kind == "pair":
        names = f"{part(rule.a, rule.shape_a)} – {part(rule.b, rule.shape_b)}"
        near = f"nearer than {short(rule.required_mm)} mm" if rule.required_mm else "touching"
        return f"{names} {near} at {setting(rule.rolls, {})}" if rule.rolls else f"{names} {near}"
    if rule.kind in LIMITED:
        return _joints(_limit(rule), [rule.joint])
    return f"the loop {chain(rule.loop)} locks" if rule.loop else "it locks, or cannot be assembled"


def _limit(rule: RuleEntry) -> str:
    unit = unit_sign(rule.unit)
    if rule.motion == "misalignment":
        return f"past {short(rule.high or 0.0)}{unit}"
    ends = [signed(end) for end in (rule.low, rule.high) if end is not None]
    if rule.kind == "measure":
        return f"(a measure) beyond {' or '.join(ends)}{unit}"
    return f"{rule.motion} past {' or '.join(ends)}{unit}"


def _joints(limit: str, names: Sequence[str]) -> str:
    told = ", ".join(names[:MOST_NAMES])
    more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
    return f"{told}{more} {limit}"


def _looked(record: RangeRecord) -> str:
    held = f"; held: {setting(record.held, record.drives)}" if record.held else ""
    measures = f", {count(record.measures, 'measure')}" if record.measures else ""
    rules = f"{count(record.pairs, 'pair')}, {count(record.limits, 'joint limit')}{measures}"
    return f"usable range, looked for in {whole_range(record.looked)}{held}; {rules}"


def range_answer(record: RangeRecord) -> Iterator[Line]:
    """Whether the file's own range can be used, then what is broken in it."""
    own = whole_range({name: record.drives[name] for name in record.looked})
    if not any(cell.usable for cell in record.cells):
        yield Line("NOTHING IS USABLE: a rule is broken with all drives at 0.", Tone.BAD)
    elif record.fits:
        yield Line(f"USABLE: every rule holds at every setting looked at in the file's own range, {own}.", Tone.GOOD)
    elif record.undecided:
        yield Line(f"UNDECIDED: every rule that can be measured holds in the file's own range, {own}.", Tone.OPEN)
    else:
        yield Line(f"NOT ALL USABLE: rules are broken in the file's own range, {own}.", Tone.BAD)
    for open_ in record.unsettled:
        tone = Tone.BAD if open_.verdict == "fails" else Tone.OPEN
        named = " – ".join(filter(None, (open_.a, open_.b)))
        told = f"{open_.verdict.upper()}, and in no figure below: {named}: {open_.why}."
        yield Line(told, tone, indent=1)
    for breach in record.breaches[:MOST_BREACHES]:
        yield Line(_breach(record, breach), indent=1)
    if len(record.breaches) > MOST_BREACHES:
        yield Line(f"{len(record.breaches) - MOST_BREACHES} more rules are broken in it.", indent=1)
    if record.islands:
        yield Line(
            f"{count(record.islands, 'setting')} of it cut off from the zero position, though all rules hold there.",
            indent=1,
        )
    for one in record.still[:MOST_STILL]:
        near = f"{gap(one.distance_mm)} mm where {short(one.required_mm)} mm is required"
        yield Line(f"{one.a} – {one.b}, which never move against each other: {near}.", Tone.BAD, indent=1)
    if len(record.still) > MOST_STILL:
        yield Line(f"{len(record.still) - MOST_STILL} more pairs that never move are too near.", Tone.BAD, indent=1)


def _breach(record: RangeRecord, breach: BreachEntry) -> str:
    rule = breach.rule
    where = f"at {setting(breach.at, record.drives)}; {count(breach.settings, 'setting')}"
    if rule.kind == "pair":
        distance = (rule.required_mm or 0.0) - (breach.short or 0.0)
        near = f"{gap(distance)} mm where {short(rule.required_mm or 0.0)} is required" if distance > 0 else "strike"
        return f"{rule.a} – {rule.b}: {near} {where}."
    if rule.kind in LIMITED:
        return f"{rule_text(rule)}, by {figure(breach.short or 0.0)}{unit_sign(rule.unit)} {where}."
    return f"{rule_text(rule)} {where}."


def _border(record: RangeRecord) -> Table:
    told = {governor.number: rules_text(governor) for governor in record.governors}
    if len(record.looked) == 1:
        rows = [(str(one.governor), told[one.governor], _at(record, one.points[0])) for one in record.stretches]
        return Table(("no.", "what", "at"), tuple(rows), frozenset({"no."}), row_is=STRETCH)
    rows4 = [
        (str(one.governor), told[one.governor], _side(one), _at(record, one.points[0]), _at(record, one.points[-1]))
        for one in record.stretches
    ]
    return Table(("no.", "what", "side", "from", "to"), tuple(rows4), frozenset({"no."}), row_is=STRETCH)


def _side(stretch: StretchEntry) -> str:
    hole = " (a hole)" if stretch.line else ""
    return ", ".join(f"{drive} {'+' if way == 'high' else MINUS}" for drive, way in stretch.sides) + hole


def _at(record: RangeRecord, point: Sequence[float]) -> str:
    return setting(dict(zip(record.looked, point, strict=True)), record.drives)


def _stops(record: RangeRecord, rows: Sequence[StopsEntry]) -> Table:
    drive, other = rows[0].drive, rows[0].other
    columns = (f"{drive} stop", f"{other} −", "by", f"{other} +", "by ")
    told = [(_stop(record, row), *_end(record, other, row.low), *_end(record, other, row.high)) for row in rows]
    return Table(columns, tuple(told), frozenset(columns))


def _stop(record: RangeRecord, row: StopsEntry) -> str:
    unit = _unit(record, row.drive)
    if row.from_ == -row.to:
        return f"±{short(row.to)}{unit}" if row.to else f"0{unit}"
    return f"{signed(row.from_)} to {signed(row.to)}{unit}"


def _end(record: RangeRecord, other: str, end: FarthestEntry | None) -> tuple[str, str]:
    if end is None:
        return "none", "–"
    return f"{signed(trunc(end.value * 100) / 100)}{_unit(record, other)}", str(end.governor)


def _unit(record: RangeRecord, name: str) -> str:
    return unit_sign(record.drives[name].unit)
