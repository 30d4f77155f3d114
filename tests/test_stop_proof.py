"""The re-sweep of a machine with its stops built in, and the proof that each stop is struck everywhere."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from stop_machines import both_stops, designed_stops, rack, table
from tries import first

from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.stops.stop_contact import prove_struck
from assembly.clearance.stops.stop_gap import StopGap
from assembly.clearance.stops.stop_proof import prove_stops
from assembly.kinematics.assembling import assemble
from assembly.kinematics.cell_motion import bound_motion
from assembly.kinematics.solver import solve
from assembly.model.reader import machine_from_text
from assembly.model.stop_solids import without_stops
from assembly.studies.stops.stop_record import stops_record

HERE = Path(__file__).resolve().parent
CASES = HERE / "cases"
DECIDED = Effort(cores=1, decide_only=True)


def quiet(*_):
    pass


def proven(text, **heights):
    designed = designed_stops(machine_from_text(text, HERE), quiet, heights=heights)
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
    designed = designed_stops(machine_from_text(text, HERE), quiet, heights=heights)
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


@pytest.mark.parametrize("top", first([129.99, 129.8, 140.0, 129.0, 131.0, 150.0], 3))
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


def test_a_drive_that_does_not_move_the_stop_costs_its_proof_nothing():
    """A wheel beside the table that turns all round: the same proof in as many cells as without it."""
    wheel = """
[parts.wheel]
shapes = [{ name = "wheel", box = [900, 0, 0], size = [40, 40, 40] }]

[joints.hub]
pin = ["base", "wheel"]
at = [900, 0, 0]
along = [0, 0, 1]

[drives.spin]
turns = { hub = 1 }
range = [0, 360]
"""
    proofs = []
    for text in (table(), table() + wheel):
        machine = machine_from_text(text, HERE)
        mechanism = assemble(without_stops(machine))
        proofs.append(prove_struck(mechanism, machine.stops["rest"], 40.0, 25.1, np.zeros((0, 3))))
    assert proofs[0] == proofs[1]
    assert proofs[1].proven


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


def bolt_end(swing, height):
    """z of the lowest point of the bolt of the case (closed form): its foot is 200 mm from the hinge, 10 degrees up."""
    lean = np.deg2rad(10 - swing)
    return 200 * np.sin(lean) - height * np.cos(lean) - 2.5 * abs(np.sin(lean))


def struck_at(level, height):
    """The swing at which the bolt of the case comes down to ``level`` (closed form)."""
    return brentq(lambda swing: bolt_end(swing, height) - level, -30, 30)


def case_proof(name, height, at, edit=str):
    machine = machine_from_text(edit((CASES / name).read_text(encoding="utf-8")), CASES)
    return prove_struck(assemble(without_stops(machine)), machine.stops["s"], height, at, np.zeros((0, 3)))


def test_bolt_is_not_proven_to_be_struck_where_it_finds_a_hole():
    """Closed form: the block's face is met at 9.00 degrees, the bottom of its hole, 5 mm below, at 10.44."""
    height = 23.46
    face, bottom = struck_at(-20, height), struck_at(-25, height)
    assert (face, bottom) == pytest.approx((8.997, 10.436), abs=0.001)
    for at in (face + 0.02, (face + bottom) / 2, bottom - 0.1):
        found = case_proof("stop_finds_a_hole.toml", height, at)
        assert not found.proven
        assert abs(found.gap[1] - 13.37) < 0.5, "the bolt of 5 mm has half a millimetre to either side"
    assert case_proof("stop_finds_a_hole.toml", height, (face + bottom) / 2).missed
    assert case_proof("stop_finds_a_hole.toml", height, bottom + 0.02).proven


def test_bolt_on_a_whole_block_is_proven_to_be_struck_at_its_face():
    def whole(text):
        return text[: text.index(", cut = [")] + text[text.index("] } ]") + 1 :].replace("} ]", "} ]", 1)

    at = struck_at(-20, 23.46)
    assert case_proof("stop_finds_a_hole.toml", 23.46, at + 0.003, whole).proven
    assert not case_proof("stop_finds_a_hole.toml", 23.46, at - 0.003, whole).proven


def test_surface_error_of_a_mesh_is_taken_off_the_proof():
    """Closed form: where the true face lies 1 mm deeper, the bolt meets it 0.29 degrees later."""
    drawn, deeper = struck_at(-20, 23.46), struck_at(-21, 23.46)
    assert deeper - drawn == pytest.approx(0.2896, abs=0.001)
    for at, proven in ((drawn + 0.02, False), (deeper - 0.003, False), (deeper + 0.006, True)):
        found = case_proof("stop_mesh_with_surface_error.toml", 23.46, at)
        assert (found.proven, found.missed) == (proven, False)


def test_surface_error_of_a_mesh_is_taken_off_the_height():
    """Closed form: by 9 degrees the bolt must be down at z = -21, and may be struck from z = -19 on."""
    text = (CASES / "stop_mesh_with_surface_error.toml").read_text(encoding="utf-8")
    designed = designed_stops(machine_from_text(text, CASES), quiet)
    height = brentq(lambda height: bolt_end(9.0, height) + 21, 20, 30)
    assert designed.designs["s"].recommended == pytest.approx(height, abs=0.01)
    acts = stops_record(designed, None).stops[0].acts
    assert acts.first == pytest.approx(struck_at(-19, height), abs=0.01)
    assert acts.last == pytest.approx(9.0, abs=0.005)


def test_cell_of_no_width_is_certified_however_little_its_posture_misses():
    """A posture that misses by 1e-9 mm at one joint and by nothing at another must not be refused."""
    machine = without_stops(machine_from_text(rack().replace("[-75, 75]", "[0, 64.32]"), HERE))
    mechanism = assemble(machine)
    solved = solve(mechanism, np.linspace(60.0, 64.32, 97)[:, None])
    assert bound_motion(mechanism, solved, np.zeros((97, 1))).certified.all()
