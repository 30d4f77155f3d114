"""A stop design in words: does each stop act first, what to make it, what it takes, what to write into the file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from shlex import quote

from assembly.record import (
    DirectionEntry,
    LimitEntry,
    PasteEntry,
    ProofEntry,
    StopEntry,
    StopsRecord,
)
from assembly.report.text.layout import TONES, Block, Heading, Line, Table, Tone
from assembly.report.text.measures_text import beyond
from assembly.report.text.stop_figures import blow_figures, stop_figures, told_end
from assembly.report.text.sweep_text import caution
from assembly.report.text.words import below, count, figure, least_told, setting, short, signed, true_minus, unit_sign

_HOW = {"below": "below", "inside": "inside, right after", "instead": "instead of"}
MOST_FIGURES = 2
"""Of each stop on one screen: where it acts, and its height."""
LAW = (
    "Loads are those that the file states, each stop bearing its whole load alone, on stiff parts. Strengths are the "
    "file's numbers or the named standard's; what a rod end stands is not built in, for its makers disagree."
)

SHORT_LAW = "Loads are those that the file states; each stop bears its whole load alone."


def stop_blocks(record: StopsRecord) -> Iterator[Block]:
    """The whole answer, but where the files lie."""
    word = {"clear": "STOPS HOLD", "fails": "FAILS", "undecided": "UNDECIDED"}[record.verdict]
    yield Line(f"{word}: {record.reason}", TONES[record.verdict])
    if record.why_none:
        yield Line(f"no heights were found that pass the proof: {record.why_none}", TONES[record.verdict])
    yield Line(f"{record.machine.name}: stops", Tone.QUIET)
    if record.given_up:
        yield from (Line(text) for text in _given_up(record))
    yield from _directions(record)
    for stop in record.stops:
        yield from _stop(stop, record)
    if record.proof:
        yield from _proof(record.proof, record)
    yield from _paste(record)
    yield Heading("What to do now")
    yield from (Line(f"- {text}", indent=1) for text in _advice(record))
    yield Line("")
    yield Line(LAW, Tone.QUIET, brief=SHORT_LAW)
    yield caution()


def _given_up(record: StopsRecord) -> Iterator[str]:
    """What the stops take of the range that was asked for, each way, and where they let it go on."""
    told, past = [], []
    for one in record.given_up:
        sign = unit_sign(record.drives[one.drive].unit)
        if one.amount > 0:
            told.append(
                f"{short(one.amount)}{sign} of {one.drive} {signed(one.asked)}{sign} (struck from "
                f"{signed(one.acts)}{sign} on)"
            )
        if one.past > 0:
            past.append(
                f"{one.drive} may go {short(one.past)}{sign} beyond {signed(one.asked)}{sign} before it is struck"
            )
    yield f"travel lost of the range asked for: {', '.join(told) or 'nothing'}"
    yield from past


def _directions(record: StopsRecord) -> Iterator[Block]:
    proof = "the proof is below" if record.proof else "nothing of it is proven"
    yield Heading(f"First to touch, each way of each drive (looked at in steps; {proof})")
    rows, tones = [], []
    for one in record.directions:
        held = one.first_stop or ("NO STOP" if not one.stops else "NOT THE STOP")
        free = one.missed is None and one.first_stop is None
        rows.append(
            (f"{one.drive} {_way(one)}", "nothing" if free else held, told_end(one.missed or one.first, record))
        )
        tones.append(Tone.BAD if one.missed else Tone.GOOD if one.first_stop else Tone.PLAIN)
    yield Table(columns=("towards", "first", "without a stop it would be"), rows=tuple(rows), tones=tuple(tones))


def _way(one: DirectionEntry) -> str:
    return "+" if one.side == "high" else "−"


def _stop(stop: StopEntry, record: StopsRecord) -> Iterator[Block]:
    side = "+" if stop.side == "high" else "−"
    yield Heading(f"{stop.name}: {stop.kind} on {stop.carrier}, ends {stop.drive} {side}", most=MOST_FIGURES)
    for fault in stop.faults:
        yield Line(f"NO STOP: {true_minus(fault)}", Tone.BAD, 1)
    if stop.acts is None:
        return
    unit = record.drives[stop.drive].unit
    yield from (Line(text, indent=1) for text in stop_figures(stop, stop.acts, unit, record))
    yield from (Line(text, tone, 1) for text, tone in blow_figures(stop, unit))


def _proof(proof: ProofEntry, record: StopsRecord) -> Iterator[Block]:
    ranges = ", ".join(
        f"{name} {signed(drive.from_)} to {signed(drive.to)}{unit_sign(drive.unit)}"
        for name, drive in proof.drives.items()
    )
    yield Heading(
        "Proof: the machine with its stops built in, swept as far as they let it go, play and deflection added"
    )
    yield Line(ranges, indent=1)
    open_ = [pair for pair in proof.near if pair.verdict != "clear"]
    if not open_:
        least = _least_margin(proof)
        yield Line(f"all {count(proof.pairs, 'pair')} keep their clearance{least}", Tone.GOOD, 1)
    for pair in open_:
        least = least_told(pair.least_mm, pair.proven_mm, pair.verdict, closed_in=pair.closed_in)
        least += "" if pair.least_mm is None else " mm"
        at = setting(pair.at, record.drives)
        yield Line(f"{pair.verdict.upper()}: {pair.a} – {pair.b} {least} at {at}: {pair.why}", TONES[pair.verdict], 1)
    for joint in proof.joints:
        if joint.verdict != "clear":
            yield Line(f"{joint.verdict.upper()}: {_limit(joint)}", TONES[joint.verdict], 1)
    if proof.joints and all(joint.verdict == "clear" for joint in proof.joints):
        yield Line(f"all {count(len(proof.joints), 'joint limit')} are proven to be kept", Tone.GOOD, 1)
    yield from _measures(proof)
    for one in proof.struck:
        stop = next(stop for stop in record.stops if stop.name == one.stop)
        by = f"{signed(one.by)}{unit_sign(record.drives[stop.drive].unit)}"
        others = "" if len(record.drives) == 1 else ", wherever the other drives stand"
        if one.proven:
            yield Line(f"{one.stop} is proven to be struck by {stop.drive} {by}{others}", Tone.GOOD, 1)
        elif one.missed:
            where = setting(one.gap, record.drives)
            yield Line(f"{one.stop} IS NOT STRUCK at {where}: {stop.drive} goes on there", Tone.BAD, 1)
        else:
            yield Line(f"{one.stop} is not proven to be struck at {setting(one.gap, record.drives)}", Tone.OPEN, 1)


def _measures(proof: ProofEntry) -> Iterator[Block]:
    """What is proven of the limits of measures."""
    for one in proof.measures:
        if one.verdict == "fails":
            yield Line(f"FAILS: {beyond(one, proof.drives)}", Tone.BAD, 1)
        elif one.verdict == "undecided":
            yield Line(f"UNDECIDED: {one.name} is not proven to keep its limits: {one.why}", Tone.OPEN, 1)
    if proof.measures and all(one.verdict == "clear" for one in proof.measures):
        yield Line(f"{count(len(proof.measures), 'measure')} proven to keep within limits", Tone.GOOD, 1)


def _least_margin(proof: ProofEntry) -> str:
    """Of pairs that all keep their clearance the one with the least margin."""
    nearest = proof.near[0] if proof.near else None
    if nearest is None or nearest.proven_mm is None:
        return ""
    return (
        f"; least margin: {nearest.a} – {nearest.b}, never below "
        f"{figure(below(nearest.proven_mm))} mm where {short(nearest.required_mm)} are required"
    )


def _limit(joint: LimitEntry) -> str:
    sign = unit_sign(joint.unit)
    ends = [f"{short(end)}{sign}" for end in (joint.low, joint.high) if end is not None]
    found = [f"{short(end)}{sign}" for end in (joint.least, joint.most) if end is not None]
    return f"{joint.joint} goes {' to '.join(found) or 'nobody knows where'}, limit {' to '.join(ends)}"


def _paste(record: StopsRecord) -> Iterator[Block]:
    """The lines as they are to stand in the file, and where."""
    if record.heights_to_write:
        yield Heading("Write into the file")
        yield from _pasted(record.heights_to_write)
    if record.ranges_to_write:
        ranges = count(len(record.ranges_to_write), "range")
        aside = f"{ranges} that the nightly sweep should cover, as lines for the file"
        yield Heading("The range that the nightly sweep should cover, as far as the stops let the machine go", aside)
        yield from _pasted(record.ranges_to_write)


def _pasted(entries: Sequence[PasteEntry]) -> Iterator[Block]:
    for one in entries:
        line = "" if one.line is None else f"line {one.line}, "
        yield Line(f"{line}{_HOW[one.how]} {one.anchor}", Tone.QUIET, 1)
        yield Line(one.text, indent=2)


def _advice(record: StopsRecord) -> Iterator[str]:
    faulty = [stop for stop in record.stops if stop.faults]
    for one in record.directions:
        if not one.stops and one.missed is not None:
            yield _undeclared(one, record)
        elif one.missed is not None and not faulty:
            end = told_end(one.missed, record)
            yield f"let the stop of {one.drive} {_way(one)} act before {end}: higher, or elsewhere"
    for stop in record.stops:
        yield from _mending(stop)
    if record.proof and any(pair.verdict == "fails" for pair in record.proof.near):
        yield "give the stops more margin, or move the parts that come too near"
    past = [one.name for one in record.proof.measures if one.verdict == "fails"] if record.proof else []
    if past:
        yield (
            f"let a stop act before {past[0]} reaches its limit, or move what it is measured on: "
            f"`swingroom helps {quote(record.machine.file)} --measure {quote(past[0])}` says which numbers do most"
        )
    if not record.stops and record.verdict == "undecided":
        yield "declare a stop where a drive must not go on: [stops.NAME] in the file"
    elif record.verdict == "undecided" and not any(stop.press and stop.press.strained for stop in record.stops):
        yield "let the stops act sooner, away from what could not be proven, or draw the facets finer"
    if record.verdict == "clear":
        made = "" if all(stop.stated for stop in record.stops) else "write the heights into the file, and "
        yield f"{made}sweep it again after every edit"


def _undeclared(one: DirectionEntry, record: StopsRecord) -> str:
    """A way without a stop. What is there before its drive leaves 0 no stop of that drive can keep off."""
    end = told_end(one.first, record)
    if one.first.cause in ("pair", "joint") and one.first.at.get(one.drive) == 0:
        unmoved = f"{end}, before {one.drive} moves at all"
        return f"mend first what no stop of {one.drive} can keep off ({_way(one)}): {unmoved}"
    return f"declare a stop for {one.drive} {_way(one)}: now {end} ends it"


def _mending(stop: StopEntry) -> Iterator[str]:
    if stop.faults:
        better = ": leave its height out, and one that is proven is looked for" if stop.stated else ""
        yield f"mend stop {stop.name}{better}"
    if stop.press is not None and stop.press.weak:
        yield f"give {stop.name} more or larger fasteners, or a longer lever"
    if stop.press is not None and stop.press.strained:
        yield f"give {stop.name} a larger, thicker or stiffer pad"
