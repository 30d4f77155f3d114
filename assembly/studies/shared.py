"""What the results of every study hold: names, ranges, digests, freedoms and findings of a machine."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from importlib.metadata import PackageNotFoundError, version
from math import isfinite

from assembly.clearance.narrow_phase.pair_result import Overlap, PairResult
from assembly.clearance.proof.some_roll import ChosenRoll
from assembly.clearance.tolerances.play_bounds import loose_joints
from assembly.kinematics.bodies import Bodies
from assembly.kinematics.freedoms import IdleRoll
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.model.machine import Machine
from assembly.record import (
    DriveEntry,
    FreedomEntry,
    MachineEntry,
    MeasureEntry,
    OverlapEntry,
    PlayEntry,
    Point,
    ProgramEntry,
    UnsettledEntry,
    VerdictWord,
)

PROGRAM = "swingroom"
SOME_ROLL = "is judged at one roll at which all its pairs and ends hold, if `swingroom sweep` finds one"
ANY_ROLL = "is judged at every roll that its ends allow, but for shapes that are round about that line"


def program_entry() -> ProgramEntry:
    """Name and version of the program; no version where its sources were never installed."""
    try:
        return ProgramEntry(PROGRAM, version(PROGRAM))
    except PackageNotFoundError:
        return ProgramEntry(PROGRAM, "")


def machine_entry(machine: Machine) -> MachineEntry:
    """The machine by name, file and digests."""
    return MachineEntry(machine.name, machine.file, machine.digests.get(machine.file, ""), dict(machine.digests))


def drive_entries(machine: Machine) -> dict[str, DriveEntry]:
    """Every drive's range."""
    return {name: DriveEntry(drive.low, drive.high, drive.unit) for name, drive in machine.drives.items()}


def overlap_entry(machine: Machine, overlap: Overlap | None, rolls: Iterable[str] = ()) -> OverlapEntry | None:
    """An overlap in figures."""
    if overlap is None:
        return None
    return OverlapEntry(
        at=settings_of(machine, overlap.at, rolls),
        depth_mm=overlap.depth,
        direction=point(overlap.direction),
        volume_mm3=overlap.volume,
        where=point(overlap.where),
        inside=overlap.inside,
        at_most_mm=overlap.at_most,
    )


def unsettled_entries(results: Iterable[PairResult]) -> tuple[UnsettledEntry, ...]:
    """The sweep's answers to pairs that only it can judge."""
    return tuple(UnsettledEntry(one.pair.a, one.pair.b, one.verdict.value, one.why) for one in results)


def freedom_entries(
    mechanism: Mechanism, rolls: Mapping[tuple[str, ...], tuple[float, float]], chosen: Iterable[ChosenRoll] = ()
) -> tuple[FreedomEntry, ...]:
    """The idle freedoms of a machine that is put together, with the ``rolls`` at which they were judged, by parts."""
    allowed = {parts: f", {least:+z.1f} to {most:+z.1f} degrees" for parts, (least, most) in rolls.items()}
    asked = {one.parts: one for one in chosen}
    told = []
    for entry in roll_entries(mechanism.bodies, mechanism.idle):
        one = asked.get(entry.parts)
        held = _chosen_held(one) if one else entry.held
        told.append(replace(entry, held=held.replace(" allow,", f" allow{allowed.get(entry.parts, '')},")))
    return tuple(told)


def _chosen_held(chosen: ChosenRoll) -> str:
    """How a part with ``roll = "some"`` is judged."""
    tried = f"{chosen.tried} of {chosen.candidates} tried"
    if chosen.degrees is not None:
        return (
            f"holds at every setting at roll {chosen.degrees:+zg} degrees of it ({tried}); all is judged at that roll"
        )
    tried = tried if chosen.candidates else "its ends allow none at all settings"
    blocked = f"; {chosen.blocked} are too near at every roll that its ends allow" if chosen.blocked else ""
    return f"{ANY_ROLL}: no single roll was found at which all its pairs and ends hold ({tried}){blocked}"


def _held(roll: IdleRoll) -> str:
    """How a part that can roll is judged, as far as the file says."""
    if roll.clamped:
        return f"is clamped at {roll.held:+zg} degrees of it, as the file says"
    return SOME_ROLL if roll.rule == "some" else ANY_ROLL


def roll_entries(bodies: Bodies, idle: Iterable[IdleRoll]) -> tuple[FreedomEntry, ...]:
    """Each idle roll with its parts, its line and the rolls at which it is judged."""
    return tuple(
        FreedomEntry(
            parts=tuple(name for body in roll.bodies for name in bodies.members[body]),
            what=f"can roll about its own line through {_figures(roll.at, 1)} along {_figures(roll.axis, 3)}",
            held=_held(roll),
        )
        for roll in idle
    )


def judged_measures(every: Sequence[MeasureEntry]) -> tuple[VerdictWord, str]:
    """The worst answer of all measures, and what it rests on."""
    for word, told in (("fails", "beyond their limits"), ("undecided", "not proven to keep their limits")):
        names = [one.name for one in every if one.verdict == word]
        if names:
            return word, f"{told}: {', '.join(names)}"  # type: ignore[return-value]  # both are verdicts
    limited = sum(one.verdict is not None for one in every)
    if not limited:
        return "clear", "no measure has a limit"
    return "clear", f"kept everywhere in the range: {limited} of {len(every)} measures have limits"


def play_entries(machine: Machine) -> tuple[PlayEntry, ...]:
    """The play of each joint that has some, from end to end."""
    return tuple(
        PlayEntry(one.name, 2 * one.play.radial, one.play.axial, 2 * one.play.angle, one.play.fit)
        for one in loose_joints(machine)
        if one.play is not None
    )


def finite(value: float | None) -> float | None:
    """``value``, None if it is not finite."""
    return value if value is not None and isfinite(value) else None


def point(values: Iterable[float]) -> Point:
    """Three numbers as a point."""
    x, y, z = values
    return float(x), float(y), float(z)


def _figures(values: Iterable[float], digits: int) -> str:
    return f"[{', '.join(f'{value:z.{digits}f}' for value in values)}]"
