"""The record of a sweep in words: the answer first, then what it rests on, then what to do."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from assembly.record import NotCheckedEntry, PairEntry, Record
from assembly.report.text.cables_text import swept_cables_blocks
from assembly.report.text.headline import LEAST_DEPTH, freeing_mm, headline
from assembly.report.text.joints_text import joint_blocks
from assembly.report.text.layout import TONES, Block, Heading, Line, Table, Tone
from assembly.report.text.measures_text import measure_blocks
from assembly.report.text.rods_text import swept_turns_blocks
from assembly.report.text.threads_text import thread_blocks
from assembly.report.text.weights_text import weight_blocks
from assembly.report.text.wheel_range_text import of_file
from assembly.report.text.wheels_text import swept_wheels_blocks
from assembly.report.text.words import (
    below,
    count,
    estimates,
    figure,
    millimetres,
    moved_parts,
    pair_depth,
    pair_least,
    pair_setting,
    part,
    place,
    setting,
    short,
    signed,
    told_findings,
    true_minus,
    unit_sign,
    way,
)

PAIR_COLUMNS = ("verdict", "least mm", "proven mm", "required", "pair (shape)", "at")
NOT_CLOSED_IN = "not closed in on"
PAIR_FIGURES = frozenset(("least mm", "proven mm", "required"))
HOW_TO_CLOSE_IN = (
    "at least: what is proven, at most: what was seen, of pairs that were not closed in on; `swingroom sweep` with "
    "--pair A B does that for one pair, with --part A for all of a part"
)
NEAREST_SHOWN = 12
"""Rows of the table of pairs, unless more of them fail or are open."""
MOST_SHOWN = 40
CONTACTS_SHOWN = 6
"""Failing pairs whose first contacts are reported one by one."""
LOST_SHOWN = 5
FINDINGS_SHOWN = 12
WHOLE_STAGES = ("assemble", "gather pairs", "recall", "sweep", "nearest points", "keep")
"""Stages that together are the run; the others in the record are parts of these."""
CAUTION = (
    "The model is stiff and as drawn: parts that bend, joints that wear, tyres that swell with speed, welds that pull "
    "and cables that hang are not in it. If a machine like this carries people, have its stops, brakes and steering "
    "looked at by someone competent, under the rules that hold where it is used, before anyone rides it."
)

SHORT_CAUTION = "Stiff and as drawn: before anyone rides it, have someone competent look at it."


def caution() -> Line:
    """What no model shows, at the end of a report."""
    return Line(CAUTION, Tone.QUIET, brief=SHORT_CAUTION)


def not_counted(record: Record) -> Iterator[Line]:
    """What the file says of tolerances and play, which a sweep looks at no more than at what it is not told."""
    varied = sum(one.plus_minus > 0 for one in record.dimensions.values())
    told = [count(varied, "tolerance")] if varied else []
    told += [f"the play of {count(len(record.loose), 'joint')}"] if record.loose else []
    if told:
        yield Line(f"Not counted here: {' and '.join(told)}; `swingroom spread` counts what they take.", Tone.QUIET)


def sweep_blocks(record: Record) -> Iterator[Block]:
    """Everything but where the files lie and what to do now, which come last."""
    yield from headline(record)
    yield from _pairs(record)
    yield from contact_blocks(record)
    yield from lost_blocks(record)
    yield from joint_blocks(record)
    yield from measure_blocks(of_file(record.measures), record.drives)
    yield from swept_wheels_blocks(record)
    yield from swept_cables_blocks(record)
    yield from thread_blocks(record)
    yield from swept_turns_blocks(record)
    yield from weight_blocks(record.weight)
    yield from not_checked_blocks(record.not_checked)
    yield from seat_blocks(record)
    yield from note_blocks(record)
    yield from work_blocks(record)
    yield Line("")
    yield from not_counted(record)
    yield caution()


def _pairs(record: Record) -> Iterator[Block]:
    asked = [pair for pair in record.pairs if pair.asked]
    if asked:
        yield Heading(f"Pairs that were asked for ({len(asked)}), closed in on however far apart they are")
        yield _table(asked, record)
    yield from _nearest(record)


def _nearest(record: Record) -> Iterator[Block]:
    trouble = [index for index, pair in enumerate(record.pairs) if pair.verdict != "clear"][:MOST_SHOWN]
    clear = [index for index, pair in enumerate(record.pairs) if pair.verdict == "clear"]
    rows = sorted(trouble + clear[: max(0, NEAREST_SHOWN - len(trouble))])
    shown = [record.pairs[index] for index in rows]
    if not shown:
        return
    yield Heading(f"Pairs with the least margin ({len(shown)} of {len(record.pairs)}; the record has all)")
    yield _table(shown, record)
    note = how_to_close_in(shown)
    if note:
        yield Line(note, Tone.QUIET, 1)
    starred = [pair for pair in shown if pair.estimated and pair.proven_mm is not None and pair.verdict != "fails"]
    for told in dict.fromkeys(map(estimates, starred)):
        yield Line(f"* proven {told}: state `surface_error` in the file if you know it", indent=1)


def how_to_close_in(shown: Sequence[PairEntry]) -> str:
    """What the figures of pairs mean that were not closed in on; nothing if all were."""
    struck = [pair.overlap is not None or pair.swallowed for pair in shown]
    measured = [pair.closed_in or pair.least_mm is None for pair in shown]
    told = all(one or other for one, other in zip(struck, measured, strict=True))
    return "" if told else HOW_TO_CLOSE_IN


def _table(shown: Sequence[PairEntry], record: Record) -> Table:
    return Table(
        columns=PAIR_COLUMNS,
        rows=tuple(pair_row(pair, record) for pair in shown),
        figures=PAIR_FIGURES,
        tones=tuple(TONES[pair.verdict] for pair in shown),
    )


def pair_row(pair: PairEntry, record: Record) -> tuple[str, ...]:
    """A pair in the columns of its table."""
    least = "inside" if pair.swallowed else pair_least(pair)
    if pair.overlap is not None:
        least = f"{pair_depth(pair.overlap)} deep"
    proven = "–" if pair.proven_mm is None or pair.verdict == "fails" else figure(below(pair.proven_mm))
    if proven != "–" and pair.estimated:
        proven += "*"
    names = f"{part(pair.a, pair.shape_a)} – {part(pair.b, pair.shape_b)}"
    at = pair_setting(pair, record.drives) if pair.closed_in or pair.verdict != "clear" else NOT_CLOSED_IN
    return pair.verdict.upper(), least, proven, short(pair.required_mm), names, at


def contact_blocks(record: Record) -> Iterator[Block]:
    """Where failing pairs begin to fail, and how much of the range they spoil."""
    failing = [pair for pair in record.pairs if pair.verdict == "fails" and (pair.first_contacts or pair.region)]
    if not failing:
        return
    yield Heading("Where the failing pairs begin to be too near")
    for pair in failing[:CONTACTS_SHOWN]:
        yield Line(f"{pair.a} – {pair.b}{_share(pair, record)}", indent=1)
        yield from (Line(text, indent=2) for text in _first_contacts(pair, record))
        yield from (Line(text, indent=2) for text in _way_out(pair))


def _way_out(pair: PairEntry) -> Iterator[str]:
    """The straight shift that frees the two at their worst setting, and there only."""
    if pair.overlap is None or pair.overlap.depth_mm < LEAST_DEPTH or (pair.cure is not None and pair.cure.joint):
        return  # a shift would tear the joint apart
    length = freeing_mm(pair.overlap, pair.surface_error_mm)
    yield (
        f"at the worst setting, and there only, {pair.shape_b or pair.b} comes free when moved {millimetres(length)} "
        f"({way(pair.overlap.direction, length)})"
    )


def _share(pair: PairEntry, record: Record) -> str:
    """How much of the range a pair spoils, by the cells of a grid; of rolls that is no share of the drives' range."""
    if pair.region is None or not set(pair.at) <= set(record.drives):
        return ""
    told = short(100 * pair.region.share, 1)
    return ", in a small part of the range" if told == "0" else f", in about {told} % of the range"


def _first_contacts(pair: PairEntry, record: Record) -> Iterator[str]:
    """One sentence per drive and way; settings of the other drives that change nothing share it."""
    told: dict[tuple[str, int, str], list[str]] = {}
    for contact in pair.first_contacts:
        value = f"{signed(contact.at[contact.drive])}{unit_sign(record.drives[contact.drive].unit)}"
        held = {name: value for name, value in contact.at.items() if name != contact.drive}
        told.setdefault((contact.drive, contact.direction, value), []).append(
            setting(held, record.drives) if held else ""
        )
    for (drive, direction, value), besides in told.items():
        others = " and with ".join(text for text in besides if text)
        yield f"{drive} from 0 {'up' if direction > 0 else 'down'}: at {value}{f' with {others}' if others else ''}"


def lost_blocks(record: Record) -> Iterator[Block]:
    """Settings that cannot be reached, or were not proven."""
    if not record.unreachable:
        return
    what = "cannot be reached" if any(lost.missed for lost in record.unreachable) else "could not be proven"
    yield Heading(f"Settings that {what}: {short(max(100 * record.unreachable_share, 0.01))} % of the range")
    for lost in record.unreachable[:LOST_SHOWN]:
        tone = Tone.BAD if lost.missed else Tone.OPEN
        yield Line(f"{place(lost, record.drives)}: {lost.message} ({' – '.join(lost.loop)})", tone, 1)
    if record.joints:
        yield Line("what the joints do at these settings is not known; their ranges are those of the rest", indent=1)
    if len(record.unreachable) > LOST_SHOWN:
        yield Line(f"and {len(record.unreachable) - LOST_SHOWN} more in the record", indent=1)


def not_checked_blocks(pairs: tuple[NotCheckedEntry, ...]) -> Iterator[Block]:
    """Every pair that was not checked, under its reason."""
    if not pairs:
        yield Heading("Not checked: no pair; all were looked at")
        return
    pairs_left = count(len(pairs), "pair")
    yield Heading(f"Not checked: {pairs_left}", aside=f"{pairs_left} not checked ({skipped_kinds(pairs)})")
    for reason, names in _by_reason(pairs).items():
        yield Line(f"{reason}: {', '.join(names)}", indent=1)


def skipped_kinds(pairs: tuple[NotCheckedEntry, ...]) -> str:
    """Why pairs were not checked, without the joints' names and what the file says of them."""
    kinds = Counter(pair.reason.partition(":")[0].partition(" by ")[0] for pair in pairs)
    return ", ".join(f"{number} {kind}" for kind, number in kinds.most_common())


def _by_reason(pairs: tuple[NotCheckedEntry, ...]) -> dict[str, list[str]]:
    """Pairs under their reasons; reasons that differ in their last word only, a joint's name, are reported as one."""
    stems: dict[str, set[str]] = {}
    for pair in pairs:
        stems.setdefault(pair.reason.rpartition(" ")[0], set()).add(pair.reason)
    told: dict[str, list[str]] = {}
    for pair in pairs:
        stem, _, last = pair.reason.rpartition(" ")
        names = f"{pair.a} – {pair.b}"
        if stem and len(stems[stem]) > 1:
            told.setdefault(stem, []).append(f"{names} ({last})")
        else:
            told.setdefault(pair.reason, []).append(names)
    return told


def seat_blocks(record: Record) -> Iterator[Block]:
    """What of joined pairs was left out."""
    joined = [pair for pair in record.pairs if pair.gap_seat]
    if joined:
        pairs = count(len(joined), "joined pair")
        yield Line(f"of {pairs} the joint's own bearing is left out: `swingroom inspect` says what of which", indent=1)


def note_blocks(record: Record) -> Iterator[Block]:
    """What moved at rest, what was found in the file, and freedoms that do not matter."""
    if record.assembled:
        yield Heading("Put together with all drives at 0: an edited length moved")
        yield from (Line(text, indent=1) for text in moved_parts(record.assembled))
    if record.findings or record.freedoms:
        yield Heading("Worth knowing")
        told = list(told_findings(record.findings))
        yield from (Line(text, indent=1) for text in told[:FINDINGS_SHOWN])
        if len(told) > FINDINGS_SHOWN:
            more = count(len(told) - FINDINGS_SHOWN, "more finding")
            yield Line(f"and {more}: `swingroom inspect` and the record have all", indent=1)
        for freedom in record.freedoms:
            what = f"{freedom.what}; it {freedom.held}"
            yield Line(f"{' with '.join(freedom.parts)} {true_minus(what)}", indent=1)


def work_blocks(record: Record) -> Iterator[Block]:
    """What the run cost."""
    work = record.work
    spent = sum(work.seconds.get(stage, 0.0) for stage in WHOLE_STAGES)
    yield Line("")
    yield Line(
        f"{count(len(record.pairs), 'pair')} of {count(work.triangles, 'triangle')} in {figure(spent, 1)} s",
        Tone.QUIET,
    )
    if work.recalled:
        known = "all" if work.recalled == len(record.pairs) else f"{work.recalled} of {len(record.pairs)}"
        yield Line(f"{known} pairs as computed before: nothing they hang on has changed", Tone.QUIET)
