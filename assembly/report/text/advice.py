"""The end of a report: where the files lie, what to do now, and the verdict, in workshop words."""

from __future__ import annotations

from collections.abc import Iterator

from assembly.record import CureEntry, JointEntry, PairEntry, Record, RodEntry
from assembly.report.text.headline import missing_told
from assembly.report.text.layout import TONES, Block, Heading, Line
from assembly.report.text.run_files import Files, file_lines
from assembly.report.text.threads_text import cure_of_thread, short_thread
from assembly.report.text.words import (
    below,
    count,
    figure,
    millimetres,
    pair_setting,
    place,
    setting,
    short,
    signed,
    unit_sign,
    way,
)

SWEEP = "swingroom sweep "
MOST_PIECES = 4
"""Failing pairs that get advice of their own; the next run shows what is left."""

EVERYWHERE = 1 - 1e-9
"""Share of the range that is all of it, but for arithmetic."""
LEAST_SPENT = 0.1
"""degrees at rest that are worth saying."""


def closing(record: Record, files: Files, command: str) -> Iterator[Block]:
    """Files, what to do now, the verdict once more; ``command`` is the one that was run."""
    yield Line("")
    yield from file_lines(files)
    yield Heading("What to do now")
    for text in advice(record, command):
        yield Line(f"- {text}", indent=1)
    yield from sweep_verdict(record)


def sweep_verdict(record: Record) -> Iterator[Line]:
    """The verdict in one sentence, to stand last."""
    yield Line("")
    yield Line(f"{record.verdict.upper()}: {record.reason}", TONES[record.verdict])


def advice(record: Record, command: str) -> Iterator[str]:
    """Steps for the bench, the most pressing first."""
    failing = [pair for pair in record.pairs if pair.verdict == "fails"]
    for pair in failing[:MOST_PIECES]:
        yield _free(pair, record)
    if len(failing) > MOST_PIECES:
        more = count(len(failing) - MOST_PIECES, "more pair fails", "more pairs fail")
        yield f"{more}: begin with these, they may be gone with them"
    if record.unreachable:
        yield from _reach(record)
    yield from _limits(record)
    if record.verdict == "undecided":
        yield from _decide(record, command)
    if record.verdict == "clear":
        yield from (_measure(pair, record) for pair in record.pairs[:1] if pair.closed_in)
        yield "cut, weld and bolt as drawn, and run this again after the next edit"
    else:
        yield f"{_helps(record, command)}then run again: {command}"


def _limits(record: Record) -> Iterator[str]:
    """What to do about joints, rods, threads and measures beyond their limits."""
    for joint in record.joints:
        if joint.verdict == "fails":
            yield _lean(joint, record) if joint.kind == "ball" else _end(joint, record)
    yield from (_clock(rod, record) for rod in record.rods if rod.verdict == "fails")
    yield from (f"{short_thread(rod)}: {cure_of_thread(rod)}" for rod in record.threads if rod.verdict == "fails")
    past = [one.name for one in record.measures if one.verdict == "fails"]
    if past:
        yield f"{' and '.join(past)}: change a dimension that moves it, or what it may be (`least`, `most`)"


def _helps(record: Record, command: str) -> str:
    """Which command names numbers that would give the worst pair its clearance; empty where no pair fails."""
    if not (command.startswith(SWEEP) and any(pair.verdict == "fails" for pair in record.pairs)):
        return ""
    file = command.removeprefix(SWEEP)
    return f"what to change, by how much: `swingroom helps {file}`, or `propose` or `grind` in place of `helps`; "


def _free(pair: PairEntry, record: Record) -> str:
    at = pair_setting(pair, record.drives)
    ended = _ended(pair, record)
    if pair.cure is not None:
        return f"{pair.a} against {pair.b}: {_cure(pair.cure)}{ended}"
    if pair.overlap is not None:
        whole = missing_told(pair, pair.overlap)
        spare = f", of which {short(pair.required_mm)} mm are the clearance required" if pair.required_mm else ""
        missing = f"{whole} mm of clearance is missing at {at}{spare}"
        text = f"{pair.a} against {pair.b}: {missing}; {_drawn_so(pair)}"
    elif pair.least_mm is None or pair.least_mm <= 0 or pair.swallowed:
        text = f"{pair.a} against {pair.b}: draw them apart where they stand at {at}"
    else:
        more = ("" if pair.closed_in else "at least ") + millimetres(-below(pair.least_mm - pair.required_mm))
        text = f"{pair.a} against {pair.b}: grind, shim or move one of them for {more} more clearance at {at}"
    return f"{text}{ended}"


def _drawn_so(pair: PairEntry) -> str:
    """Of a strike that nothing cures: what is near at every setting was most likely drawn so."""
    if pair.constant or (pair.region is not None and pair.region.share > EVERYWHERE):
        return "they are too near at every setting looked at, so most likely drawn into each other: look there first"
    return "no shift of one shape is known that gives it at every setting"


def _ended(pair: PairEntry, record: Record) -> str:
    """The smaller range of a drive that was swept and clears the pair."""
    for name, within in pair.clear_within.items():
        whole, unit = record.drives[name], unit_sign(within.unit)
        ends = [(within.from_, whole.from_), (within.to, whole.to)]
        told = " and ".join(f"{signed(now)}{unit}" for now, before in ends if now != before)
        others = [f"all of {other}" for other in record.drives if other != name]
        over = f" over {' and '.join(others)}" if others else ""
        return f"; or let stops end {name} at {told}: swept so{over}, the pair keeps its clearance"
    return ""


def _cure(cure: CureEntry) -> str:
    """A cure that was swept, in workshop words."""
    joined = f"joined at {cure.joint} and overlapping as drawn"
    told = "swept so, the pair keeps its clearance" if cure.clear else "what strikes then, strikes elsewhere"
    if cure.bearing:
        shapes = " and ".join(f"{' and '.join(names)} of {name}" for name, names in cure.bearing.items())
        return f'{joined}: {shapes} are its bearing, so write bearing_of = "{cure.joint}" into these shapes; {told}'
    if cure.joint:
        seat = short(cure.seat_mm)
        size = f"seat_radius = {seat}"
        if cure.ball:
            part, shape = cure.ball
            size = f'seat_radius = "bearing", which takes as much as holds {shape} of {part}'
        return f"{joined}: give the joint a seat of about {seat} mm ({size}); {told}"
    worse = "; ".join(
        f"{one.a} and {one.b} then come within {millimetres(one.least_mm)}"
        f"{f', {millimetres(one.before_mm)} before' if one.before_mm is not None else ''}"
        for one in cure.nearer
    )
    return (
        f"draw {cure.shape} of {cure.part} {short(cure.shift_mm)} mm farther {_towards(cure)}, as it stands with all "
        f"drives at 0; swept so, the pair keeps its clearance at every setting and no other pair of {cure.part} "
        f"loses its own"
        f"{f'; but {worse}' if worse else ''}"
    )


def _towards(cure: CureEntry) -> str:
    """The direction in words."""
    return way(cure.direction, 1.0).rpartition(" mm ")[2]


def _reach(record: Record) -> Iterator[str]:
    lost = record.unreachable[0]
    where, loop = place(lost, record.drives), " – ".join(lost.loop)
    what = f"the machine cannot go to {where}" if lost.missed else f"at {where} the machine may fold over"
    if lost.missed or lost.near_singular:
        yield f"{what}: change a length in the loop {loop}, or give the drives a smaller range"
    elif lost.held_twice:
        yield (
            f"the loop {loop} is held by more than it needs: let a drive set only one of its joints, free one joint or "
            "leave out a link of it; or give it lengths at which it misses by nothing"
        )
    else:
        yield (
            f"the machine goes together at {where}, but how it moves round there could not be proven; look at it there "
            "with `swingroom pose`, and take no pair that is not marked clear for clear"
        )


def _lean(joint: JointEntry, record: Record) -> str:
    over = figure(-(joint.reserve or 0.0), 1)
    cure = "give its mounting more clearance" if joint.limiter else "take a rod end with a wider angle"
    used = joint.spent or 0.0
    spent = f" (it leans {figure(used, 1)}° with all drives at 0 already)" if used >= LEAST_SPENT else ""
    return (
        f"{joint.name} leans {over}° too far at {setting(joint.at_most, record.drives)}: set its bolt or its housing "
        f"over{spent}, {cure}, or stop the motion sooner; past its angle it levers its thread off"
    )


def _end(joint: JointEntry, record: Record) -> str:
    over = f"{figure(-(joint.reserve or 0.0), 1)}{unit_sign(joint.unit)}"
    return f"{joint.name} goes {over} past its limit at {setting(joint.at, record.drives)}: stop the motion sooner"


def _clock(rod: RodEntry, record: Record) -> str:
    names, at = " with ".join(rod.parts), setting(rod.at, record.drives)
    binds = f"{names} binds at {at}, {figure(-rod.free / 2, 1)}° missing"
    if rod.clocking is not None and rod.clocked_free is not None and rod.clocked_free > 0:
        way = "clockwise" if rod.clocking > 0 else "counter-clockwise"
        turn = f"{figure(abs(rod.clocking), 1)}° {way}, seen from {rod.ends[0]} towards it"
        return (
            f"{binds}: slacken a nut and turn {rod.ends[1]} on the rod by {turn}; "
            f"it can then roll {figure(rod.clocked_free, 1)}° at the least"
        )
    return f"{binds}, and no clocking of its ends helps: give {rod.first_out} more angle"


def _decide(record: Record, command: str) -> Iterator[str]:
    reasons = {pair.why for pair in record.pairs if pair.verdict == "undecided"}
    if record.work.stopped:
        yield "let it run longer: give a larger --time-limit, or none"
    if any("facets" in reason for reason in reasons):
        yield f"draw finer: a smaller `facet_error` at the top of the file, or a finer mesh, then {command}"
    elif not record.work.stopped and not record.unreachable and reasons:
        yield "give the pairs named above a little more clearance, or require a little less of them"
    yield f"until it is decided, treat {'the pairs' if reasons else 'what is'} marked UNDECIDED as not clear"


def _measure(pair: PairEntry, record: Record) -> str:
    return (
        f"try one number on the machine: at {pair_setting(pair, record.drives)} the gap between {pair.a} and {pair.b} "
        f"should be {millimetres(pair.least_mm, 1)}"
    )
