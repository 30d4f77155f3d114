"""Tables of the page: the same rows as on the terminal, each with where it leads to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

from assembly.record import JointEntry, PairEntry, Record, Settings, TravelStopEntry
from assembly.report.text.joints_text import JOINT_COLUMNS, JOINT_FIGURES, LimitSide, side_row, side_tone, sides_of
from assembly.report.text.layout import TONES, Table, Tone, without_empty
from assembly.report.text.measures_text import COLUMNS as MEASURE_COLUMNS
from assembly.report.text.measures_text import FIGURES as MEASURE_FIGURES
from assembly.report.text.measures_text import TONES as MEASURE_TONES
from assembly.report.text.measures_text import measure_row
from assembly.report.text.sweep_text import PAIR_COLUMNS, PAIR_FIGURES, pair_row
from assembly.report.text.wheel_range_text import of_file
from assembly.report.text.words import below, figure, short, signed, unit_sign

SIDES = {"low": "−", "high": "+"}
"""The ends of a drive, as they are written."""
MARGIN = "margin mm"
BESIDE = PAIR_COLUMNS.index("required") + 1
"""Where the margin stands in a row: after what is required."""
RANK = {"fails": 0, "undecided": 1, "clear": 2}
PAIRS_AT_FIRST = 20
"""Rows of the table of pairs before more are asked for, unless more of them fail or are open."""


@dataclass(frozen=True, slots=True)
class Row:
    """Cells of text; ``pair`` or ``setting`` is where the row leads. ``bar``: the share of a limit that is left.

    ``between``: the two parts of the joint that the row is about.
    """

    cells: tuple[str, ...]
    tone: Tone = Tone.PLAIN
    pair: int | None = None
    setting: tuple[float, ...] | None = None
    bar: float | None = None
    between: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PageTable:
    """Rows under their columns; those in ``figures`` stand to the right. ``leads``: the column that is the way there.

    ``at_first``: rows that are shown before more are asked for, all where it is 0.
    """

    name: str
    label: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    figures: frozenset[str] = frozenset()
    leads: str = ""
    at_first: int = 0


def pair_table(record: Record) -> PageTable:
    """All pairs, the one with the least margin first."""
    order = sorted(enumerate(record.pairs), key=lambda entry: (RANK[entry[1].verdict], _sure_margin(entry[1])))
    rows = tuple(Row(_with_margin(pair, record), TONES[pair.verdict], pair=index) for index, pair in order)
    trouble = sum(pair.verdict != "clear" for pair in record.pairs)
    return PageTable(
        "pairs",
        "All pairs, the least margin first",
        (*PAIR_COLUMNS[:BESIDE], MARGIN, *PAIR_COLUMNS[BESIDE:]),
        rows,
        PAIR_FIGURES | {MARGIN},
        "pair (shape)",
        max(PAIRS_AT_FIRST, trouble),
    )


def _with_margin(pair: PairEntry, record: Record) -> tuple[str, ...]:
    cells = pair_row(pair, record)
    return (*cells[:BESIDE], margin_told(pair), *cells[BESIDE:])


def _sure_margin(pair: PairEntry) -> float:
    """What is sure of a pair's margin in mm; of an overlap, what no setting goes beyond where that is known."""
    if pair.overlap is not None and pair.overlap.at_most_mm is not None:
        return -pair.overlap.at_most_mm - pair.required_mm
    return -inf if pair.sure_room_mm is None else pair.sure_room_mm


def margin_told(pair: PairEntry) -> str:
    """What is left of the required clearance, or is missing of it; rounded down, and up where it is at most so much."""
    margin = _sure_margin(pair)
    if margin == -inf:
        return "–"
    if pair.overlap is not None and pair.overlap.at_most_mm is None:
        return f"at most {figure(-below(-margin))}"
    return figure(below(margin))


def joint_table(record: Record) -> PageTable:
    """Every limit of a joint with what is left of it, the least first."""
    rows = tuple(
        Row(
            side_row(side, record),
            side_tone(side),
            setting=_whole(side.at, record),
            bar=_share(side),
            between=(side.joint.first, side.joint.second),
        )
        for side in sides_of(record)
    )
    return PageTable("joints", "Limits of joints, the least margin first", JOINT_COLUMNS, rows, JOINT_FIGURES, "joint")


def measure_table(record: Record) -> PageTable:
    """Every measure over the range; a row leads to where least is left of its limit, else to its most."""
    measures = of_file(record.measures)
    whole = Table(MEASURE_COLUMNS, tuple(measure_row(one, record.drives) for one in measures))
    told = without_empty(whole) if measures else whole
    rows = tuple(
        Row(cells, MEASURE_TONES[one.verdict or "clear"], setting=_whole(one.at or one.at_most, record))
        for one, cells in zip(measures, told.rows, strict=True)
    )
    return PageTable("measures", "Measures over the whole range", told.columns, rows, MEASURE_FIGURES, "measure")


def _whole(at: Settings, record: Record) -> tuple[float, ...] | None:
    return tuple(at[name] for name in record.drives) if at else None


def _share(side: LimitSide) -> float | None:
    """The margin of a limit, as a share of the way to it from the zero position."""
    whole = abs(side.limit)
    return None if side.reserve is None or not whole else min(1.0, max(0.0, side.reserve / whole))


def stop_table(record: Record) -> PageTable:
    """The stops that the file declares."""
    return PageTable(
        "stops",
        "Stops that the file declares",
        ("stop", "acts at", "height", "pad on", "struck by"),
        tuple(Row(_stop(stop, record)) for stop in record.stops),
        frozenset(("height",)),
    )


def _stop(stop: TravelStopEntry, record: Record) -> tuple[str, ...]:
    height = "not known yet" if stop.height_mm is None else f"{short(stop.height_mm)} mm"
    drive = record.drives[stop.drive]
    end = drive.from_ if stop.side == "low" else drive.to
    return stop.name, f"{stop.drive} {signed(end)}{unit_sign(drive.unit)}", height, stop.carrier, stop.other


def unlimited(record: Record) -> Mapping[str, JointEntry]:
    """Motions of joints that have no limit, by name and motion."""
    return {f"{joint.name} {joint.motion}": joint for joint in record.joints if joint.verdict is None}
