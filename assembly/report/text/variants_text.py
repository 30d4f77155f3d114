"""Variants side by side, in words: the best by a stated rule, a row for each, and what to do now."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assembly.record import VariantEntry, VariantPairEntry, VariantsRecord, VariantStopEntry, VariedEntry
from assembly.report.text.layout import TONES, Block, Heading, Line, Table, Tone
from assembly.report.text.variant_measures import measure_told, measures_told
from assembly.report.text.variants_remarks import STATES, names_of, remarks
from assembly.report.text.words import MINUS, below, count, depth_told, figure, least_told, short, signed, unit_sign

SHOWN = 9
"""Rows that are printed unless all are asked for."""
VALUE_DIGITS = 4
HOLD = {"clear": "HOLD", "fails": "FAIL", "undecided": "UNDECIDED"}
FIGURES = frozenset(("least mm", "change", "margin mm"))


def variants_blocks(record: VariantsRecord, command: str, *, everything: bool = False) -> Iterator[Block]:
    """The whole answer; ``command`` sweeps the file."""
    varied = ", ".join(f"{one.name} ({short(one.value, VALUE_DIGITS)} in the file)" for one in record.varied)
    yield Line(best_told(record), _tone_of_best(record))
    if record.best is not None:
        yield Line(f"What comes first is by {record.best.rule}.", Tone.QUIET)
    yield Line(f"{record.machine.name}: {count(len(record.entries) - 1, 'variant')} of {varied}", Tone.QUIET)
    rows = record.entries if everything or len(record.entries) <= SHOWN else _foremost(record)
    yield Heading("Side by side, each swept over the whole range" if rows is record.entries else _title(record, rows))
    cells = [variant_cells(one, record) for one in rows]
    filled = [number for number in range(len(cells[0])) if any(row[number] for row in cells)]
    columns = variant_columns(record)
    yield Table(
        columns=tuple(columns[number] for number in filled),
        rows=tuple(tuple(row[number] for number in filled) for row in cells),
        figures=FIGURES | {one.name for one in record.varied},
        tones=tuple(TONES[_word(one)] for one in rows),
    )
    yield from (Line(text, Tone.QUIET, 1) for text in remarks(record, rows))
    yield from _left_out(record, rows)
    if record.kept:
        known = f"{record.kept} of {len(record.entries)} were known from an earlier run"
        yield Line(f"{known}: `--recompute` computes them again", Tone.QUIET)
    yield Heading("What to do now")
    yield from (Line(f"- {text}", indent=1) for text in _advice(record, command))


def best_told(record: VariantsRecord) -> str:
    """Which is the best, in a sentence; of those that are computed, where some are open."""
    open_ = sum(one.state == "open" for one in record.entries)
    so_far = f"NOT ALL COMPUTED, {open_} of {len(record.entries)} are open; so far: " if open_ else ""
    return so_far + _best_of_these(record)


def _best_of_these(record: VariantsRecord) -> str:
    best, clear = record.best, sum(one.holds for one in record.entries)
    if best is None or best.verdict != "clear":
        return f"NONE IS CLEAR of {len(record.entries)}{_nearest(record)}{_held(record)}"
    first = record.entries[best.rows[0]]
    kept = f"all pairs are proven to keep {figure(below(first.margin_mm or 0.0))} mm more than required"
    of_all = f"{clear} of {len(record.entries)} are CLEAR"
    if len(best.rows) == len(record.entries):
        names = " and ".join(one.name for one in record.varied)
        return f"NO DIFFERENCE: whatever {names}, {kept}; all {clear} are CLEAR"
    if best.rows[0] == 0:
        others = names_of([record.entries[number] for number in best.rows[1:]])
        alike = f"; as good within {short(best.alike_mm)} mm: {others}" if others else ""
        return f"NO VARIANT IS BETTER than the file as it is: {kept}{alike}; {of_all}"
    if len(best.rows) > 1:
        names = names_of([record.entries[number] for number in best.rows])
        return (
            f"ALIKE, so that none is the best: {names} come first and differ by no more than "
            f"{short(best.alike_mm)} mm; {kept}; {of_all}"
        )
    return f"BEST: {_called(first, record)}: {kept}; {of_all}"


def _nearest(record: VariantsRecord) -> str:
    if record.best is not None:
        rows = [record.entries[number] for number in record.best.rows]
        return f"; nearest to it, but not proven: {names_of(rows)}"
    missing = [(_missing(one.worst), one) for one in record.entries if one.state == "swept" and one.verdict == "fails"]
    known = [(amount, one) for amount, one in missing if amount is not None]
    if not known:
        return ""
    amount, least = min(known, key=lambda each: each[0])
    return f"; what lacks least is {_called(least, record)}: {figure(amount)} mm" if amount > 0 else ""


def _held(record: VariantsRecord) -> str:
    """Of which the stops hold, though the range of the file goes past them."""
    rows = [one for one in record.entries if one.stops_verdict == "clear"]
    return f"; as far as the stops let it go all is proven of: {names_of(rows)}" if rows else ""


def _missing(pair: VariantPairEntry | None) -> float | None:
    """What a pair lacks, mm."""
    return None if pair is None or pair.found_mm is None else pair.required_mm - pair.found_mm


def _called(entry: VariantEntry, record: VariantsRecord) -> str:
    if entry.number == 0:
        return "the file's own"
    values = ", ".join(f"{one.name} {_value(entry, one)}" for one in record.varied)
    return f"variant {entry.number} ({f'{entry.name}: ' if entry.name else ''}{values})"


def _tone_of_best(record: VariantsRecord) -> Tone:
    if record.best is not None and record.verdict != "undecided":
        return TONES[record.best.verdict]
    return TONES["undecided" if any(one.verdict == "undecided" for one in record.entries) else "fails"]


def variant_columns(record: VariantsRecord) -> tuple[str, ...]:
    """The columns of the table."""
    names = ("name",) if any(one.name for one in record.entries[1:]) else ()
    stops = ("stops",) if any(one.stops_verdict for one in record.entries) else ()
    varied = tuple(one.name for one in record.varied)
    figures = "least mm", "change", "margin mm", "pair", "loses most", "first joint"
    return ("", *names, *varied, "verdict", *figures, *measures_told(record), *stops)


def variant_cells(entry: VariantEntry, record: VariantsRecord) -> tuple[str, ...]:
    """One row; what is not as in the file is marked by a star."""
    names = (entry.name,) if "name" in variant_columns(record) else ()
    values = [_value(entry, one) for one in record.varied]
    verdict = STATES.get(entry.state, entry.verdict.upper()) + _star(entry, "verdict")
    pair, change, lost = entry.worst, entry.least_change_mm, entry.loses_most
    own = "file" if entry.number == 0 else str(entry.number)
    stops = (_stops(entry, record),) if "stops" in variant_columns(record) else ()
    return (
        own,
        *names,
        *values,
        verdict,
        _least(pair),
        "" if change is None else _signed(change),
        "" if entry.kept_margin_mm is None else figure(below(entry.kept_margin_mm)),
        f"{pair.a} – {pair.b}{_star(entry, 'pair')}" if pair else "",
        f"{lost.a} – {lost.b} {MINUS}{figure(lost.lost_mm)}" if lost else "",
        "" if entry.number and _joint(entry) == _joint(record.entries[0]) else _joint(entry),
        *(measure_told(entry, name) for name in measures_told(record)),
        *stops,
    )


def _star(entry: VariantEntry, column: str) -> str:
    return " *" if column in entry.differs else ""


def _value(entry: VariantEntry, one: VariedEntry) -> str:
    """A number, and how many steps that is from what the file has."""
    value = entry.values.get(one.name, one.value)
    text = short(value, VALUE_DIGITS)
    if not one.step:
        return text
    return f"{text} ({signed((value - one.value) / one.step)})"


def _least(pair: VariantPairEntry | None) -> str:
    if pair is None:
        return ""
    if pair.depth_mm is not None:
        return f"{depth_told(pair.depth_mm, None).removeprefix('at least ')} deep"
    return least_told(pair.least_mm, pair.proven_mm, pair.verdict, closed_in=pair.closed_in)


def _signed(value: float) -> str:
    text = figure(value)
    return text if text.startswith(MINUS) else "±0" if text == "0.00" else f"+{text}"


def _joint(entry: VariantEntry) -> str:
    first = entry.first_joint
    if first is None:
        return ""
    if first.reserve < 0:
        return f"{first.joint} {figure(-first.reserve, 1)}{unit_sign(first.unit)} past{_star(entry, 'joint')}"
    return f"{first.joint} {figure(first.reserve, 1)}{unit_sign(first.unit)} short{_star(entry, 'joint')}"


def _stops(entry: VariantEntry, record: VariantsRecord) -> str:
    if entry.stops_verdict is None:
        return ""
    told = ", ".join(_stop(one, record) for one in entry.stops)
    return f"{HOLD[entry.stops_verdict]}{_star(entry, 'stops')} {told}".rstrip()


def _stop(stop: VariantStopEntry, record: VariantsRecord) -> str:
    """How high a stop is, and from where to where it ends its drive."""
    height = "no height" if stop.height_mm is None else f"{figure(stop.height_mm)} mm"
    if stop.acts_from is None or stop.acts_to is None:
        return f"{stop.name} {height}"
    ends = dict.fromkeys(map(signed, (stop.acts_from, stop.acts_to)))
    return f"{stop.name} {height} at {' to '.join(ends)}{unit_sign(record.drives[stop.drive].unit)}"


def _word(entry: VariantEntry) -> str:
    """The verdict that its row is coloured by."""
    if entry.stops_verdict is None or entry.verdict == "fails":
        return entry.verdict
    return entry.stops_verdict if entry.stops_verdict != "clear" else entry.verdict


def _foremost(record: VariantsRecord) -> Sequence[VariantEntry]:
    """The file's own, then those with the largest margin, those that hold first."""
    own, *others = (one for one in record.entries if one.state != "open" or not one.number)
    order = {"clear": 0, "undecided": 1, "fails": 2}

    def rank(one: VariantEntry) -> tuple[bool, int, float]:
        lacks = _missing(one.worst)
        best = one.margin_mm if one.verdict == "clear" or lacks is None else -lacks
        return one.state != "swept", order[_word(one)], -(best or 0.0)

    return [own, *sorted(others, key=rank)[: SHOWN - 1]]


def _title(record: VariantsRecord, rows: Sequence[VariantEntry]) -> str:
    return f"The file's own and the {len(rows) - 1} that come first of {len(record.entries) - 1}"


def _left_out(record: VariantsRecord, rows: Sequence[VariantEntry]) -> Iterator[Block]:
    shown = {one.number for one in rows}
    left = [STATES.get(one.state, one.verdict.upper()) for one in record.entries if one.number not in shown]
    if left:
        kinds = ", ".join(f"{left.count(word)} {word}" for word in dict.fromkeys(left))
        yield Line(f"Left out: {kinds}: `--all` prints them, variants.csv has them", Tone.QUIET)


def _advice(record: VariantsRecord, command: str) -> Iterator[str]:
    best = record.best
    if any(one.state == "open" for one in record.entries):
        yield "run the same command again: finished rows are kept, and only the others are computed"
        if best is None or best.verdict != "clear":
            return
    if best is None or best.verdict != "clear":
        yield f"none will do: {command.replace(' sweep ', ' helps ', 1)} tells what numbers do, `propose` what to alter"
    elif len(best.rows) == len(record.entries):
        yield "`swingroom helps` tells which numbers bear on the worst pair; the other pairs are in variants.json"
    elif best.rows[0] == 0:
        yield "keep what the file has, or vary what bears on its worst pair: `swingroom helps` tells which numbers do"
    elif len(best.rows) > 1:
        yield "choose among those that are alike by their joints and stops, in variants.csv; or use a smaller --within"
    else:
        yield from _to_take(record.entries[best.rows[0]], record, command)


def _to_take(entry: VariantEntry, record: VariantsRecord, command: str) -> Iterator[str]:
    """What to write where, to have the best."""
    for one in record.varied:
        value = entry.values[one.name]
        if value == one.value:
            continue
        if one.kind == "joint":
            name = one.name.removeprefix("joints.")
            yield (
                f"{signed(value / one.step)} {one.counted} at {name}: draw them, and in the file the parts "
                "where they then stand; the washers themselves were not checked"
            )
        else:
            where = f"line {one.line} of " if one.line else ""
            now = f"{one.name} (now {short(one.value, 6)})"
            yield f"write {short(value, 6)} for {now} into {where}{record.machine.file}"
    yield f"then run {command}: it finds the same"
