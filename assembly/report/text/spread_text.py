"""A spread in words: what tolerances leave of every figure, side by side, and what eats the least of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isclose

from assembly.record import PlayEntry, SpreadFigureEntry, SpreadRecord, ToleranceEntry
from assembly.report.text.layout import TONES, Block, Heading, Line, Table, Tone
from assembly.report.text.words import below, count, figure, setting, short, signed, unit_sign

ASSUMED = "(products and sines of dimensions: by what they come to at the ends of tolerances, doubled; this is assumed)"
COLUMNS = ("figure", "as drawn", "proven", "by slopes", "by squares", "3 sigma", "broken", "eaten by")
NOTHING = "–"
SIGMA = 3.0
MOST_TOLD = 3
"""Dimensions in a sentence."""
CAUTION = (
    "Not in it:{} what welding pulls, flex and wear. Measure the machine that stands in the shop; people ride on it."
)
NO_PLAY = " play of joints (give joints `play`),"


def spread_blocks(record: SpreadRecord, command: str) -> Iterator[Block]:
    """The whole answer; ``command`` is the one that was run."""
    yield Line(f"{record.verdict.upper()}: {record.reason}", TONES[record.verdict])
    if record.refused:
        yield Line(f"nothing is proven within the tolerances: {'; '.join(record.refused)}", Tone.OPEN, 1)
    yield from _figures(record)
    worst = next((one for one in sorted(record.figures, key=_proven_margin) if one.shares), None)
    if worst is not None:
        yield from _eaten(record, worst)
    yield from _given(record)
    yield Heading("What to do now")
    yield from (Line(f"- {text}", indent=1) for text in _advice(record, worst, command))
    yield Line("")
    yield Line(CAUTION.format("" if record.play else NO_PLAY), Tone.QUIET)


def _given(record: SpreadRecord) -> Iterator[Block]:
    """The tolerances and the play of the file."""
    if record.tolerances:
        yield Heading("Tolerances", aside="tolerances")
        yield Table(
            ("dimension", "value", "tolerance", "from"),
            tuple(map(_tolerance_row, record.tolerances)),
            frozenset(("value",)),
            row_is=("dimension", "dimensions"),
        )
    yield from play_blocks(record.play)


def play_blocks(play: Sequence[PlayEntry]) -> Iterator[Block]:
    """The play of the file."""
    if play:
        yield Heading("Play of joints, from end to end", aside="play")
        yield Table(
            ("joint", "across, mm", "along, mm", "angle, °", "from"),
            tuple(map(_play_row, play)),
            frozenset(("across, mm", "along, mm", "angle, °")),
            row_is=("joint", "joints"),
        )


def _play_row(one: PlayEntry) -> tuple[str, ...]:
    low, high = one.axial
    along = f"{_limit(low)} to {_limit(high)}" if low + high else _size(high - low)
    return one.joint, _size(one.radial), along, _size(one.angle), f"{one.fit}, ISO 286" if one.fit else "the file"


def _size(value: float) -> str:
    return short(value, 4) if value else NOTHING


def _proven_margin(one: SpreadFigureEntry) -> float:
    return one.nominal if one.proven is None else one.proven


def _figures(record: SpreadRecord) -> Iterator[Block]:
    if not record.figures:
        return
    yield Heading("Margins: what is left of each rule (of a measure without one, its value; of a stop, where it acts)")
    yield Table(
        COLUMNS,
        tuple(_row(one) for one in record.figures),
        frozenset(COLUMNS[1:7]),
        tuple(TONES[one.verdict] if one.verdict else Tone.PLAIN for one in record.figures),
        row_is=("figure", "figures"),
    )
    sampled = max((one.sampled.machines for one in record.figures if one.sampled), default=0)
    yield Line("proven: at every setting, whatever the dimensions are within their tolerances", Tone.QUIET, 1)
    yield Line(ASSUMED, Tone.QUIET, 1)
    random = f"; 3 sigma, broken: {count(sampled, 'random machine')} made anew, seed {record.seed}" if sampled else ""
    yield Line(f"by slopes, by squares: at the setting that governs, to first order{random}", Tone.QUIET, 1)


def _row(one: SpreadFigureEntry) -> tuple[str, ...]:
    first = one.shares[0] if one.shares else None
    eaten = f"{first.dimension} {100 * first.share:z.0f} %" if first and first.takes else NOTHING
    known = one.sampled
    three = figure(known.mean - SIGMA * known.deviation) if known else NOTHING
    return (
        name_of(one),
        figure(one.nominal),
        "holds" if one.kind == "rod" and one.proven is not None else _bound(one.proven),
        figure(one.by_slopes),
        figure(one.nominal + one.middle - one.root_sum),
        three,
        _broken(one),
        eaten,
    )


def _broken(one: SpreadFigureEntry) -> str:
    known = one.sampled
    if known is None or known.broken_low is None or known.broken_high is None:
        return NOTHING
    if not known.broken:
        return f"< {100 * known.broken_high:z.1f} %"
    return f"{100 * known.broken_low:z.1f}-{100 * known.broken_high:z.1f} %"


def _bound(value: float | None) -> str:
    return NOTHING if value is None else figure(below(value))


def name_of(one: SpreadFigureEntry) -> str:
    """What a figure is called, with its unit."""
    names = " – ".join(one.names)
    named = {
        "pair": names,
        "joint": f"{names}, {one.motion}",
        "rod": f"{names}, roll",
        "measure": names if one.motion == "value" else f"{names}, {one.motion}",
        "stop": f"stop {names}",
    }[one.kind]
    return f"{named} ({unit_sign(one.unit).strip() or one.unit})"


def _eaten(record: SpreadRecord, worst: SpreadFigureEntry) -> Iterator[Block]:
    at = f" at {setting(worst.at, record.drives)}" if worst.at else ""
    unit = unit_sign(worst.unit)
    yield Heading(f"What eats {name_of(worst)}{at}", if_full=f"what eats {name_of(worst)}")
    yield Table(
        ("what", f"each 1 gives it{unit}", f"takes{unit}", "share"),
        tuple(
            (
                share.dimension,
                NOTHING if share.slope is None else figure(share.slope, 3),
                NOTHING if share.slope is None and not share.takes else figure(share.takes, 3),
                NOTHING if share.slope is None and not share.takes else f"{100 * share.share:z.0f} %",
            )
            for share in worst.shares
        ),
        frozenset(("takes" + unit, "share", f"each 1 gives it{unit}")),
        row_is=("smaller one", "smaller ones"),
    )
    if worst.growth:
        told = f"of what is proven, {figure(worst.growth)} mm are taken off for what shapes may stand out by, any way"
        yield Line(told, Tone.QUIET, 1)
    if worst.play:
        told = f"of what is proven, {figure(worst.play)} mm are taken off for the play of joints, at the worst setting"
        yield Line(told, Tone.QUIET, 1)


def _tolerance_row(one: ToleranceEntry) -> tuple[str, ...]:
    by = f"class {one.general}, ISO 2768-1" if one.general else "the file"
    return one.name, short(one.value, 4), tolerance_told(one), by


def tolerance_told(one: ToleranceEntry) -> str:
    """``± 0.5``, or both limits with their signs."""
    if isclose(-one.low, one.high):
        return f"± {short(one.high, 4)}"
    return f"{_limit(one.low)} to {_limit(one.high)}"


def _limit(value: float) -> str:
    return "0" if value == 0 else signed(value)


def _advice(record: SpreadRecord, worst: SpreadFigureEntry | None, command: str) -> Iterator[str]:
    eaters = [one.dimension for one in worst.shares if one.takes][:MOST_TOLD] if worst is not None else []
    first = next((one for one in record.figures if one.verdict == "fails" and one.off), None)
    if first is not None:
        off = ", ".join(f"{name} {signed(value)}" for name, value in list(first.off.items())[:MOST_TOLD])
        yield f"{name_of(first)} breaks its rule with {off}: hold these closer, or give it more (swingroom helps)"
    elif record.refused:
        yield "draw it without that, or take the tolerance off that dimension, and run again"
    elif record.verdict == "undecided" and eaters:
        yield f"hold {', '.join(eaters)} closer (a smaller plus_minus), or give more clearance (swingroom helps)"
    elif record.verdict == "clear" and eaters and worst is not None:
        eaten = f"most of what the tolerances take of {name_of(worst)} comes from there"
        yield f"measure {', '.join(eaters)} first on the machine: {eaten}"
    if any(one.general for one in record.tolerances):
        yield "a number that is no length in mm (an angle, a ratio) needs its own plus_minus, 0 where it is exact"
    yield f"write what was measured into the file and run again: {command}"
