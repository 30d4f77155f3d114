"""Wheels in words: how they point over lean and steer, how the frame leans on its road, and where toe is set."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from assembly.record import FrameLeanEntry, TurningEntry, WheelsRecord
from assembly.report.text.layout import Block, Heading, Line, Table, Tone
from assembly.report.text.measures_text import beyond, measure_blocks, worst_measure
from assembly.report.text.words import MINUS, count, figure, setting, signed, unit_sign, whole_range

SIGNS = (
    "Signs (ISO 8855): x forward, y left, z up. Toe + where the fronts come together; steer + to the left; camber + "
    "where a wheel's top leans outward, caster + where the kingpin's top lies rearward, inclination + inward; lean + "
    "where the left side of the frame is higher. All against the road: x is the frame's own forward laid into it, z is "
    "square to it; camber is how far the axle rises from it."
)
BRIEF_SIGNS = (
    "+ toe: fronts come together; + steer: left; + camber: top outward (ISO 8855). All against the road under the "
    "tyres."
)
TYRE = (
    "A tyre is taken as a ring of round section: its crown's radius is half the section. Trail and scrub radius are "
    "told to where that touches the road."
)
LOWEST_SHOWN = 3
NOTHING = "–"
TWO_DIGITS = 9.995
"""degrees: from here on one digit is told after the point."""


def wheels_blocks(record: WheelsRecord) -> Iterator[Block]:
    """The whole answer of ``swingroom wheels``."""
    yield Line(f"{record.machine.name}: {whole_range(record.drives)}", Tone.QUIET)
    yield Line("")
    yield wheels_headline(record)
    yield Line(SIGNS, Tone.QUIET, brief=BRIEF_SIGNS)
    yield from _lean_lines(record)
    yield from measure_blocks(record.measures, record.drives)
    for pair in _pairs(record):
        yield from _pair_blocks(record, pair)
    yield from _set_blocks(record)
    yield from _turning_lines(record)
    yield from _lowest_lines(record)
    yield Heading("The road", aside="what the road and the tyres are taken to be")
    yield Line(f"The road is {record.road}.", Tone.QUIET, 1)
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
    told = f"{count(len(record.wheels), 'wheel')} at {count(len(record.track.at), 'setting')}"
    return Line(f"Measured: {told}; no figure has a limit, so nothing is judged")


def _lean_lines(record: WheelsRecord) -> Iterator[Block]:
    """What a protractor held across the frame shows at the ends of the drive that leans it."""
    if not record.leans:
        return
    sign = unit_sign(record.drives[record.leans].unit)
    yield Heading("Lean of the frame against the road, as a protractor across it shows")
    for end in record.lean_ends:
        at = end.at[record.leans]
        if end.lean is None:
            yield Line(f"{record.leans} {signed(at)}{sign}: it does not stand there", Tone.OPEN, 1)
        elif at:
            yield Line(f"{record.leans} {signed(at)}{sign}: {_lean(end, at, sign)}", indent=1)


def _lean(end: FrameLeanEntry, at: float, sign: str) -> str:
    """One end, beside the drive's own angle where that is one."""
    lean = end.lean or 0.0
    side = "left" if lean > 0 else "right"
    told = f"{figure(abs(lean))}°, its {side} side higher" if abs(lean) >= 0.005 else "0.00°"
    if sign == "°":
        more = abs(lean) - abs(at)
        told += f"; the drive's own angle is {figure(abs(at))}°, {figure(abs(more))}° {'less' if more > 0 else 'more'}"
    pitch = end.pitch or 0.0
    return told + (f"; nose {'up' if pitch > 0 else 'down'} {figure(abs(pitch))}°" if abs(pitch) >= 0.005 else "")


def _pairs(record: WheelsRecord) -> list[tuple[str, str]]:
    return [(one.of[0], one.of[1]) for one in record.figures if one.word == "total_toe"]


def _pair_blocks(record: WheelsRecord, pair: tuple[str, str]) -> Iterator[Block]:
    """Tables of a pair: each wheel's toe and camber, and what steers apart from what scrubs."""
    left, right = pair
    both = f"{left} and {right}"
    yield Heading(f"Toe of {left} / {right}, degrees, {_way(record)}")
    yield _crossed(record, f"{left} toe", f"{right} toe")
    yield Heading("Apart: the pair steers by / total toe, in which both wheels work against each other")
    yield _crossed(record, f"{both} steered", f"{both} total toe")
    yield Heading(f"Camber of {left} / {right}, degrees")
    yield _crossed(record, f"{left} camber", f"{right} camber")


def _way(record: WheelsRecord) -> str:
    """What goes down and across the tables."""
    along = record.track.along
    if not along:
        return "as drawn"
    held = f", {setting(record.track.held, record.drives)}" if record.track.held else ""
    return f"{along[0]} down{f', {along[1]} across' if len(along) > 1 else ''}{held}"


def _crossed(record: WheelsRecord, first: str, second: str) -> Table:
    """Two figures over both drives, or over one."""
    track = record.track
    cells = [_two(a, b) for a, b in zip(track.values[first], track.values[second], strict=True)]
    if not track.along:
        return Table(("all drives",), ((cells[0],),), frozenset(("all drives",)))
    down = list(dict.fromkeys(at[track.along[0]] for at in track.at))
    across = list(dict.fromkeys(at[track.along[-1]] for at in track.at)) if len(track.along) > 1 else [None]
    heads = [_drive(there, track.along[-1], record) if there is not None else "" for there in across]
    columns = (track.along[0], *heads)
    values = iter(cells)
    rows = tuple((_drive(here, track.along[0], record), *(next(values) for _ in across)) for here in down)
    return Table(columns, rows, frozenset(columns))


def _two(first: float | None, second: float | None) -> str:
    return f"{_value(first)}/{_value(second)}"


def _value(value: float | None) -> str:
    """Three digits, so that five such columns fit on a screen."""
    return NOTHING if value is None else signed_figure(value, 1 if abs(value) >= TWO_DIGITS else 2)


def signed_figure(value: float, digits: int = 2) -> str:
    """A figure with its sign; one that rounds to 0 has none."""
    text = figure(value, digits)
    return text if text.startswith(MINUS) or float(text) == 0 else f"+{text}"


def _drive(value: float, name: str, record: WheelsRecord) -> str:
    return f"{signed(value)}{unit_sign(record.drives[name].unit)}"


def _set_blocks(record: WheelsRecord) -> Iterator[Block]:
    """Toe where it is set, and the kingpins there."""
    values = {(one.word, one.of): one.as_set for one in record.figures}
    at = setting(record.toe_set_at, record.drives)
    yield Heading(f"Where toe is set: {at if any(record.toe_set_at.values()) else 'all drives at 0'}")
    for left, right in _pairs(record):
        total, across = values["total_toe", (left, right)], values["total_toe_mm", (left, right)]
        if total is None or across is None:
            yield Line("the machine does not stand on its road there", Tone.OPEN, 1)
            continue
        rim = next(one.toe_diameter_mm for one in record.wheels if one.name == left)
        told = f"total toe {signed_figure(total)}° = {signed_figure(across)} mm across {figure(rim, 0)} mm"
        yield Line(f"{told}; {_rest_of_pair(record, (left, right))}", indent=1)
    names = [one.name for one in record.wheels if ("caster", (one.name,)) in values]
    if names:
        yield Heading("Kingpins there", aside="kingpins")
        columns = ("wheel", "camber", "caster", "inclination", "trail", "scrub radius")
        rows = tuple(_pin_row(name, values) for name in names)
        yield Table(columns, rows, frozenset(columns[1:]), row_is=("wheel", "wheels"))


def _rest_of_pair(record: WheelsRecord, pair: tuple[str, str]) -> str:
    """Track and wheelbase of a pair where toe is set."""
    told = [
        f"{one.word} {figure(one.as_set, 1)} mm"
        for one in record.figures
        if one.word in ("track", "wheelbase") and one.of[:2] == pair and one.as_set is not None
    ]
    return ", ".join(told)


def _pin_row(name: str, values: Mapping[tuple[str, tuple[str, ...]], float | None]) -> tuple[str, ...]:
    def told(word: str, unit: str) -> str:
        value = values[word, (name,)]
        return NOTHING if value is None else f"{figure(value)}{unit}"

    angles = (told(word, "°") for word in ("camber", "caster", "inclination"))
    return (name, *angles, *(told(word, " mm") for word in ("trail", "scrub_radius")))


def _turning_lines(record: WheelsRecord) -> Iterator[Block]:
    """The turning circle and the outer wheel's angle against the ideal at the ends of steering."""
    known = [one for one in record.turning if one.circle_mm is not None]
    if known:
        yield Heading("At the ends of steering (ideal: all axles meet beside the rear)", aside="turning circles")
    for one in known:
        yield Line(f"{setting(one.at, record.drives)}: {_turn(one)}", indent=1)


def _turn(one: TurningEntry) -> str:
    inner, outer, ideal = one.inner or 0.0, one.outer or 0.0, one.outer_ideal or 0.0
    more = outer - ideal
    off = f"{figure(abs(more))}° {'more' if more > 0 else 'less'} than the ideal {figure(ideal)}°"
    circle = figure((one.circle_mm or 0.0) / 1000)
    return f"turning circle {circle} m, inner {figure(inner)}°, outer {figure(outer)}°, {off}"


def _lowest_lines(record: WheelsRecord) -> Iterator[Block]:
    """The parts that come lowest over the road."""
    if not record.lowest:
        return
    told = f"Lowest over the road (found at {len(record.track.at)} settings, not proven between them)"
    yield Heading(told, aside="the parts that come lowest")
    for one in record.lowest[:LOWEST_SHOWN]:
        tone = Tone.BAD if one.height_mm < 0 else Tone.PLAIN
        yield Line(f"{one.part} {figure(one.height_mm)} mm at {setting(one.at, record.drives)}", tone, 1)
