"""Weights in words: what weighs what, where the centre is, and how it leans and turns over."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from assembly.record import (
    BendEntry,
    DriveEntry,
    LeanEntry,
    PartWeightEntry,
    Point,
    TurnOverEntry,
    WeightEntry,
    WeightsRecord,
)
from assembly.report.text.layout import Block, Heading, Line, Table, Tone
from assembly.report.text.words import count, figure, setting, short, signed

WAYS = {"x": ("rearmost", "foremost"), "y": ("rightmost", "leftmost"), "z": ("lowest", "highest")}
CAUTION = (
    "Common physics of a stiff machine that stands still on hard ground: nothing of bumps, brakes, tyres, or a rider "
    "who moves. People ride on it: have someone competent check what it may lean and carry."
)
HEAVIEST = 8
"""Parts that a sweep's report and the page name."""


def weights_blocks(record: WeightsRecord, command: str) -> Iterator[Block]:
    """The whole answer; ``command`` is the one that was run."""
    yield _answer(record)
    if record.unknown:
        yield Line(f"Not in it, for the file says neither material nor mass: {', '.join(record.unknown)}", Tone.OPEN)
    yield from _span_blocks(record)
    if record.lean is not None:
        yield from _lean_blocks(record.lean, record.drives)
    yield from _contact_blocks(record)
    yield from _road_blocks(record)
    yield Heading("Parts, the heaviest first", if_full="what each part weighs")
    yield Table(
        ("part", "kg", "centre as drawn", "from"),
        tuple(map(_part_row, record.parts)),
        frozenset(("kg",)),
        row_is=("lighter part", "lighter parts"),
    )
    sources = dict.fromkeys(one.source for one in record.parts if one.source)
    yield from (Line(f"densities: {source}", Tone.QUIET, 1) for source in sources)
    yield Heading("What to do now")
    yield from (Line(f"- {text}", indent=1) for text in _advice(record, command))
    yield Line("")
    yield Line(CAUTION, Tone.QUIET)


def _answer(record: WeightsRecord) -> Line:
    told = f"{figure(record.mass_kg)} kg in all, its centre at {_at(record.centre)} mm with all drives at 0"
    return Line(f"UNDECIDED: {told}, as far as it is told", Tone.OPEN) if record.unknown else Line(told, Tone.GOOD)


def _at(place: Point) -> str:
    return f"[{', '.join(figure(value, 1) for value in place)}]"


def _part_row(one: PartWeightEntry) -> tuple[str, ...]:
    name = f"{one.carried} on {one.part}" if one.carried else one.part
    if one.why and not one.mass_kg:
        return name, "–", "–", one.why
    return name, figure(one.mass_kg, 3 if one.mass_kg < 1 else 2), _at(one.centre), one.by


def _span_blocks(record: WeightsRecord) -> Iterator[Block]:
    looked = f"{count(record.settings, 'setting')} looked at, nothing proven between them"
    lost = f"; {record.lost} cannot be reached" if record.lost else ""
    yield Heading(f"Where the centre of all goes over the range ({looked}{lost})")
    for span in record.spans:
        low, high = WAYS[span.axis]
        least = f"{low} {figure(span.least, 1)} at {setting(span.at_least, record.drives)}"
        most = f"{high} {figure(span.most, 1)} at {setting(span.at_most, record.drives)}"
        still = f"{figure(span.least, 1)} everywhere"
        told = still if span.most - span.least < 0.05 else f"{least}; {most}"
        yield Line(f"{span.axis}: {told}", indent=1)


def _lean_blocks(lean: LeanEntry, drives: Mapping[str, DriveEntry]) -> Iterator[Block]:
    who = "the fixed parts lean" if lean.frame else "what the drive moves leans"
    yield Heading(
        f"As it leans by {lean.drive} ({who}); its centre {figure(lean.height_mm, 1)} mm above the line leaned about"
    )
    told = "; ".join(f"{figure(one.moment_nm, 1)} at {signed(one.at)}°" for one in lean.moments)
    yield Line(f"lean moment, N·m: {told}", indent=1)
    yield Line("above 0 it leans it farther: what a stop, a spring or the rider has to hold", Tone.QUIET, 1)
    yield from (Line(_bend(bend, lean, drives), indent=1) for bend in lean.bends)


def _bend(bend: BendEntry, lean: LeanEntry, drives: Mapping[str, DriveEntry]) -> str:
    most = min(abs(drives[lean.drive].from_), abs(drives[lean.drive].to))
    bent = f"at {short(bend.speed)} m/s in a bend of {short(bend.radius)} m"
    told = f"{bent} it is balanced at {figure(bend.lean_deg, 2)}° of lean"
    return told if bend.lean_deg <= most else f"{told}, which is more than its range of {short(most)}°"


def _contact_blocks(record: WeightsRecord) -> Iterator[Block]:
    if not record.contacts:
        return
    yield Heading("Where it would turn over: the centre beyond a line through two contact points, seen along its pull")
    for one in record.contacts:
        yield Line(_turn_over(one), Tone.BAD if one.inside_mm < 0 else Tone.PLAIN, 1)


def _road_blocks(record: WeightsRecord) -> Iterator[Block]:
    """Where it would turn over on the road under its tyres."""
    if not record.on_road:
        return
    yield Heading("On its road: how far the centre stands inside of the lines between contacts, square to the road")
    for one in record.on_road:
        told = (
            f"{one.line}: {figure(one.inside_mm, 1)} mm inside with all drives at 0, {figure(one.height_mm, 1)} mm "
            f"above the road; least {figure(one.least_mm, 1)} mm at {setting(one.at, record.drives)}"
        )
        over = one.least_mm < 0
        yield Line(f"{told}{'; TURNS OVER' if over else ''}", Tone.BAD if over else Tone.PLAIN, 1)
    found = f"found at {count(record.settings - record.lost, 'setting')}, not proven between them"
    yield Line(f"{found}; standing still on level ground", Tone.QUIET, 1)


def _turn_over(one: TurnOverEntry) -> str:
    told = (
        f"{one.line}: {figure(one.inside_mm, 1)} mm inside with all drives at 0, {figure(one.height_mm, 1)} mm above it"
    )
    if one.sideways is not None:
        told += f", so it turns over at {figure(one.sideways)} g across it"
    if one.least_mm is not None and one.at is not None:
        told += f"; least {figure(one.least_mm, 1)} mm at {signed(one.at)}° of lean"
    if one.over_at:
        return f"{told}; TURNS OVER at {' and '.join(f'{signed(at)}°' for at in one.over_at)}"
    return told if one.least_mm is None else f"{told}; it does not turn over in its range"


def _advice(record: WeightsRecord, command: str) -> Iterator[str]:
    if record.unknown:
        yield "say in [weights.parts] what the parts named above are made of or weigh"
    if record.lean is None:
        yield "say in [weights.lean] which drive leans it and about which line, for its lean moment"
    elif not record.contacts and not record.on_road:
        yield "give [weights.contact] lines through two contact points, to know where it would turn over"
    if any(one.over_at for one in record.contacts) or any(one.least_mm < 0 for one in record.on_road):
        yield "let a stop end the lean before it turns over: swingroom stop, or less height, or a wider track"
    yield f"weigh the machine and its heaviest parts, write `mass` where that differs, and run again: {command}"


def weight_blocks(weight: WeightEntry | None) -> Iterator[Block]:
    """The weights in the report of a sweep and on the page, the heaviest parts only."""
    if weight is None:
        return
    left = f", without {', '.join(weight.unknown)}" if weight.unknown else ""
    head = (
        f"Weights: {figure(weight.mass_kg)} kg in all, its centre at {_at(weight.centre)} mm with all drives at 0{left}"
    )
    yield Heading(head, aside="weights")
    heaviest = sorted(weight.parts.items(), key=lambda one: -one[1])
    yield Table(("part", "kg"), tuple((name, figure(mass)) for name, mass in heaviest[:HEAVIEST]), frozenset(("kg",)))
    if len(heaviest) > HEAVIEST:
        rest = sum(mass for _, mass in heaviest[HEAVIEST:])
        yield Line(f"and {count(len(heaviest) - HEAVIEST, 'other')}, {figure(rest)} kg together", Tone.QUIET, 1)
