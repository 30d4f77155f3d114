"""No pose comes nearer than was proven, no bound is passed, nothing is out of reach without being reported.

The short version of ``scripts/soundness.py``. Violations are looked for by ``proof_attack``, which knows the sweep
from outside only; that it does find them is tested by breaking the proof on purpose, each kind of bound by itself in
``test_bound_mutations``, and of these machines here.
"""

import proof_attack
import pytest
from mutations import weakened
from proof_attack import attack
from random_machines import FAMILIES, random_machine
from tries import first

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof.lower_bound import Method

SHARE = 0.25
"""Of the ranges: most of these machines can be assembled everywhere, which is quicker."""
SEEDS = (
    *(36, 81),
    *(28, 73),
    *(101, 119),
    *(12, 30),
    *(13, 40),
    *(41, 86),
    *(6, 15),
    *(16, 25),
    *(35, 62),
)
"""Two machines of each family, of the first 200: those on which the most kinds of broken bounds are seen.
``.ci/run`` has ``scripts/soundness.py`` try all 200, those too that lock in most of their range."""
BROKEN = {
    Method.SWEPT_BOXES: 73,
    Method.BOXES: 25,
    Method.CENTRE: 30,
    Method.CARRIED: 28,
    Method.FACING: 16,
}
"""A machine on which a bound of this kind that takes off too little is seen; one at rest is seen on none."""
OUT_OF_REACH = 39
"""A machine that locks or cannot be assembled in part of its full range."""
QUICK = Effort(decide_only=True)


def attacked(seed):
    return attack(random_machine(seed, SHARE), 12, seed, QUICK, brute=1)


def test_the_machines_are_two_of_each_family():
    assert sorted(seed % len(FAMILIES) for seed in SEEDS) == sorted([*range(len(FAMILIES))] * 2)


@pytest.mark.parametrize("seed", first(SEEDS[::2] + SEEDS[1::2], len(FAMILIES)))
def test_no_setting_of_random_machines_breaks_what_was_proven(seed):
    report = attacked(seed)
    assert [str(violation) for violation in report.violations] == []
    assert report.clear > 0, "nothing was proven of the machine, so nothing was tried on it"
    assert report.distances > 0


@pytest.mark.parametrize("kind", BROKEN)
def test_of_these_machines_some_show_that_a_bound_takes_off_too_little(kind):
    assert BROKEN[kind] in SEEDS
    with weakened(kind):
        assert attacked(BROKEN[kind]).violations


@pytest.mark.long
def test_what_cannot_be_assembled_is_told_and_the_rest_is_proven():
    report = attack(random_machine(OUT_OF_REACH), 24, OUT_OF_REACH, QUICK, brute=1)
    assert report.out_of_reach > 0
    assert 0 < report.given_up_share < 1
    assert [str(violation) for violation in report.violations] == []


@pytest.mark.parametrize("seed", first(range(len(FAMILIES) - 1), 3))
def test_closing_in_proves_no_more_than_is_true(seed):
    effort = Effort(bracket_mm=1.0, bracket_share=0.1, interest_mm=0.0)
    report = attack(random_machine(seed + len(FAMILIES), SHARE), 10, seed, effort, brute=1)
    assert [str(violation) for violation in report.violations] == []


def test_half_the_travel_is_seen_as_a_violation():
    with weakened(Method.CENTRE):
        reports = [attack(random_machine(seed, 0.4), 24, seed, QUICK, brute=0) for seed in (4, 13)]
    kinds = {violation.kind for report in reports for violation in report.violations}
    assert kinds == {"nearer than proven", "nearer than its cell, CENTRE"}


def test_a_bound_that_is_too_small_is_seen_in_the_cells(monkeypatch):
    whole = proof_attack.travel
    monkeypatch.setattr(proof_attack, "travel", lambda *given: 0.5 * whole(*given))
    report = attack(random_machine(2, SHARE), 16, 2, QUICK, brute=0)
    assert {violation.kind for violation in report.violations} == {"moved too far"}
