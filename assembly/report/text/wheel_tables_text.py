"""Wheels at settings, in words: how they point over lean and steer, and how the frame stands on its road."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from assembly.record import DriveEntry, FrameLeanEntry, TurningEntry, WheelTables
from assembly.report.text.layout import Block, Heading, Line, Table, Tone
from assembly.report.text.words import MINUS, figure, setting, signed, unit_sign

LOWEST_SHOWN = 3
LEAST_TOLD = 0.005
"""degrees: less is told as none."""
NOTHING = "–"
TWO_DIGITS = 9.995
"""degrees: from here on one digit is told after the point."""


@dataclass(frozen=True, slots=True)
class WheelsShown:
    """The tables of wheels, and the drives of their machine."""

    tables: WheelTables
    drives: Mapping[str, DriveEntry]


def lean_lines(shown: WheelsShown) -> Iterator[Block]:
    """What a protractor held across the frame shows at the ends of the drive that leans it."""
    if not shown.tables.leans:
        return
    sign = unit_sign(shown.drives[shown.tables.leans].unit)
    yield Heading(
        "Lean of the frame against the road, as a protractor across it shows", if_full="how far the frame leans"
    )
    for end in shown.tables.lean_ends:
        at = end.at[shown.tables.leans]
        if end.lean is None:
            yield Line(f"{shown.tables.leans} {signed(at)}{sign}: it does not stand there", Tone.OPEN, 1)
        elif at:
            yield Line(f"{shown.tables.leans} {signed(at)}{sign}: {_lean(end, at, sign)}", indent=1)


def _lean(end: FrameLeanEntry, at: float, sign: str) -> str:
    """One end, beside the drive's own angle where that is one."""
    lean = end.lean or 0.0
    side = "left" if lean > 0 else "right"
    told = f"{figure(abs(lean))}°, its {side} side higher" if abs(lean) >= LEAST_TOLD else "0.00°"
    if sign == "°":
        more = abs(lean) - abs(at)
        off = f"{figure(abs(more))}° {'less' if more > 0 else 'more'}" if abs(more) >= LEAST_TOLD else "as much"
        told += f"; the drive's own angle is {figure(abs(at))}°, {off}"
    pitch = end.pitch or 0.0
    return told + (f"; nose {'up' if pitch > 0 else 'down'} {figure(abs(pitch))}°" if abs(pitch) >= LEAST_TOLD else "")


def pairs_of(shown: WheelsShown) -> list[tuple[str, str]]:
    """The left and right wheel of each pair."""
    return [(one.of[0], one.of[1]) for one in shown.tables.figures if one.word == "total_toe"]


def wheel_pair_blocks(shown: WheelsShown, pair: tuple[str, str]) -> Iterator[Block]:
    """Tables of a pair: each wheel's toe and camber, and what steers apart from what scrubs."""
    left, right = pair
    both = f"{left} and {right}"
    yield Heading(f"Toe of {left} / {right}, degrees, {_way(shown)}")
    yield _crossed(shown, f"{left} toe", f"{right} toe")
    yield Heading(f"Camber of {left} / {right}, degrees")
    yield _crossed(shown, f"{left} camber", f"{right} camber")
    apart = "the pair steers by / total toe, which scrubs and brakes but for what a bend takes of it"
    yield Heading(f"Apart: {apart}", if_full="what steers apart from what scrubs")
    yield _crossed(shown, f"{both} steered", f"{both} total toe")


def toe_told(shown: WheelsShown) -> list[str]:
    """Total toe of every pair where it is set, in a few words."""
    values = {(one.word, one.of): one.as_set for one in shown.tables.figures}
    told = []
    for pair in pairs_of(shown):
        total, across = values["total_toe", pair], values["total_toe_mm", pair]
        if total is not None and across is not None:
            told.append(f"total toe {signed_figure(total)}° ({signed_figure(across)} mm) where it is set")
    return told


def lean_told(shown: WheelsShown) -> list[str]:
    """How far the frame leans at the most, in a few words."""
    name = shown.tables.leans
    stands = [(abs(end.lean), end.at[name]) for end in shown.tables.lean_ends if name and end.lean is not None]
    if not name or not stands:
        return []
    lean, at = max(stands)
    return [f"the frame leans {figure(lean)}° at {name} {drive_words(at, name, shown.drives)}"]


def _way(shown: WheelsShown) -> str:
    """What goes down and across the tables."""
    along = shown.tables.track.along
    if not along:
        return "as drawn"
    held = f", {setting(shown.tables.track.held, shown.drives)}" if shown.tables.track.held else ""
    return f"{along[0]} down{f', {along[1]} across' if len(along) > 1 else ''}{held}"


def _crossed(shown: WheelsShown, first: str, second: str) -> Table:
    """Two figures over both drives, or over one."""
    track = shown.tables.track
    cells = [_two(a, b) for a, b in zip(track.values[first], track.values[second], strict=True)]
    if not track.along:
        return Table(("all drives",), ((cells[0],),), frozenset(("all drives",)))
    down = list(dict.fromkeys(at[track.along[0]] for at in track.at))
    across = list(dict.fromkeys(at[track.along[-1]] for at in track.at)) if len(track.along) > 1 else [None]
    heads = [drive_words(there, track.along[-1], shown.drives) if there is not None else "" for there in across]
    columns = (track.along[0], *heads)
    values = iter(cells)
    rows = tuple((drive_words(here, track.along[0], shown.drives), *(next(values) for _ in across)) for here in down)
    return Table(columns, rows, frozenset(columns))


def _two(first: float | None, second: float | None) -> str:
    return f"{short_value(first)}/{short_value(second)}"


def short_value(value: float | None) -> str:
    """Three digits, so that five such columns fit on a screen."""
    return NOTHING if value is None else signed_figure(value, 1 if abs(value) >= TWO_DIGITS else 2)


def signed_figure(value: float, digits: int = 2) -> str:
    """A figure with its sign; one that rounds to 0 has none."""
    text = figure(value, digits)
    return text if text.startswith(MINUS) or float(text) == 0 else f"+{text}"


def drive_words(value: float, name: str, drives: Mapping[str, DriveEntry]) -> str:
    """A drive's setting at the head of a row or a column."""
    return f"{signed(value)}{unit_sign(drives[name].unit)}"


def set_blocks(shown: WheelsShown) -> Iterator[Block]:
    """Toe where it is set, and the kingpins there."""
    values = {(one.word, one.of): one.as_set for one in shown.tables.figures}
    at = setting(shown.tables.toe_set_at, shown.drives)
    yield Heading(f"Where toe is set: {at if any(shown.tables.toe_set_at.values()) else 'all drives at 0'}")
    for left, right in pairs_of(shown):
        total, across = values["total_toe", (left, right)], values["total_toe_mm", (left, right)]
        if total is None or across is None:
            yield Line("the machine does not stand on its road there", Tone.OPEN, 1)
            continue
        rim = next(one.toe_diameter_mm for one in shown.tables.wheels if one.name == left)
        told = f"total toe {signed_figure(total)}° = {signed_figure(across)} mm across {figure(rim, 0)} mm"
        if shown.tables.toe_wanted is not None:
            told += f" ({signed_figure(shown.tables.toe_wanted)} mm are wanted)"
        yield Line(f"{told}; {_rest_of_pair(shown, (left, right))}", indent=1)
    names = [one.name for one in shown.tables.wheels if ("caster", (one.name,)) in values]
    if names:
        yield Heading("Kingpins there", aside="kingpins")
        columns = ("wheel", "camber", "caster", "inclination", "trail", "scrub radius")
        rows = tuple(_pin_row(name, values) for name in names)
        yield Table(columns, rows, frozenset(columns[1:]), row_is=("wheel", "wheels"))


def _rest_of_pair(shown: WheelsShown, pair: tuple[str, str]) -> str:
    """Track and wheelbase of a pair where toe is set."""
    told = [
        f"{one.word} {figure(one.as_set, 1)} mm"
        for one in shown.tables.figures
        if one.word in ("track", "wheelbase") and one.of[:2] == pair and one.as_set is not None
    ]
    return ", ".join(told)


def _pin_row(name: str, values: Mapping[tuple[str, tuple[str, ...]], float | None]) -> tuple[str, ...]:
    def told(word: str, unit: str) -> str:
        value = values[word, (name,)]
        return NOTHING if value is None else f"{figure(value)}{unit}"

    angles = (told(word, "°") for word in ("camber", "caster", "inclination"))
    return (name, *angles, *(told(word, " mm") for word in ("trail", "scrub_radius")))


def turning_lines(shown: WheelsShown) -> Iterator[Block]:
    """The turning circle and the outer wheel's angle against the ideal at the ends of steering."""
    known = [one for one in shown.tables.turning if one.circle_mm is not None]
    if known:
        told = "At the ends of steering (ideal: all axles meet beside the rear; circle: half way between where two do)"
        yield Heading(told, aside="turning circles")
    for one in known:
        yield Line(f"{setting(one.at, shown.drives)}: {_turn(one)}", indent=1)


def _turn(one: TurningEntry) -> str:
    inner, outer, ideal = one.inner or 0.0, one.outer or 0.0, one.outer_ideal or 0.0
    more = outer - ideal
    off = f"{figure(abs(more))}° {'more' if more > 0 else 'less'} than the ideal {figure(ideal)}°"
    off += f" (total toe {signed_figure(outer - inner)}°, the bend takes {signed_figure(ideal - inner)}°)"
    circle = figure((one.circle_mm or 0.0) / 1000)
    return f"turning circle {circle} m, inner {figure(inner)}°, outer {figure(outer)}°, {off}"


def lowest_lines(shown: WheelsShown) -> Iterator[Block]:
    """The parts that come lowest over the road."""
    if not shown.tables.lowest:
        return
    told = f"Lowest over the road (found at {len(shown.tables.track.at)} settings, not proven between them)"
    yield Heading(told, aside="the parts that come lowest")
    for one in shown.tables.lowest[:LOWEST_SHOWN]:
        tone = Tone.BAD if one.height_mm < 0 else Tone.PLAIN
        yield Line(f"{one.part} {figure(one.height_mm)} mm at {setting(one.at, shown.drives)}", tone, 1)
