"""Numbers and names as a workshop says them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from math import ceil, floor

from assembly.record import (
    DriveEntry,
    FindingEntry,
    MovedEntry,
    OverlapEntry,
    PairEntry,
    PairSide,
    Point,
    Settings,
    UnreachableEntry,
    VerdictWord,
)

MINUS = "−"
MOST_TOLD = 6
"""Drives of a setting or a range that are told one by one; the record has all of them."""
SMALLEST_SHARE = 0.15
"""A part of a direction below this share of its length is not worth saying."""
_AXES = (("forward", "to the rear"), ("to the left", "to the right"), ("up", "down"))
_UNITS = {"deg": "°", "mm": " mm"}


def figure(value: float, digits: int = 2) -> str:
    """A number with a real minus sign and no ``-0``."""
    return f"{value:z.{digits}f}".replace("-", MINUS)


def true_minus(text: str) -> str:
    """A text with real minus signs before its numbers; signs within words and commands stay."""
    return re.sub(r"(?<=[ (\[])-(?=\d)", MINUS, text)


def tiny(value: float) -> str:
    """A number of which two digits after the point may show nothing."""
    return figure(value) if value >= 0.005 or not value else f"{value:.1g}"


def below(value: float) -> float:
    """A proven bound as it is to be printed with two digits: never rounded up."""
    return value if value == round(value, 2) else value - 0.005


def gap(value: float) -> str:
    """A measured distance; never rounded up, but for a millionth of a millimetre of arithmetic."""
    return figure(below(value + 1e-6))


def least_told(least: float | None, proven: float | None, verdict: VerdictWord, *, closed_in: bool) -> str:
    """A pair's least distance in mm: the figure where it was closed in on, else on which side of it the truth is."""
    if least is None:
        return "–"
    if closed_in or least <= 0:
        return gap(least)
    if verdict == "clear" and proven is not None:
        return f"at least {figure(below(proven))}"
    return f"at most {figure(ceil(100 * least - 1e-6) / 100)}"


def pair_least(pair: PairEntry) -> str:
    """The least distance of a pair that does not overlap."""
    return least_told(pair.least_mm, pair.proven_mm, pair.verdict, closed_in=pair.closed_in)


def depth_told(depth: float, at_most: float | None) -> str:
    """How deep in mm, as a bracket: what a setting shows, and what none of the range goes beyond."""
    if at_most is None:
        return f"at least {gap(depth)}"
    seen, bound = gap(depth), figure(ceil(100 * at_most - 1e-6) / 100)
    return seen if seen == bound else f"{seen} to {bound}"


def pair_depth(overlap: OverlapEntry) -> str:
    """How deep in mm two parts stand in each other over the range."""
    return depth_told(overlap.depth_mm, overlap.at_most_mm)


def short(value: float, digits: int = 2) -> str:
    """A number without zeros at its end."""
    text = figure(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def millimetres(value: float | None, digits: int = 2) -> str:
    """A length, or a dash if there is none."""
    return "–" if value is None else f"{figure(value, digits)} mm"


def setting(at: Settings, drives: Mapping[str, DriveEntry]) -> str:
    """All drives at one setting: ``tilt +27.4°, steer 0°``; what is no drive is a roll in degrees."""
    if not at:
        return "as drawn" if not drives else "–"
    units = {name: drive.unit for name, drive in drives.items()}
    shown = _few(at)
    told = [f"{name} {signed(at[name])}{unit_sign(units.get(name, 'deg'))}" for name in shown]
    rest = [value for name, value in at.items() if name not in shown]
    if rest:
        told.append(f"{len(rest)} more {'not at 0' if any(rest) else 'at 0'}")
    return ", ".join(told)


def _few(at: Settings) -> list[str]:
    """The names of a setting that are told: all of a few, of many those first that are not at 0."""
    if len(at) <= MOST_TOLD:
        return list(at)
    moved = [name for name, value in at.items() if short(value) != "0"]
    return moved[:MOST_TOLD] or list(at)[:1]


def pair_setting(pair: PairEntry | PairSide, drives: Mapping[str, DriveEntry]) -> str:
    """Where a pair is nearest: a setting, or every setting where its distance never changes."""
    return "every setting" if pair.constant else setting(pair.at, drives)


def place(lost: UnreachableEntry, drives: Mapping[str, DriveEntry]) -> str:
    """Where a machine was lost: the drives that matter, and those that do not."""
    others = [name for name in lost.at if lost.drives and name not in lost.drives]
    at = {name: value for name, value in lost.at.items() if name not in others}
    anywhere = f", wherever {' and '.join(others)} {'stands' if len(others) == 1 else 'stand'}" if others else ""
    return f"{setting(at, drives)}{anywhere}"


def local_time(made: str) -> str:
    """A record's time, which is kept in UTC, as the clock here stood, with its offset; what is no time as it is."""
    try:
        return datetime.fromisoformat(made).astimezone().isoformat(" ", timespec="seconds")
    except ValueError:
        return made


def signed(value: float) -> str:
    """A drive's value with its sign; 0 has none."""
    text = short(value)
    return text if text == "0" or text.startswith(MINUS) else f"+{text}"


def unit_sign(unit: str) -> str:
    """How a unit is written behind a number."""
    return _UNITS.get(unit, f" {unit}")


def whole_range(drives: Mapping[str, DriveEntry]) -> str:
    """All ranges: ``tilt −30 to +30° with steer −35 to +35°``."""
    told = [
        f"{name} {signed(drive.from_)} to {signed(drive.to)}{unit_sign(drive.unit)}" for name, drive in drives.items()
    ]
    if len(told) > MOST_TOLD:
        told[MOST_TOLD - 1 :] = [f"{len(told) - MOST_TOLD + 1} more drives"]
    return " with ".join(told) if told else "as drawn (no drives)"


def part(name: str, shape: str) -> str:
    """A part with the shape in question: ``lower_arm_left (outer bracket)``."""
    return f"{name} ({shape})" if shape and shape != name else name


def way(direction: Point, length: float) -> str:
    """A shift told by its parts: ``2.06 mm to the left, 0.36 mm up``."""
    told = [
        (abs(share), f"{figure(abs(share) * length)} mm {names[0] if share > 0 else names[1]}")
        for share, names in zip(direction, _AXES, strict=True)
        if abs(share) >= SMALLEST_SHARE
    ]
    return ", ".join(text for _, text in sorted(told, key=lambda entry: -entry[0]))


def bracketed(point: Point, digits: int = 2) -> str:
    """A point or direction in brackets."""
    return f"[{', '.join(figure(value, digits) for value in point)}]"


def count(number: int, thing: str, things: str = "") -> str:
    """``1 pair``, ``3 pairs``."""
    return f"{number} {thing if number == 1 else things or thing + 's'}"


def unrolled_words(parts: Sequence[str]) -> str:
    """That parts are not shown at the roll at which they are judged; nothing if there are none."""
    if not parts:
        return ""
    if len(parts) == 1:
        own = "can roll about its own line: it stands here as the shortest turn from the zero position leaves it"
    else:
        own = "can roll about their own lines: they stand here as the shortest turn from the zero position leaves them"
    return f"{', '.join(parts)} {own}, not at the rolls that `sweep` and `pose` judge"


def chain(names: Iterable[str]) -> str:
    """Names of a loop in their order."""
    return " – ".join(names)


def moved_parts(entries: Iterable[MovedEntry]) -> Iterator[str]:
    """What an edited length moved; parts that went together share a sentence."""
    groups: dict[str, list[str]] = {}
    for entry in entries:
        shift = f"{millimetres(entry.moved_mm)}, turned {figure(entry.turned_deg)}°"
        groups.setdefault(shift, []).append(entry.part)
    for shift, parts in groups.items():
        yield f"{', '.join(parts)}: {shift}"


def told_findings(findings: Iterable[FindingEntry]) -> Iterator[str]:
    """Each finding as a sentence; places of which the same is said share it."""
    groups: dict[str, list[str]] = {}
    for finding in findings:
        said = f"{true_minus(finding.message)}{' (repaired)' if finding.kind == 'repaired' else ''}"
        line = "" if finding.line is None else f" (line {finding.line})"
        groups.setdefault(said, []).append(finding.about + line)
    for said, places in groups.items():
        yield f"{', '.join(places)}: {said}"


def estimates(pair: PairEntry) -> str:
    """What of a proven distance rests on an estimate, to be said beside it; nothing if all is stated or exact."""
    if not pair.estimated:
        return ""
    errors = [f"{one.file} of {figure(max(one.surface_error_mm, 0.001), 3)} mm" for one in pair.estimated]
    return f"with the estimated surface error of {' and of '.join(errors)}"


def never_less(value: float | None, digits: int = 2) -> str:
    """A figure that is never rounded down."""
    return "–" if value is None else figure(ceil(value * 10**digits - 1e-4) / 10**digits, digits)


def never_more(value: float, digits: int = 2) -> str:
    """A figure that is never rounded up."""
    return figure(floor(value * 10**digits + 1e-4) / 10**digits, digits)
