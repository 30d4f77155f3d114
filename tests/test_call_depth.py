"""How many of our own frames lie between a command and what it rests on: a layer that only passes on is one to read."""

import sys
from types import SimpleNamespace
from unittest import mock

import fcl
import pytest
from small_machines import slider

from assembly.clearance.narrow_phase import distance
from assembly.clearance.proof import facing, pair_search
from assembly.clearance.proof.lower_bound import lower_bound
from assembly.cli import main

STAGES = "sweep_pairs"


def own_frames():
    """Names of our functions from the command to the caller; comprehensions and click's own frames are no layer."""
    names, frame = [], sys._getframe(2)
    while frame is not None:
        name = frame.f_code.co_name
        if frame.f_globals.get("__name__", "").startswith("assembly.") and not name.startswith("<"):
            names.append(name)
        frame = frame.f_back
    return tuple(names[::-1])


def from_stages(stacks):
    """The part of each stack from ``sweep_pairs`` on."""
    return {stack[stack.index(STAGES) :] for stack in stacks if STAGES in stack}


@pytest.fixture(scope="module")
def stacks(tmp_path_factory):
    """The frames of every distance query, and of every bound that the refiner's questions make, of one command."""
    folder = tmp_path_factory.mktemp("depth")
    (folder / "slider.toml").write_text(slider(), encoding="utf-8")
    queries, bounds = set(), set()

    def asked(*given):
        queries.add(own_frames())
        return fcl.distance(*given)

    def bounded(*given, **named):
        bounds.add(own_frames())
        return lower_bound(*given, **named)

    library = SimpleNamespace(**{**vars(fcl), "distance": asked})
    with (
        mock.patch.object(distance, "fcl", library),
        mock.patch.object(facing, "lower_bound", bounded),
        mock.patch.object(pair_search, "lower_bound", bounded),
    ):
        asked_for = ["sweep", str(folder / "slider.toml"), "--cores", "1", "--no-picture", "--out", str(folder)]
        assert main(asked_for) == 0
    return queries, bounds


# counted: sweep_pairs, the stage, refiner, bench, its loop, the query; and sweep_pairs, stage, refiner, look, bound
def test_few_frames_lie_between_a_sweep_and_the_distance_library(stacks):
    queries = from_stages(stacks[0])
    assert {stack[-1] for stack in queries} == {"nearest_about"}
    assert min(len(stack) for stack in queries if "refine_measured" in stack) == 6
    assert max(map(len, queries)) <= 10


def test_few_frames_lie_between_a_sweep_and_the_inequality(stacks):
    bounds = from_stages(stacks[1])
    assert min(len(stack) for stack in bounds if "refine_measured" in stack) <= 4
    assert max(map(len, bounds)) <= 7


# counted: three of cli (streams, signals, errors), command, progress, API with its cache, record, check with its times
def test_few_frames_lie_between_the_command_and_a_sweep(stacks):
    before = {stack[: stack.index(STAGES)] for every in stacks for stack in every if STAGES in stack}
    assert {len(stack) for stack in before} == {8}
    assert min(len(stack) for stack in stacks[0] if "refine_measured" in stack) == 14
    assert max(map(len, stacks[0])) <= 18
    assert min(len(stack) for stack in stacks[1] if "refine_measured" in stack) == 12
    assert max(map(len, stacks[1])) <= 15
