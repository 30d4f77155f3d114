"""Machines that do not close at rest: the edit that is blamed, by how much, and where the file has it (own models)."""

import re
from pathlib import Path

import numpy as np
import pytest
from braced_machines import gates, length, read

from assembly.cli import main
from assembly.errors import AssemblyError
from assembly.kinematics.assembling import assemble
from assembly.kinematics.bodies import gather_bodies
from assembly.kinematics.loop_closure import remedies
from assembly.model.reader import read_machine

CASES = Path(__file__).resolve().parent / "cases"


def faults_of(machine):
    with pytest.raises(AssemblyError) as told:
        assemble(machine)
    return told.value.faults


def line_of(text, piece):
    """The line of the file in which ``piece`` stands."""
    return text[: text.index(piece)].count("\n") + 1


@pytest.fixture(scope="module")
def machine():
    return read_machine(CASES / "wrong_loop_blamed.toml")


@pytest.fixture(scope="module")
def faults(machine):
    return faults_of(machine)


@pytest.fixture(scope="module")
def farthest(machine):
    """Closed form: a point that turns about a line is farthest from another where their radii lie opposite."""
    low, high, outer, inner = (
        np.array(machine.points[name])
        for name in ("lower_ball_left", "upper_ball_left", "tie_outer_left", "tie_inner_left")
    )
    axis = (high - low) / np.linalg.norm(high - low)
    along = (outer - low) @ axis, (inner - low) @ axis
    radii = [np.linalg.norm(np.cross(point - low, axis)) for point in (outer, inner)]
    return float(np.hypot(along[0] - along[1], sum(radii)))


class TestTwoTieRodsOfAWrongLength:
    """Case wrong_loop_blamed: one line sets both tie rods to 420 mm where 195 mm is drawn."""

    def test_the_one_line_that_was_edited_is_blamed(self, faults):
        (fault,) = faults
        text = (CASES / "wrong_loop_blamed.toml").read_text(encoding="utf-8")
        assert fault.line == line_of(text, "is = 420")
        assert fault.place == "parts.tie_rod_left.set_length"
        assert "tie_rod_left and tie_rod_right are set to 420 mm" in fault.message
        assert "drawn 195 mm" in fault.message
        assert "drag" not in fault.message

    def test_it_is_told_from_which_length_on_the_loops_close(self, machine, faults, farthest):
        ((change,),) = remedies(machine, gather_bodies(machine))
        assert 420 + change.mm == pytest.approx(farthest, abs=2e-3)
        assert change.least
        (fault,) = faults
        told = float(re.search(r"closed from ([\d.]+) mm down", fault.hint)[1])
        assert farthest - 0.02 < told <= farthest
        for side in ("left", "right"):
            missed = re.search(rf"loop (?:through )?tie_outer_{side}\b.*? by ([\d.]+) mm", fault.message)
            assert float(missed[1]) == pytest.approx(420 - farthest, abs=0.006)

    def test_inspect_shows_the_two_loops_that_do_not_close(self, capsys):
        status = main(["inspect", str(CASES / "wrong_loop_blamed.toml"), "--all"])
        told = " ".join(capsys.readouterr().out.split())
        assert status == 1
        loops = re.findall(r"loop ([\w –]+?): (closes|DOES NOT CLOSE)", told)
        shut = {names for names, how in loops if how == "closes"}
        assert len(loops) == 5
        assert shut == {names for names, _how in loops if "tie_" not in names}


class TestBlame:
    # closed form: the arms stand 120 mm apart
    @pytest.mark.parametrize("wrong", [123.5, 60.0])
    def test_of_three_edited_rods_the_wrong_one_is_named_with_its_line(self, wrong):
        text = gates(a=length("a", 120), b=length("b", wrong), c=length("c", 120))
        machine = read(text)
        (fault,) = faults_of(machine)
        assert fault.line == line_of(text, length("b", wrong))
        assert f"rod_b is set to {wrong:g} mm from top_b to end_b, drawn 120 mm" in fault.message
        assert f"the loop end_b - top_b - foot_b - far_b misses by {abs(wrong - 120):.2f} mm" in fault.message
        assert f"closed at 120 mm, {abs(wrong - 120):g} mm {'shorter' if wrong > 120 else 'longer'}" in fault.hint
        ((change,),) = remedies(machine, gather_bodies(machine))
        assert change.mm == pytest.approx(120 - wrong, abs=2e-3)
        assert not change.least

    def test_two_wrong_rods_are_each_named(self):
        text = gates(a=length("a", 117), b=length("b", 120), c=length("c", 122))
        first, second = faults_of(read(text))
        assert first.line == line_of(text, length("a", 117))
        assert second.line == line_of(text, length("c", 122))
        assert "misses by 3.00 mm" in first.message
        assert "misses by 2.00 mm" in second.message
        assert "and parts.rod_c.set_length with it" in first.hint

    @pytest.mark.long
    def test_three_wrong_rods_are_each_named(self):
        text = gates(a=length("a", 117), b=length("b", 121), c=length("c", 122), d=length("d", 120))
        blamed = sorted(fault.place for fault in faults_of(read(text)))
        assert blamed == [f"parts.rod_{name}.set_length" for name in "abc"]

    def test_a_point_of_a_parts_own_is_named_by_how_far_it_lies_off(self):
        text = gates(a="points = { end_a = [123, 0, 84] }", b=length("b", 120))
        (fault,) = faults_of(read(text))
        assert fault.line == line_of(text, "points = { end_a")
        assert "rod_a has end_a 5 mm from where it is drawn" in fault.message
        # closed form: the rod's end must be 120 mm from its other end; along the way back to the drawing that is so
        # where (120 + 3 s)² + (4 s)² = 120², which is only at s = 0
        assert "closed with the point 5 mm nearer to the drawing" in fault.hint

    # closed form: either edit alone could give way, by 4 mm less or by 4 mm more
    def test_other_edits_that_would_close_it_are_told_after_the_smallest(self):
        text = gates(a=length("a", 124)).replace(
            "[parts.far_a]", '[parts.far_a]\nset_length = { from = "far_a", to = "end_a", is = 81 }'
        )
        machine = read(text)
        found = remedies(machine, gather_bodies(machine))
        # the far end then stands at (120, 81) and the near one at (0, 80)
        apart = float(np.hypot(120, 1))
        assert found[0][0].freed.place == "parts.rod_a.set_length"
        assert found[0][0].mm == pytest.approx(apart - 124, abs=2e-3)
        # closed form: an end at (120, 80 + r) is 124 from (0, 80) where r is the root of 124² - 120²
        raised = float(np.sqrt(124**2 - 120**2))
        assert found[1][0].freed.place == "parts.far_a.set_length"
        assert 81 + found[1][0].mm == pytest.approx(80 + raised, abs=2e-3)
        (fault,) = faults_of(machine)
        assert "or instead parts.far_a.set_length in line" in fault.hint

    def test_a_machine_that_closes_with_its_edits_is_not_refused(self):
        raised = float(np.sqrt(124**2 - 120**2))
        text = gates(a=length("a", 124)).replace(
            "[parts.far_a]", f'[parts.far_a]\nset_length = {{ from = "far_a", to = "end_a", is = {80 + raised} }}'
        )
        assert {edit.length for edit in assemble(read(text)).machine.edits} == {124, 80 + raised}


class TestFreedomsThatNothingSets:
    def test_a_free_link_is_told_once_with_its_line(self, capsys):
        path = CASES / "free_link_said_three_times.toml"
        (fault,) = faults_of(read_machine(path))
        assert fault.line == line_of(path.read_text(encoding="utf-8"), "[parts.link]")
        # closed form: a part on one ball can turn three ways
        assert "link can move: these 3 freedoms have no drive" in fault.message
        assert "eye (ball)" in fault.hint
        assert main(["inspect", str(path)]) == 1
        told = " ".join(capsys.readouterr().out.split())
        assert told.count("nothing sets how link can move") == 2, "as the answer, first and last"
        assert "4 in all: the drives set 1 motion of a joint, and 3 others" in told

    def test_parts_that_move_apart_from_each_other_have_a_line_each(self):
        loose = "".join(
            f"[parts.flap_{name}]\nshapes = [{{ sphere = [0, 0, {high}], diameter = 9 }}]\n"
            f'[joints.hang_{name}]\nball = ["near_a", "flap_{name}"]\nat = [0, 0, {high}]\n'
            for name, high in (("one", 20), ("two", 40))
        )
        text = gates(a="") + loose
        faults = faults_of(read(text))
        assert [fault.line for fault in faults] == [line_of(text, f"[parts.flap_{name}]") for name in ("one", "two")]
        assert all("these 3 freedoms" in fault.message for fault in faults)

    def test_parts_that_move_together_share_a_line(self):
        chain = (
            "[parts.upper]\nshapes = [{ sphere = [0, 0, 20], diameter = 9 }]\n"
            "[parts.lower]\nshapes = [{ sphere = [0, 0, 40], diameter = 9 }]\n"
            '[joints.knee]\nball = ["upper", "lower"]\nat = [0, 0, 30]\n'
            '[joints.hip]\npin = ["near_a", "upper"]\nat = [0, 0, 20]\nalong = [0, 1, 0]\n'
        )
        (fault,) = faults_of(read(gates(a="") + chain))
        assert "upper, lower can move: these 4 freedoms" in fault.message
