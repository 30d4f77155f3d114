"""One setting in words: what is too near, how far apart everything is, and where each part stands."""

from __future__ import annotations

from collections.abc import Iterator

from assembly.record import PairAtEntry, PlaceEntry, PoseRecord
from assembly.report.text.headline import depth, struck
from assembly.report.text.layout import TONES, Block, Heading, Line, Table, Tone
from assembly.report.text.measures_text import at_blocks, beyond_here
from assembly.report.text.sweep_text import not_checked_blocks
from assembly.report.text.words import bracketed, count, figure, gap, millimetres, part, setting, short


def pose_blocks(record: PoseRecord) -> Iterator[Block]:
    """The whole answer to one setting, but where its picture lies."""
    yield _headline(record)
    yield Line(f"{record.machine.name} at {setting(record.at, record.drives)}", Tone.QUIET)
    yield Heading(f"Distances at this setting ({count(len(record.pairs), 'pair')})")
    yield Table(
        columns=("verdict", "mm", "required", "pair (shape)", "nearest point of the first"),
        rows=tuple(_pair_row(pair) for pair in record.pairs),
        figures=frozenset(("mm", "required")),
        tones=tuple(TONES[pair.verdict] for pair in record.pairs),
        row_is=("pair", "pairs"),
    )
    error = max((pair.surface_error_mm for pair in record.pairs), default=0.0)
    nearer = f"the true ones may be nearer by up to {millimetres(error, 3)}"
    yield Line(f"between the surfaces as drawn; {nearer}", Tone.QUIET, 1)
    if any(pair.rolls for pair in record.pairs):
        told = "what can roll is shown for each pair at the worst of the rolls that its ends allow here"
        yield Line(told, Tone.QUIET, 1)
    yield from at_blocks(record.measures)
    yield Heading("Where each part stands", aside=f"where {count(len(record.places), 'part')} stand")
    yield Table(
        columns=("part", "middle", "moved", "turned"),
        rows=tuple(_place_row(place) for place in record.places),
    )
    yield from not_checked_blocks(record.not_checked)
    yield Heading("What to do now")
    yield Line(f"- {_advice(record)}", indent=1)


def _headline(record: PoseRecord) -> Line:
    failing = [pair for pair in record.pairs if pair.verdict == "fails"]
    if failing:
        more = f" ({count(len(failing) - 1, 'more pair')} too near)" if len(failing) > 1 else ""
        return Line(f"FAILS: {_failure(failing[0])}{more}", Tone.BAD)
    past = [one for one in record.measures if one.verdict == "fails"]
    if past:
        more = f" ({count(len(past) - 1, 'more measure')} beyond limits)" if len(past) > 1 else ""
        return Line(f"FAILS: {beyond_here(past[0])}{more}", Tone.BAD)
    if record.verdict == "undecided":
        if all(pair.verdict == "clear" for pair in record.pairs):
            one = next(one for one in record.measures if one.verdict == "undecided")
            return Line(f"UNDECIDED: {one.name}: {one.why}", Tone.OPEN)
        told = next((pair for pair in record.pairs if pair.why), None)
        if told is not None:
            return Line(f"UNDECIDED: {told.why}. At the worst roll here: {_failure(told)}", Tone.OPEN)
        why = "a pair is nearer to its limit than the facets are to the true surfaces"
        if any(pair.unseen_mm for pair in record.pairs if pair.verdict == "undecided"):
            why = "between the rolls looked at, or within what the facets are off, a pair may come nearer than it may"
        return Line(f"UNDECIDED: {why}", Tone.OPEN)
    if not record.pairs:
        return Line("No pair of parts is checked", Tone.OPEN)
    least = record.pairs[0]
    names = f"{part(least.a, least.shape_a)} to {part(least.b, least.shape_b)}"
    text = f"{names}, {gap(least.distance_mm)} mm apart{_rolled(least)}"
    return Line(f"CLEAR at this one setting; least margin: {text}, {short(least.required_mm)} mm required", Tone.GOOD)


def _failure(pair: PairAtEntry) -> str:
    a, b = part(pair.a, pair.shape_a), part(pair.b, pair.shape_b)
    if pair.overlap is not None:
        deep = figure(pair.overlap.depth_mm)
        told = depth(pair.overlap, deep, pair.shape_b or pair.b, pair.surface_error_mm)
        return f"{struck(pair.overlap, a, b)}{_rolled(pair)}: {told}"
    return f"{a} is {gap(pair.distance_mm)} mm from {b}{_rolled(pair)}; {short(pair.required_mm)} mm is required"


def _rolled(pair: PairAtEntry) -> str:
    """The roll at which a pair was the worst, of all that the ends allow; nothing if no part of it can roll."""
    return f" at {setting(pair.rolls, {})}" if pair.rolls else ""


def _pair_row(pair: PairAtEntry) -> tuple[str, ...]:
    told = f"{figure(pair.overlap.depth_mm)} deep" if pair.overlap is not None else gap(pair.distance_mm)
    names = f"{part(pair.a, pair.shape_a)} – {part(pair.b, pair.shape_b)}{_rolled(pair)}"
    return pair.verdict.upper(), told, short(pair.required_mm), names, bracketed(pair.point_a, 1)


def _place_row(place: PlaceEntry) -> tuple[str, ...]:
    if place.fixed:
        return place.part, bracketed(place.middle, 1), "fixed", ""
    turned = f"{figure(place.turned_deg)}°"
    about = f" about {bracketed(place.about)}" if any(place.about) and place.turned_deg >= 0.005 else ""
    return place.part, bracketed(place.middle, 1), bracketed(place.moved_mm, 1), turned + about


def _advice(record: PoseRecord) -> str:
    if record.verdict == "clear":
        return "one setting is not the range: run `swingroom sweep` on the same file"
    if all(pair.verdict == "clear" for pair in record.pairs):
        return "change what moves the measure, look at this setting again, then run `swingroom sweep`"
    return "mend the pair named first, look at this setting again, then run `swingroom sweep` over the whole range"
