"""Rods that are screwed together, in words: what is in, what a turn does, and the way to another length."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence

from assembly.record import (
    Record,
    RodsRecord,
    RodThreadEntry,
    RodTurnEntry,
    RodWayEntry,
    SpannerEntry,
    ThreadedRodEntry,
    VariantEntry,
)
from assembly.report.text.layout import TONES, Block, Heading, Line, Table, Tone
from assembly.report.text.rod_turns_text import FLATS, turn_blocks
from assembly.report.text.threads_text import cure_of_thread, rule_blocks, short_thread
from assembly.report.text.words import below, figure, gap, setting, short, unit_sign, way

WHOLE_SWING = 60.0
"""Degrees of a hexagon's flat."""
LEAST_TURNED = 0.005
"""Turns: nobody turns a tube by less."""
END_COLUMNS = ("end", "thread", "hand", "in mm", "turns", "diameters", "shows mm", "most mm", "lock nut")
END_FIGURES = frozenset(("in mm", "turns", "diameters", "shows mm", "most mm"))
END_ASIDE = frozenset(("diameters", "lock nut"))


def rods_blocks(record: RodsRecord, command: str) -> Iterator[Block]:
    """The whole answer; ``command`` is the one that was run."""
    yield Line(f"{record.verdict.upper()}: {record.reason}", TONES[record.verdict])
    turned = {one.rod: one for one in record.turned}
    ways = {one.rod: one for one in record.ways}
    for rod in _told(record):
        yield from _rod_blocks(rod, turned.get(rod.name), ways.get(rod.name), _twins(rod, record.rods))
    yield from _spanner_blocks(record)
    yield from _swept_blocks(record)
    yield Heading("What to do now")
    yield from (Line(f"- {text}", indent=1) for text in _advice(record, command))


def swept_turns_blocks(record: Record) -> Iterator[Block]:
    """What turning rods does, in the report of a sweep and on the page; nothing where the machine has none."""
    told = record.rods_turned
    if told is None:
        return
    rods = {rod.name: rod for rod in record.threads}
    for turned in told.turns:
        rod = rods[turned.rod]
        yield from turn_blocks(rod, turned, asked=True, twins=_twins(rod, record.threads))
    for to_toe in told.ways:
        more = f"{short(told.more_mm)} mm more of toe-in than today"
        aim = more if told.more_mm else f"the total toe of {short(to_toe.wanted or 0.0)} mm that the file wants"
        yield Heading(f"Turns of {' and '.join((to_toe.rod, *to_toe.also))} for {aim}")
        yield from _way_lines(rods[to_toe.rod], to_toe)
    if told.why:
        yield Line(f"turns for another toe are not known: {told.why}", Tone.OPEN)


def _told(record: RodsRecord) -> list[ThreadedRodEntry]:
    """Rods but for twins that are like their original."""
    return [rod for rod in record.rods if not any(rod.name in _twins(one, record.rods) for one in record.rods)]


def _twins(rod: ThreadedRodEntry, rods: Sequence[ThreadedRodEntry]) -> list[str]:
    """The twin of a rod, where it is as long."""
    return [one.name for one in rods if one.twin_of == rod.name and abs(one.length_mm - rod.length_mm) < 0.005]


def _rod_blocks(
    rod: ThreadedRodEntry, turned: RodTurnEntry | None, way: RodWayEntry | None, twins: Sequence[str]
) -> Iterator[Block]:
    alike = f"; {', '.join(twins)} is like it" if twins else ""
    yield Heading(f"{rod.name}: {figure(rod.length_mm)} mm from ball to ball, tube {short(rod.tube_mm)} mm{alike}")
    least = f"least {figure(-below(-rod.least_mm))} mm ({rod.least_by})"
    yield Line(f"{least}, greatest {gap(rod.greatest_mm)} mm ({rod.greatest_by}); {_apart(rod)}", indent=1)
    yield Line(_captive(rod), Tone.PLAIN, 1)
    yield Table(END_COLUMNS, tuple(map(_end_row, rod.ends)), END_FIGURES, aside=END_ASIDE)
    if not rod.ends[0].stated:
        yield Line("* half of it at either end: write `engaged` at an end where they differ", Tone.QUIET, 1)
    yield from rule_blocks([rod])
    if way is not None:
        yield Line("")
        yield from _way_lines(rod, way)
    if turned is not None:
        yield from turn_blocks(rod, turned, asked=way is None)


def _apart(rod: ThreadedRodEntry) -> str:
    what = "both threads leave" if rod.opposite else "the threads leave"
    return f"at {gap(rod.apart_mm)} mm {what} the tube"


def _captive(rod: ThreadedRodEntry) -> str:
    out = f"{short(rod.turns_out, 1)} turns"
    if rod.opposite:
        loose = f"a tube that turns loose leaves both ends together after {out}"
        return f"NOT captive at any length: {loose}; only the nuts hold"
    if rod.captive:
        return "captive: a tube that turns loose comes up against one end before it leaves the other"
    return f"NOT captive: a tube that turns loose leaves an end after {out}; only the nuts hold"


def _end_row(end: RodThreadEntry) -> tuple[str, ...]:
    assumed = "" if end.stated else " *"
    return (
        end.joint,
        end.size,
        end.hand,
        f"{gap(end.engaged_mm)}{assumed}",
        figure(below(end.turns + 1e-6), 1),
        gap(end.diameters),
        figure(end.showing_mm),
        gap(end.most_mm),
        end.lock_nut or "none told",
    )


def _way_lines(rod: ThreadedRodEntry, way: RodWayEntry) -> Iterator[Line]:
    """The way to a length, and what is made by it."""
    tone = TONES[way.verdict] if way.verdict else Tone.PLAIN
    if abs(way.turns) < LEAST_TURNED:
        today = "" if way.today is None else f"; {way.measure} is {figure(way.today)}{unit_sign(way.unit)} today"
        yield Line(f"{_to_length(way)}: nothing to turn, it is less than a hundredth of a turn{today}", tone, 1)
        return
    alike = f"; {', '.join(way.also)} by as much, seen from its own right-hand thread" if way.also else ""
    yield Line(f"{_to_length(way)}: {_turns(rod, way)}{alike}", tone, 1)
    if way.wanted is not None:
        yield Line(_to_value(way), tone, 1)
    inside = " and ".join(f"{gap(mm)} mm" for mm in way.engaged_mm)
    verdict = f": FAILS, {way.why}" if way.why else ""
    yield Line(f"then {inside} are in{verdict}; back: as much the other way", tone, 1)


def _to_value(way: RodWayEntry) -> str:
    """What the measure comes to, or what the nearest settings make of it."""
    unit = unit_sign(way.unit)
    if way.settable:
        today = "" if way.today is None else f"; today {figure(way.today)}{unit}"
        return f"{way.measure} is then {figure(way.wanted or 0.0)}{unit} {_where(way)}{today}"
    values = " and ".join("–" if value is None else f"{figure(value)}{unit}" for value in (way.below, way.above))
    return f"{way.measure} cannot be set to {short(way.wanted or 0.0)}{unit}: the nearest half turns make {values}"


def _where(way: RodWayEntry) -> str:
    return f"at {way.where}" if way.where else "with all drives at 0"


def _to_length(way: RodWayEntry) -> str:
    change = f"{short(abs(way.change_mm), 3)} mm {'longer' if way.change_mm > 0 else 'shorter'}"
    return f"to {short(way.length_mm)} mm, {change}"


def _turns(rod: ThreadedRodEntry, way: RodWayEntry) -> str:
    number = abs(way.turns)
    if way.turned == "tube":
        right = next(end.joint for end in rod.ends if end.hand == "right")
        sense = "clockwise" if way.turns > 0 else "counter-clockwise"
        flats = figure(FLATS * number, 1)
        return f"{figure(number)} turns of the tube ({flats} flats) {sense}, seen from {right} along the rod"
    if way.settable:
        return f"{round(2 * number)} half turns of the unbolted end at {way.joint}, {'out' if way.turns > 0 else 'in'}"
    return (
        f"half turns of the unbolted end at {way.joint} do not come to it: the nearest make "
        f"{figure(way.below_mm)} and {figure(way.above_mm)} mm"
    )


def _spanner_blocks(record: RodsRecord) -> Iterator[Block]:
    """Room for spanners; of rods that are told, and of what was not tried."""
    names = {rod.name for rod in _told(record)}
    shown = [one for one in record.spanners if one.rod in names]
    if shown:
        where = setting(record.at or {}, record.drives)
        swing = f"Swing of an open spanner (sizes of common practice), at {where}"
        yield Heading(swing, aside="how far spanners swing")
        yield from (Line(*_spanner(one), 1) for one in shown)


def _spanner(one: SpannerEntry) -> tuple[str, Tone]:
    what = (
        f"{one.rod}: {one.what}{f' at {one.joint}' if one.joint else ''}, {short(one.across_flats_mm)} mm across flats"
    )
    if not one.free:
        return (
            f"{what}: CANNOT BE TURNED even by {short(one.swing_deg)}° in any direction; {one.part} is in the way",
            Tone.BAD,
        )
    over = ", turned over at each" if one.swing_deg < WHOLE_SWING else ""
    near = f", {gap(one.clearance_mm)} mm to {one.part}" if one.clearance_mm is not None else ""
    best = f"best with the handle {way(one.handle, 1.0).rpartition(' ')[2]}{near}"
    return (
        f"{what}: swings of {short(one.swing_deg)}°{over} from {one.free} of {one.tried} directions; {best}",
        Tone.PLAIN,
    )


def _swept_blocks(record: RodsRecord) -> Iterator[Block]:
    """The machine with the rod longer and shorter, over the whole range."""
    for one in record.swept:
        yield Heading(f"Swept over the whole range with {one.number} as in the file and otherwise")
        yield Table(
            (one.number, "verdict", "least margin", "change", "least roll", "loses most"),
            tuple(_swept_row(each, one.number) for each in one.entries),
            frozenset((one.number, "least margin", "change", "least roll")),
            tuple(TONES[each.verdict] for each in one.entries),
            ("length", "lengths"),
        )
        yield from (
            Line(f"{short(e.values[one.number])}: {e.reason}", TONES[e.verdict], 1)
            for e in one.entries
            if e.verdict != "clear"
        )


def _swept_row(entry: VariantEntry, number: str) -> tuple[str, ...]:
    worst, lost = entry.worst, entry.loses_most
    margin = None if worst is None or worst.found_mm is None else worst.found_mm - worst.required_mm
    state = entry.verdict.upper() if entry.state == "swept" else entry.state.upper()
    roll = f"{figure(min(entry.rolls.values()), 1)}°" if entry.rolls else "–"
    change = "" if entry.least_change_mm is None else figure(entry.least_change_mm)
    losing = f"{lost.a} – {lost.b} {figure(-lost.lost_mm)}" if lost else ""
    return short(entry.values[number], 3), state, "–" if margin is None else figure(below(margin)), change, roll, losing


def _advice(record: RodsRecord, command: str) -> Iterator[str]:
    for rod in record.rods:
        if rod.verdict == "fails" and not rod.twin_of:
            yield f"{short_thread(rod)}: {cure_of_thread(rod)}"
    if not any(rod.verdict for rod in record.rods):
        yield 'pick rules for what must be in, such as rules = ["1 d in steel"], so that it is judged'
    if not record.ways:
        names = [each.measure for one in record.turned for each in one.measures]
        other = f", or --measure {shlex.quote(names[0])}=VALUE" if names else ""
        if any(name.endswith("total toe mm") for name in names):
            other = ", or to a total toe-in, swept: --toe MM"
        yield f"turns to a length that is wanted, and back: {command} --length MM{other}"
    if not record.swept:
        yield f"what a longer or shorter rod strikes, over the whole range: {command} --swept"
    elif all(each.verdict == "clear" for one in record.swept for each in one.entries):
        yield "every length that was swept is clear: lock both nuts, and write the length into the file"
