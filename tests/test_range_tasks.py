"""The usable range as tasks: the same figures for any number of workers, with a sweep before it or without."""

import os
import pickle
import signal
import sys
from dataclasses import replace
from math import cos, radians, sin

import numpy as np
import pytest
from small_machines import quiet, read
from test_rolls_in_studies import KEPT_OFF, machine
from usable_machines import over_range, table

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.clearance.proof import task_groups
from assembly.clearance.proof.solid_table import stock_of
from assembly.clearance.proof.worst_roll import worst_roll
from assembly.clearance.region import rule_tasks
from assembly.clearance.region.rule_tasks import RulesContext, close_in_task, over_task
from assembly.kinematics.assembling import assemble
from assembly.kinematics.solver import solve
from assembly.parallel.context import context_bytes
from assembly.parallel.every_result import EveryResult
from assembly.parallel.workers import workers
from assembly.studies.sweep.check import check
from assembly.studies.usable.usable_range import RangeWish, find_usable_range


@pytest.fixture(scope="module")
def rig():
    """A machine with two drives, what a sweep says of it, and its range found in one process without that."""
    made = read(table())
    return made, check(made, Effort(), quiet).before, over_range(table(), 8)


@pytest.mark.parametrize("lot", [1, 5])
def test_the_range_is_the_same_in_any_lots_on_any_workers_and_after_a_sweep(rig, monkeypatch, lot):
    made, before, alone = rig
    monkeypatch.setattr(task_groups, "WORTH_WORKERS", -1.0)
    monkeypatch.setattr(rule_tasks, "PLACES_TOGETHER", lot)
    found = find_usable_range(made, RangeWish(8), quiet, cores=2, swept=before).record
    assert replace(found, machine=alone.machine) == alone


def test_a_context_that_was_sent_gives_the_same(rig):
    made, before, _ = rig
    mechanism = assemble(made.widened)
    moving = before.pairs.moving
    context = RulesContext(before, mechanism, moving, stock_of(mechanism, moving))
    sent = pickle.loads(context_bytes(context))  # noqa: S301 - written just now
    assert not sent.made
    grid = np.array([[x, y] for x in (0.0, 10.0) for y in (0.0, 20.0)])
    (own, seen), (theirs, there) = over_task(context, grid), over_task(sent, grid)
    assert seen == there
    np.testing.assert_array_equal(own.pair_room, theirs.pair_room)
    inside, outside, governor = np.zeros((1, 2)), np.array([[20.0, 0.0]]), np.array([1])
    asked = seen, inside, outside, governor
    for one, other in zip(close_in_task(context, *asked), close_in_task(sent, *asked), strict=True):
        np.testing.assert_array_equal(one, other)
    assert governor.tolist() == [1]


def test_what_shows_a_pair_is_measured_with_the_solids_that_are_ready(rig):
    made, before, _ = rig
    mechanism, moving = assemble(made.widened), before.pairs.moving
    context = RulesContext(before, mechanism, moving, stock_of(mechanism, moving))
    pair = next(pair for pair in moving.checked if {pair.a, pair.b} == {"base", "peg"})
    near = context.witnesses.nearest(pair, solve(mechanism, np.zeros((1, 2))).posture)
    assert near.distance == pytest.approx(np.hypot(30, 20) - 10, abs=0.01)
    assert context.witnesses is context.witnesses
    ready = context.rules._survey.bench.collision_models
    assert all(context.witnesses._probes[one] in ready for one in (pair.trim_a, pair.trim_b))


def test_whether_one_lies_in_the_other_is_not_asked_again_of_rolls_near_by(monkeypatch):
    """Closed form: 8 - 120 sin 1.5 - 3 cos 1.5 mm are left at the worst roll; no contact lies on the way to it."""
    mechanism = assemble(machine(KEPT_OFF))
    asked = []
    contained = Witnesses.contained
    monkeypatch.setattr(Witnesses, "contained", lambda *given: asked.append(given) or contained(*given))
    pairs = check(machine(KEPT_OFF), Effort(decide_only=True), quiet).before.pairs
    pairs = pairs.only(pair for pair in pairs.checked if {pair.a, pair.b} == {"ground", "pushrod"})
    (search,) = stock_of(mechanism, pairs).searches
    witnesses = Witnesses(mechanism, pairs.solids)
    asked.clear()
    (look,) = worst_roll(mechanism, witnesses, search, solve(mechanism, np.zeros((1, 1))).posture).looks
    assert look.distance == pytest.approx(8 - 120 * sin(radians(1.5)) - 3 * cos(radians(1.5)), abs=1e-4)
    assert not asked


@pytest.mark.skipif(sys.platform != "linux", reason="only there are workers forked")
def test_a_process_that_is_ended_as_it_is_forked_does_not_go_on_as_the_main_one(tmp_path):
    """A signal that reaches it before it is a worker would be acted on as the main process does."""
    kinds = {signal.SIGTERM, signal.SIGINT}
    seen = tmp_path / "masks"
    fork = os.fork

    def noted():
        with seen.open("a") as file:
            file.write(f"{kinds <= signal.pthread_sigmask(signal.SIG_BLOCK, ())}\n")
        return fork()

    with pytest.MonkeyPatch.context() as patch, workers(2) as hands:
        patch.setattr(os, "fork", noted)
        tasks = EveryResult("context", hands, quiet)
        assert tasks.of(mask_task, [(), ()]) == [False, False]
    assert set(seen.read_text().split()) == {"True"}
    assert not kinds & signal.pthread_sigmask(signal.SIG_BLOCK, ())


def mask_task(_context):
    """Whether a worker holds any of these signals back."""
    return bool({signal.SIGTERM, signal.SIGINT} & signal.pthread_sigmask(signal.SIG_BLOCK, ()))
