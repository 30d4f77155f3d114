"""Every kind of bound is broken on purpose, where it is made, and the attack on single cells sees it."""

import numpy as np
import pytest
from leaf_attack import attack_leaves
from mutations import weakened
from random_machines import random_machine
from small_machines import read, slider
from test_mapping import mapped, too_high, true_distances
from watched_sweep import swept

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof.lower_bound import Method

QUICK = Effort(decide_only=True)
POLE = """
[parts.pole]
fixed = true
shapes = [{ name = "pole", rod = [[20, 0, -10], [20, 0, 10]], diameter = 6 }]
"""
"""Stands 7 mm from the slider's block, which it never moves against; its facets lie up to 0.02 mm inside."""


def still_machine():
    return read(slider(extra=POLE))


def sliding_machine():
    return read(slider(low=-5.0, high=8.0))


CASES = {
    Method.SWEPT_BOXES: sliding_machine,
    Method.BOXES: sliding_machine,
    Method.CENTRE: lambda: random_machine(7, 0.4),
    Method.CARRIED: lambda: random_machine(7, 0.4),
    Method.FACING: lambda: random_machine(7, 0.4),
    Method.AT_REST: still_machine,
}


def broken(machine, effort):
    """Kinds of bounds that the attack on cells broke."""
    return {near.method for near in attack_leaves(swept(machine, effort), np.random.default_rng(0), 20)}


def test_every_kind_has_its_own_mutation():
    assert set(CASES) == set(Method) - {Method.NOTHING}


@pytest.mark.parametrize("kind", CASES)
def test_a_bound_that_takes_off_too_little_is_seen_and_no_other(kind):
    machine, effort = CASES[kind](), Effort() if kind is Method.BOXES else QUICK
    assert broken(machine, effort) == set()
    with weakened(kind):
        assert broken(machine, effort) == {kind}


def map_breaks(machine):
    """How many settings are nearer than the map proves, and whether its centres are those that are measured there."""
    made = mapped(machine, cells=5)
    distances, _ = true_distances(machine, made.field.settings)
    as_measured = np.abs(made.field.found[0] - distances.min(axis=0)).max() < 1e-6
    return too_high(machine, made, 150)[0], bool(as_measured)


@pytest.mark.parametrize("kind", [Method.SWEPT_BOXES, Method.BOXES, Method.CENTRE])
def test_a_map_whose_cells_take_off_too_little_is_seen(kind):
    with weakened(kind):
        assert map_breaks(sliding_machine())[0] > 0


def test_a_map_whose_centres_are_spared_a_measurement_that_they_need_is_seen():
    assert map_breaks(sliding_machine()) == (0, True)
    with weakened(Method.CARRIED), np.errstate(invalid="ignore"):
        assert not map_breaks(sliding_machine())[1]
