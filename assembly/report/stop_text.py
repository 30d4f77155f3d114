"""A stop design in words: does each stop act first, what to make it, what it takes, what to write into the file."""

from __future__ import annotations

from collections.abc import Iterator

from assembly.record import ActsEntry, DirectionEntry, EndEntry, LimitEntry, ProofEntry, StopEntry, StopsRecord
from assembly.report.blocks import Block, Heading, Line, Table, Tone
from assembly.report.sweep_text import CAUTION, TONES
from assembly.report.words import below, count, figure, gap, setting, short, signed, unit_sign

SQUARE = 30.0
"""Degrees beyond which a blow is said to come askew (common practice)."""
ASIDE = 1.0
"""mm of wander of the contact that are worth saying."""
LAW = (
    "Loads are those that the file states, each stop taking all of its load alone, on stiff parts. Strengths are the "
    "file's numbers or the named standard's; what a rod end stands is not built in, for its makers disagree."
)


def stop_blocks(record: StopsRecord) -> Iterator[Block]:
    """The whole answer, but where the files lie."""
    yield Line(f"{record.machine.name}: stops", Tone.QUIET)
    yield Line("")
    word = {"clear": "STOPS HOLD", "fails": "FAILS", "undecided": "UNDECIDED"}[record.verdict]
    yield Line(f"{word}: {record.reason}", TONES[record.verdict])
    yield from _directions(record)
    for stop in record.stops:
        yield from _stop(stop, record)
    if record.proof:
        yield from _proof(record.proof, record)
    yield from _paste(record)
    yield Heading("What to do now")
    yield from (Line(f"- {text}", indent=1) for text in _advice(record))
    yield Line("")
    yield Line(LAW, Tone.QUIET)
    yield Line(CAUTION, Tone.QUIET)


def _directions(record: StopsRecord) -> Iterator[Block]:
    yield Heading("First to touch, each way of each drive (looked at in steps; the proof is below)")
    rows, tones = [], []
    for one in record.directions:
        held = one.first_stop or ("NO STOP" if not one.stops else "NOT THE STOP")
        free = one.missed is None and one.first_stop is None
        rows.append((f"{one.drive} {_way(one)}", "nothing" if free else held, _end(one.missed or one.first, record)))
        tones.append(Tone.BAD if one.missed else Tone.GOOD if one.first_stop else Tone.PLAIN)
    yield Table(columns=("towards", "first", "without a stop it would be"), rows=tuple(rows), tones=tuple(tones))


def _way(one: DirectionEntry) -> str:
    return "+" if one.side == "high" else "−"


def _end(end: EndEntry, record: StopsRecord) -> str:
    at = setting(end.at, record.drives)
    if end.cause == "pair":
        return f"{end.names[0]} on {end.names[1]} at {at}"
    if end.cause == "joint":
        return f"{end.names[0]} at its limit at {at}"
    return f"it locks at {at}" if end.cause == "loop" else f"nothing touches or runs out, looked at as far as {at}"


def _stop(stop: StopEntry, record: StopsRecord) -> Iterator[Block]:
    side = "+" if stop.side == "high" else "−"
    yield Heading(f"{stop.name}: {stop.kind} on {stop.carrier}, ends {stop.drive} {side}")
    for fault in stop.faults:
        yield Line(f"NO STOP: {fault}", Tone.BAD, 1)
    if stop.acts is None:
        return
    unit = record.drives[stop.drive].unit
    yield from (Line(text, indent=1) for text in _place(stop, stop.acts, unit, record))
    yield from (Line(text, tone, 1) for text, tone in _blow(stop, unit))


def _place(stop: StopEntry, acts: ActsEntry, unit: str, record: StopsRecord) -> Iterator[str]:
    sign = unit_sign(unit)
    known = "as the file says" if stop.stated else "to make it"
    yield f"acts at      {_acts(stop, acts, sign)}"
    yield f"height       {figure(stop.to_make_mm or 0.0)} mm {known}{_recommended(stop)}"
    yield f"dictated by  {_dictated(stop, acts.dictated_by, sign, record)}"
    yield f"gives away   {short(max(0.0, acts.given_away))}{sign} against what would touch or run out first"
    if stop.thread is not None:
        thread = stop.thread
        yield (
            f"thread       {short(thread.turns, 1)} turns of {short(thread.pitch_mm)} mm pitch stand out; "
            f"one turn is {short(thread.per_turn)}{sign}, a flat {short(thread.per_turn / 6)}{sign}"
        )
    if stop.ahead_of and stop.order is not None:
        yield f"order        acts {short(stop.order)}{sign} before {stop.ahead_of}, at the least"


def _acts(stop: StopEntry, acts: ActsEntry, sign: str) -> str:
    """One setting, or the first and the last with what makes the difference."""
    reasons = ["as the other drives stand"] if abs(acts.last - acts.first) - 2 * acts.unsure > 0.01 else []
    if acts.unsure >= 0.005:
        reasons.append(f"±{short(acts.unsure)}{sign} as {_met_by(stop)} lies off its facets")
    if not reasons:
        return f"{signed(acts.setting)}{sign}"
    return f"{signed(acts.first)} to {signed(acts.last)}{sign}, {' and '.join(reasons)}"


def _met_by(stop: StopEntry) -> str:
    """The part that meets the pad or bolt."""
    return stop.striker if stop.carrier == stop.struck else stop.struck


def _recommended(stop: StopEntry) -> str:
    if not stop.stated or stop.recommended_mm is None:
        return ""
    return f" ({figure(stop.recommended_mm)} mm would be enough)"


def _dictated(stop: StopEntry, end: EndEntry, sign: str, record: StopsRecord) -> str:
    if stop.ahead_of:
        return f"{stop.ahead_of}, which it comes ahead of"
    if end.cause == "range":
        return f"the range that the file asks for, {setting(end.at, record.drives)}: nothing runs out before"
    kept = ""
    if end.cause == "pair":
        kept = f" with {short(end.kept)} mm left" if end.kept else ""
        kept += f", {short(end.pace)} mm for each {sign.strip()} more" if end.pace else ""
    elif end.cause == "joint":
        kept = f" less {short(end.kept)} kept"
    taken = [
        f"{short(size)}{sign} for {what}" for size, what in ((stop.play, "play"), (stop.give, "the pad's give")) if size
    ]
    return f"{_end(end, record)}{kept}" + (f"; less {' and '.join(taken)}" if taken else "")


def _blow(stop: StopEntry, unit: str) -> Iterator[tuple[str, Tone]]:
    met, press = stop.contact, stop.press
    if met is not None:
        askew = met.unsquare_deg > SQUARE
        wander = f", wanders {short(met.drift_mm, 1)} mm on it with the other drives" if met.drift_mm > ASIDE else ""
        yield (
            f"struck       by {_met_by(stop)} ({met.shape}) at "
            f"{_point(met.on_stop)}, {short(met.unsquare_deg, 1)}° from square{' ASKEW' if askew else ''}{wander}",
            Tone.BAD if askew else Tone.PLAIN,
        )
        per = unit_sign(unit).strip()
        lever = f"lever {short(met.lever_mm, 1)} mm, " if met.lever_mm is not None else ""
        yield f"leverage     {lever}{figure(met.mm_per_unit, 3)} mm for each {per}", Tone.PLAIN
    if press is not None:
        yield from _press(stop)


def _press(stop: StopEntry) -> Iterator[tuple[str, Tone]]:
    press, held = stop.press, stop.held
    if press is None:
        return
    parts = [f"{short(press.force_n, 0)} N"]
    if press.moment_nm is not None:
        parts.append(f"from {short(press.moment_nm, 1)} N·m")
    if press.energy_j is not None:
        parts.append(f"a fall of {short(press.energy_j, 1)} J in it")
    yield f"takes        {', '.join(parts)}", Tone.PLAIN
    if press.give_mm is not None and press.strain is not None:
        more = " FARTHER THAN ITS FIGURES HOLD: take a larger or stiffer pad" if press.strained else ""
        yield (
            f"pad gives    {figure(press.give_mm)} mm, {short(100 * press.strain, 0)} % of its thickness{more}",
            Tone.BAD if press.strained else Tone.PLAIN,
        )
    if held is not None:
        bearing = "" if held.bearing_n is None else f", {short(held.bearing_n, 0)} N in the tab's holes"
        yield (
            f"fasteners    take {short(held.shear_n, 0)} N in shear{bearing}{' TOO WEAK' if press.weak else ''}",
            Tone.BAD if press.weak else Tone.PLAIN,
        )
    if press.peak_mpa is not None:
        yield (
            f"pressure     {short(press.peak_mpa, 0)} MPa where they touch; ask what the softer one stands",
            Tone.PLAIN,
        )


def _proof(proof: ProofEntry, record: StopsRecord) -> Iterator[Block]:
    ranges = ", ".join(
        f"{name} {signed(drive.from_)} to {signed(drive.to)}{unit_sign(drive.unit)}"
        for name, drive in proof.drives.items()
    )
    yield Heading("Proof: the machine with its stops built in, swept as far as they let it go, play and give added")
    yield Line(ranges, indent=1)
    open_ = [pair for pair in proof.near if pair.verdict != "clear"]
    if not open_:
        nearest = proof.near[0] if proof.near else None
        least = (
            ""
            if nearest is None or nearest.proven_mm is None
            else (
                f"; nearest to what it must keep: {nearest.a} – {nearest.b}, never below "
                f"{figure(below(nearest.proven_mm))} mm where {short(nearest.required_mm)} are required"
            )
        )
        yield Line(f"all {count(proof.pairs, 'pair')} keep their clearance{least}", Tone.GOOD, 1)
    for pair in open_:
        least = "–" if pair.least_mm is None else f"{gap(pair.least_mm)} mm"
        at = setting(pair.at, record.drives)
        yield Line(f"{pair.verdict.upper()}: {pair.a} – {pair.b} {least} at {at}: {pair.why}", TONES[pair.verdict], 1)
    for joint in proof.joints:
        if joint.verdict != "clear":
            yield Line(f"{joint.verdict.upper()}: {_limit(joint)}", TONES[joint.verdict], 1)
    if proof.joints and all(joint.verdict == "clear" for joint in proof.joints):
        yield Line(f"all {count(len(proof.joints), 'joint limit')} are proven to be kept", Tone.GOOD, 1)
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


def _limit(joint: LimitEntry) -> str:
    sign = unit_sign(joint.unit)
    ends = [f"{short(end)}{sign}" for end in (joint.low, joint.high) if end is not None]
    found = [f"{short(end)}{sign}" for end in (joint.least, joint.most) if end is not None]
    return f"{joint.joint} goes {' to '.join(found) or 'nobody knows where'}, limit {' to '.join(ends)}"


def _paste(record: StopsRecord) -> Iterator[Block]:
    new = [
        stop for stop in record.stops if stop.to_make_mm and not stop.stated and not stop.twin_of and not stop.faults
    ]
    if new:
        yield Heading("Write into the file")
        for stop in new:
            yield Line(f"[stops.{stop.name}]", indent=1)
            yield Line(f"height = {stop.to_make_mm:.2f}", indent=1)
    if record.proof and record.verdict == "clear":
        yield Heading("The range that the nightly sweep should cover, as far as the stops let the machine go")
        for name, drive in record.proof.drives.items():
            yield Line(f"[drives.{name}]", indent=1)
            yield Line(f"range = [{drive.from_:.2f}, {drive.to:.2f}]", indent=1)


def _advice(record: StopsRecord) -> Iterator[str]:
    faulty = [stop for stop in record.stops if stop.faults]
    for one in record.directions:
        if not one.stops and one.missed is not None:
            yield f"declare a stop for {one.drive} {_way(one)}: now {_end(one.first, record)} ends it"
        elif one.missed is not None and not faulty:
            yield f"let the stop of {one.drive} {_way(one)} act before {_end(one.missed, record)}: higher, or elsewhere"
    for stop in record.stops:
        yield from _mending(stop)
    if record.proof and any(pair.verdict == "fails" for pair in record.proof.near):
        yield "give the stops more margin, or move the parts that come too near"
    if not record.stops and record.verdict == "undecided":
        yield "declare a stop where a drive must not go on: [stops.NAME] in the file"
    elif record.verdict == "undecided" and not any(stop.press and stop.press.strained for stop in record.stops):
        yield "let the stops act sooner, away from what could not be proven, or draw the facets finer"
    if record.verdict == "clear":
        made = "" if all(stop.stated for stop in record.stops) else "write the heights into the file, and "
        yield f"{made}sweep it again after every edit"


def _mending(stop: StopEntry) -> Iterator[str]:
    if stop.faults:
        better = "" if stop.recommended_mm is None else f": make it {figure(stop.recommended_mm)} mm high"
        yield f"mend stop {stop.name}{better}"
    if stop.press is not None and stop.press.weak:
        yield f"give {stop.name} more or larger fasteners, or a longer lever"
    if stop.press is not None and stop.press.strained:
        yield f"give {stop.name} a larger, thicker or stiffer pad"


def _point(values: tuple[float, float, float]) -> str:
    return f"[{', '.join(short(value, 1) for value in values)}]"
