"""Cables in words: lengths to cut, what the motion pulls and from where on, and what splitters make of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from assembly.record import (
    CableEntry,
    CableRunEntry,
    CablesRecord,
    DriveEntry,
    MeasureEntry,
    PullEntry,
    Record,
    SplitterEntry,
)
from assembly.record.cable_entries import is_pulled_unjudged, unproven_lengths
from assembly.report.text.layout import Block, Heading, Line, Table, Tone
from assembly.report.text.splitters_text import splitter_lines
from assembly.report.text.words import (
    count,
    figure,
    never_less,
    never_more,
    setting,
    short,
    signed,
    unit_sign,
    whole_range,
)

COLUMNS = ("cut", "at least", "there is", "all at 0", "at most", "most at")
FIGURES = frozenset(COLUMNS[1:5])
TONES = {"fails": Tone.BAD, "undecided": Tone.OPEN}
MOST_TOUCHED = 2
"""Parts that a hose may touch that are told one by one."""
LOOSE = 0.05
"""mm: pulled or slack by less is told as neither."""
CAUTION = (
    "An outer that is wound from a flat wire grows and shrinks as it bends: give it slack. What its clamps, its "
    "ferrules and the lever need of the inner comes on top of what is told here."
)


def cables_blocks(record: CablesRecord, command: str) -> Iterator[Block]:
    """The whole answer; ``command`` is the one that was run."""
    yield _answer(record)
    yield Line(f"{record.machine.name}: {whole_range(record.drives)}", Tone.QUIET)
    yield from _sections(record.cables, record.splitters, record.drives)
    yield Heading("What to do now")
    yield from (Line(f"- {text}", indent=1) for text in _advice(record, command))
    yield Line(CAUTION, Tone.QUIET)


def swept_cables_blocks(record: Record) -> Iterator[Block]:
    """Cables in the report of a sweep, and on the page; nothing where the machine has none."""
    told = record.cables
    if told is None:
        return
    yield from _sections(told.cables, told.splitters, record.drives)
    hoses = [cable.name for cable in told.cables if any(run.diameter for run in cable.runs)]
    if hoses:
        beside = (
            f"What the slack hoses of {', '.join(hoses)} may touch is no part of a sweep: `swingroom cables` tells it"
        )
        yield Line(beside, Tone.OPEN)
    yield Line(CAUTION, Tone.QUIET)


def _sections(
    cables: Sequence[CableEntry], splitters: Sequence[SplitterEntry], drives: Mapping[str, DriveEntry]
) -> Iterator[Block]:
    """Lengths to cut, what the motion pulls, what hoses may touch, splitters, and what is lost in bends."""
    unproven = [one for cable in cables for one in unproven_lengths(cable)]
    where = "NOT proven over the whole range" if unproven else "proven over the whole range"
    yield Heading(f"Cable lengths to cut, mm ({where})", most=len(cables))
    yield from (Line(f"{one.name}: {one.why}", Tone.OPEN, 1) for one in unproven[:MOST_TOUCHED])
    rows = [row for cable in cables for row in _rows(cable, drives)]
    yield Table(COLUMNS, tuple(rows), FIGURES, row_is=("length", "lengths"))
    yield Heading("What the motion pulls (each drive by itself: settings looked at, others at 0)", most=8)
    for cable in cables:
        yield from _pulled(cable, drives)
    if any(run.near for cable in cables for run in cable.runs):
        yield Heading("Slack hoses: every shape that each can take, against parts that do not hold it", most=4)
        for cable in cables:
            yield from _near(cable, drives)
    if splitters:
        yield Heading("Splitters", most=8, if_full="splitters")
        for splitter in splitters:
            yield from splitter_lines(splitter, drives)
    lost = [cable for cable in cables if cable.friction is not None]
    if lost:
        yield Heading(
            "Force lost in the bends (friction as the file states it)", most=4, if_full="force lost in the bends"
        )
        yield from (_lost(cable) for cable in lost)


def _answer(record: CablesRecord) -> Line:
    """The answer in one line."""
    for word in ("fails", "undecided"):
        told = [text for cable in record.cables for text in _wrong(cable, word, record.drives)]
        told += [text for one in record.splitters for text in _bottoms(one, word, record.drives)]
        if word == "undecided":
            told += [text for cable in record.cables for text in _touching(cable)]
        if told:
            more = f" (and {len(told) - 1} more)" if len(told) > 1 else ""
            return Line(f"{word.upper()}: {told[0]}{more}", TONES[word])
    if record.verdict == "undecided":
        return Line(f"UNDECIDED: {record.reason}", Tone.OPEN)
    if record.reason == "nothing has a limit":
        return Line("NOT JUDGED: no cable has a length or a free play in the file", Tone.OPEN)
    pulled = [cable for cable in record.cables if is_pulled_unjudged(cable, LOOSE)]
    if pulled:
        by = max(pulled, key=lambda cable: cable.pull.most if cable.pull and cable.pull.most is not None else 0.0)
        most = f"the motion pulls {by.name} by up to {never_less(by.pull.most if by.pull else None)} mm"
        return Line(f"All limits given are kept, but {most}, and no `free_play` says how far it may", Tone.OPEN)
    if any(run.hose and run.outer is None for cable in record.cables for run in cable.runs):
        return Line("All limits given are kept; outers that are still to be cut are told below", Tone.GOOD)
    return Line("CLEAR: every cable is long enough, and none is pulled, anywhere in the range", Tone.GOOD)


def _wrong(cable: CableEntry, word: str, drives: Mapping[str, DriveEntry]) -> Iterator[str]:
    """What is wrong with a cable, or open."""
    for run in cable.runs:
        if run.needed is not None and run.needed.verdict == word:
            yield f"the outer of {cable.name} {_too_short(run, run.needed, drives)}"
    for one, told in ((cable.pull, "pulls"), (cable.straight, "bends tighter than its radius")):
        if one is not None and one.verdict == word:
            if word == "undecided":
                yield f"{one.name}: {one.why}"
            elif told == "pulls":
                play = f", beyond its free play of {short(cable.free_play)} mm" if cable.free_play else ""
                at = setting(one.at_most, drives)
                yield f"the motion pulls {cable.name} by {never_less(one.most)} mm at {at}{play}"
            else:
                yield f"{cable.name} {told} at {setting(one.at_least, drives)}"


def _touching(cable: CableEntry) -> Iterator[str]:
    """What its hoses may touch."""
    open_ = [one for run in cable.runs for one in run.near if one.verdict != "clear"]
    if open_:
        worst = min(open_, key=lambda one: one.least if one.least is not None else 0.0)
        parts = f" and {count(len(open_) - 1, 'other part')}" if len(open_) > 1 else ""
        yield f"the slack hose of {cable.name} may touch {worst.part}{parts}"


def _too_short(run: CableRunEntry, needed: MeasureEntry, drives: Mapping[str, DriveEntry]) -> str:
    if needed.verdict == "undecided":
        return f"is not proven long enough: {needed.why}"
    slack = f", {short(run.slack)} mm of slack in it" if run.slack else ""
    need = f"{never_less((needed.most or 0.0) + run.slack)} mm are needed at {setting(needed.at_most, drives)}{slack}"
    return f"is too short with {short(run.outer or 0.0)} mm: {need}"


def _bottoms(one: SplitterEntry, word: str, drives: Mapping[str, DriveEntry]) -> Iterator[str]:
    told = {"apart": one.apart, "travel": one.travel, **{end.cable: end.travel for end in one.ends}}
    for what, entry in told.items():
        if entry is None or entry.verdict != word:
            continue
        if word == "undecided":
            yield f"{entry.name}: {entry.why}"
        elif what == "apart":
            yield f"the beam of {one.name} bottoms out at {setting(entry.at, drives)}"
        else:
            yield f"{one.name} needs {never_less(entry.most)} mm of travel and has {short(one.travel_limit or 0.0)} mm"


def _rows(cable: CableEntry, drives: Mapping[str, DriveEntry]) -> Iterator[tuple[str, ...]]:
    """A row for each outer and for the inner."""
    hoses = [run for run in cable.runs if run.hose]
    for number, run in enumerate(hoses):
        name = f"{cable.name} outer{f' {number + 1}' if len(hoses) > 1 else ''}"
        if run.needed is not None:
            yield _row(name, run.to_cut, short(run.outer) if run.outer else "to cut", run.needed, drives)
    there = "set at 0" if cable.inner is None else short(cable.inner)
    name = f"{cable.name} inner"
    if cable.path is not None and all(run.outer for run in hoses):
        yield _row(name, cable.inner_to_cut, there, cable.path, drives)
    else:
        yield name, never_less(cable.inner_to_cut), there, "–", "–", "as its outers"


def _row(
    name: str, least: float | None, there: str, of: MeasureEntry, drives: Mapping[str, DriveEntry]
) -> tuple[str, ...]:
    ending = {"fails": " FAILS", "undecided": " UNDECIDED"}.get(of.verdict or "", "")
    now = "–" if of.zero is None else figure(of.zero)
    still = not of.drives or (of.least is not None and of.most is not None and of.most - of.least < LOOSE)
    at = "every setting" if still else setting(of.at_most, drives)
    return f"{name}{ending}", never_less(least), there, now, never_less(of.most), at


def _pulled(cable: CableEntry, drives: Mapping[str, DriveEntry]) -> Iterator[Line]:
    """What the motion does to the inner of a cable."""
    pull = cable.pull
    if pull is None:
        yield Line(f"{cable.name}: nothing, as soon as its outers are as long as they are to be cut", indent=1)
        return
    if pull.why:
        yield Line(f"{cable.name}: {pull.why}", Tone.OPEN, 1)
    if pull.least is None or pull.most is None:
        return
    if pull.most - pull.least < LOOSE and abs(pull.most) < LOOSE:
        yield Line(f"{cable.name}: nothing", indent=1)
        return
    tone = TONES.get(pull.verdict or "", Tone.PLAIN)
    yield Line(f"{cable.name}: {_span(pull.least, pull.most)} over the whole range", tone, 1)
    yield from (Line(_side(cable, side, drives), indent=2) for side in cable.sides)
    if cable.sides_left_out:
        yield Line(f"not looked at along every drive: {cable.sides_left_out}", Tone.OPEN, 2)


def _span(least: float, most: float) -> str:
    """How far it is slack and pulled."""
    told = []
    if least < -LOOSE:
        told.append(
            f"up to {figure(-least)} mm slack" if most > -LOOSE else f"{never_more(-most)} to {figure(-least)} mm slack"
        )
    if most > LOOSE:
        told.append(f"pulled by up to {never_less(most)} mm")
    return ", ".join(told) or "neither slack nor pulled"


def _side(cable: CableEntry, side: PullEntry, drives: Mapping[str, DriveEntry]) -> str:
    sign = unit_sign(drives[side.drive].unit)
    told = f"{side.drive} to {signed(side.to)}{sign}: {_span(side.slackest, side.most)}"
    if side.pulled_from is not None:
        acts = "acts" if cable.full_pull is not None or cable.free_play is not None else "pulled"
        told += f"; {acts} from {signed(side.pulled_from)}{sign} on"
    if side.full_from is not None:
        told += f", fully on from {signed(side.full_from)}{sign}"
    return told


def _near(cable: CableEntry, drives: Mapping[str, DriveEntry]) -> Iterator[Line]:
    """What a slack hose may touch; it need not."""
    every = [one for run in cable.runs for one in run.near]
    touched = sorted((one for one in every if one.may_touch), key=lambda one: one.least or 0.0)
    for one in touched[:MOST_TOUCHED]:
        yield Line(f"{cable.name} MAY touch {one.part}, at {setting(one.at, drives)}", Tone.OPEN, 1)
    if len(touched) > MOST_TOUCHED:
        rest = ", ".join(one.part for one in touched[MOST_TOUCHED:])
        yield Line(f"{cable.name} may touch {count(len(touched) - MOST_TOUCHED, 'more part')}: {rest}", Tone.OPEN, 1)
    for one in every:
        if one.verdict != "clear" and not one.may_touch:
            yield Line(f"{cable.name} and {one.part}: not proven{': ' if one.why else ''}{one.why}", Tone.OPEN, 1)
    clear = sum(one.verdict == "clear" for one in every)
    if clear:
        yield Line(f"{cable.name} cannot touch {count(clear, 'part')}, proven over the whole range", indent=1)


def _lost(cable: CableEntry) -> Line:
    at_zero, least = cable.through_at_zero, cable.through_least
    if at_zero is None or least is None or cable.bends is None:
        return Line(f"{cable.name}: not known: {cable.bends.why if cable.bends else ''}", Tone.OPEN, 1)
    told = (
        f"{never_more(100 * at_zero, 1)} % comes through with all drives at 0, at least {never_more(100 * least, 1)} %"
    )
    bends = f"{never_less(cable.bends.most, 1)}° of bends at the most, friction {short(cable.friction or 0.0)}"
    return Line(f"{cable.name}: {told} ({bends}; a slack hose bends more)", indent=1)


def _advice(record: CablesRecord, command: str) -> Iterator[str]:
    for cable in record.cables:
        yield from _to_mend(cable)
    for one in record.splitters:
        if one.apart.verdict == "fails":
            yield f"give {one.name} a beam with longer arms or more tilt, or lead both cables alike"
        if one.travel is not None and one.travel.verdict == "fails":
            yield f"give {one.name} {never_less(one.travel.most)} mm of travel or more, or lead its cables straighter"
    hoses = [run for cable in record.cables for run in cable.runs if run.hose and run.outer is None]
    if record.verdict == "clear" and hoses:
        yield f"cut, write each `outer` as cut, and run again: {command}"
    elif record.verdict in ("clear", "fails") and any(is_pulled_unjudged(one, LOOSE) for one in record.cables):
        yield "say with `free_play` how many mm each cable may be pulled, and every sweep holds it to that"
    elif record.verdict == "clear":
        yield "nothing: `swingroom sweep` holds the cables to these limits too"
    elif any(one.verdict != "clear" for cable in record.cables for run in cable.runs for one in run.near):
        yield "where a hose may touch something: cut it nearer its least, add a guide, or try it out and tie it back"
    elif record.verdict == "undecided":
        yield "lead it so that it never doubles back, or shorten the range where it is open"


def _to_mend(cable: CableEntry) -> Iterator[str]:
    """What mends a cable."""
    nearer = f"lead {cable.name} nearer what it turns about"
    for run in cable.runs:
        if run.needed is not None and run.needed.verdict == "fails":
            yield f"cut the outer of {cable.name} to {never_less(run.to_cut)} mm or more, or {nearer}"
    if cable.pull is not None and cable.pull.verdict == "fails":
        if cable.inner is not None:
            yield f"give {cable.name} {never_less(cable.inner_to_cut)} mm of inner or more, or {nearer}"
        else:
            yield f"{nearer}, or through an outer that is long enough everywhere"
    if cable.straight is not None and cable.straight.verdict == "fails":
        yield f"move a guide of {cable.name} farther from the next, or give a smaller `bend` if the hose allows it"
