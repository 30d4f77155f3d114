"""Pairs of two independent groups that cannot come near each other are told by one box round the room of each part."""

from pathlib import Path

import pytest
from mutations import weakened
from small_machines import quiet
from test_product_cells import QUICK, SIZE, STROKE, sliders

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.proof.cached import Depth
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.far_apart import FAR
from assembly.clearance.proof.lower_bound import Method
from assembly.clearance.proof.pair_state import PairState
from assembly.clearance.proof.solid_table import SolidTable
from assembly.clearance.proof.stages import SearchStages
from assembly.clearance.proof.sweep import AT_REST_AT_ONCE
from assembly.kinematics.assembling import assemble
from assembly.studies.sweep.whole_sweep import sweep_machine

FAR_PITCH = 90.0
"""Blocks leave 60 mm at the least between them; 50 mm are far."""


def told(machine, effort=QUICK):
    """What is told of far pairs, by their names, and how many are left to be searched."""
    mechanism = assemble(machine)
    pairs = gather_pairs(machine, mechanism.bodies)
    states = [PairState(pair) for pair in pairs.checked]
    solid_table = SolidTable(mechanism, pairs.solids, split=True)
    bench = Bench((), Path(), None)
    SearchStages(CellGroups(mechanism), solid_table, bench, effort, quiet, lambda: None).tell_far(states)
    known = {(one.pair.a, one.pair.b): one.known.found[Depth.APART].result for one in states if one.known}
    return known, len(states) - len(known)


def least_gap(a, b, pitch):
    """Closed form: what two blocks leave between them at the ends of both strokes."""
    return pitch * abs(int(a.split("_")[1]) - int(b.split("_")[1])) - SIZE - 2 * STROKE


def test_what_is_told_of_far_pairs_is_the_gap_at_the_ends_of_both_strokes():
    found, left = told(sliders(4, FAR_PITCH))
    assert len(found) == 6
    assert left == 4
    for (a, b), result in found.items():
        assert result.verdict is Verdict.CLEAR
        assert result.proven == pytest.approx(least_gap(a, b, FAR_PITCH), abs=1e-3)
        assert result.proven <= least_gap(a, b, FAR_PITCH)
        assert result.least == pytest.approx(least_gap(a, b, FAR_PITCH) + 2 * STROKE)
        assert result.at == (0, 0, 0, 0)
        assert result.told_of_range


def test_half_of_the_room_that_a_part_takes_is_seen():
    with weakened(Method.SWEPT_BOXES):
        found, _ = told(sliders(2, FAR_PITCH))
    assert found["block_0", "block_1"].proven > least_gap("block_0", "block_1", FAR_PITCH) + 0.1


def test_what_is_told_does_not_depend_on_what_else_there_is():
    few, more = told(sliders(3, FAR_PITCH))[0], told(sliders(5, FAR_PITCH))[0]
    for names, result in few.items():
        assert more[names].proven == pytest.approx(result.proven, abs=1e-9)
        assert more[names].least == pytest.approx(result.least, abs=1e-9)


def test_pairs_that_may_come_near_and_those_asked_for_are_searched():
    near = FAR * QUICK.interest_mm + SIZE + 2 * STROKE - 1
    assert [told(sliders(count, near))[1] for count in (4, 8)] == [4 + 3, 8 + 7]
    asked = Effort(decide_only=True, pairs=(("block_3", "block_0"),))
    assert ("block_0", "block_3") not in told(sliders(4, FAR_PITCH), asked)[0]
    assert not told(sliders(3, FAR_PITCH), Effort(decide_only=True, parts=("block_1",)))[0].keys() - {
        ("block_0", "block_2")
    }


def test_a_sweep_searches_those_alone_that_may_be_among_the_nearest():
    checked, record = sweep_machine(sliders(13, FAR_PITCH), QUICK, quiet, advise=False)
    searched = sum(state.search is not None for state in checked.swept.states)
    assert searched <= 13 + AT_REST_AT_ONCE < len(record.pairs)
    assert all(pair.verdict == "clear" for pair in record.pairs)
    assert min(pair.proven_mm for pair in record.pairs if pair.a != "bed") == pytest.approx(60, abs=1e-3)
    told = [pair for pair in record.pairs if not pair.at]
    assert len(told) == len(record.pairs) - searched
    assert all(pair.terms.at == {} and pair.point_a is not None for pair in told)
