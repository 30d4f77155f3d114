"""What shows that rules are broken at single settings, each as a task."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from assembly.clearance.proof.worst_roll import told_rolls, worst_roll
from assembly.clearance.region.rule_tasks import RulesContext, RuleTasks
from assembly.clearance.region.rules import Rule, RuleKind
from assembly.geometry.mesh import Floats
from assembly.kinematics.solver import solve, unreachable
from assembly.model.machine import Machine
from assembly.record import RuleEntry
from assembly.studies.usable.range_record import rule_entry


class Causes:
    """Shows how rules are broken at single settings."""

    def __init__(self, rules: RuleTasks) -> None:
        self._rules = rules

    @property
    def machine(self) -> Machine:
        """The machine in its widened ranges."""
        return self._rules.context.mechanism.machine

    @property
    def every(self) -> tuple[Rule, ...]:
        """All rules by their numbers."""
        return self._rules.every

    def of(self, asked: Sequence[tuple[int, Floats]]) -> list[RuleEntry]:
        """Rules by number, each with what shows that it is broken at one setting (1, d)."""
        return self._rules.each(cause_task, asked)


def cause_task(context: RulesContext, number: int, at: Floats) -> RuleEntry:
    """A rule with what shows that it is broken at the one setting ``at`` (1, d)."""
    mechanism, rule = context.mechanism, context.rules.every[number]
    entry, solved = rule_entry(rule), solve(mechanism, at)
    if rule.kind is RuleKind.LOOP:
        return replace(entry, loop=unreachable(mechanism, solved, 0).loop)
    if rule.pair is None:
        return entry
    witnesses = context.witnesses
    search = next(search for search in context.solid_table.searches if search.pair == rule.pair)
    if not search.rolls:
        near = witnesses.nearest(rule.pair, solved.posture)
        return replace(entry, shape_a=near.shape_a, shape_b=near.shape_b)
    look = worst_roll(mechanism, witnesses, search, solved.posture).looks[0]
    rolls = told_rolls(mechanism, search, look)
    return replace(entry, shape_a=look.witness.shape_a, shape_b=look.witness.shape_b, rolls=dict(rolls))
