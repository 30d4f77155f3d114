"""What to grind, in words: of either part where, how deep and how wide, what stays there, and what the sweep proved."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

from assembly.record import THIN_MM, GroundPartEntry, GroundPlaceEntry, GroundRecord, Point
from assembly.report.text.layout import TONES, Block, Heading, Line, Tone
from assembly.report.text.words import below, bracketed, count, figure, gap, part, short

PLACES_TOLD = 6
_SIDES = (("front", "rear"), ("left", "right"), ("upper", "lower"))
SLANT = 0.5
"""Share of a direction above which a side is named."""


def grind_blocks(record: GroundRecord, command: str) -> Iterator[Block]:
    """The whole answer."""
    yield Line(_headline(record), TONES[record.verdict])
    for entry in record.parts:
        yield from _part_blocks(record, entry)
    yield Heading("What to do now")
    yield from (Line(f"- {text}", indent=1) for text in _advice(record, command))


def _headline(record: GroundRecord) -> str:
    if record.pair is None:
        return f"{'CLEAR' if record.verdict == 'clear' else 'UNDECIDED'}: {record.reason}"
    a, b = record.pair
    wanted = f"{short(record.wanted_mm or 0.0)} mm"
    if record.verdict == "clear":
        return f"CLEAR: {a} – {b} keep {wanted} as they are: nothing to grind"
    how = "come nearer"
    if record.deep_mm is not None:
        how = f"stand {_up(record.deep_mm)} mm deep in each other"
    elif record.least_mm is not None:
        how = f"come as near as {gap(record.least_mm)} mm"
    return f"{record.verdict.upper()}: {a} – {b} {how}; {wanted} {'is' if record.wanted_mm == 1 else 'are'} wanted"


def _part_blocks(record: GroundRecord, entry: GroundPartEntry) -> Iterator[Block]:
    other = next(name for name in record.pair or () if name != entry.part)
    yield Heading(f"Off {entry.part}, {'proven' if entry.advised else 'NOT advised'}")
    for place in entry.places[:PLACES_TOLD]:
        yield from _place_lines(entry, place)
    if len(entry.places) > PLACES_TOLD:
        yield Line(
            f"{count(len(entry.places) - PLACES_TOLD, 'smaller place')} more, in the record and the STL", indent=1
        )
    if not entry.advised:
        yield Line(f"not advised: {entry.against}", Tone.BAD if entry.verdict == "fails" else Tone.OPEN, 1)
        return
    proven = figure(below(entry.proven_mm or 0.0))
    swept = f"so swept over the whole range, {count(entry.pairs, 'pair')} of {entry.part}"
    yield Line(f"{swept}: proven {proven} mm from {other}", Tone.GOOD, 1)
    if entry.places:
        added = max((place.added for place in entry.places), key=lambda one: one.whole_mm)
        yield Line(
            f"of the depth no more than {_up(added.whole_mm)} mm are there for certainty, "
            f"{_up(added.displacement_mm)} of them because the parts move between the settings looked at; "
            "the record has the sum",
            Tone.QUIET,
            1,
        )


def _place_lines(entry: GroundPartEntry, place: GroundPlaceEntry) -> Iterator[Block]:
    size = f"{short(place.length_mm, 0)} × {short(max(place.width_mm, 1.0), 0)} mm"
    near = f", {short(place.nearest_mm, 0)} mm from {place.nearest}" if place.nearest else ""
    yield Line(
        f"{part(entry.part, place.shape)}: up to {_up(place.depth_mm)} mm off its {_side(place.outwards)} "
        f"over {size}, deepest at {bracketed(place.at, 0)}{near}",
        indent=1,
    )
    if place.through:
        yield Line(f"this goes right through: all {_up(place.depth_mm)} mm of its thickness", Tone.BAD, 2)
    elif place.wall_mm is not None:
        thin = place.wall_mm < THIN_MM
        words = f"{gap(place.wall_mm)} mm stay behind the cut at the thinnest"
        yield Line(f"{'THIN: ' if thin else ''}{words}", Tone.BAD if thin else Tone.PLAIN, 2)


def ground_title(record: GroundRecord, entry: GroundPartEntry) -> str:
    """What a picture of what goes opens with: how deep, and whether it is advised."""
    place = max(entry.places, key=lambda one: one.depth_mm)
    how = "right through" if any(one.through for one in entry.places) else f"up to {_up(place.depth_mm)} mm deep"
    return f"{record.machine.name}: what goes from {entry.part}, {how}{'' if entry.advised else ', NOT advised'}"


def _up(value: float) -> str:
    """A depth that is never rounded down."""
    return figure(ceil(100 * value - 1e-6) / 100)


def _side(outwards: Point) -> str:
    named = [
        names[0] if share > 0 else names[1] for share, names in zip(outwards, _SIDES, strict=True) if abs(share) > SLANT
    ]
    return f"{' '.join(reversed(named)) or 'slanting'} side"


def _advice(record: GroundRecord, command: str) -> Iterator[str]:
    advised = [entry for entry in record.parts if entry.advised]
    if record.pair is None or record.verdict == "clear":
        yield "nothing is to be ground" if record.verdict == "clear" else f"see what is open: {command}"
        return
    if not advised:
        yield f"see what else would help: {command.replace('swingroom sweep', 'swingroom helps')}"
        return
    advised.sort(key=lambda entry: any(place.through for place in entry.places))
    first = advised[0]
    yield f"grind {first.part}{_or(advised)}: the STL of what goes is the gauge, that of what stays what must be left"
    if first.weakens:
        yield f"first look whether {first.part} still bears its load with what stays"
    yield f"draw what stays into the file in the place of the shape, then run {command}"
    if first.still_failing:
        named = "; ".join(" – ".join(names) for names in first.still_failing[:3])
        yield f"these are not clear with that either: {named}"


def _or(advised: list[GroundPartEntry]) -> str:
    if len(advised) < 2:
        return ""
    through = any(place.through for place in advised[1].places)
    return f", or {advised[1].part}{', which then goes right through' if through else ''}"
