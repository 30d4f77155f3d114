"""The record of a sweep on one screen: the verdict, the worst pairs, what of joints matters, what is not shown."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assembly.record import JointEntry, PairEntry, Record
from assembly.report.text.advice import advice, closing, sweep_verdict
from assembly.report.text.headline import binding, headline, too_far
from assembly.report.text.joints_text import LimitSide, margin_words, sides_of
from assembly.report.text.layout import TONES, Block, Heading, Line, Tone
from assembly.report.text.measures_text import judged_lines, kept_line
from assembly.report.text.one_screen import SCREEN_HEIGHT, WORST, height, left_out_line, left_words
from assembly.report.text.run_files import Files, file_lines
from assembly.report.text.sweep_text import SHORT_CAUTION, not_counted, pair_row, skipped_kinds, sweep_blocks
from assembly.report.text.threads_text import short_thread
from assembly.report.text.wheel_range_text import of_file, of_wheels
from assembly.report.text.words import count, place, setting, told_findings, unit_sign

FILE_LINES = 3
"""That say where record, picture and page lie."""
PASSING = ("clear pair", "clear pairs")
LOST_SHOWN = 2
JOINTS_SHOWN = 2
"""Joints and rods past a limit, or not proven to keep it, that are reported one by one."""


def sweep_screen(record: Record) -> Iterator[Block]:
    """All but what comes after the files are written: what to do now, and the verdict again.

    Of a small machine it is the whole report.
    """
    if _whole_fits(record):
        yield from sweep_blocks(record)
        return
    yield from headline(record)
    asked = [pair for pair in record.pairs if pair.asked][:WORST]
    if asked:
        yield Heading("Pairs that were asked for")
        yield from (_pair_line(pair, record) for pair in asked)
    worst = _worst(record)
    if worst:
        yield Heading(f"The {WORST} worst of {len(record.pairs)} pairs" if len(worst) < len(record.pairs) else "Pairs")
        yield from (_pair_line(pair, record) for pair in worst)
    yield from _others(record)
    yield Line("")
    yield from left_out_line(_left_out(record, (*asked, *worst)), "record.json")
    yield from not_counted(record)
    yield Line(SHORT_CAUTION, Tone.QUIET)


def sweep_closing(record: Record, files: Files, command: str) -> Iterator[Block]:
    """What to do now, as much as the screen holds, where the files lie, and the verdict once more."""
    if _whole_fits(record):
        yield from closing(record, files, command)
        return
    last = [*file_lines(files), *sweep_verdict(record)]
    steps = [Line(f"- {text}", indent=1) for text in advice(record, command)]
    space = SCREEN_HEIGHT - height([*sweep_screen(record), Heading(""), steps[-1], *last])
    shown = 1
    while shown < len(steps) - 1 and height(steps[: shown + 1]) <= space:
        shown += 1
    hidden = max(0, len(steps) - 1 - shown)
    where = "the page has them" if files.record is None and files.page else "`--all` prints them"
    yield Heading(f"What to do now ({count(hidden, 'more step')}: {where})" if hidden else "What to do now")
    yield from steps[:shown]
    if len(steps) > 1:
        yield steps[-1]
    yield from last


def _whole_fits(record: Record) -> bool:
    return height([*sweep_blocks(record), *closing(record, Files(), "")]) + FILE_LINES <= SCREEN_HEIGHT


def _worst(record: Record) -> list[PairEntry]:
    """What fails, then what is open, then what has the least clearance."""
    rank = {"fails": 0, "undecided": 1, "clear": 2}
    return sorted(record.pairs, key=lambda pair: rank[pair.verdict])[:WORST]


def _pair_line(pair: PairEntry, record: Record) -> Line:
    verdict, least, _, required, _, at = pair_row(pair, record)
    figures = f"{least} mm ({required} required)" if pair.overlap is None else f"{least.removesuffix(' deep')} mm deep"
    return Line(f"{verdict}  {figures}: {pair.a} – {pair.b}, {at}", TONES[pair.verdict], 1)


def _others(record: Record) -> Iterator[Block]:
    """Places that were lost, joints and rods: what of them fails or is open, else the least margin in a line."""
    lines = [*_lost(record), *_joints(record), *_rods(record), *_threads(record)]
    measures = list(judged_lines(record))
    if measures:
        yield Heading("Measures")
        yield from measures
    else:
        yield from kept_line(record)
    if lines:
        yield Heading("Reach, joints and rods" if record.unreachable else "Joints and rods")
        yield from lines
    elif sides := sides_of(record):
        kept = f"all {len(sides)} kept" if len(sides) > 1 else "the one there is is kept"
        yield Line(f"Joint limits: {kept}; {_nearest(sides[0], record)}.")


def _lost(record: Record) -> Iterator[Line]:
    lost = sorted(record.unreachable, key=lambda one: not one.missed)
    for one in lost[:LOST_SHOWN]:
        told = f"{place(one, record.drives)}: {one.message} ({' – '.join(one.loop)})"
        yield Line(told, Tone.BAD if one.missed else Tone.OPEN, 1)
    if len(lost) > LOST_SHOWN:
        yield Line(f"and {count(len(lost) - LOST_SHOWN, 'more such place')}", Tone.OPEN, 1)


def _joints(record: Record) -> Iterator[Line]:
    judged = sorted((joint for joint in record.joints if joint.verdict in ("fails", "undecided")), key=_by_margin)
    for joint in judged[:JOINTS_SHOWN]:
        text = f"FAILS  {too_far(joint, record)}" if joint.verdict == "fails" else f"UNDECIDED  {joint.name}"
        yield Line(text, TONES[joint.verdict or ""], 1)
    if len(judged) > JOINTS_SHOWN:
        rest = [TONES[joint.verdict or ""] for joint in judged[JOINTS_SHOWN:]]
        yield Line(f"and {left_words(rest, ('more joint', 'more joints'))}", rest[0], 1)


def _by_margin(joint: JointEntry) -> tuple[bool, float]:
    return joint.verdict != "fails", joint.reserve if joint.reserve is not None else 0.0


def _nearest(side: LimitSide, record: Record) -> str:
    margin = margin_words(side.reserve, side.limit, unit_sign(side.joint.unit))
    return f"the nearest: {side.joint.name}, {margin}, at {setting(side.at, record.drives)}"


def _rods(record: Record) -> Iterator[Line]:
    judged = sorted((rod for rod in record.rods if rod.verdict != "clear"), key=lambda rod: rod.verdict != "fails")
    for rod in judged[:JOINTS_SHOWN]:
        names = " with ".join(rod.parts)
        text = f"FAILS  {binding(rod, record)}" if rod.verdict == "fails" else f"UNDECIDED  whether {names} binds"
        yield Line(text, TONES[rod.verdict], 1)
    if len(judged) > JOINTS_SHOWN:
        rest = [TONES[rod.verdict] for rod in judged[JOINTS_SHOWN:]]
        yield Line(f"and {left_words(rest, ('more rod', 'more rods'))}", rest[0], 1)


def _threads(record: Record) -> Iterator[Line]:
    for rod in record.threads:
        if rod.verdict == "fails":
            yield Line(f"FAILS  {short_thread(rod)}", Tone.BAD, 1)


def _left_out(record: Record, shown: Sequence[PairEntry]) -> list[str]:
    """What the whole report has and the screen has not, by kind."""
    names = {(pair.a, pair.b) for pair in shown}
    rest = [TONES[pair.verdict] for pair in record.pairs if (pair.a, pair.b) not in names]
    told = [left_words(rest, PASSING if set(rest) == {Tone.GOOD} else ("pair", "pairs"))] if rest else []
    if record.not_checked:
        told.append(f"{count(len(record.not_checked), 'pair')} not checked ({skipped_kinds(record.not_checked)})")
    for number, *words in (
        (len(sides_of(record)), "joint limit"),
        (len(record.rods), "rod"),
        (len(of_file(record.measures)), "measure"),
        (len(of_wheels(record.measures)), "figure of wheels", "figures of wheels"),
        (len(record.cables.cables) if record.cables else 0, "cable"),
        (len(list(told_findings(record.findings))), "finding"),
    ):
        told.extend([count(number, *words)] if number else [])
    if record.rods_turned is not None and record.rods_turned.turns:
        told.append(f"what turns of {count(len(record.rods_turned.turns), 'rod')} do")
    return told
