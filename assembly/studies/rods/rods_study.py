"""All rods of a machine: threads, what turning does, and the way to a wanted length."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from assembly.errors import Fault, InputError
from assembly.kinematics.assembling import assemble
from assembly.kinematics.at_setting import checked_settings, posture_at
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Machine
from assembly.model.rod_entries import threaded_rod_entry
from assembly.model.threaded_rod import ThreadedRod
from assembly.record import RodsRecord, RodsTurnedEntry, ThreadedRodEntry, VerdictWord
from assembly.studies.rods.lengths import way_to, ways_to_toe, ways_to_value
from assembly.studies.rods.rod_figures import total_toe
from assembly.studies.rods.spanner_room import spanner_room
from assembly.studies.rods.turning import turned_by
from assembly.studies.shared import drive_entries, machine_entry, program_entry

MORE_TOE = 1.0
"""mm of toe-in that are told the turns of, where the file wants none."""
SAME_LENGTH = 0.005
"""mm: twins that differ by less are as long as each other."""
HOW = "describe one with [rods.NAME]: its part, tube_length, and two ends with joint, size and hand"


def look_at_rods(
    machine: Machine,
    names: Iterable[str] = (),
    length: float | None = None,
    wanted: tuple[str, float] | None = None,
    settings: Mapping[str, float] | None = None,
    toe: float | None = None,
) -> RodsRecord:
    """The rods of ``names``, or all, and the way to ``length`` mm from ball to ball, a ``wanted`` measure or ``toe``.

    ``settings``: where spanners are tried; drives that are not named stand at 0.

    Raises InputError for a rod or a measure that does not exist or is not brought there, AssemblyError if the machine
    cannot be put together.
    """
    rods = _chosen(machine, names)
    mechanism = assemble(machine)
    at = checked_settings(machine, settings or {})
    posture = posture_at(mechanism, at)
    entries = tuple(map(threaded_rod_entry, rods))
    verdict, reason = rods_verdict(entries)
    to_length = () if length is None else tuple(way_to(rod, length) for rod in rods)
    to_value = () if wanted is None else ways_to_value(machine, mechanism, rods, wanted)
    return RodsRecord(
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        verdict=verdict,
        reason=reason,
        rods=entries,
        turned=tuple(turned_by(machine, mechanism, rod) for rod in rods),
        ways=(*to_length, *to_value, *(() if toe is None else ways_to_toe(machine, mechanism, rods, toe))),
        spanners=tuple(one for rod in rods for one in spanner_room(mechanism, posture, rod)),
        at=settings_of(machine, at),
    )


def rods_turned(mechanism: Mechanism) -> RodsTurnedEntry:
    """What turning the rods of ``mechanism`` does, and turns to the total toe that its file wants, or to 1 mm more."""
    machine, road = mechanism.machine, mechanism.machine.running.road
    turns = tuple(
        turned_by(machine, mechanism, rod) for rod in machine.rods.values() if not _like_its_twin(machine, rod)
    )
    if not total_toe(machine):
        return RodsTurnedEntry(turns)
    more = 0.0 if road.toe_wanted is not None else MORE_TOE
    try:
        ways = ways_to_toe(machine, mechanism, list(machine.rods.values()), road.toe_wanted, more)
    except InputError as error:
        return RodsTurnedEntry(turns, more_mm=more, why=error.faults[0].message)
    return RodsTurnedEntry(turns, ways, more)


def _like_its_twin(machine: Machine, rod: ThreadedRod) -> bool:
    """Whether it is as long as the rod that it is the twin of."""
    original = machine.rods.get(rod.twin_of)
    return original is not None and abs(original.length - rod.length) < SAME_LENGTH


def rods_verdict(rods: Iterable[ThreadedRodEntry]) -> tuple[VerdictWord, str]:
    """Whether every rule is kept that was picked, and in what it is not."""
    every = list(rods)
    short = [rod.name for rod in every if rod.verdict == "fails"]
    judged = sum(rod.verdict is not None for rod in every)
    if short:
        return "fails", f"threads that do not keep their rule: {', '.join(short)}"
    if not judged:
        return "clear", "no rule of engagement is picked, so nothing is judged"
    left = len(every) - judged
    more = f"; of {left} no rule is picked" if left else ""
    every_rule = "the rod keeps every rule" if judged == 1 else f"all {judged} rods keep every rule"
    return "clear", f"{every_rule} of engagement that is picked{more}"


def _chosen(machine: Machine, names: Iterable[str]) -> list[ThreadedRod]:
    if not machine.rods:
        raise InputError(Fault("the file has no rod that is screwed together", file=machine.file, hint=HOW))
    wanted = list(dict.fromkeys(names)) or list(machine.rods)
    faults = [
        Fault(f"there is no rod {shown(name)}", hint=nearest(name, machine.rods, "rods"))
        for name in wanted
        if name not in machine.rods
    ]
    if faults:
        raise InputError(*faults)
    return [machine.rods[name] for name in wanted]
