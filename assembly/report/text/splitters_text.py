"""Splitters in words: how far their ends and their middle go, what force comes where, whether a beam bottoms out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from assembly.record import DriveEntry, MeasureEntry, SplitterEndEntry, SplitterEntry
from assembly.report.text.layout import TONES, Line, Tone
from assembly.report.text.words import figure, never_less, never_more, setting, short

LOOSE = 0.05
"""mm: apart by less is told as alike."""


def splitter_lines(one: SplitterEntry, drives: Mapping[str, DriveEntry]) -> Iterator[Line]:
    """What the ends of a splitter do."""
    for end in one.ends:
        yield Line(f"{one.name} to {end.cable}: {_end(end)}", indent=1)
    if one.travel is not None:
        limit = "" if one.travel_limit is None else f", and it has {short(one.travel_limit)} mm"
        tone = _tone(one.travel)
        yield Line(f"{one.name}, the beam's middle: {_between(one.travel)} mm for that{limit}", tone, 1)
    yield Line(f"{one.name}: {_apart(one, drives)}", _tone(one.apart), 1)


def _end(end: SplitterEndEntry) -> str:
    told = f"goes {_between(end.travel)} mm for a pull of {short(end.pull)} mm"
    if end.share is not None:
        told += f", {short(100 * end.share, 1)} % of the force"
    return told if end.force is None else f"{told}: {figure(end.force, 1)} N behind its bends"


def _between(one: MeasureEntry) -> str:
    if one.least is None or one.most is None:
        return "an unknown way of"
    if one.most - one.least < LOOSE:
        return figure(one.most)
    return f"{never_more(one.least)} to {never_less(one.most)}"


def _apart(one: SplitterEntry, drives: Mapping[str, DriveEntry]) -> str:
    """How unlike both ends go."""
    apart, first = one.apart, one.ends[0]
    if apart.least is None or apart.most is None:
        return apart.why
    if first.arm is None:
        late = max(-apart.least, apart.most)
        return f"a block pulls both alike: one acts up to {never_less(late)} mm of pull before the other"
    if max(-apart.least, apart.most) < LOOSE and apart.verdict != "fails":
        return "both its ends go alike everywhere, so the beam does not tilt"
    told = f"its ends are {never_more(apart.least)} to {never_less(apart.most)} mm apart ({first.cable} ahead above 0)"
    if one.tilt_most is not None:
        told += f", so the beam tilts up to {figure(one.tilt_most)}°"
    if one.tilt is None:
        return f"{told}; give its `tilt` to know whether it bottoms out"
    if apart.verdict == "fails":
        return f"{told}; it BOTTOMS OUT at {short(one.tilt)}°, at {setting(apart.at, drives)}"
    kept = f"it does not bottom out at {short(one.tilt)}°"
    return f"{told}; {kept}" if apart.verdict == "clear" else f"{told}; not proven whether it bottoms out"


def _tone(one: MeasureEntry) -> Tone:
    return TONES[one.verdict] if one.verdict in ("fails", "undecided") else Tone.PLAIN
