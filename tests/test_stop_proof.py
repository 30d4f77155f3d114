"""The re-sweep of a machine with its stops built in, and the proof that each stop is struck everywhere."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from stop_machines import both_stops, table

from assembly.clearance.outcome import Effort, Verdict
from assembly.clearance.stop_contact import prove_struck
from assembly.clearance.stop_gap import StopGap
from assembly.model.reader import machine_from_text
from assembly.model.stops import without_stops
from assembly.motion.assembling import assemble
from assembly.motion.solver import solve
from assembly.studies.stop_design import design_stops
from assembly.studies.stop_proof import prove_stops

HERE = Path(__file__).resolve().parent
DECIDED = Effort(cores=1, decide_only=True)


def quiet(*_):
    pass


def proven(text, **heights):
    designed = design_stops(machine_from_text(text, HERE), quiet, heights=heights)
    return designed, prove_stops(designed.machine, designed.designs, DECIDED, quiet)


def test_stopped_range_is_swept_with_the_stops_built_in():
    designed, proof = proven(both_stops(margin="clearance = 3.0, joints = 0, play = 0.5"))
    assert {"lock", "lock_right"} <= proof.mechanism.machine.parts.keys()
    assert all(result.verdict is Verdict.CLEAR for result in proof.swept.pairs)
    steer = proof.mechanism.machine.drives["steer"]
    acts = designed.designs["lock"].ways[0].acts
    assert acts + 0.5 < steer.high < acts + 0.5 + 0.5
    assert steer.low == pytest.approx(-steer.high, abs=0.01)
    assert all(one.proven for one in proof.struck.values())
    assert any({left_out.a, left_out.b} == {"lock", "knuckle_left"} for left_out in proof.pairs.not_checked)


def test_stop_that_leaves_too_much_shows_in_the_sweep():
    """With bolts that are too short the rod comes nearer to the damper than the file's rule allows."""
    text = both_stops(margin="joints = 0").replace("[clearance]\n", "[clearance]\nrequired = 3\n", 1)
    heights = {"lock": 53.0, "lock_right": 53.0}
    designed = design_stops(machine_from_text(text, HERE), quiet, heights=heights)
    assert prove_stops(designed.machine, designed.designs, DECIDED, quiet) is None
    designs = {name: replace(design, faults=()) for name, design in designed.designs.items()}
    proof = prove_stops(designed.machine, designs, DECIDED, quiet)
    failing = [result.pair for result in proof.swept.pairs if result.verdict is Verdict.FAILS]
    assert [{pair.a, pair.b} for pair in failing] == [{"damper", "tie_rod"}]


def test_what_a_rule_dictates_can_be_proven_of_the_surfaces_as_drawn():
    """The stop leaves the file's 3 mm, and as much more as the facets stand off the true surfaces."""
    text = both_stops(margin="joints = 0").replace("[clearance]\n", "[clearance]\nrequired = 3\n", 1)
    text = text.replace("facet_error = 0.004", "facet_error = 0.05")
    _, proof = proven(text)
    assert all(result.verdict is Verdict.CLEAR for result in proof.swept.pairs)


def test_pad_is_proven_to_be_struck_at_every_turn():
    """Closed form: 65 mm at rest, the pad 40 high, so the top comes down on it after 25."""
    designed, proof = proven(table())
    design = designed.designs["rest"]
    assert design.recommended == pytest.approx(40.0, abs=0.01)
    assert {round(way.acts, 2) for way in design.ways} == {25.0}
    assert proof.struck["rest"].proven


def test_pad_that_is_missed_at_some_turn_is_not_proven():
    """The corner of a top of 110 mm reaches 77.8 mm, its side only 55; the pad lies between 65 and 75."""
    machine = machine_from_text(table(110), HERE)
    mechanism = assemble(without_stops(machine))
    found = prove_struck(mechanism, machine.stops["rest"], 40.0, 25.2, np.zeros((0, 3)))
    assert not found.proven
    turn = np.deg2rad(abs(found.gap[1]))
    assert 65 * max(np.cos(turn), np.sin(turn)) > 55 - 10


@pytest.mark.parametrize("top", [129.0, 129.8, 129.99, 131.0, 140.0, 150.0])
def test_proof_never_says_struck_where_a_sample_is_not(top):
    """Attack: where the proof holds, a fine sample of the other drive must find the pad touched everywhere.

    A top of less than 130 mm misses the pad near turn 0 only, between the centres of the first cells.
    """
    machine = machine_from_text(table(top), HERE)
    mechanism = assemble(without_stops(machine))
    stop = machine.stops["rest"]
    found = prove_struck(mechanism, stop, 40.0, 25.1, np.zeros((0, 3)))
    settings = np.column_stack([np.full(361, 25.1), np.linspace(-45, 45, 361)])
    sampled = StopGap(mechanism, stop).heights(solve(mechanism, settings)) <= 40.0
    assert sampled.all() == (top > 130)
    assert found.proven == (top > 130)


def test_stop_that_is_not_pressed_yet_is_not_proven():
    machine = machine_from_text(table(), HERE)
    mechanism = assemble(without_stops(machine))
    assert not prove_struck(mechanism, machine.stops["rest"], 40.0, 24.9, np.zeros((0, 3))).proven


def test_soft_stop_does_not_end_the_stopped_range():
    text = both_stops(margin="clearance = 3.0, joints = 0")
    lock = text[text.index("[stops.lock]") : text.index("[stops.lock_right]")]
    soft = lock.replace("[stops.lock]", "[stops.soft]").replace(", 0]\nalong", ", -14]\nalong")
    designed, proof = proven(f'{text}\n{soft}ahead_of = {{ stop = "lock", by = 2 }}\n')
    assert proof.mechanism.machine.drives["steer"].high > designed.designs["lock"].ways[0].acts
    assert abs(designed.designs["soft"].ways[0].acts) < abs(designed.designs["lock"].ways[0].acts)


def test_heights_of_the_file_are_parts_of_the_machine():
    machine = machine_from_text(table() + "height = 40\n", HERE)
    assert machine.parts["rest"].mesh.bounds[:, 2].tolist() == pytest.approx([-10.0, 30.0])
    assert machine.joints["rest on base"].first == "base"
    assert replace(without_stops(machine), stops=machine.stops).parts.keys() == {"base", "column", "top"}
