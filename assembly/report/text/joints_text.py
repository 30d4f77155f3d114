"""The joints of a sweep's record in words: how far each moves, which of them reaches its limit first, how rods roll."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor

from assembly.record import FirstOutEntry, JointEntry, Record, RodEntry, Settings
from assembly.report.text.layout import Block, Heading, Line, Table, Tone
from assembly.report.text.words import count, figure, setting, short, signed, unit_sign

TONES = {"clear": Tone.PLAIN, "fails": Tone.BAD, "undecided": Tone.OPEN}
BINDS = {"clear": "nowhere", "fails": "BINDS", "undecided": "UNDECIDED"}
"""Whether a rod binds at some setting, whatever else of the machine is clear or not."""
ENDING = {"clear": "", "fails": " PAST ITS LIMIT", "undecided": " not proven"}
LEAST_TOLD = 0.05
"""degrees below which nothing is said of an angle."""
JOINT_COLUMNS = ("joint", "most", "proven", "limit", "margin", "all at 0", "at")
FAR_SHARE = 0.5
"""Share of a limit beyond which nothing is said to come near it."""
BEST_ROLL = "no one roll of the rod serves everywhere; rolled at each setting to where its ends have the most margin"
JOINT_FIGURES = frozenset(("most", "proven", "limit", "margin", "all at 0"))
GRAIN = 1e-6
"""Of arithmetic, which makes no figure a tenth larger."""


@dataclass(frozen=True, slots=True)
class LimitSide:
    """One limit of a motion: what is reached of it, and what is proven, found and left."""

    joint: JointEntry
    way: int
    found: float | None
    proven: float | None
    limit: float
    reserve: float | None
    at: Settings

    @property
    def passed(self) -> bool:
        """Whether this side is the one that is passed."""
        return self.reserve is not None and self.reserve < -GRAIN


def joint_blocks(record: Record) -> Iterator[Block]:
    """Joints with limits, the least margin first; what reaches its limit first in each direction; the roll of rods."""
    sides = sides_of(record)
    if sides:
        yield Heading("Joints: how far they move against their limits (proven: passed at no setting of the range)")
        yield Table(
            columns=JOINT_COLUMNS,
            rows=tuple(side_row(side, record) for side in sides),
            figures=JOINT_FIGURES,
            tones=tuple(side_tone(side) for side in sides),
        )
        yield from (Line(text, Tone.QUIET, 1) for text in _rolled(record))
        others = sum(joint.verdict is None for joint in record.joints)
        if others:
            yield Line(f"{count(others, 'other motion')} of joints: see the record", Tone.QUIET, 1)
    yield from first_out_blocks(record)
    yield from rod_blocks(record)


def _rolled(record: Record) -> Iterator[str]:
    """At which roll ends of rods are reported, if it is not that of the drawing."""
    free = [joint.name for joint in record.joints if joint.best_roll]
    if free:
        yield f"{', '.join(free)}: {BEST_ROLL}"
    for roll in sorted({joint.roll for joint in record.joints if abs(joint.roll) >= LEAST_TOLD}):
        names = ", ".join(joint.name for joint in record.joints if joint.roll == roll)
        yield f"{names}: told with the rod rolled by {_turned(roll)}, which serves everywhere"


def sides_of(record: Record) -> list[LimitSide]:
    """Every limit of every motion, the one with the least margin first."""
    return sorted(_sides(record), key=lambda side: float("inf") if side.reserve is None else side.reserve)


def _sides(record: Record) -> Iterator[LimitSide]:
    for joint in record.joints:
        if joint.limit_low is not None:
            yield LimitSide(
                joint, -1, joint.least, joint.proven_least, joint.limit_low, joint.reserve_low, joint.at_least
            )
        if joint.limit_high is not None:
            yield LimitSide(
                joint, 1, joint.most, joint.proven_most, joint.limit_high, joint.reserve_high, joint.at_most
            )


def side_row(side: LimitSide, record: Record) -> tuple[str, ...]:
    """A limit in the columns of its table."""
    joint, sign = side.joint, unit_sign(side.joint.unit)
    name = joint.name if joint.kind == "ball" else f"{joint.name} {joint.motion} {'up' if side.way > 0 else 'down'}"
    limiter = f" ({joint.limiter})" if joint.limiter else ""
    return (
        name,
        _outward(side.found, side.way, sign),
        _outward(side.proven, side.way, sign),
        f"{figure(side.limit, 1)}{sign}",
        _left(side.reserve, sign),
        "" if joint.spent is None else f"{figure(joint.spent, 1)}{sign}",
        setting(side.at, record.drives) + _ending(side) + limiter,
    )


def _ending(side: LimitSide) -> str:
    if side.joint.verdict == "fails" and not side.passed:
        return ""
    return ENDING.get(side.joint.verdict or "", "")


def side_tone(side: LimitSide) -> Tone:
    """What the limit's row means."""
    failing_elsewhere = side.joint.verdict == "fails" and not side.passed
    return Tone.PLAIN if failing_elsewhere else TONES[side.joint.verdict or "clear"]


def _outward(value: float | None, way: int, sign: str) -> str:
    """What is reached of a limit: never rounded away from it."""
    return "–" if value is None else f"{figure(way * ceil(10 * way * value - GRAIN) / 10, 1)}{sign}"


def _left(value: float | None, sign: str) -> str:
    """What is left of a limit: never rounded up."""
    return "–" if value is None else f"{figure(floor(10 * value + GRAIN) / 10, 1)}{sign}"


def first_out_blocks(record: Record) -> Iterator[Block]:
    """The joint that reaches its limit first in each direction of each drive."""
    if not record.first_out:
        return
    yield Heading("Which joint reaches its limit first, the other drives anywhere in their range")
    for first in record.first_out:
        yield Line(_first(first, record), Tone.BAD if first.reserve < -GRAIN else Tone.PLAIN, 1)


def _first(first: FirstOutEntry, record: Record) -> str:
    sign = unit_sign(first.unit)
    what = first.joint if first.motion == "misalignment" else f"{first.joint} {first.motion}"
    left = margin_words(first.reserve, first.limit, sign)
    direction = "up" if first.direction > 0 else "down"
    if first.reserve > FAR_SHARE * abs(first.limit):
        what = f"no joint comes near its limit; nearest {what}"
    return f"{first.drive} {direction}: {what}, {left}, at {setting(first.at, record.drives)}"


def margin_words(margin: float | None, limit: float, sign: str) -> str:
    """How far a joint stays short of its limit, or goes past it, at the most."""
    if margin is None:
        return f"not measured against its {short(limit, 1)}{sign} limit"
    if margin < -GRAIN:
        return f"{_left(-margin, sign)} past its {short(limit, 1)}{sign} limit"
    return f"{_left(margin, sign)} short of its {short(limit, 1)}{sign} limit"


def rod_blocks(record: Record) -> Iterator[Block]:
    """How far each rod with two balls can roll."""
    if not record.rods:
        return
    looked = f"figures from {record.rods[0].settings} settings looked at; `nowhere` is proven between them too"
    yield Heading(f"Rods: how far they can roll about their own line ({looked})")
    yield Table(
        columns=("binds", "rod", "rolls freely", "one roll for all", "end at its limit first", "best clocking", "at"),
        rows=tuple(_rod_row(rod, record) for rod in record.rods),
        figures=frozenset(("rolls freely",)),
        tones=tuple(TONES[rod.verdict] for rod in record.rods),
    )


def _rod_row(rod: RodEntry, record: Record) -> tuple[str, ...]:
    free = f"{_left(-rod.free / 2, '°')} missing" if rod.free < -GRAIN else _left(rod.free, "°")
    one = "none" if rod.common_room < -GRAIN else f"{_turned(rod.common_roll)} ± {_left(rod.common_room, '°')}"
    unused = one == "none" and rod.verdict != "fails"
    first = "–" if unused else f"{rod.first_out} ({_left(rod.left, '°')} margin)"
    at = setting(rod.at, record.drives)
    return BINDS[rod.verdict], " with ".join(rod.parts), free, one, first, _clocking(rod), at


def _clocking(rod: RodEntry) -> str:
    """By how much to turn the second end on the rod, and the free roll that this gives."""
    if rod.clocking is None or rod.clocked_free is None:
        return "–"
    if rod.clocked_free < rod.free + LEAST_TOLD:
        return "as drawn"
    way = "clockwise" if rod.clocking > 0 else "counter-clockwise"
    turn = f"{_left(abs(rod.clocking), '°')} {way} seen from {rod.ends[0]}"
    return f"{rod.ends[1]} {turn} (then {_left(rod.clocked_free, '°')})"


def _turned(degrees: float) -> str:
    return f"{signed(round(degrees, 1))}°" if abs(degrees) >= LEAST_TOLD else "as drawn"
