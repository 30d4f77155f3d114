"""One setting: how far apart every pair of parts is, and where each part stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from assembly.clearance.blocked_roll import blocks_every_roll, lost_rolls, why_unsettled
from assembly.clearance.outcome import Overlap, Setting, Verdict
from assembly.clearance.pairs import CheckedPair, Pairs, gather_pairs
from assembly.clearance.search import PairSearch
from assembly.clearance.some_roll import ChosenRoll, with_swept_rolls
from assembly.clearance.stock import Stock
from assembly.clearance.witness import Witness, Witnesses, shown_by
from assembly.clearance.worst_roll import worst_roll
from assembly.geometry.rotations import angle_of, sine_vector
from assembly.model.machine import Machine, Vector
from assembly.motion.assembling import assemble
from assembly.motion.at_setting import checked_settings, posture_at
from assembly.motion.mechanism import Mechanism
from assembly.motion.rolling import roll_name, rolled_parts
from assembly.motion.rows import Posture


@dataclass(frozen=True, slots=True, eq=False)
class PairSeen:
    """How near a pair is at the setting; ``overlap`` where both claim one place.

    Where a part of it can roll, at the worst of all rolls that its ends allow there: ``rolls`` name the columns of
    ``at`` after the drives'. ``unseen`` mm: how much nearer it may come at rolls that were not looked at.
    """

    pair: CheckedPair
    witness: Witness
    surface_error: float
    overlap: Overlap | None
    at: Setting
    rolls: tuple[str, ...] = ()
    unseen: float = 0.0
    open_: str = ""
    """Why it is undecided where it is too near at the worst roll; nothing where that fails."""

    @property
    def too_near(self) -> bool:
        """Whether it is nearer than it must be, or strikes."""
        return self.overlap is not None or self.witness.distance <= 0 or self.witness.distance < self.pair.required

    @property
    def verdict(self) -> Verdict:
        """Clear only where the surfaces' error could not hide a clearance that is too small."""
        if self.too_near:
            return Verdict.UNDECIDED if self.open_ else Verdict.FAILS
        sure = self.witness.distance - self.surface_error - self.unseen
        return Verdict.CLEAR if sure > 0 and sure >= self.pair.required else Verdict.UNDECIDED

    @property
    def room(self) -> float:
        """Clearance in mm beyond what is required; an overlap counts by its depth, below zero."""
        return (-self.overlap.depth if self.overlap else self.witness.distance) - self.pair.required


@dataclass(frozen=True, slots=True)
class PartPlace:
    """Where a part stands: the middle of the box round it as drawn, now, how far it went, and how it turned."""

    part: str
    fixed: bool
    middle: Vector
    moved: Vector
    turned_deg: float
    about: Vector
    """Unit direction of the turn; zero where it did not turn."""


@dataclass(frozen=True, slots=True, eq=False)
class LookResult:
    """One setting of the machine, the pair with the least room first."""

    mechanism: Mechanism
    pairs: Pairs
    at: Setting
    seen: tuple[PairSeen, ...]
    places: tuple[PartPlace, ...]


def look(machine: Machine, settings: Mapping[str, float]) -> LookResult:
    """Everything at one setting; drives that are not named stay at 0.

    Raises InputError for a drive there is not or a value outside its range, AssemblyError where the machine
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
        else _see(witnesses, pairs, pair, posture, at)
        for pair in pairs.checked
    ]
    places = tuple(_place(mechanism, posture, part) for part in machine.parts)
    return LookResult(mechanism, pairs, at, tuple(sorted(seen, key=lambda pair: pair.room)), places)


def _see(witnesses: Witnesses, pairs: Pairs, pair: CheckedPair, posture: Posture, at: Setting) -> PairSeen:
    witness = witnesses.nearest(pair, posture)
    strikes = witness.distance <= 0 or witnesses.swallowed(pair, posture)
    overlap = witnesses.overlap(pair, posture, at) if strikes else None
    witness = witness if overlap is None else shown_by(witness, overlap)
    error = sum(pairs.solids[trim].mesh.surface_error for trim in (pair.trim_a, pair.trim_b))
    return PairSeen(pair, witness, error, overlap, at)


def _rolling(mechanism: Mechanism, pairs: Pairs) -> dict[CheckedPair, PairSearch]:
    """The pairs that a roll moves against each other."""
    parts = set(rolled_parts(mechanism))
    stock = Stock(mechanism, pairs.solids)
    every = stock.add(pair for pair in pairs.checked if parts & {pair.a, pair.b})
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
        witness = look.witness if overlap is None else shown_by(look.witness, overlap)
        seen.append(PairSeen(search.pair, witness, search.surface_error, overlap, there, names, worst.unseen, open_))
    return min(seen, key=lambda one: one.room)


def _place(mechanism: Mechanism, posture: Posture, part: str) -> PartPlace:
    world_from_rest = mechanism.world_from_rest(posture, part)[0]
    drawn = mechanism.machine.parts[part].mesh.bounds.mean(axis=0)
    middle = world_from_rest[:3, :3] @ drawn + world_from_rest[:3, 3]
    turn = world_from_rest[:3, :3]
    lead = sine_vector(turn)
    size = float(np.linalg.norm(lead))
    about = lead / size if size > 1e-9 else np.zeros(3)
    degrees = float(np.rad2deg(angle_of(turn)))
    fixed = mechanism.machine.parts[part].fixed
    return PartPlace(part, fixed, _vector(middle), _vector(middle - drawn), degrees, _vector(about))


def _vector(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Vector:
    x, y, z = values.tolist()
    return x, y, z
