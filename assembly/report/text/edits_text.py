"""What was edited between two runs, in words: dimensions, stops, ranges, parts, mesh files, required clearances."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TypeVar

from assembly.record import (
    Change,
    Comparison,
    DimensionEntry,
    DriveEntry,
    JointChange,
    JointSide,
    SolidEntry,
    TravelStopEntry,
)
from assembly.report.text.layout import Block, Heading, Line, Tone
from assembly.report.text.words import count, figure, short, signed, unit_sign

Side = TypeVar("Side")

SIZE_DIGITS = 2
DIMENSION_DIGITS = 4


def edit_blocks(found: Comparison) -> Iterator[Block]:
    """Everything that is not the same in the file and what it names."""
    told = edits(found)
    if told or found.no_details:
        yield Heading("What was edited")
        yield from (Line(text, indent=1) for text in told)
    elif found.before.digest == found.now.digest:
        yield Heading("What was edited: nothing, the file is the same")
    else:
        yield Heading("What was edited: something else in the file, such as a shape, a joint or a remark")
    if found.before.version != found.now.version:
        versions = f"{_version(found.before.version)} → {_version(found.now.version)}"
        yield Line(f"by another version of this program: {versions}", indent=1)
    if found.no_details:
        yield Line("one record is from before dimensions and parts were kept: those were not compared", Tone.QUIET, 1)


def edits(found: Comparison) -> list[str]:
    """A line for each thing that was edited."""
    told = [*_dimensions(found), *_stops(found), *_ranges(found), *_parts(found), *_files(found), *_required(found)]
    return [*told, *_limits(found), *_weights(found)]


def _weights(found: Comparison) -> Iterator[str]:
    for change in found.weights:
        both = (f"{figure(one)} kg" if one is not None else "none told" for one in (change.before, change.now))
        yield f"weight of {change.name}: {' → '.join(both)}"


def _version(version: str) -> str:
    return version or "unknown"


def _new_or_gone(before: Side | None, now: Side | None, words: Callable[[Side], str]) -> str:
    """What came, or what went and how it was."""
    if now is not None:
        return f"new, {words(now)}"
    return f"gone, it was {words(before)}" if before is not None else ""


def _dimensions(found: Comparison) -> Iterator[str]:
    for change in found.dimensions:
        yield f"dimension {change.name}: {_dimension(change)}"


def _dimension(change: Change[DimensionEntry]) -> str:
    before, now = change.before, change.now
    if before is None or now is None:
        return _new_or_gone(before, now, lambda side: short(side.value, DIMENSION_DIGITS))
    told = [f"{short(before.value, DIMENSION_DIGITS)} → {short(now.value, DIMENSION_DIGITS)}"]
    if before.value == now.value:
        told = [f"{short(now.value, DIMENSION_DIGITS)} as before"]
    if before.plus_minus != now.plus_minus:
        told.append(f"±{short(before.plus_minus, DIMENSION_DIGITS)} → ±{short(now.plus_minus, DIMENSION_DIGITS)}")
    if before.text != now.text:
        told.append(f"written {_written(before.text)}, now {_written(now.text)}")
    return ", ".join(told)


def _written(text: str) -> str:
    return f"`{text}`" if text else "as a number"


def _stops(found: Comparison) -> Iterator[str]:
    for change in found.stops:
        yield f"stop {change.name}: {_stop(change)}"


def _stop(change: Change[TravelStopEntry]) -> str:
    before, now = change.before, change.now
    if before is None or now is None:
        side = now or before
        height = f", height {_height(side.height_mm)}" if side else ""
        return f"new{height}" if now else f"gone{height}"
    told = []
    if before.height_mm != now.height_mm:
        told.append(f"height {_height(before.height_mm)} → {_height(now.height_mm)}")
    for what in ("drive", "side", "carrier", "other"):
        was, is_ = getattr(before, what), getattr(now, what)
        if was != is_:
            told.append(f"{'meets' if what == 'other' else what} {was} → {is_}")
    return ", ".join(told)


def _height(height: float | None) -> str:
    return "not known" if height is None else f"{short(height)} mm"


def _ranges(found: Comparison) -> Iterator[str]:
    for change in found.ranges:
        yield f"range of {change.name}: {_range(change.before)} → {_range(change.now)}"


def _range(drive: DriveEntry | None) -> str:
    if drive is None:
        return "no such drive"
    return f"{signed(drive.from_)} to {signed(drive.to)}{unit_sign(drive.unit)}"


def _limits(found: Comparison) -> Iterator[str]:
    """Limits that are new, gone or other."""
    for joint in found.joints:
        if joint.before is None or joint.now is None or joint.before.limit != joint.now.limit:
            name = joint.name if joint.motion in ("misalignment", "roll") else f"{joint.name} {joint.motion}"
            yield f"limit of {name}: {_limit(joint.before, joint)} → {_limit(joint.now, joint)}"


def _limit(side: JointSide | None, joint: JointChange) -> str:
    if side is None:
        return "none"
    return "as its ends allow" if side.limit is None else f"{short(side.limit)}{unit_sign(joint.unit)}"


def _parts(found: Comparison) -> Iterator[str]:
    for change in found.parts:
        yield f"part {change.name}: {_part(change)}"


def _part(change: Change[SolidEntry]) -> str:
    before, now = change.before, change.now
    if before is None or now is None:
        return _new_or_gone(before, now, lambda side: f"{_size(side)}, {side.triangles} triangles")
    told = f"{_size(before)} → {_size(now)}" if _size(before) != _size(now) else _size(now)
    if before.triangles != now.triangles:
        told += f", {before.triangles} → {now.triangles} triangles"
    return told


def _size(solid: SolidEntry) -> str:
    return f"{' × '.join(figure(length, SIZE_DIGITS) for length in solid.size_mm)} mm"


def _files(found: Comparison) -> Iterator[str]:
    for change in found.files:
        word = "has changed" if change.before and change.now else "is new" if change.now else "is not used any more"
        yield f"mesh file {change.name} {word}"


def _required(found: Comparison) -> Iterator[str]:
    for change in found.required:
        verb = "must keep" if change.pairs > 1 else "must now keep"
        yield f"{count(change.pairs, 'pair')} {verb} {short(change.now_mm)} mm, before {short(change.before_mm)} mm"
