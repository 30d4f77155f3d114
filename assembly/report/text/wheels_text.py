"""Wheels in words: how they point over lean and steer, how the frame leans on its road, and where toe is set."""

from __future__ import annotations

from collections.abc import Iterator

from assembly.record import Record, WheelsRecord
from assembly.report.text.layout import Block, Heading, Line, Tone
from assembly.report.text.measures_text import beyond, worst_measure
from assembly.report.text.wheel_range_text import wheel_range_blocks
from assembly.report.text.wheel_tables_text import (
    WheelsShown,
    lean_lines,
    lean_told,
    lowest_lines,
    pairs_of,
    set_blocks,
    toe_told,
    turning_lines,
    wheel_pair_blocks,
)
from assembly.report.text.words import count, whole_range

SIGNS = (
    "Signs (ISO 8855): x forward, y left, z up. Toe + where the fronts come together; steer + to the left; camber + "
    "where a wheel's top leans outward, caster + where the kingpin's top lies rearward, inclination + inward; lean + "
    "where the left side of the frame is higher. All against the road: x is the frame's own forward laid into it, z is "
    "square to it; camber is how far the axle rises from it."
)
BRIEF_SIGNS = "+ toe: fronts in; + steer: left; + camber: top outward (ISO 8855); all against the road."
TYRE = (
    "A tyre is taken as a ring of round section: its crown's radius is half the section. Trail and scrub radius are "
    "told to where that touches the road."
)


def wheels_blocks(record: WheelsRecord) -> Iterator[Block]:
    """The whole answer of ``swingroom wheels``."""
    yield wheels_headline(record)
    yield Line(f"{record.machine.name}: {whole_range(record.drives)}", Tone.QUIET)
    shown = WheelsShown(record.tables, record.drives)
    yield from _lines_first(shown)
    yield from wheel_range_blocks(record.measures, record.drives)
    yield from _tables(shown)
    yield Heading("What to do now")
    yield Line(f"- {_advice(record)}", indent=1)


def _advice(record: WheelsRecord) -> str:
    if record.verdict == "fails":
        return "turns of the tie rods for another toe: `swingroom rods FILE --toe MM`; or move points, or `limits`"
    if record.verdict == "undecided":
        return "shorten the range where it is open, or measure it another way"
    if not any(one.verdict for one in record.measures):
        how = "write into its [wheels.NAME], say: limits = { camber = [-25, 25] }"
        return f"to have one judged, here and in every sweep, {how}; proven ends: `--over-range`"
    return "nothing: every sweep holds the machine to these limits too"


def swept_wheels_blocks(record: Record) -> Iterator[Block]:
    """Wheels in the report of a sweep, and on the page; nothing where the machine has none."""
    if record.wheels is not None:
        yield Heading("Wheels against the road")
        shown = WheelsShown(record.wheels, record.drives)
        yield from _lines_first(shown)
        yield from wheel_range_blocks(record.measures, record.drives)
        yield from _tables(shown)


def _lines_first(shown: WheelsShown) -> Iterator[Block]:
    yield Line(SIGNS, Tone.QUIET, brief=BRIEF_SIGNS)
    yield from lean_lines(shown)


def _tables(shown: WheelsShown) -> Iterator[Block]:
    for pair in pairs_of(shown):
        yield from wheel_pair_blocks(shown, pair)
    yield from set_blocks(shown)
    yield from turning_lines(shown)
    yield from lowest_lines(shown)
    yield Heading("The road", aside="what the road and the tyres are taken to be")
    yield Line(f"The road is {shown.tables.road}.", Tone.QUIET, 1)
    yield Line(TYRE, Tone.QUIET, 1)


def wheels_headline(record: WheelsRecord) -> Line:
    """The answer in one line."""
    failing = [one for one in record.measures if one.verdict == "fails"]
    if failing:
        return Line(f"FAILS: {beyond(worst_measure(failing), record.drives)}", Tone.BAD)
    undecided = [one for one in record.measures if one.verdict == "undecided"]
    if undecided:
        return Line(f"UNDECIDED: {undecided[0].name}: {undecided[0].why}", Tone.OPEN)
    limited = sum(one.verdict is not None for one in record.measures)
    if limited:
        return Line(f"CLEAR: {count(limited, 'limit')} of wheels kept everywhere that they are asked for", Tone.GOOD)
    shown = WheelsShown(record.tables, record.drives)
    told = [*toe_told(shown)[:1], *lean_told(shown)] or [count(len(record.tables.wheels), "wheel")]
    return Line(f"NOT JUDGED, no figure has a limit: {'; '.join(told)}", Tone.OPEN)
