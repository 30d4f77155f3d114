"""No pose comes nearer than was proven, no bound is passed, nothing is out of reach without being told.

The short version of ``scripts/soundness.py``. Violations are looked for by ``proof_attack``, which knows the sweep
from outside only; that it does find them is tested by breaking the proof on purpose, each kind of bound by itself in
``test_bound_mutations``.
"""

import proof_attack
import pytest
from mutations import weakened
from proof_attack import attack
from random_machines import FAMILIES, random_machine

from assembly.clearance.lower_bound import Method
from assembly.clearance.outcome import Effort

TOGETHER = 20
SHARE = 0.25
"""Of the ranges: most of these machines can be assembled everywhere, which is quicker."""
SLOW = (20, 74, 91, 191)
"""Machines that lock even so, in loops; ``scripts/soundness.py`` tries them."""
SEEDS = [seed for seed in range(200 + len(SLOW)) if seed not in SLOW]
OUT_OF_REACH = (39, 91)
"""Machines that lock or cannot be assembled in part of their full range."""
QUICK = Effort(decide_only=True)


@pytest.mark.parametrize("first", range(0, len(SEEDS), TOGETHER))
def test_no_setting_of_random_machines_breaks_what_was_proven(first):
    seeds = SEEDS[first : first + TOGETHER]
    reports = [attack(random_machine(seed, SHARE), 12, seed, QUICK, brute=1) for seed in seeds]
    assert [str(violation) for report in reports for violation in report.violations] == []
    assert sum(report.clear for report in reports) > TOGETHER, "hardly anything was proven, so nothing was tried"
    assert sum(report.distances > 0 for report in reports) > 0.8 * TOGETHER


@pytest.mark.parametrize("seed", OUT_OF_REACH)
def test_what_cannot_be_assembled_is_told_and_the_rest_is_proven(seed):
    report = attack(random_machine(seed), 24, seed, QUICK, brute=1)
    assert report.out_of_reach > 0
    assert 0 < report.given_up_share < 1
    assert [str(violation) for violation in report.violations] == []


@pytest.mark.parametrize("seed", range(len(FAMILIES) - 1))
def test_closing_in_proves_no_more_than_is_true(seed):
    effort = Effort(bracket_mm=0.5, bracket_share=0.05, interest_mm=0.0)
    report = attack(random_machine(seed + len(FAMILIES), SHARE), 16, seed, effort, brute=1)
    assert [str(violation) for violation in report.violations] == []


def test_half_the_travel_is_seen_as_a_violation():
    with weakened(Method.CENTRE):
        reports = [attack(random_machine(seed, 0.4), 24, seed, QUICK, brute=0) for seed in (4, 13, 14, 28)]
    kinds = {violation.kind for report in reports for violation in report.violations}
    assert kinds == {"nearer than proven", "nearer than its cell, CENTRE"}


def test_a_bound_that_is_too_small_is_seen_in_the_cells(monkeypatch):
    whole = proof_attack.travel
    monkeypatch.setattr(proof_attack, "travel", lambda *given: 0.5 * whole(*given))
    report = attack(random_machine(2, SHARE), 16, 2, QUICK, brute=0)
    assert {violation.kind for violation in report.violations} == {"moved too far"}
