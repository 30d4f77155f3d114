"""The first lines of a report: what the builder asked, answered."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

from assembly.record import JointEntry, OverlapEntry, PairEntry, Record, RodEntry
from assembly.report.text.layout import Block, Line, Tone
from assembly.report.text.measures_text import beyond, worst_measure
from assembly.report.text.threads_text import short_thread
from assembly.report.text.words import (
    below,
    bracketed,
    chain,
    count,
    depth_told,
    estimates,
    figure,
    gap,
    millimetres,
    pair_depth,
    pair_least,
    pair_setting,
    part,
    place,
    setting,
    short,
    unit_sign,
    way,
    whole_range,
)

LEAST_DEPTH = 0.005
"""mm below which two solids that meet are said to touch."""
OPEN_END = "what is not told here is open"


def headline(record: Record) -> Iterator[Block]:
    """The verdict in a sentence, and what stands beside it."""
    yield from answer_lines(record)
    yield Line(f"{record.machine.name}: {whole_range(record.drives)}", Tone.QUIET)


def answer_lines(record: Record) -> Iterator[Line]:
    """The verdict in a sentence, then what stands beside it."""
    told = {"fails": _fails, "undecided": _undecided, "clear": _clear}[record.verdict]
    yield from told(record)
    if record.work.stopped:
        left = "the answer stands, only the distances are less sharp" if record.verdict == "clear" else OPEN_END
        yield Line(f"The run ended early, {record.work.stopped}: {left}.", Tone.OPEN)


def _fails(record: Record) -> Iterator[Line]:
    failing = [pair for pair in record.pairs if pair.verdict == "fails"]
    past = [joint for joint in record.joints if joint.verdict == "fails"]
    bound = [rod for rod in record.rods if rod.verdict == "fails"]
    if failing:
        yield Line(f"FAILS: {failure(failing[0], record)}", Tone.BAD)
    elif missed := [place for place in record.unreachable if place.missed]:
        lost = missed[0]
        yield Line(f"FAILS: at {place(lost, record.drives)} {lost.message} ({' – '.join(lost.loop)})", Tone.BAD)
    elif past:
        worst = min(past, key=lambda joint: joint.reserve or 0.0)
        yield Line(f"FAILS: {too_far(worst, record)}", Tone.BAD)
    elif bound:
        yield Line(f"FAILS: {binding(bound[0], record)}", Tone.BAD)
    elif loose := [rod for rod in record.threads if rod.verdict == "fails"]:
        yield Line(f"FAILS: {short_thread(loose[0])}", Tone.BAD)
    else:
        yield Line(f"FAILS: {beyond(worst_measure(record.measures), record.drives)}", Tone.BAD)
    yield Line(f"{record.reason[0].upper()}{record.reason[1:]}.")


def failure(pair: PairEntry, record: Record) -> str:
    """How one pair fails, where, and how much clearance is missing."""
    return (": " if pair.overlap is not None else "; ").join(filter(None, failure_parts(pair, record)))


def failure_parts(pair: PairEntry, record: Record) -> tuple[str, str]:
    """The same in two parts: what happens where, and what is missing, if that is known."""
    a, b = part(pair.a, pair.shape_a), part(pair.b, pair.shape_b)
    at = pair_setting(pair, record.drives)
    if pair.overlap is not None:
        return f"{struck(pair.overlap, a, b)} at {at}", _missing(pair, pair.overlap)
    if pair.swallowed:
        return f"of {a} and {b} one lies inside the other at {at}", ""
    if pair.least_mm is None or pair.least_mm <= 0:
        return f"{a} strikes {b} at {at}", ""
    nearer = "" if pair.closed_in else ", perhaps nearer elsewhere"
    more = millimetres(-below(pair.least_mm - pair.required_mm))
    return (
        f"{a} comes within {gap(pair.least_mm)} mm of {b} at {at}{nearer}",
        f"{short(pair.required_mm)} mm is required, {more} more",
    )


def _missing(pair: PairEntry, overlap: OverlapEntry) -> str:
    """What a pair that strikes lacks: its depth, and the clearance that it must keep."""
    deep = f"{pair_depth(overlap)} mm deep"
    if pair.cure is not None and pair.cure.joint:  # a shift would tear the joint apart
        return f"{deep}; they are joined at {pair.cure.joint}, see what to do below"
    if overlap.depth_mm < LEAST_DEPTH:
        deep = "they only just touch"
    if not pair.required_mm:
        return deep
    return f"{missing_told(pair, overlap)} mm of clearance is missing ({deep}, {short(pair.required_mm)} mm required)"


def missing_told(pair: PairEntry, overlap: OverlapEntry) -> str:
    """Depth and required clearance together, as a bracket like the depth."""
    most = overlap.at_most_mm
    return depth_told(overlap.depth_mm + pair.required_mm, None if most is None else most + pair.required_mm)


def struck(overlap: OverlapEntry, a: str, b: str) -> str:
    """What is in what."""
    if overlap.inside:
        inner, outer = (a, b) if overlap.inside == "a" else (b, a)
        return f"{inner} lies wholly inside {outer}"
    return f"{a} strikes {b}"


def depth(overlap: OverlapEntry, told: str, second: str, error: float) -> str:
    """How deep in mm it is ``told``, and the shift that frees the two there, whose true surfaces are ``error`` off."""
    if overlap.depth_mm < LEAST_DEPTH:
        return "they only just touch"
    length = freeing_mm(overlap, error)
    shift = f"{millimetres(length)} along {bracketed(overlap.direction)} ({way(overlap.direction, length)})"
    return f"{told} mm deep; {second} comes free there when moved {shift}"


def freeing_mm(overlap: OverlapEntry, error: float) -> float:
    """Length of the shift that frees the two, whose true surfaces are ``error`` mm off; never rounded down."""
    return ceil(100 * (overlap.depth_mm + error) - 1e-6) / 100


def too_far(joint: JointEntry, record: Record) -> str:
    """A joint past its limit."""
    sign = unit_sign(joint.unit)
    reached = joint.most if joint.limit == joint.limit_high else joint.least
    told, limit = figure(reached or 0.0, 1), short(joint.limit or 0.0)
    at = setting(joint.at, record.drives)
    if joint.kind == "ball":
        return f"{joint.name} leans {told}{sign} at {at}; its angle limit is {limit}{sign}{limited_by(joint)}"
    verb = "travels to" if joint.unit == "mm" else "turns to"
    return f"{joint.name} {verb} {told}{sign} at {at}; its limit is {limit}{sign}"


def limited_by(joint: JointEntry) -> str:
    """What limits a rod end, where its mounting says so."""
    return f" by {joint.limiter}" if joint.limiter else ""


def binding(rod: RodEntry, record: Record) -> str:
    """A rod that no roll serves."""
    at = setting(rod.at, record.drives)
    return f"{chain(rod.parts)} binds at {at}: however it rolls, {' or '.join(rod.ends)} is past its angle limit"


def _undecided(record: Record) -> Iterator[Line]:
    open_pairs = [pair for pair in record.pairs if pair.verdict == "undecided"]
    if not open_pairs:
        yield Line(f"UNDECIDED: {record.reason}", Tone.OPEN)
        return
    yield Line(f"UNDECIDED: nothing was seen to fail, but {record.reason}", Tone.OPEN)
    pair = open_pairs[0]
    names = f"{part(pair.a, pair.shape_a)} and {part(pair.b, pair.shape_b)}"
    if pair.least_mm is None:
        yield Line(f"Not even looked at yet: {names}.")
    else:
        yield Line(
            f"Of these {names} come nearest: {pair_least(pair)} mm at {pair_setting(pair, record.drives)}, "
            f"{_proven_only(pair.proven_mm)}, {short(pair.required_mm)} mm is required."
        )


def _proven_only(proven: float | None) -> str:
    """What is proven of an undecided pair; a bound below 0 says nothing, and is no clearance."""
    if proven is None:
        return "nothing of it proven"
    return f"proven only {millimetres(below(proven))}" if proven > 0 else "not proven apart"


def _clear(record: Record) -> Iterator[Line]:
    checked = "the pair keeps its" if len(record.pairs) == 1 else f"all {len(record.pairs)} pairs keep their"
    left = count(len(record.not_checked), "pair was", "pairs were")
    aside = f"; {left} not checked, see below" if record.not_checked else ""
    everywhere = "everywhere in the range, not only at positions tried"
    yield Line(f"CLEAR: {checked} clearance {everywhere}{aside}", Tone.GOOD)
    pair = record.pairs[0]
    names = f"{part(pair.a, pair.shape_a)} to {part(pair.b, pair.shape_b)}"
    proven = f", proven nowhere below {millimetres(below(pair.proven_mm))}" if pair.proven_mm else ""
    proven += f", {estimates(pair)}" if proven and pair.estimated else ""
    where = f" at {pair_setting(pair, record.drives)}{proven}" if pair.closed_in else ", not closed in on"
    yield Line(f"Least margin: {names}, {pair_least(pair)} mm apart{where}; {short(pair.required_mm)} mm is required.")
