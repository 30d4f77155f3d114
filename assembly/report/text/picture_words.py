"""What stands at the top of a picture: the verdict, the figure and what is required."""

from __future__ import annotations

from assembly.record import PairAtEntry, PairEntry, Record, StopsRecord, VerdictWord
from assembly.report.text.headline import LEAST_DEPTH
from assembly.report.text.words import figure, gap, pair_depth, pair_least, short, signed, unit_sign

WORST_FIRST: tuple[VerdictWord, ...] = ("fails", "undecided", "clear")


def swept_answer(pair: PairEntry, record: Record) -> tuple[VerdictWord, str]:
    """The verdict and figures of ``pair`` over the whole range; that of the machine where it is worse than the pair's.

    A picture of a pair that is clear must not look like a machine that is.
    """
    always = " at every setting" if pair.constant else ""
    depth = None if pair.overlap is None else pair_depth(pair.overlap)
    told = _told(pair, depth, f"{pair_least(pair)} mm apart{always}")
    if WORST_FIRST.index(record.verdict) < WORST_FIRST.index(pair.verdict):
        return record.verdict, f"elsewhere; this pair {pair.verdict}, {told}"
    return pair.verdict, told


def posed_answer(pair: PairAtEntry) -> tuple[VerdictWord, str]:
    """The verdict and figures of ``pair`` at one setting."""
    depth = None if pair.overlap is None else gap(pair.overlap.depth_mm)
    return pair.verdict, f"at this setting: {_told(pair, depth, f'{gap(pair.distance_mm)} mm apart')}"


def stop_answer(name: str, acts: float, record: StopsRecord) -> tuple[str, str, tuple[str, str]]:
    """The verdict of a design, what it is of the stop ``name`` that ``acts`` there, and where and how high it is.

    A height that is not proven is never given as one to make.
    """
    stop = next(one for one in record.stops if one.name == name)
    at = f"acts at {signed(acts)}{unit_sign(record.drives[stop.drive].unit)}"
    holds = record.verdict == "clear"
    high = "no height found" if stop.to_make_mm is None else f"{figure(stop.to_make_mm)} mm high"
    told = high if holds or stop.to_make_mm is None else f"tried {high}: do not make it"
    return "holds" if holds else record.verdict, f"stop {name} {at}, {told}", (at, told)


def _told(pair: PairEntry | PairAtEntry, depth: str | None, apart: str) -> str:
    required = f"{short(pair.required_mm)} mm of clearance required"
    if pair.overlap is None or depth is None:
        return f"one inside the other, {required}" if getattr(pair, "swallowed", False) else f"{apart}, {required}"
    return f"touching, {required}" if pair.overlap.depth_mm < LEAST_DEPTH else f"{depth} mm deep, {required}"
