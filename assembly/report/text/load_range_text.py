"""Load cases over the whole range in words: where each rated joint bears its load worst."""

from __future__ import annotations

from collections.abc import Iterator

from assembly.record import CaseRangeEntry, LoadRangeRecord, WorstRatingEntry
from assembly.report.text.layout import Block, Heading, Line, Table, Tone
from assembly.report.text.load_words import (
    JOINT,
    OF,
    RATING,
    SOFT,
    TONES,
    aside_lines,
    borne,
    load_advice,
    newtons,
    not_rated_lines,
    reserve,
    share,
)
from assembly.report.text.motion_text import unrolled_lines
from assembly.report.text.sweep_text import caution
from assembly.report.text.words import count, figure, moved_parts, setting, short, told_findings, whole_range

FIGURES = frozenset(("force N", "load rating N", "margin N", "effort"))
TOGGLES_SHOWN = 5


def load_range_blocks(record: LoadRangeRecord) -> Iterator[Block]:
    """The whole answer to load cases over the range."""
    yield _headline(record)
    yield Line(f"looked at {count(record.settings, 'setting')}, not proven between them", Tone.QUIET)
    yield Line(f"{record.machine.name}: {whole_range(record.drives)}", Tone.QUIET)
    for case in record.cases:
        yield from _case(case, record)
    yield from _lost(record)
    yield from _toggles(record)
    yield from not_rated_lines(record.not_rated)
    yield from unrolled_lines(record.unrolled)
    told = list(told_findings(record.findings))
    told += [f"with all drives at 0 an edited length moved {text}" for text in moved_parts(record.assembled)]
    if told:
        yield Heading("Worth knowing", aside=count(len(told), "finding"))
        yield from (Line(text, indent=1) for text in told)
    worst = _worst(record)
    yield Heading("What to do now")
    yield from (Line(f"- {text}", indent=1) for text in load_advice(record.verdict, worst[1].joint if worst else ""))
    if record.verdict == "within":
        yield Line("- nothing more about these loads; what else may push, and how hard, the file must say", indent=1)
    yield Line("")
    yield caution()


def _headline(record: LoadRangeRecord) -> Line:
    told = _worst(record)
    if record.verdict == "not rated":
        return Line("NOT JUDGED: no joint of this file has a rating", TONES["not rated"])
    if told is None:
        lost = len(record.not_reached) + len(record.dead_centres)
        return Line(f"OPEN: {count(lost, 'setting')} could not be looked at; every other one is within", Tone.OPEN)
    name, worst = told
    text = f"{borne(worst.joint, worst.rating)} ({name}) at {setting(worst.at, record.drives)}"
    if record.verdict == "exceeded":
        return Line(f"EXCEEDED: {text}", Tone.BAD)
    if record.verdict == "open":
        return Line(f"OPEN: {text}; the rest depends on stiffness", Tone.OPEN)
    soft = "; parts come near a toggle, see below" if record.near_toggles else ""
    return Line(f"WITHIN: every rated joint at every setting looked at; least margin: {text}{soft}", Tone.GOOD)


def _worst(record: LoadRangeRecord) -> tuple[str, WorstRatingEntry] | None:
    """Case and joint with the least margin of those with the verdict of the whole; None if there is none."""
    told = [
        (case.name, worst) for case in record.cases for worst in case.ratings if worst.rating.verdict == record.verdict
    ]
    return min(told, key=lambda entry: entry[1].rating.rating_n - entry[1].rating.at_least_n, default=None)


def _case(case: CaseRangeEntry, record: LoadRangeRecord) -> Iterator[Block]:
    yield Heading(f"{case.name}: worst of the range, drives held")
    if case.ratings:
        yield Table(
            columns=("verdict", "force N", "load rating N", "margin N", "joint", "rated for", "at"),
            rows=tuple(
                (
                    worst.rating.verdict.upper(),
                    newtons(worst.rating.force_n, worst.rating.at_least_n),
                    short(worst.rating.rating_n, 1),
                    reserve(worst.rating),
                    worst.joint,
                    OF[worst.rating.of],
                    setting(worst.at, record.drives),
                )
                for worst in case.ratings
            ),
            figures=FIGURES,
            tones=tuple(TONES[worst.rating.verdict] for worst in case.ratings),
            row_is=RATING,
        )
        yield Line("")
    yield Table(
        columns=("joint", "kind", "force N", "at"),
        rows=tuple(
            (each.joint, each.kind, _largest(each.force_n, each.open_settings), setting(each.at, record.drives))
            for each in case.joints
        ),
        figures=FIGURES,
        row_is=JOINT,
    )
    if any(each.open_settings for each in case.joints):
        yield Line("`at least`: held more than once, the rest depends on stiffness", Tone.OPEN, 1)
    for effort in case.efforts:
        where = setting(effort.at, record.drives)
        yield Line(f"drive {effort.drive} must give {figure(effort.value, 3)} {effort.unit} at {where}", indent=1)
    if case.stop:
        yield Line("its stop is left out here: `swingroom loads` with --set tells of it at its setting", indent=1)
    yield from aside_lines(case.on_fixed)


def _largest(force: float, open_settings: int) -> str:
    return newtons(None if open_settings else force, force)


def _lost(record: LoadRangeRecord) -> Iterator[Block]:
    for settings, what in (
        (record.dead_centres, "stand at a dead centre, where no finite force holds the machine"),
        (record.not_reached, "cannot be reached: `swingroom sweep` says why"),
    ):
        if settings:
            first = setting(settings[0], record.drives)
            yield Heading(f"{count(len(settings), 'setting')} that {what}")
            yield Line(f"the first: {first}", Tone.OPEN, 1)


def _toggles(record: LoadRangeRecord) -> Iterator[Block]:
    if not record.near_toggles:
        return
    yield Heading("Near a toggle somewhere in the range")
    for near in record.near_toggles[:TOGGLES_SHOWN]:
        where = setting(near.at, record.drives)
        yield Line(f"{', '.join(near.parts)}: softest at {where} (share {share(near.share)})", Tone.OPEN, 1)
    if len(record.near_toggles) > TOGGLES_SHOWN:
        yield Line(f"and {len(record.near_toggles) - TOGGLES_SHOWN} more in the record", indent=1)
    yield Line(SOFT, indent=1)
