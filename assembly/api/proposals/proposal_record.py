"""The record of a search for proposals: what each mends and what it costs, or which rules contradict each other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from assembly.api.losses import losses
from assembly.api.proposals.change_search import ChangeSearch
from assembly.api.proposals.measured_machine import MeasuredMachine
from assembly.clearance.sensitivity.smallest_change import RuleKey, irreducible
from assembly.geometry.mesh import Floats
from assembly.model.allowed import line_with
from assembly.model.machine import Machine
from assembly.record import (
    AllowedEntry,
    BoundEntry,
    ContradictionEntry,
    MarginEntry,
    MendedEntry,
    ProposalEntry,
    ProposalRecord,
    Record,
    ValueEntry,
)
from assembly.studies.shared import drive_entries, machine_entry, program_entry

_SIDES: dict[int, Literal["least", "most"]] = {-1: "least", 1: "most"}
STILL = 1e-6
"""A slope below this is rounding."""


def proposal_record(search: ChangeSearch, found: Sequence[MeasuredMachine], stopped: str) -> ProposalRecord:
    """The record of a search that ``found`` these proven machines, and ended early where ``stopped`` says why."""
    measuring, today = search.measuring, search.today
    machine, record = measuring.machine, _of(today)
    wish = measuring.wish
    return ProposalRecord(
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        verdict=record.verdict,
        reason=record.reason,
        allowed=tuple(_allowed(search)),
        broken=tuple(today.rules[rule] for rule in today.broken),
        asked=wish[0] if wish else (),
        clearance_mm=wish[1] if wish else None,
        proposals=tuple(_proposal(machine, today, one) for one in found),
        contradiction=_contradiction(search) if today.broken and not found and not stopped else None,
        measured=measuring.count,
        stopped=stopped,
    )


def _of(measured: MeasuredMachine) -> Record:
    """The record of a machine that could be measured."""
    if measured.record is None:
        raise ValueError(measured.trouble)
    return measured.record


def _allowed(search: ChangeSearch) -> Iterator[AllowedEntry]:
    for number, one in enumerate(search.measuring.allowed):
        moved = {row.rule for row in search.today.rows if abs(row.slopes[number]) > STILL}
        yield AllowedEntry(
            name=one.name,
            value=one.value,
            low=one.low,
            high=one.high,
            step=one.step,
            sizes=one.sizes,
            weight=one.weight,
            moves=len(moved),
            stays=search.today.stays.get(one.name, ""),
        )


def _values(machine: Machine, values: Floats) -> tuple[ValueEntry, ...]:
    """The dimensions that are changed, with the lines to write."""
    made = []
    for one, after in zip(machine.may_change.values(), values.tolist(), strict=True):
        if after != one.value:
            line, text = machine.written.get(f"dimensions.{one.name}.value", (None, ""))
            made.append(ValueEntry(one.name, one.value, after, line, line_with(one, text, after)))
    return tuple(made)


def _proposal(machine: Machine, today: MeasuredMachine, now: MeasuredMachine) -> ProposalEntry:
    before, after = _of(today), _of(now)
    mended = tuple(_mended(today.rules[rule], rule, before, after) for rule in today.broken)
    worse = tuple(sorted(losses(before, after), key=lambda one: one.after - one.before))
    return ProposalEntry(_values(machine, now.values), after.verdict, after.reason, mended, worse)


def _mended(told: MarginEntry, rule: RuleKey, before: Record, after: Record) -> MendedEntry:
    """What a rule came to and what is proven of it now."""
    kind, names, motion = rule
    if kind == "pair":
        was, now = (next(one for one in each.pairs if (one.a, one.b) == names) for each in (before, after))
        least = None if was.room_mm is None else was.room_mm + was.required_mm
        return MendedEntry(told, least, now.proven_mm)
    margin = None
    if kind == "joint":
        margin = next(one.reserve for one in after.joints if (one.name, one.motion) == (names[0], motion))
    elif kind == "rod":
        margin = next(one.free for one in after.rods if one.parts == names)
    elif kind == "measure":
        sides = (side for one in after.measures if one.name == names[0] for side in one.sides)
        margin = next(side.margin for side in sides if side.motion == motion)
    return MendedEntry(told, told.margin, margin)


def _contradiction(search: ChangeSearch) -> ContradictionEntry:
    """What cannot all be kept, about the machine that came nearest."""
    nearest, allowed = search.nearest, search.measuring.allowed
    rules, limits = irreducible(search.problem(nearest.rows))
    bounds = [
        BoundEntry(allowed[number].name, allowed[number].high if way > 0 else allowed[number].low, _SIDES[way])
        for number, way in limits
    ]
    return ContradictionEntry(
        rules=tuple(nearest.rules[rule] for rule in rules),
        limits=tuple(bounds),
        values=_values(search.measuring.machine, nearest.values),
        missed=tuple(nearest.rules[rule] for rule in nearest.broken),
    )
