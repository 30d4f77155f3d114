"""Ways and fits of a stop design as tasks: the same on any number of workers, and honest whatever ends them.

The oracle of all figures is the design in one process.
"""

import json
import os
import pickle
import signal
import time
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from clocks import Clock
from small_machines import quiet
from stop_machines import designed_stops, rack, table_beside_a_post
from test_tasks import Here

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof import task_groups
from assembly.clearance.proof.solid_table import stock_of
from assembly.clearance.stops import stop_ways
from assembly.clearance.stops.design_tasks import FREE, DesignContext, WaysAsked, divided, ways_task
from assembly.errors import CutShortError, TimeLimitError
from assembly.kinematics.assembling import assemble
from assembly.model.reader import machine_from_text
from assembly.model.stop_solids import without_stops
from assembly.parallel.context import context_bytes
from assembly.parallel.every_result import LOST, EveryResult
from assembly.parallel.workers import workers
from assembly.record import json_text
from assembly.studies.stops.stop_design import settle_stops
from assembly.time_limit import check_time, time_limit

HERE = Path(__file__).resolve().parent
SLACK_S = 20.0
"""For a machine that is busy with other things."""


@pytest.fixture(autouse=True)
def _however_little_there_is_to_do(monkeypatch):
    monkeypatch.setattr(task_groups, "WORTH_WORKERS", -1.0)


def settled(text, cores=1, executor=None):
    effort = Effort(cores=cores, decide_only=True, strikes_shown=False)
    record = settle_stops(machine_from_text(text, HERE), effort, quiet, executor=executor).record
    told = json.loads(json_text(record))
    # Cells that two workers cut are counted twice.
    return {**told, "made": "", "proof": {**told["proof"], "cells": 0, "distance_queries": 0}}


@cache
def alone(text):
    return settled(text)


def test_the_number_of_workers_changes_no_bit_of_a_design():
    """The first design fails its proof, so ways and fits are asked for again after a sweep had workers of its own."""
    assert alone(table_beside_a_post())["verdict"] == "clear"
    assert settled(table_beside_a_post(), 3) == alone(table_beside_a_post())


def test_an_executor_that_is_handed_in_does_the_design_too():
    executor = Here()
    assert settled(rack(), 2, executor) == alone(rack())
    assert executor.tasks > 4


def design_context(text):
    bare = without_stops(machine_from_text(text, HERE)).widened
    mechanism = assemble(bare)
    return DesignContext(mechanism, stock_of(mechanism, gather_pairs(bare, mechanism.bodies).moving))


def test_ways_are_the_same_in_any_lots_and_from_a_context_that_was_sent():
    context = design_context(table_beside_a_post())
    others = np.zeros((5, 2))
    others[:, 1] = [-20.0, 4.9, 5.3, 5.6, 30.0]
    down = context.mechanism.machine.drives["down"]
    asked = WaysAsked(0, down.high, others, (FREE, (1.0, 0.0)))
    sent = pickle.loads(context_bytes(context))  # noqa: S301 - written just now
    ((free, kept),) = ways_task(context, [asked])
    assert {end.names for end in kept} > {("post", "top")}
    for count in (2, 3):
        lots = divided([asked], count)
        assert len(lots) > 1
        found = [own for lot in lots for own in ways_task(sent, lot)]
        assert sum((own[0] for own in found), ()) == free
        assert sum((own[1] for own in found), ()) == kept


def test_ways_of_several_sides_gone_together_end_as_each_side_does_alone():
    """Closed form: the top comes down by 65 mm onto what carries it, or by 15 onto the post under its corner."""
    context = design_context(table_beside_a_post())
    down, turn = context.mechanism.machine.drives.values()
    asked = [
        WaysAsked(0, down.high, np.array([[0.0, 5.3], [0.0, 4.9]]), (FREE,)),
        WaysAsked(1, turn.high, np.array([[10.0, 0.0], [20.0, 0.0], [0.0, 0.0]]), ((1.0, 0.0), FREE)),
        WaysAsked(1, turn.low, np.array([[20.0, 0.0]]), (FREE, (1.0, 0.0))),
    ]
    assert ways_task(context, asked) == [ways_task(context, [one])[0] for one in asked]
    assert ways_task(context, asked[::-1]) == ways_task(context, asked)[::-1]


def test_every_way_is_in_one_lot_and_lots_have_about_as_many():
    rows = np.arange(20.0).reshape(10, 2)
    every = [WaysAsked(0, end, rows, (FREE,)) for end in (-1.0, 1.0)]
    for count in (1, 2, 7, 64):
        lots = divided(every, count)
        sizes = [sum(len(one.others) for one in lot) for lot in lots]
        assert len(lots) == min(count, 20)
        assert max(sizes) - min(sizes) <= 2
        for end in (-1.0, 1.0):
            own = sorted(row for lot in lots for one in lot if one.end == end for row in one.others.tolist())
            assert own == rows.tolist()
    assert divided([], 2) == []


@pytest.mark.parametrize("times", [1, 99])
def test_a_worker_that_dies_of_a_way_is_replaced_once_and_then_told(monkeypatch, tmp_path, times):
    main = os.getpid()

    def deadly(context, asked):
        marks = list(tmp_path.iterdir())
        if os.getpid() != main and len(marks) < times:
            (tmp_path / str(len(marks))).touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return ways_task(context, asked)

    monkeypatch.setattr(stop_ways, "ways_task", deadly)
    deadly.__module__, deadly.__qualname__ = stop_ways.__name__, "ways_task"
    if times == 1:
        design = designed_stops(machine_from_text(rack(), HERE), quiet, 2).designs["spacer"]
        assert design.ways == designed_stops(machine_from_text(rack(), HERE), quiet).designs["spacer"].ways
        assert list(tmp_path.iterdir())
    else:
        with pytest.raises(CutShortError, match=LOST):
            designed_stops(machine_from_text(rack(), HERE), quiet, 2)


def lasts(_context, seconds):
    """A task that looks at the clock as long as it lasts."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        check_time()
        time.sleep(0.01)
    return seconds


@pytest.mark.parametrize("ended_by", [KeyboardInterrupt, TimeLimitError])
def test_tasks_under_way_end_when_the_run_is_stopped_and_that_is_what_is_told(ended_by):
    def told(_stage, done, _every):
        if done:
            raise ended_by("stopped")

    start = time.monotonic()
    with workers(2) as hands, pytest.raises(ended_by, match="stopped"):
        EveryResult(None, hands, told).of(lasts, [(0.0,), (60.0,)], "wait")
    assert time.monotonic() - start < SLACK_S


def test_a_task_that_sees_first_that_the_time_is_over_says_so():
    with time_limit(9.0, Clock(step=1.0)), workers(2, Here()) as hands, pytest.raises(TimeLimitError) as caught:
        EveryResult(None, hands, quiet).of(lasts, [(60.0,)], "wait")
    assert caught.value.told == "the time limit of 9 s was reached"


def test_results_come_in_the_order_of_their_arguments_here_and_there():
    with workers(2) as hands:
        assert EveryResult(None, hands, quiet).of(lasts, [(0.1,), (0.0,), (0.05,)]) == [0.1, 0.0, 0.05]
    assert EveryResult(None, None, quiet).of(lasts, [(0.01,), (0.0,)]) == [0.01, 0.0]
