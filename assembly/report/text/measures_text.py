"""Measures in words: what each comes to with all drives at 0, least and most over the range, and against its limits."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping, Sequence
from math import ceil, floor

from assembly.record import DriveEntry, MeasureAtEntry, MeasureEntry, MeasuresRecord, Record
from assembly.report.text.layout import Block, Heading, Line, Table, Tone, without_empty
from assembly.report.text.measures_along import track_blocks
from assembly.report.text.one_screen import left_words
from assembly.report.text.words import count, figure, setting, short, unit_sign, whole_range

TONES = {"clear": Tone.PLAIN, "fails": Tone.BAD, "undecided": Tone.OPEN}
COLUMNS = ("measure", "all at 0", "least", "most", "limits", "margin", "least at", "most at")
FIGURES = frozenset(("all at 0", "least", "most", "limits", "margin"))
GRAIN = 1e-6
"""Of arithmetic, which moves no figure by its last digit."""
ENDING = {"fails": " FAILS", "undecided": " UNDECIDED"}
DIGITS = 100
OF_CABLES = ("path", "straight", "bends")
"""Kinds of measure that a cable has."""
MEASURES_SHOWN = 2
"""Measures beyond a limit, or not proven to keep it, that are told one by one on a screen."""


def measures_blocks(record: MeasuresRecord) -> Iterator[Block]:
    """The whole answer of ``swingroom measures``."""
    yield measures_headline(record)
    yield Line(f"{record.machine.name}: {whole_range(record.drives)}", Tone.QUIET)
    if record.track is not None:
        yield from track_blocks(record, record.track)
    else:
        yield from measure_blocks(record.measures, record.drives)
    yield Heading("What to do now")
    yield from (Line(f"- {told}", indent=1) for told in _advice(record))


def measures_headline(record: MeasuresRecord) -> Line:
    """The answer in one line."""
    failing = [one for one in record.measures if one.verdict == "fails"]
    if failing:
        worst = worst_measure(failing)
        more = f" ({count(len(failing) - 1, 'more measure')} beyond limits)" if len(failing) > 1 else ""
        return Line(f"FAILS: {beyond(worst, record.drives)}{more}", Tone.BAD)
    open_ones = [one for one in record.measures if one.verdict == "undecided"]
    if open_ones:
        return Line(f"UNDECIDED: {open_ones[0].name}: {open_ones[0].why}", Tone.OPEN)
    if all(one.verdict is None for one in record.measures):
        return Line(f"NOT JUDGED: {count(len(record.measures), 'measure')}, none has a limit", Tone.OPEN)
    limited = sum(one.verdict is not None for one in record.measures)
    return Line(f"CLEAR: {count(limited, 'measure')} with limits, kept everywhere in the range", Tone.GOOD)


def worst_measure(measures: Sequence[MeasureEntry]) -> MeasureEntry:
    """The one that goes farthest past its limit."""
    return min((one for one in measures if one.verdict == "fails"), key=lambda one: one.margin or 0.0)


def judged_lines(record: Record) -> Iterator[Line]:
    """Measures of a sweep beyond a limit, or not proven to keep it, a line each."""
    judged = sorted((one for one in record.measures if one.verdict in ENDING), key=_by_margin)
    for one in judged[:MEASURES_SHOWN]:
        told = beyond(one, record.drives) if one.verdict == "fails" else f"{one.name}: {one.why}"
        yield Line(f"{ENDING[one.verdict or '']}  {told}".strip(), TONES[one.verdict or "clear"], 1)
    if len(judged) > MEASURES_SHOWN:
        rest = [TONES[one.verdict or "clear"] for one in judged[MEASURES_SHOWN:]]
        yield Line(f"and {left_words(rest, ('more measure', 'more measures'))}", rest[0], 1)


def kept_line(record: Record) -> Iterator[Line]:
    """That all measures keep their limits, and which comes nearest to one; nothing if none has a limit."""
    sides = [(side.margin, one, side) for one in record.measures for side in one.sides if side.margin is not None]
    if sides:
        margin, one, side = min(sides, key=lambda each: each[0])
        left = f"{figure(floor(DIGITS * margin + GRAIN) / DIGITS)}{unit_sign(one.unit)}"
        told = f"{one.name}, {left} short of its {side.motion} of {short(side.limit)}{unit_sign(one.unit)}"
        yield Line(
            f"Measures: all {len(sides)} limits kept; the nearest: {told}, at {setting(side.at, record.drives)}."
        )


def _by_margin(one: MeasureEntry) -> tuple[bool, float]:
    return one.verdict != "fails", one.margin or 0.0


def beyond(one: MeasureEntry, drives: Mapping[str, DriveEntry]) -> str:
    """How far a measure goes past a limit, where."""
    sign = unit_sign(one.unit)
    low = one.limit_low is not None and one.least is not None and one.least - one.limit_low == one.margin
    found, limit = (one.least, one.limit_low) if low else (one.most, one.limit_high)
    told = f"{one.name} is {outward(found, sign, up=not low)} at {setting(one.at, drives)}"
    past = f"{figure(ceil(-DIGITS * (one.margin or 0.0) - GRAIN) / DIGITS)}{sign}"
    rest = ", already with all drives at 0" if _broken_at_zero(one) else ""
    return f"{told}, {past} {'less' if low else 'more'} than the {short(limit or 0.0)}{sign} that it may be{rest}"


def _broken_at_zero(one: MeasureEntry) -> bool:
    low, high, zero = one.limit_low, one.limit_high, one.zero
    if zero is None:
        return False
    return (low is not None and zero < low - GRAIN) or (high is not None and zero > high + GRAIN)


def measure_blocks(measures: Sequence[MeasureEntry], drives: Mapping[str, DriveEntry]) -> Iterator[Block]:
    """The table of measures, and what is open of them."""
    if not measures:
        return
    wider = ", but where a line below the table says so" if any(one.why for one in measures) else ""
    yield Heading(f"Measures over the whole range (found, and proven to be passed nowhere by more than 0.01{wider})")
    table = Table(
        columns=COLUMNS,
        rows=tuple(measure_row(one, drives) for one in measures),
        figures=FIGURES,
        tones=tuple(TONES[one.verdict or "clear"] for one in measures),
        row_is=("measure", "measures"),
    )
    yield without_empty(table)
    for one in measures:
        if one.why:
            tone = Tone.OPEN if one.verdict == "undecided" else Tone.QUIET
            yield Line(f"{one.name}: {one.why}{_proven(one)}", tone, 1)


def _proven(one: MeasureEntry) -> str:
    """What is proven of a measure whose ends are open."""
    sign = unit_sign(one.unit)
    if one.proven_least is None or one.proven_most is None or one.least is None:
        return ""
    low, high = outward(one.proven_least, sign, up=False), outward(one.proven_most, sign, up=True)
    return f"; proven {low} to {high}"


def measure_row(one: MeasureEntry, drives: Mapping[str, DriveEntry]) -> tuple[str, ...]:
    """A measure in the columns of its table; figures are rounded outwards, margins down."""
    sign = unit_sign(one.unit)
    still = one.zero is not None and not one.drives
    return (
        one.name + ENDING.get(one.verdict or "", ""),
        "–" if one.zero is None else f"{figure(one.zero)}{sign}",
        outward(one.least, sign, up=False),
        outward(one.most, sign, up=True),
        limits_words(one),
        left_of_limits(one),
        "every setting" if still else setting(one.at_least, drives) if one.least is not None else "–",
        "every setting" if still else setting(one.at_most, drives) if one.most is not None else "–",
    )


def at_blocks(measures: Sequence[MeasureAtEntry]) -> Iterator[Block]:
    """Measures at one setting."""
    if measures:
        yield Heading("Measures at this setting")
        yield Table(
            columns=("measure", "here", "limits"),
            rows=tuple(
                (one.name + ENDING.get(one.verdict or "", ""), _here(one), limits_words(one)) for one in measures
            ),
            figures=frozenset(("here", "limits")),
            tones=tuple(TONES[one.verdict or "clear"] for one in measures),
            row_is=("measure", "measures"),
        )
        yield from (Line(f"{one.name}: {one.why}", Tone.OPEN, 1) for one in measures if one.why)


def _here(one: MeasureAtEntry) -> str:
    return "–" if one.value is None else f"{figure(one.value)}{unit_sign(one.unit)}"


def beyond_here(one: MeasureAtEntry) -> str:
    """That a measure lies beyond its limits at one setting."""
    return f"{one.name} is {_here(one)}; it may be {limits_words(one)}"


def limits_words(one: MeasureEntry | MeasureAtEntry) -> str:
    """What a measure may be."""
    sign = unit_sign(one.unit)
    low, high = (None if end is None else short(end) for end in (one.limit_low, one.limit_high))
    if low is None and high is None:
        return ""
    if low is None:
        return f"≤ {high}{sign}"
    return f"≥ {low}{sign}" if high is None else f"{low} to {high}{sign}"


def left_of_limits(one: MeasureEntry) -> str:
    """What is left of a measure's limits, rounded down; nothing without limits."""
    if one.margin is None:
        return ""
    return f"{figure(floor(DIGITS * one.margin + GRAIN) / DIGITS)}{unit_sign(one.unit)}"


def outward(value: float | None, sign: str, *, up: bool) -> str:
    """A figure rounded ``up`` or down; a dash where it is not known."""
    if value is None:
        return "–"
    whole = ceil(DIGITS * value - DIGITS * GRAIN) if up else floor(DIGITS * value + DIGITS * GRAIN)
    return f"{figure(whole / DIGITS)}{sign}"


def _advice(record: MeasuresRecord) -> Iterator[str]:
    failing = [one for one in record.measures if one.verdict == "fails"]
    if failing:
        worst = worst_measure(failing)
        file, name = record.machine.file, shlex.quote(worst.name)
        yield f"what to change, by how much: `swingroom helps {file} --measure {name}`, or `swingroom propose {file}`"
        if worst.kind in OF_CABLES:
            yield f"what to cut its cable to, or from where on it is pulled: `swingroom cables {file}`"
        else:
            yield "or let it be more or less: its `least` or `most` in the file"
    elif all(one.verdict is None for one in record.measures):
        yield "give a measure `least` or `most` and every sweep holds the machine to it"
    elif record.verdict == "undecided":
        yield "measure it another way, or shorten the range where it is open"
    else:
        yield "nothing: `swingroom sweep` holds the machine to these limits too"
