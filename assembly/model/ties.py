"""What each joint ties, known before any of its numbers is read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assembly.model.fault_list import FaultLog, shown
from assembly.model.file_tables import AnyJoint, JointTable
from assembly.model.machine import JointKind
from assembly.model.mirror import Mirror
from assembly.model.schema import checked_table


@dataclass(frozen=True, slots=True)
class Tie:
    """Kind and parts of a joint."""

    kind: JointKind
    first: str
    second: str


def read_joint_tables(raw: Mapping[str, object], log: FaultLog) -> dict[str, JointTable | None]:
    """Every joint as written; None where its table is faulty. InputError where ``log`` is full already."""
    log.raise_if_full()
    log.check_names(raw, "joint", ("joints",))
    return {name: checked_table(AnyJoint, entry, ("joints", name), log) for name, entry in raw.items()}


def tie_of(table: JointTable) -> Tie:
    """Kind and parts of a joint as written."""
    kind = next(kind for kind in JointKind if hasattr(table, kind))
    first, second = getattr(table, kind)
    return Tie(kind, first, second)


def read_ties(
    tables: Mapping[str, JointTable | None], parts: Mapping[str, None], mirror: Mirror, log: FaultLog
) -> dict[str, Tie | None]:
    """The ties of all joints and of their twins; a tie to a part that is not there is noted, and None."""
    ties: dict[str, Tie | None] = {}
    for name, table in tables.items():
        tie = None if table is None else tie_of(table)
        ties[name] = tie if tie and _is_sound(tie, name, parts, log) else None

    def flip(_name: str, tie: Tie | None) -> Tie | None:
        return tie and Tie(tie.kind, mirror.other_side(tie.first), mirror.other_side(tie.second))

    for name, tie in mirror.twins(ties, flip).items():
        missing = [part for part in (tie.first, tie.second) if part not in parts] if tie else []
        if missing:
            original = mirror.other_side(name)
            message = f"its mirror twin {shown(name)} would join {shown(missing[0])}, which is not in the file"
            log.add(("joints", original), message, f"add that part, or write {shown(name)} out")
        ties[name] = None if missing else tie
    return ties


def points_of_joints(tables: Mapping[str, JointTable | None], mirror: Mirror) -> dict[str, str]:
    """The name of the point that each joint sits at, those of the twins too."""
    named = {name: getattr(entry, "at", None) for name, entry in tables.items()}
    at = {name: point for name, point in named.items() if isinstance(point, str)}
    return {**at, **mirror.twins(at, lambda _name, point: mirror.other_side(point))}


def _is_sound(tie: Tie, name: str, parts: Mapping[str, None], log: FaultLog) -> bool:
    place = ("joints", name, tie.kind.value)
    if tie.first == tie.second:
        log.add(place, f"{shown(tie.first)} is joined to itself", "name two different parts")
        return False
    first, second = (log.knows(part, parts, "part", (*place, k)) for k, part in enumerate((tie.first, tie.second)))
    return first and second
