"""Proposals in words: what to change, what is proven then, what gets worse, the lines to paste; or what contradicts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assembly.record import (
    AllowedEntry,
    ContradictionEntry,
    MarginEntry,
    MendedEntry,
    ProposalEntry,
    ProposalRecord,
    ValueEntry,
    WorseEntry,
)
from assembly.report.text.layout import TONES, Block, Heading, Line, Tone
from assembly.report.text.words import below, count, figure, gap, short, unit_sign

MOST_BROKEN = 6
MOST_WORSE = 4
SWEPT = "swept over the whole range"


def proposal_blocks(record: ProposalRecord, command: str, helps: str) -> Iterator[Block]:
    """The whole answer; ``command`` sweeps the file, ``helps`` tells what every number does."""
    yield Line(_headline(record), TONES[record.verdict])
    yield from (Line(_broken(rule), TONES["fails"], 1) for rule in record.broken[:MOST_BROKEN])
    if len(record.broken) > MOST_BROKEN:
        yield Line(f"{count(len(record.broken) - MOST_BROKEN, 'more rule')} not kept", Tone.QUIET, 1)
    for number, proposal in enumerate(record.proposals, start=1):
        yield from _proposal(number, proposal)
    if record.contradiction is not None:
        yield from _contradiction(record.contradiction, {one.name: one for one in record.allowed})
    idle = [text for one in record.allowed if (text := _stays(one))]
    if idle:
        yield Heading("Left as they are")
        yield from (Line(text, Tone.QUIET, 1) for text in idle)
    if record.stopped:
        yield Line(f"not all was looked for: {record.stopped}", Tone.OPEN)
    yield Heading("What to do now")
    yield from (Line(f"- {text}", indent=1) for text in _advice(record, command, helps))


def _headline(record: ProposalRecord) -> str:
    asked = ""
    if record.clearance_mm is not None:
        asked = f", with {short(record.clearance_mm)} mm asked of {' – '.join(record.asked)}"
    return f"{record.verdict.upper()} as it is{asked}: {record.reason}"


def _broken(rule: MarginEntry) -> str:
    if rule.kind == "range":
        return "part of the range cannot be reached, or could not be proven"
    if rule.margin is None:
        return f"{_called(rule)}: its margin is not known"
    if rule.margin < 0:
        return f"{_called(rule)}: {gap(-rule.margin)}{unit_sign(rule.unit)} short of its rule"
    return f"{_called(rule)}: {gap(rule.margin)}{unit_sign(rule.unit)} of margin was found, but is not proven"


def _called(rule: MarginEntry) -> str:
    if rule.kind == "pair":
        return " – ".join(rule.names)
    if rule.kind == "range":
        return "the whole range"
    return f"{' with '.join(rule.names)} ({rule.motion})"


def _proposal(number: int, proposal: ProposalEntry) -> Iterator[Block]:
    changes = " and ".join(_change(one) for one in proposal.values)
    yield Heading(f"Proposal {number}: {changes}")
    yield Line(f"{proposal.verdict.upper()}, {SWEPT}: {proposal.reason}", TONES[proposal.verdict], 1)
    yield from (Line(_mended(one), Tone.PLAIN, 1) for one in proposal.mended[:MOST_BROKEN])
    if len(proposal.mended) > MOST_BROKEN:
        yield Line(f"and {count(len(proposal.mended) - MOST_BROKEN, 'more rule')} kept", Tone.QUIET, 1)
    yield from (Line(text, Tone.PLAIN, 1) for text in _worse(proposal.worse))
    for one in proposal.values:
        yield Line(f"{'' if one.line is None else f'line {one.line}: '}{one.text}", indent=1, whole=True)


def _change(one: ValueEntry) -> str:
    change = one.after - one.before
    by = f"{short(abs(change))} {'more' if change > 0 else 'less'}"
    return f"{one.name} {short(one.before)} to {short(one.after)} ({by})"


def _mended(one: MendedEntry) -> str:
    if one.rule.kind == "pair":
        was = "not measured" if one.before is None else f"{gap(one.before)} mm"
        if one.before is not None and one.before < 0:
            was = f"{gap(-one.before)} mm deep"
        now = "" if one.after is None else f", then proven {figure(below(one.after))} mm"
        return f"{_called(one.rule)}: {was} today{now} ({short(one.rule.required or 0.0)} mm required)"
    if one.before is None or one.after is None:
        return f"{_called(one.rule)}: then kept"
    unit = unit_sign(one.rule.unit)
    return f"{_called(one.rule)}: margin {figure(one.before)}{unit} today, then {figure(below(one.after))}{unit}"


def _worse(lost: Sequence[WorseEntry]) -> Iterator[str]:
    if not lost:
        yield "nothing near its limit gets worse"
    for one in lost[:MOST_WORSE]:
        unit = unit_sign(one.unit)
        margins = f"margin {figure(one.before)} to {figure(below(one.after))}{unit}"
        yield f"gets worse: {one.what}, {margins} ({figure(one.before - one.after)}{unit} less)"
    if len(lost) > MOST_WORSE:
        yield f"{count(len(lost) - MOST_WORSE, 'more figure')} {'gets' if len(lost) == MOST_WORSE + 1 else 'get'} worse"


def _contradiction(found: ContradictionEntry, allowed: dict[str, AllowedEntry]) -> Iterator[Block]:
    yield Line("")
    yield Line("No change that the file allows was found after which every rule holds.", Tone.BAD)
    if found.rules:
        yield Heading("These cannot all be kept, as far as slopes tell where it came nearest")
        yield from (Line(_kept(rule), indent=1) for rule in found.rules)
        yield from (
            Line(f"{one.name}: {'at the most' if one.side == 'most' else 'at the least'} {short(one.value)}", indent=1)
            for one in found.limits
        )
        sizes = [one for one in allowed.values() if one.sizes and one.moves]
        yield from (Line(f"{one.name}: one of its sizes", indent=1) for one in sizes)
    else:
        yield Line("Slopes promise that one would do; none that was tried holds.", indent=1)
    yield Heading(f"It came nearest with {_nearest(found.values)}")
    yield from (Line(_broken(rule), TONES["fails"], 1) for rule in found.missed[:MOST_BROKEN])


def _kept(rule: MarginEntry) -> str:
    if rule.kind == "range":
        return "the whole range can be reached"
    what = f"keep {short(rule.required or 0.0)} mm" if rule.kind == "pair" else "keeps its limit"
    return f"{_called(rule)} {what}"


def _nearest(values: Sequence[ValueEntry]) -> str:
    return ", ".join(f"{one.name} {short(one.after)}" for one in values) or "what stands in the file"


def _stays(one: AllowedEntry) -> str:
    """Why a marked dimension is not changed; nothing if it could be."""
    if one.stays:
        return f"{one.name}: {one.stays}"
    return "" if one.moves else f"{one.name}: nothing that is near its limit depends on it"


def _advice(record: ProposalRecord, command: str, helps: str) -> Iterator[str]:
    found = record.contradiction
    if record.proposals:
        lines = "the lines" if any(len(one.values) > 1 for one in record.proposals) else "the line"
        yield f"write {lines} of one proposal over what stands in {record.machine.file}, then run {command}"
    elif found is not None and (found.limits or len(found.rules) > 1):
        again = command.replace(" sweep ", " propose ", 1)
        yield f"allow more of the limits above, ask less of a rule, or mark another dimension; then run {again}"
        yield f"what each number does, marked or not: {helps}"
    elif found is not None:
        yield f"mark a dimension on which it depends; what each number does: {helps}"
    elif record.stopped:
        yield "allow more time: --time-limit SECONDS"
    else:
        yield "nothing: every rule is proven to hold as it is"
