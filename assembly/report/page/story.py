"""What the page says, in the order in which a builder asks; all of it in the words of the other reports."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from math import ceil

from assembly.record import MapRecord, PoseGrid, Record
from assembly.report.page.content import Page
from assembly.report.page.maps import UNREACHED, looks_beyond, step_of, worst_pair
from assembly.report.page.sections import Section, page_sections
from assembly.report.page.table_rows import (
    SIDES,
    PageTable,
    joint_table,
    measure_table,
    pair_table,
    stop_table,
    unlimited,
)
from assembly.report.page.view_pairs import label
from assembly.report.render.margin_scale import step_words
from assembly.report.text.advice import SWEEP, advice
from assembly.report.text.compare_text import compare_blocks
from assembly.report.text.headline import answer_lines, failure_parts
from assembly.report.text.joints_text import first_out_blocks, rod_blocks
from assembly.report.text.layout import TONES, Block, Heading, Line, Tone
from assembly.report.text.number_effects import help_caution, help_lines
from assembly.report.text.range_text import rules_text, trade_off_blocks
from assembly.report.text.sweep_text import (
    CAUTION,
    contact_blocks,
    how_to_close_in,
    lost_blocks,
    not_checked_blocks,
    not_counted,
    note_blocks,
    seat_blocks,
    work_blocks,
)
from assembly.report.text.threads_text import thread_blocks
from assembly.report.text.wheel_range_text import of_file
from assembly.report.text.words import count, pair_setting, part, setting, short, unit_sign, unrolled_words, whole_range

DIGEST_SHOWN = 12
NEAREST = 5
"""Pairs beside the view."""


@dataclass(frozen=True, slots=True)
class NearRow:
    """One of the nearest pairs, as a way to it: its number, its names, its figure, and what would help."""

    number: int
    a: str
    b: str
    label: str
    required: str
    where: str
    verdict: str
    tone: Tone
    helps: tuple[str, ...] = ()
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Story:
    """The words of a page, section by section; empty sections hold nothing."""

    verdict: str
    tone: Tone
    sentence: str
    missing: str
    beside: tuple[str, ...]
    swept: str
    title_block: tuple[tuple[str, str], ...]
    todo: tuple[str, ...]
    colours: tuple[tuple[str, str], ...]
    nearest: tuple[NearRow, ...]
    trust: str
    unrolled: str
    legend: tuple[tuple[int | str, str], ...]
    worst: str
    map_note: str
    governors: tuple[tuple[int, str], ...]
    pairs: PageTable
    pairs_note: str
    contacts: tuple[Block, ...]
    joints: PageTable
    free_joints: str
    rods: tuple[Block, ...]
    measures: PageTable
    open_measures: tuple[str, ...]
    stops: PageTable
    stop_limits: tuple[Block, ...]
    sections: tuple[Section, ...]
    change: tuple[Block, ...]
    left_out: tuple[Block, ...]
    notes: tuple[Block, ...]
    work: str
    caution: str


def story(page: Page) -> Story:
    """Everything that the page says."""
    record = page.record
    first, *beside = answer_lines(record)
    verdict, sentence, missing = _answer(first.text, record)
    others = len(unlimited(record))
    return Story(
        verdict=verdict,
        tone=first.tone,
        sentence=sentence,
        missing=missing,
        beside=tuple(line.text for line in beside),
        swept=whole_range(record.drives),
        title_block=tuple(_title_block(page)),
        todo=tuple(advice(record, page.command)),
        colours=_colours(record) if page.close_up else (),
        nearest=tuple(islice(_nearest(page), NEAREST)),
        trust=f"{_trust(page.moving.grid, record)}{_coarse(page.moving.coarse_mm)}" if page.moving else "",
        unrolled=_unrolled(page.moving.unrolled) if page.moving else "",
        legend=_legend(page.maps),
        worst=_worst(page),
        map_note=_map_note(page),
        governors=_governors(page),
        pairs=pair_table(record),
        pairs_note=how_to_close_in(record.pairs),
        contacts=(*contact_blocks(record), *lost_blocks(record)),
        joints=joint_table(record),
        free_joints=f"{count(others, 'other motion')} of joints have no limit." if others else "",
        rods=(*first_out_blocks(record), *rod_blocks(record), *thread_blocks(record)),
        measures=measure_table(record),
        open_measures=tuple(f"{one.name}: {one.why}" for one in of_file(record.measures) if one.why),
        stops=stop_table(record),
        sections=tuple(page_sections(record)),
        stop_limits=() if page.usable is None else tuple(trade_off_blocks(page.usable)),
        change=_change(page),
        left_out=(*not_checked_blocks(record.not_checked), *seat_blocks(record)),
        notes=tuple(note_blocks(record)),
        work=" ".join(block.text for block in work_blocks(record) if isinstance(block, Line)).strip(),
        caution=" ".join((*(line.text for line in not_counted(record)), CAUTION)),
    )


def _answer(told: str, record: Record) -> tuple[str, str, str]:
    """The verdict, the sentence that says why, and how much clearance is missing where that is known."""
    verdict, _, sentence = told.partition(": ")
    failing = [pair for pair in record.pairs if pair.verdict == "fails"]
    if record.verdict == "fails":
        return (verdict, *(failure_parts(failing[0], record) if failing else (sentence, "")))
    return verdict, f"{sentence[:1].upper()}{sentence[1:]}", ""


def _title_block(page: Page) -> Iterator[tuple[str, str]]:
    """What stands in the corner of a drawing: what, from which file, by its checksum, when, and by which program."""
    record = page.record
    made = datetime.fromisoformat(record.made)
    yield "machine", record.machine.name
    yield "file", record.machine.file
    yield "checked", f"{made:%Y-%m-%d %H:%M} {made.tzname() or ''}".strip()
    commit = f", commit {page.commit[:DIGEST_SHOWN]}" if page.commit else ""
    yield "file checksum", f"{record.machine.digest[:DIGEST_SHOWN]}{commit}"
    yield "program", f"{record.program.name} {record.program.version}".strip()
    yield "range", whole_range(record.drives)


def _colours(record: Record) -> tuple[tuple[str, str], ...]:
    """What the colours of the close-up are: the parts of the worst pair, and what both claim."""
    pair = record.pairs[0]
    told = (("first", pair.a), ("second", pair.b))
    return (*told, ("overlap", "both claim this")) if pair.overlap is not None else told


def _nearest(page: Page) -> Iterator[NearRow]:
    record, helps = page.record, page.helps
    figures = {} if helps is None else {one.names: one for one in helps.figures}
    numbers = {} if helps is None else {one.name: one for one in helps.numbers}
    for number, pair in enumerate(record.pairs):
        figure = figures.get((pair.a, pair.b))
        yield NearRow(
            number,
            part(pair.a, pair.shape_a),
            part(pair.b, pair.shape_b),
            label(pair),
            f"{short(pair.required_mm)} mm",
            pair_setting(pair, record.drives),
            pair.verdict,
            TONES[pair.verdict],
            () if figure is None else help_lines(figure, numbers),
            "" if figure is None else help_caution(figure, page.command.removeprefix(SWEEP)),
        )


def _trust(grid: PoseGrid, record: Record) -> str:
    """How true the poses are that nobody solved; the error is never rounded down."""
    steps = " and ".join(
        f"{short((axis[-1] - axis[0]) / max(1, len(axis) - 1))}{unit_sign(record.drives[name].unit)} of {name}"
        for name, axis in grid.axes.items()
    )
    told = f"Poses were solved every {steps}; between them they are interpolated"
    if grid.error_mm is None:
        return f"{told}, and that could be tried nowhere."
    error = f"{ceil(100 * grid.error_mm) / 100:z.2f} mm"
    where = f"{setting(grid.error_at, record.drives)}, {grid.error_part}"
    coarse = "" if grid.error_mm < grid.wanted_mm else f", more than the {short(grid.wanted_mm)} mm that were aimed at"
    return f"{told}. Solved again in between, no point of any part was more than {error} off ({where}){coarse}."


def _coarse(within_mm: float) -> str:
    if not within_mm:
        return ""
    return f" While it moves, parts may be drawn with fewer facets, within {short(within_mm)} mm of their own."


def _unrolled(parts: Sequence[str]) -> str:
    """What of the machine does not stand as it is judged, so that gaps and overlaps may lie beside it."""
    aside = "a gap or an overlap marked here may lie beside it, and the pictures of pairs show it rolled"
    return f"{unrolled_words(parts)}; {aside}." if parts else ""


def _legend(maps: Sequence[MapRecord]) -> tuple[tuple[int | str, str], ...]:
    """What the colours of a map over two drives mean, those that are in it."""
    if not maps or len(maps[0].counts) < 2:
        return ()
    used = {step_of(cell) for record in maps for cell in record.cells}
    told: list[tuple[int | str, str]] = [*enumerate(step_words()), (UNREACHED, "cannot be reached")]
    return tuple(entry for entry in told if entry[0] in used)


def _worst(page: Page) -> str:
    """The place that the map marks."""
    pair = worst_pair(page.record)
    if pair is None or not page.maps or len(page.maps[0].counts) < 2:
        return ""
    return f"{'worst place' if pair.verdict == 'fails' else 'least margin'}: {label(pair)}"


def _map_note(page: Page) -> str:
    """What the map shows, and that it proves nothing."""
    if not page.maps:
        return ""
    first = page.maps[0]
    cells = " × ".join(str(count) for count in first.counts.values())
    proves = "the sweep proves, the map shows where"
    if len(first.counts) == 1:
        line = (
            "" if first.required_mm is None else f"; the level line is what is required, {short(first.required_mm)} mm"
        )
        shown = f"The least clearance of all pairs that move, measured at {cells} settings"
        return f"{shown}; dashed, what is proven round them{line}{_stopped(page)}; {proves}."
    own = "Measured at the middle of each square"
    dashed = "; dashed is the range in the file" if looks_beyond(page.maps, page.usable) else ""
    if page.usable and any(governor.rules for governor in page.usable.governors):
        held = "" if len(page.maps) == 1 else ", drawn where the drives that are held stand at 0"
        dashed += f"; the numbered line ends the usable range{held}"
    thick = _stopped(page)
    return f"{own}, {cells} squares{dashed}{thick}; {proves}."


def _stopped(page: Page) -> str:
    """Which ends of the mapped drives a stop is declared for."""
    mapped = page.maps[0].counts
    told = [f"{stop.name} ({stop.drive} {SIDES[stop.side]})" for stop in page.record.stops if stop.drive in mapped]
    return f"; at a thick edge the file declares a stop: {', '.join(told)}" if told else ""


def _governors(page: Page) -> tuple[tuple[int, str], ...]:
    if page.usable is None:
        return ()
    return tuple((governor.number, rules_text(governor)) for governor in page.usable.governors)


def _change(page: Page) -> tuple[Block, ...]:
    if page.change is None:
        return (Line(page.no_change, Tone.QUIET),)
    return tuple(_without_name(compare_blocks(page.change)))


def _without_name(blocks: Iterable[Block]) -> Iterator[Block]:
    for block in blocks:
        if isinstance(block, Heading) or not isinstance(block, Line) or block.text:
            yield block
