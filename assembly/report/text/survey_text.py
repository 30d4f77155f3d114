"""What was measured, in words: what each number is now, which readings contradict, and what to measure next."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from assembly.record import BuiltPairEntry, DriveEntry, FittedEntry, ObservationEntry, Settings, SurveyRecord
from assembly.report.text.layout import TONES, Block, Heading, Line, Table, Tone
from assembly.report.text.words import figure, setting, short, signed, unit_sign

NOTHING = "–"
CAUTION = (
    "± holds 19 of 20 cases, as the errors of the readings do; what it may take of a clearance is not in the sweep."
)
SHIFT = 0.005
"""A number that is off by less is as drawn."""
MIRRORED = 0.1
"""A reading that is the others' with the other sign, but for this share of it, was written down with the wrong sign."""
FEW = 3
"""Lines to paste, and readings that agree, that a report of one screen always has."""
LINES = "lines to paste"
FAR_OFF = 2.0
"""Standard deviations from which on a reading is told as off."""


def survey_blocks(record: SurveyRecord, command: str, file: str, written: str = "") -> Iterator[Block]:
    """The whole answer; ``command`` is the one that was run on ``file``, ``written`` where the fitted file now lies."""
    if record.swept is None and record.verdict == "clear":
        yield Line(f"Fitted, not swept: {record.reason}", Tone.GOOD)
    else:
        yield Line(f"{record.verdict.upper()}: {record.reason}", TONES[record.verdict])
    yield from _numbers(record.numbers)
    yield from _readings(record)
    yield from _sides(record)
    yield from _swept(record)
    if record.lines and not written:
        yield Heading(
            f"Lines of {file} with the fitted numbers, to paste", aside="" if len(record.lines) <= FEW else LINES
        )
        for number, text in record.lines.items():
            yield Line(f"line {number}: {text.strip()}", indent=1, whole=True)
    yield Heading("What to do now")
    yield from (Line(f"- {told}", indent=1) for told in _advice(record, command, file, written))
    yield Line("")
    yield Line(CAUTION, Tone.QUIET)


def _numbers(numbers: Sequence[FittedEntry]) -> Iterator[Block]:
    if not numbers:
        return
    yield Heading("What the machine has")
    yield Table(
        ("number", "drawn", "now", "±", "change", "how well it is known"),
        tuple(map(_number_row, numbers)),
        frozenset(("drawn", "now", "±", "change")),
        tuple(Tone.PLAIN if one.known == "known" and not one.at_limit else Tone.OPEN for one in numbers),
        row_is=("number", "numbers"),
    )


def _number_row(one: FittedEntry) -> tuple[str, ...]:
    change = one.fitted - one.drawn
    told = signed(round(change, 2)) if abs(change) >= SHIFT else NOTHING
    error = NOTHING if one.plus_minus is None else figure(one.plus_minus)
    return one.name, short(one.drawn), figure(one.fitted), error, told, _known(one)


def _known(one: FittedEntry) -> str:
    if one.known == "together":
        return f"not told apart from {', '.join(one.others)}"
    if one.known == "unseen":
        return "no reading tells it"
    if one.at_limit:
        return f"at the end of the {short(one.may_differ)} that it may differ by"
    if one.known == "barely":
        return "hardly better than the file"
    return "as drawn, within ±" if abs(one.fitted - one.drawn) <= (one.plus_minus or 0.0) else "not as drawn"


def _readings(record: SurveyRecord) -> Iterator[Block]:
    short_enough = len(record.readings) <= FEW or any(one.left_out or one.doubtful for one in record.readings)
    yield Heading("Readings, the worst first", aside="" if short_enough else "readings")
    ordered = sorted(record.readings, key=lambda one: (not one.left_out, not one.doubtful, -(one.deviations or 0.0)))
    yield Table(
        ("reading", "read", "drawn", "fitted", "others say", "at", ""),
        tuple(_reading_row(one, record) for one in ordered),
        frozenset(("read", "drawn", "fitted", "others say")),
        tuple(Tone.BAD if one.left_out else Tone.OPEN if one.doubtful else Tone.PLAIN for one in ordered),
        row_is=("reading", "readings"),
    )


def _reading_row(one: ObservationEntry, record: SurveyRecord) -> tuple[str, ...]:
    sign = unit_sign(one.unit)
    others = NOTHING
    if one.others is not None:
        error = "" if one.others_plus_minus is None else f" ± {figure(one.others_plus_minus)}"
        others = f"{figure(one.others)}{error}"
    numbers = figure(one.drawn), figure(one.fitted), others
    return (
        one.name,
        f"{figure(one.reading)} ± {short(one.plus_minus)}{sign}",
        *numbers,
        _at(one.at, record.drives),
        _remark(one),
    )


def _at(at: Settings, drives: Mapping[str, DriveEntry]) -> str:
    told = {name: value for name, value in at.items() if value}
    return setting(told, drives) if told else "all at 0"


def _remark(one: ObservationEntry) -> str:
    if one.left_out:
        return "CONTRADICTS, left out"
    if one.doubtful:
        return "one of these is wrong"
    if not one.moved:
        off = abs(one.reading - one.drawn)
        return (
            f"rigid in the file, {figure(off)}{unit_sign(one.unit)} off" if one.rigid else "nothing marked changes it"
        )
    if one.others is None:
        return "nothing checks it"
    return "off" if (one.deviations or 0.0) > FAR_OFF else "agrees"


def _sides(record: SurveyRecord) -> Iterator[Block]:
    if not record.sides:
        return
    yield Heading("Left against right, in the mirror", aside="comparisons of left and right")
    for one in record.sides:
        sign, error = unit_sign(one.unit), "" if one.plus_minus is None else f" ± {figure(one.plus_minus)}"
        drawn = "the same" if abs(one.drawn_apart) < SHIFT else f"{signed(round(one.drawn_apart, 2))}{sign} apart"
        told = f"{one.first} and {one.second}: {signed(round(one.apart, 2))}{error}{sign} apart, drawn {drawn}"
        far = one.plus_minus is not None and abs(one.apart - one.drawn_apart) > one.plus_minus
        yield Line(f"{told}: NOT ALIKE" if far else told, indent=1)


def _swept(record: SurveyRecord) -> Iterator[Block]:
    swept = record.swept
    if swept is None:
        return
    yield Heading("The machine as it stands")
    yield Line(f"as drawn:     {swept.drawn_verdict.upper()}, {swept.drawn_reason}", TONES[swept.drawn_verdict], 1)
    yield Line(f"as it stands: {swept.built_verdict.upper()}, {swept.built_reason}", TONES[swept.built_verdict], 1)
    if not swept.pairs:
        yield Line("no clearance that was closed in on is another", indent=1)
        return
    yield Table(
        ("pair", "required", "as drawn", "as it stands"),
        tuple(map(_pair_row, swept.pairs)),
        frozenset(("required", "as drawn", "as it stands")),
        tuple(TONES[one.built_verdict] for one in swept.pairs),
        row_is=("pair", "pairs"),
    )


def _pair_row(one: BuiltPairEntry) -> tuple[str, ...]:
    least = [NOTHING if each is None else f"{figure(each)} mm" for each in (one.drawn, one.built)]
    return f"{one.a} – {one.b}", f"{short(one.required)} mm", *least


def _advice(record: SurveyRecord, command: str, file: str, written: str) -> Iterator[str]:
    for one in record.readings:
        if one.left_out and one.others is not None:
            yield _again(one, fitted=bool(record.numbers))
    doubtful = [one.name for one in record.readings if one.doubtful]
    if doubtful:
        yield f"read {', '.join(doubtful)} again: one of them is wrong"
    failing = [one for one in (record.swept.pairs if record.swept else ()) if one.built_verdict == "fails"]
    if failing:
        worst = failing[0]
        asked = "ask `swingroom helps` of the fitted file what helps"
        yield f"{worst.a} – {worst.b} fails as it stands: {asked}"
    stiff = (one for one in record.readings if one.rigid and not one.moved)
    yield from (_rigid(one) for one in stiff if abs(one.reading - one.drawn) > one.plus_minus)
    ends = [one for one in record.numbers if one.at_limit]
    if ends:
        yield f"give {', '.join(one.name for one in ends)} a larger may_differ, or look what else is not as drawn"
    yield from _next(record)
    if record.checked <= 0 and record.numbers:
        yield "no reading checks another: each further one shows whether one of these is wrong"
    if not record.numbers:
        yield "mark what may not be as drawn, such as arm = { value = 224, may_differ = 5 }, and run again"
    if written:
        yield f"the fitted file is {written}: `swingroom sweep` and all other commands take it like any other"
    elif record.lines:
        yield f"paste the lines into {file}, or let {command} --fitted FILE.toml write it beside, and sweep that"


def _again(one: ObservationEntry, *, fitted: bool) -> str:
    sign, error = unit_sign(one.unit), "" if one.others_plus_minus is None else f" ± {figure(one.others_plus_minus)}"
    line = "" if one.line is None else f" (line {one.line})"
    off = figure(abs(one.reading - (one.others or 0.0)))
    who = "the others say" if fitted else "as drawn it is"
    others = f"{who} {figure(one.others or 0.0)}{error if fitted else ''}{sign}"
    turned = abs(one.reading + (one.others or 0.0)) <= MIRRORED * abs(one.reading)
    side = "; its sign is that of the side that the plane's normal points to" if turned else ""
    return f"read {one.name}{line} again: {figure(one.reading)}{sign} was read, {others}, {off}{sign} off{side}"


def _rigid(one: ObservationEntry) -> str:
    sign = unit_sign(one.unit)
    off = figure(abs(one.reading - one.drawn))
    told = f"{' and '.join(one.between)} do not move against each other in the file and nothing marked changes this"
    return f"{one.name}: {told}; {off}{sign} off: mark what may differ there, or read again"


def _next(record: SurveyRecord) -> Iterator[str]:
    told_all = all(one.known == "known" for one in record.numbers)
    for one in record.next[: 1 if told_all else 2]:
        known = f"{one.number} would be known ± {figure(one.after)} instead of ± {figure(one.before)}"
        where = f"{_at(one.at, record.drives)}, {figure(one.expected)} mm expected ± {short(one.plus_minus)}"
        yield f"measure {one.first} to {one.second} next ({where}): {known}"
