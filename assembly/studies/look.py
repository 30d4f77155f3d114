"""One setting: how far apart every pair of parts is, and where each part stands."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Pairs, gather_pairs
from assembly.clearance.narrow_phase.pair_result import Overlap, Setting
from assembly.clearance.narrow_phase.witness import Witness, Witnesses, shown_by
from assembly.clearance.proof.blocked_roll import blocks_every_roll, lost_rolls, why_unsettled
from assembly.clearance.proof.measures_at import measured_at
from assembly.clearance.proof.pair_search import PairSearch
from assembly.clearance.proof.solid_table import SolidTable
from assembly.clearance.proof.some_roll import ChosenRoll, with_swept_rolls
from assembly.clearance.proof.worst_roll import worst_roll
from assembly.geometry.rotations import angle_of, sine_vector
from assembly.kinematics.assembling import assemble
from assembly.kinematics.at_setting import checked_settings, posture_at
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.roll_columns import roll_name, rolled_parts
from assembly.kinematics.rows import Posture
from assembly.model.machine import Machine, Vector
from assembly.record import FORMAT, PairAtEntry, PlaceEntry, PoseRecord, VerdictWord
from assembly.studies.shared import (
    drive_entries,
    machine_entry,
    overlap_entry,
    program_entry,
)


@dataclass(frozen=True, slots=True, eq=False)
class PairSeen:
    """A pair at the setting, and what shows it: its overlap, or its nearest points. ``at`` includes its rolls."""

    entry: PairAtEntry
    shown: Witness | Overlap
    at: Setting

    @property
    def room(self) -> float:
        """Clearance in mm beyond what is required; an overlap counts by its depth, below zero."""
        overlap = self.entry.overlap
        return (-overlap.depth_mm if overlap else self.entry.distance_mm) - self.entry.required_mm


@dataclass(frozen=True, slots=True, eq=False)
class LookResult:
    """One setting of the machine as its record, with what pictures need; the pair with the least room first."""

    mechanism: Mechanism
    record: PoseRecord
    seen: tuple[PairSeen, ...]


def look(machine: Machine, settings: Mapping[str, float]) -> LookResult:
    """Everything at one setting; drives that are not named stay at 0.

    Raises InputError for a drive there is not or a value outside its range, AssemblyError if the machine
    cannot be put together.
    """
    at = checked_settings(machine, settings)
    machine, chosen = with_swept_rolls(machine, 1)
    mechanism = assemble(machine)
    posture = posture_at(mechanism, at)
    pairs = gather_pairs(machine, mechanism.bodies)
    witnesses = Witnesses(mechanism, pairs.solids)
    rolling, lost = _rolling(mechanism, pairs), lost_rolls(mechanism, chosen)
    seen = [
        _see_rolling(mechanism, witnesses, rolling[pair], posture, at, lost)
        if pair in rolling
        else _see(machine, witnesses, pairs, pair, posture, at)
        for pair in pairs.checked
    ]
    seen.sort(key=lambda pair: pair.room)
    measures = measured_at(mechanism, at)
    record = PoseRecord(
        format=FORMAT,
        kind="pose",
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        at=settings_of(machine, at),
        verdict=_worst({*(one.entry.verdict for one in seen), *(one.verdict for one in measures if one.verdict)}),
        pairs=tuple(one.entry for one in seen),
        places=tuple(_place(mechanism, posture, part) for part in machine.parts),
        not_checked=pairs.not_checked,
        assembled=mechanism.shifts(),
        findings=machine.findings,
        measures=measures,
    )
    return LookResult(mechanism, record, tuple(seen))


def _worst(verdicts: Collection[VerdictWord]) -> VerdictWord:
    worst: tuple[VerdictWord, ...] = ("fails", "undecided")
    return next((word for word in worst if word in verdicts), "clear")


@dataclass(frozen=True, slots=True, eq=False)
class _Rolled:
    """The setting with the rolls at which a pair is seen, their names, and how much nearer it may come at others.

    ``open_``: why a pair that is too near there is undecided; nothing if that fails.
    """

    at: Setting
    rolls: tuple[str, ...] = ()
    unseen: float = 0.0
    open_: str = ""


def _seen(
    machine: Machine, pair: CheckedPair, shown: tuple[Witness, Overlap | None], error: float, rolled: _Rolled
) -> PairSeen:
    witness, overlap = shown
    witness = witness if overlap is None else shown_by(witness, overlap)
    too_near = overlap is not None or witness.distance <= 0 or witness.distance < pair.required
    entry = PairAtEntry(
        a=pair.a,
        b=pair.b,
        shape_a=witness.shape_a,
        shape_b=witness.shape_b,
        required_mm=pair.required,
        distance_mm=witness.distance,
        surface_error_mm=error,
        point_a=witness.point_a,
        point_b=witness.point_b,
        verdict=_failing(rolled) if too_near else _holding(pair, witness.distance - error - rolled.unseen),
        overlap=overlap_entry(machine, overlap, rolled.rolls),
        gap_seat=pair.seat or None,
        rolls=dict(zip(rolled.rolls, rolled.at[len(machine.drives) :], strict=True)),
        unseen_mm=rolled.unseen,
        why=rolled.open_ if too_near else "",
    )
    return PairSeen(entry, overlap or witness, rolled.at)


def _failing(rolled: _Rolled) -> VerdictWord:
    return "undecided" if rolled.open_ else "fails"


def _holding(pair: CheckedPair, sure: float) -> VerdictWord:
    """Clear only where the surfaces' error, and rolls not looked at, could not hide a clearance that is too small."""
    return "clear" if sure > 0 and sure >= pair.required else "undecided"


def _see(
    machine: Machine, witnesses: Witnesses, pairs: Pairs, pair: CheckedPair, posture: Posture, at: Setting
) -> PairSeen:
    witness = witnesses.nearest(pair, posture)
    strikes = witness.distance <= 0 or witnesses.contained(pair, posture)
    overlap = witnesses.overlap(pair, posture, at) if strikes else None
    error = sum(pairs.solids[exclusion].mesh.surface_error for exclusion in (pair.trim_a, pair.trim_b))
    return _seen(machine, pair, (witness, overlap), error, _Rolled(at))


def _rolling(mechanism: Mechanism, pairs: Pairs) -> dict[CheckedPair, PairSearch]:
    """The pairs that a roll moves against each other."""
    parts = set(rolled_parts(mechanism))
    solid_table = SolidTable(mechanism, pairs.solids)
    every = solid_table.add(pair for pair in pairs.checked if parts & {pair.a, pair.b})
    return {search.pair: search for search in every if search.rolls}


def _see_rolling(
    mechanism: Mechanism,
    witnesses: Witnesses,
    search: PairSearch,
    posture: Posture,
    at: Setting,
    lost: Mapping[str, ChosenRoll],
) -> PairSeen:
    """The pair at the worst roll; one of a part for which no roll was found fails only where it blocks every roll."""
    worst = worst_roll(mechanism, witnesses, search, posture)
    names = tuple(roll_name(mechanism.bodies, mechanism.idle[number]) for number in search.rolls)
    open_ = why_unsettled(names, lost)
    if open_ and blocks_every_roll(mechanism, witnesses, search, posture):
        open_ = ""
    seen = []
    for look in worst.looks:
        there = (*at, *look.rolls)
        overlap = witnesses.overlap(search.pair, look.posture, there) if look.distance <= 0 else None
        rolled = _Rolled(there, names, worst.unseen, open_)
        seen.append(_seen(mechanism.machine, search.pair, (look.witness, overlap), search.surface_error, rolled))
    return min(seen, key=lambda one: one.room)


def _place(mechanism: Mechanism, posture: Posture, part: str) -> PlaceEntry:
    world_from_rest = mechanism.world_from_rest(posture, part)[0]
    drawn = mechanism.machine.parts[part].mesh.bounds.mean(axis=0)
    middle = world_from_rest[:3, :3] @ drawn + world_from_rest[:3, 3]
    turn = world_from_rest[:3, :3]
    lead = sine_vector(turn)
    size = float(np.linalg.norm(lead))
    about = lead / size if size > 1e-9 else np.zeros(3)
    degrees = float(np.rad2deg(angle_of(turn)))
    fixed = mechanism.machine.parts[part].fixed
    return PlaceEntry(part, fixed, _vector(middle), _vector(middle - drawn), degrees, _vector(about))


def _vector(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Vector:
    x, y, z = values.tolist()
    return x, y, z
