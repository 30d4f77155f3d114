"""How many pairs a machine has and what is said of some, without an object for each: there are many of many parts."""

from __future__ import annotations

from dataclasses import dataclass

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Exclusion, PairRules
from assembly.kinematics.bodies import Bodies
from assembly.model.machine import Machine
from assembly.record import NotCheckedEntry


@dataclass(frozen=True, slots=True)
class PairSurvey:
    """How many pairs are ``checked``; those of them that leave out ``seats``, and the pairs that are not checked."""

    checked: int
    seats: tuple[CheckedPair, ...]
    not_checked: tuple[NotCheckedEntry, ...]


def survey_pairs(machine: Machine, bodies: Bodies) -> PairSurvey:
    """What ``gather_pairs`` would find, by a look at pairs of which something is said and at those of empty parts."""
    rules, count = PairRules(machine, bodies), len(machine.parts)
    number_of = {name: number for number, name in enumerate(machine.parts)}
    empty = [name for name in machine.parts if rules.solids.empty(Exclusion(name))]
    looked_at = {pair for pair in rules.named if len(pair) > 1 and pair <= number_of.keys()}
    looked_at |= {frozenset((name, other)) for name in empty for other in number_of if other != name}
    in_order = sorted(sorted(number_of[name] for name in pair) for pair in looked_at)
    names = tuple(machine.parts)
    every = [rules.sorted(names[a], names[b]) for a, b in in_order]
    not_checked = tuple(entry for entry in every if isinstance(entry, NotCheckedEntry))
    seats = tuple(pair for pair in every if isinstance(pair, CheckedPair) and pair.seat)
    return PairSurvey(count * (count - 1) // 2 - len(not_checked), seats, not_checked)
