"""What a watch says: how the machine stands at the start, and in a few lines what each save has changed since then."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assembly.record import Comparison, HelpRecord, Record
from assembly.report.text.advice import SWEEP, advice
from assembly.report.text.compare_text import HEADINGS, changed_lines
from assembly.report.text.edits_text import edits
from assembly.report.text.headline import answer_lines, headline
from assembly.report.text.layout import Block, Line, Tone
from assembly.report.text.number_effects import help_caution, help_lines
from assembly.report.text.words import count, figure

LINES = 4
"""Changes of one kind that are reported, what matters most first."""
EDITS = 4


def start_blocks(record: Record, command: str, helps: HelpRecord | None = None) -> Iterator[Block]:
    """How the machine stands, what to do about it, and how to go on. ``command``: what shows all of it."""
    yield from headline(record)
    for step in list(advice(record, command))[:1]:
        yield Line(step, indent=1)
    yield from slope_lines(helps, command)
    yield Line("Watching: edit and save; Ctrl-C ends.", Tone.QUIET)


def slope_lines(helps: HelpRecord | None, command: str) -> Iterator[Block]:
    """What would help the worst pair: slopes, and what makes advice of them."""
    first = next(iter(helps.figures), None) if helps is not None else None
    if helps is not None and first is not None:
        yield Line(f"what would help {' – '.join(first.names)}:", indent=1)
        numbers = {one.name: one for one in helps.numbers}
        yield from (Line(text, indent=2) for text in help_lines(first, numbers))
        yield Line(help_caution(first, command.removeprefix(SWEEP)), Tone.QUIET, 2)


def saved_line(clock: str, files: Sequence[str]) -> Line:
    """The line above what a save has changed."""
    return Line(f"── {clock} saved: {', '.join(files)}", Tone.QUIET)


def same_line() -> Line:
    """What is said of a save that changed nothing."""
    return Line("The same to the letter as what was checked before: all stands as told above.", Tone.QUIET)


def difference_blocks(
    found: Comparison, record: Record, seconds: float, command: str, helps: HelpRecord | None = None
) -> Iterator[Block]:
    """What is not as it was at the start, and how long it took to know."""
    told = edits(found)
    if told:
        more = f"; and {len(told) - EDITS} more" if len(told) > EDITS else ""
        yield Line(f"edited since the start: {'; '.join(told[:EDITS])}{more}")
    yield from answer_lines(record)
    left = 0
    for turn, (heading, tone) in HEADINGS.items():
        lines = changed_lines(found, turn)
        if lines:
            yield Line(f"{heading}:", tone)
            yield from lines[:LINES]
            left += max(0, len(lines) - LINES)
    for number, what in ((len(found.new_pairs), "new"), (len(found.gone_pairs), "not checked any more")):
        if number:
            yield Line(f"{count(number, 'pair')} {what}")
    if not _changed(found):
        yield Line("No pair, joint, rod or measure stands otherwise than at the start.")
    yield from slope_lines(helps, command)
    anew = len(record.pairs) - record.work.recalled
    yield Line(f"{count(anew, 'pair')} computed anew in {figure(seconds, 1)} s", Tone.QUIET)
    if left:
        yield Line(f"and {count(left, 'smaller change')}: `{command}` shows all", Tone.QUIET)


def _changed(found: Comparison) -> bool:
    return bool(found.pairs or found.joints or found.new_pairs or found.gone_pairs or found.reach)


def broken_blocks(faults: Sequence[str]) -> Iterator[Block]:
    """Why what was saved cannot be checked."""
    yield from (Line(fault, Tone.BAD, whole=True) for fault in faults)
    yield Line("Not checked. Still watching.", Tone.QUIET)
