"""How many of our own frames lie between a sweep and what it rests on: a layer that only passes on is one to read."""

import sys
from types import SimpleNamespace
from unittest import mock

import fcl
import pytest
from small_machines import read, slider
from watched_sweep import swept

from assembly.clearance.narrow_phase import distance
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof import facing, pair_search
from assembly.clearance.proof.lower_bound import lower_bound

FROM = "sweep_pairs"


def own_frames():
    """Names of our functions from ``sweep_pairs`` to the caller; comprehensions are no layer."""
    names, frame = [], sys._getframe(2)
    while frame is not None:
        name = frame.f_code.co_name
        if frame.f_globals.get("__name__", "").startswith("assembly.") and not name.startswith("<"):
            names.append(name)
        if name == FROM:
            return names[::-1]
        frame = frame.f_back
    return []


@pytest.fixture(scope="module")
def stacks():
    """The frames of every distance query, and of every bound that the refiner's questions make."""
    queries, bounds = set(), set()

    def asked(*given):
        queries.add(tuple(own_frames()))
        return fcl.distance(*given)

    def bounded(*given, **named):
        bounds.add(tuple(own_frames()))
        return lower_bound(*given, **named)

    library = SimpleNamespace(**{**vars(fcl), "distance": asked})
    with (
        mock.patch.object(distance, "fcl", library),
        mock.patch.object(facing, "lower_bound", bounded),
        mock.patch.object(pair_search, "lower_bound", bounded),
    ):
        swept(read(slider()), Effort())
    return queries - {()}, bounds - {()}


# counted: sweep_pairs, the stage, refiner, bench, its loop, the query; and sweep_pairs, stage, refiner, look, bound
def test_few_frames_lie_between_a_sweep_and_the_distance_library(stacks):
    refined = [stack for stack in stacks[0] if "refine_measured" in stack]
    assert {stack[-1] for stack in stacks[0]} == {"nearest_about"}
    assert min(map(len, refined)) == 6
    assert max(map(len, stacks[0])) <= 10


def test_few_frames_lie_between_a_sweep_and_the_inequality(stacks):
    refined = [stack for stack in stacks[1] if "refine_measured" in stack]
    assert min(map(len, refined)) <= 5
    assert max(map(len, stacks[1])) <= 8
