"""What would help, in words: what each number does to a figure, and which single numbers give a pair its room."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assembly.record import AnswerEntry, FigureEntry, HelpRecord, NumberEntry, WorseEntry
from assembly.report.text.layout import TONES, Block, Heading, Line, Table, Tone
from assembly.report.text.number_effects import LEAST_TOLD, Gained, effect_size, effect_told, gained_by, ranked
from assembly.report.text.words import below, count, figure, gap, part, setting, short, true_minus, unit_sign

DIMENSIONS_TOLD = 8
POINTS_TOLD = 4
"""Coordinates of points that are reported besides dimensions and lengths."""
FIGURES_TOLD = 14
LOSSES_TOLD = 2
UNITS = {"mm": "mm", "deg": "degrees"}


def help_blocks(record: HelpRecord, command: str, number: str | None = None) -> Iterator[Block]:
    """The whole answer: about the pair that was asked for, or about what one ``number`` does everywhere."""
    if number is not None:
        yield from _number_blocks(record, number)
        return
    asked = next((one for one in record.figures if one.names == record.asked), None)
    if asked is None:
        yield Line(_nothing_known(record), Tone.OPEN)
        return
    yield _headline(asked, record)
    if record.verdict != (asked.verdict or "clear"):
        yield Line(f"the machine as a whole: {record.verdict.upper()}: {record.reason}", TONES[record.verdict])
    yield from _slope_blocks(asked, record)
    yield from _answer_blocks(record)
    yield Heading("What to do now")
    yield from (Line(f"- {text}", indent=1) for text in _advice(record, command))


def _nothing_known(record: HelpRecord) -> str:
    if not record.asked:
        return "No pair comes so near that what changes it could be told: name one with --pair"
    names = " – ".join(record.asked)
    if len(record.asked) == 1:
        return f"{names} is not known, or has no limit in the file, so there is nothing that it could lack"
    return f"how near {names} come at the least is not known well enough to tell what changes it; see `swingroom sweep`"


def _headline(asked: FigureEntry, record: HelpRecord) -> Line:
    place = next(iter(asked.places), None)
    if asked.kind != "pair":
        at = f" at {setting(place.at, record.drives)}" if place is not None else ""
        verdict = asked.verdict or "clear"
        if asked.motion == "value":
            return Line(f"{asked.names[0]} is {_room(asked)} with all drives at 0; it has no limits")
        told = f"{_called(asked)} keeps {_room(asked)} of its limit{at}"
        if asked.kind == "measure" and asked.room < 0:
            told = f"{_called(asked)} goes {figure(-asked.room)}{unit_sign(asked.unit)} beyond its limit{at}"
        return Line(f"{verdict.upper()}: {told}", TONES[verdict])
    a, b = asked.names
    if place is not None:
        a, b = part(a, place.shape_a), part(b, place.shape_b)
    at = f" at {setting(place.at, record.drives)}" if place is not None else ""
    verdict, required, least = asked.verdict or "undecided", asked.required or 0.0, asked.room + (asked.required or 0.0)
    sure = (
        f", proven {figure(below(asked.proven_mm))}" if verdict == "undecided" and asked.proven_mm is not None else ""
    )
    how = f"{a} to {b} {gap(least)} mm{sure}" if least > 0 else f"{a} stands {gap(-least)} mm deep in {b}"
    return Line(f"{verdict.upper()}: {how}{at}; {short(required)} mm is required", TONES[verdict])


def _slope_blocks(asked: FigureEntry, record: HelpRecord) -> Iterator[Block]:
    """What each number does at the setting that governs, one table for all places that govern alike."""
    yield Heading(f"What 1 more and 1 less of each number does to it there, in {UNITS[asked.unit]}")
    if not asked.places:
        none = "it does not lean anywhere: whatever makes it lean takes as much of its limit"
        if asked.kind == "pair":
            none = "the nearest points show no direction: one part lies inside the other, or they only touch"
        yield Line(none, indent=1)
        return
    if len(asked.places) > 1:
        shapes = dict.fromkeys(f"{one.shape_a} – {one.shape_b}" for one in asked.places)
        at = dict.fromkeys(setting(one.at, record.drives) for one in asked.places)
        alike = f"{'; '.join(shapes)}, at {'; '.join(at)}"
        yield Line(
            f"as near as each other: {alike}. Told is the least that a change gains at all of them", Tone.QUIET, 1
        )
    numbers = {one.name: one for one in record.numbers}
    rows = list(ranked(asked, numbers))
    shown = _shortened(rows, numbers)
    if shown:
        yield Table(
            columns=("number", "now", "1 more", "1 less"),
            rows=tuple(_slope_row(name, gained, numbers[name]) for name, gained in shown),
            figures=frozenset(("now", "1 more", "1 less")),
        )
    others = f"{count(len(rows) - len(shown), 'more number')} with a smaller effect; " if len(rows) > len(shown) else ""
    still = count(len(record.numbers) - len(rows), "number does", "numbers do")
    if record.numbers:
        yield Line(f"{others}{'the other ' if shown else ''}{still} nothing to it", Tone.QUIET, 1)
    if not rows:
        yield Line("only what is written into shapes, joints and ranges themselves bears on it", Tone.QUIET, 1)


def _shortened(rows: Sequence[tuple[str, Gained]], numbers: dict[str, NumberEntry]) -> list[tuple[str, Gained]]:
    points = [row for row in rows if numbers[row[0]].kind == "point"]
    others = [row for row in rows if numbers[row[0]].kind != "point"]
    return [*others[:DIMENSIONS_TOLD], *points[:POINTS_TOLD]]


def _slope_row(name: str, gained: Gained, number: NumberEntry) -> tuple[str, ...]:
    note = " (instead of its arithmetic)" if number.worked_out else ""
    return f"{name}{note}", short(number.value), effect_told(gained[0]), effect_told(gained[1])


def _answer_blocks(record: HelpRecord) -> Iterator[Block]:
    if record.wanted_mm is None:
        return
    wanted = short(record.wanted_mm)
    if _keeps_it(record):
        return
    if record.answers:
        yield Heading(f"To keep {wanted} mm there, any one of these; each was swept over the whole range")
        yield Table(
            columns=("number", "from", "to", "proven mm", "the machine then", "what gets worse"),
            rows=tuple(_answer_row(one) for one in record.answers),
            figures=frozenset(("from", "to", "proven mm")),
            tones=tuple(TONES[one.verdict] for one in record.answers),
        )
    else:
        yield Heading(f"No number was found that alone makes it keep {wanted} mm")
    yield from (Line(f"{one.number}: {true_minus(one.why)}", Tone.QUIET, 1) for one in record.no_answers)


def _keeps_it(record: HelpRecord) -> bool:
    """Whether the pair that was asked for keeps what is wanted as it is."""
    asked = (one for one in record.figures if one.kind == "pair" and one.names == record.asked)
    return any(one.keeps(record.wanted_mm or 0.0) for one in asked)


def _answer_row(answer: AnswerEntry) -> tuple[str, ...]:
    change = answer.after - answer.before
    told = f"{short(answer.after)} ({short(abs(change))} {'more' if change > 0 else 'less'})"
    machine = answer.verdict.upper()
    return answer.number, short(answer.before), told, figure(below(answer.proven_mm)), machine, _worse(answer.worse)


def _worse(lost: Sequence[WorseEntry]) -> str:
    if not lost:
        return "nothing near its limit"
    told = [
        f"{one.what} {figure(one.before)} to {figure(one.after)}{unit_sign(one.unit)}" for one in lost[:LOSSES_TOLD]
    ]
    more = f"; {len(lost) - LOSSES_TOLD} more" if len(lost) > LOSSES_TOLD else ""
    return "; ".join(told) + more


def _number_blocks(record: HelpRecord, name: str) -> Iterator[Block]:
    """What one number does to every figure, the largest effect first."""
    number = next(one for one in record.numbers if one.name == name)
    if number.refused:
        yield Line(f"{name} cannot be changed alone: {number.refused}", Tone.OPEN)
        return
    if not number.moves:
        yield Line(f"{name} is {short(number.value)}: no figure that has a rule depends on it", Tone.OPEN)
        return
    yield Line(f"{name} is {short(number.value)}: it bears on {number.moves} of {len(record.figures)} figures")
    gained = [(one, gained_by(one.places, name)) for one in record.figures if one.places]
    told = sorted(
        (each for each in gained if effect_size(each[1]) >= LEAST_TOLD), key=lambda each: -effect_size(each[1])
    )
    yield Heading("What 1 more and 1 less of it do to each, in mm or degrees")
    yield Table(
        columns=("margin now", "1 more", "1 less", "of"),
        rows=tuple(
            (_room(one), effect_told(effect[0]), effect_told(effect[1]), _called(one))
            for one, effect in told[:FIGURES_TOLD]
        ),
        figures=frozenset(("margin now", "1 more", "1 less")),
        tones=tuple(TONES[one.verdict or "clear"] for one, _ in told[:FIGURES_TOLD]),
    )
    if len(told) > FIGURES_TOLD:
        yield Line(f"{count(len(told) - FIGURES_TOLD, 'more figure')} with a smaller effect", Tone.QUIET, 1)


def _room(one: FigureEntry) -> str:
    return f"{figure(one.room)}{unit_sign(one.unit)}"


def _called(one: FigureEntry) -> str:
    if one.kind == "pair":
        return " – ".join(one.names)
    if one.kind == "stop":
        return f"{one.names[0]}: where it is struck"
    if one.motion == "value":
        return f"{one.names[0]}: with all drives at 0"
    return f"{' with '.join(one.names)} ({one.motion})"


def _advice(record: HelpRecord, command: str) -> Iterator[str]:
    numbers = {one.name: one for one in record.numbers}
    effects = any(True for one in record.figures if one.names == record.asked for _ in ranked(one, numbers))
    if record.wanted_mm is not None and _keeps_it(record):
        yield f"nothing: the two are proven to keep {short(record.wanted_mm)} mm as they are"
    elif record.answers:
        yield f"write one of these numbers into {record.machine.file}, then run {command}"
        if all(one.verdict == "fails" for one in record.answers):
            yield f"the machine fails with each of them; several at once: {command.replace(' sweep ', ' propose ', 1)}"
    elif record.wanted_mm is not None and effects:
        yield "change two numbers at once, starting from the table above; or let a stop end the motion sooner"
    elif record.wanted_mm is not None or not effects:
        yield "give what bears on it a name in [dimensions] and use it there; or let a stop end the motion sooner"
    elif len(record.asked) > 1:
        yield "to have numbers tried, say what the two are to keep: --to MM"
    else:
        yield "change one of these and sweep again"
    if record.numbers:
        yield "what else one number bears on: --change NAME"
