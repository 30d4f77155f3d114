"""Rolls as columns of the settings: where they put a rod, and what its ends allow of them."""

from dataclasses import replace

import numpy as np
import pytest
from front_ends import front_end
from rod_machines import twisted_rod
from scipy.spatial.transform import Rotation
from small_machines import HERE

from assembly.errors import InputError
from assembly.kinematics.assembling import assemble
from assembly.kinematics.cell_bounds import BodiesMotion
from assembly.kinematics.cell_motion import bound_motion
from assembly.kinematics.roll_columns import allowed, excluded, moved_by_rolls, rolling_rods, with_rolls
from assembly.kinematics.solver import follow, solve
from assembly.model.machine import RollRule
from assembly.model.reader import machine_from_text
from assembly.studies.shared import roll_entries


def rod(roll="", **given):
    text = twisted_rod(-20, 20, **given).replace("[parts.rod]", f"[parts.rod]\n{roll}")
    return assemble(machine_from_text(text, HERE))


def rolled(mechanism, settings):
    """How far in degrees the rod of ``twisted_rod`` is turned about its line, which stays where it is."""
    rotations = solve(mechanism, np.array(settings, dtype=float)).posture.rotations[:, mechanism.bodies.body_of["rod"]]
    return Rotation.from_matrix(rotations).as_rotvec(degrees=True)


# closed form: the rod's line never moves, so the roll is the whole turn about y, from its first joint to its last
def test_settings_roll_a_rod_about_its_line_from_its_first_joint_to_its_last():
    mechanism = with_rolls(rod(), [0])
    assert list(mechanism.machine.drives) == ["twist", "roll of rod"]
    found = rolled(mechanism, [[10, 0], [10, 25], [-20, -170]])
    assert found == pytest.approx(np.array([[0, 0, 0], [0, 25, 0], [0, -170, 0]]), abs=1e-9)


def test_a_rod_that_the_file_clamps_stands_so_at_every_setting_and_has_not_moved_at_rest():
    mechanism = rod("roll = 25")
    assert rolled(mechanism, [[0], [13]]) == pytest.approx(np.array([[0, 25, 0]] * 2), abs=1e-9)
    assert mechanism.shifts() == ()
    assert mechanism.idle[0].clamped


def test_a_mirrored_rod_is_clamped_the_mirrored_way():
    text = """
        format = 1
        [parts.frame]
        fixed = true
        shapes = [{ box = [0, 0, 0], size = [9, 9, 9] }]
        [parts.rod_left]
        roll = 25
        shapes = [{ rod = [[0, 20, 0], [0, 80, 0]], diameter = 6 }, { sphere = [0, 50, 9], diameter = 5 }]
        [parts.crank_left]
        shapes = [{ box = [0, 100, 30], size = [9, 9, 9] }]
        [joints]
        pivot_left = { pin = ["frame", "crank_left"], at = [0, 100, -50], along = [0, 1, 0] }
        inner_left = { ball = ["rod_left", "frame"], at = [0, 10, 0] }
        outer_left = { ball = ["rod_left", "crank_left"], at = [0, 100, 0] }
        [drives.swing]
        turns = { pivot_left = 1, pivot_right = 1 }
        range = [-5, 5]
        [mirror]
        left = "right"
    """
    machine = machine_from_text(text, HERE)
    assert (machine.parts["rod_left"].roll, machine.parts["rod_right"].roll) == (25, -25)
    assert [shape.round_about is not None for shape in machine.parts["rod_right"].shapes] == [True, True]
    mechanism = assemble(machine)
    places = [mechanism.world_from_rest(mechanism.home, f"rod_{side}")[0] for side in ("left", "right")]
    weights = [place @ (0, y, 9, 1) for place, y in zip(places, (50, -50), strict=True)]
    assert weights[1] == pytest.approx(weights[0] * (1, -1, 1, 1), abs=1e-9)


# closed form: all corners of the shank stand half its diameter off the line through the ball's middle along the shank
def test_the_shank_of_a_rod_end_is_round_about_its_line_and_no_roll_of_the_rod_moves_it():
    end = 'shapes = [{ rod_end = [0, 10, 0], shank = [0, 2, 0], bolt = [0, 0, 1], size = "M8" }]'
    text = twisted_rod(-20, 20)
    part = text[text.index("[parts.rod]") :].split("\n[")[0]
    mechanism = assemble(machine_from_text(text.replace(part, f"[parts.rod]\n{end}"), HERE))
    lines = {shape.name: shape.round_about for shape in mechanism.machine.parts["rod"].shapes}
    moved = {
        shape.name: moved_by_rolls(mechanism, mechanism.bodies.body_of["rod"], shape.round_about, shape.mesh.vertices)
        for shape in mechanism.machine.parts["rod"].shapes
    }
    assert moved == {"rod_end 1 eye": {0}, "rod_end 1 ball": {0}, "rod_end 1 shank": set()}
    line = lines["rod_end 1 shank"]
    (shank,) = (shape for shape in mechanism.machine.parts["rod"].shapes if shape.name.endswith("shank"))
    off = np.linalg.norm(np.cross(shank.mesh.vertices - line.at, line.along), axis=1)
    assert off.max() == pytest.approx(off[off > 1e-9].min(), abs=1e-9)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('roll = "fre"', "there is no roll `fre`"),
        ("roll = 200", "more than half a turn"),
        ("roll = true", "stands where a roll is needed; write `free`, `some`, or the angle in degrees"),
        ("roll = [1, 2]", "a list of 2 stands where a roll is needed; write `free`, `some`, or the angle in degrees"),
    ],
)
def test_a_roll_that_is_none_is_told(text, message):
    with pytest.raises(InputError, match=message):
        rod(text)


def test_the_line_of_a_roll_has_no_minus_zero():
    mechanism = rod()
    roll = replace(mechanism.idle[0], at=np.array([-0.04, 1.0, -0.06]), axis=np.array([-0.0004, 1.0, -0.0]))
    told = roll_entries(mechanism.bodies, [roll])[0].what
    assert told == "can roll about its own line through [0.0, 1.0, -0.1] along [0.000, 1.000, 0.000]"


def test_a_roll_of_a_part_that_cannot_roll_is_told():
    text = twisted_rod(-20, 20).replace("[parts.carrier]", "[parts.carrier]\nroll = 3")
    with pytest.raises(InputError, match="carrier cannot roll by itself"):
        assemble(machine_from_text(text, HERE))


def test_free_is_what_holds_where_the_file_says_nothing():
    assert rod().idle[0].rule is rod('roll = "free"').idle[0].rule is RollRule.FREE


def test_rolled_postures_are_those_that_the_equations_lead_to():
    mechanism = with_rolls(assemble(front_end()), [0, 1])
    rng = np.random.default_rng(5)
    settings = rng.uniform(-1, 1, (20, 4)) * (25, 30, 150, 150)
    direct = solve(mechanism, settings)
    start = with_rolls(mechanism.unrolled, [0, 1])
    walked = follow(start, start.at_rest, np.zeros(20, dtype=np.intp), settings)
    assert direct.reached.all()
    assert walked.reached.all()
    assert direct.residual.max() < 1e-9
    assert walked.posture.centres == pytest.approx(direct.posture.centres, abs=1e-7)
    assert walked.posture.rotations == pytest.approx(direct.posture.rotations, abs=1e-9)


# closed form: rolled by roll, one bolt leans by |roll| and the other, turned by the drive, by |roll - twist|
def test_ends_allow_the_rolls_at_which_both_lean_no_more_than_they_may():
    mechanism = with_rolls(rod(limit=14.0), [0])
    twist, roll = (grid.reshape(-1) for grid in np.meshgrid(np.linspace(-20, 20, 21), np.linspace(-60, 60, 61)))
    posture = solve(mechanism, np.stack([twist, roll], axis=1)).posture
    most = np.maximum(np.abs(roll), np.abs(roll - twist))
    clear_of_the_edge = np.abs(most - 14) > 1e-6
    assert (allowed(mechanism, posture) == (most <= 14))[clear_of_the_edge].all()


def test_cells_that_are_excluded_hold_no_roll_that_is_allowed():
    mechanism = with_rolls(rod(limit=14.0), [0])
    rng = np.random.default_rng(6)
    centres, half = rng.uniform(-1, 1, (300, 2)) * (20, 90), rng.uniform(0, 1, (300, 2)) * (3, 12)
    motion = bound_motion(mechanism, solve(mechanism, centres), half)
    (rolling,), every = rolling_rods(mechanism), tuple(range(len(mechanism.bodies)))
    bounds = BodiesMotion(motion, every, np.zeros((len(every), 3)))
    out = excluded(rolling, bounds)
    (twist, roll), (wide, long) = centres.T, half.T
    least = np.maximum(np.abs(roll) - long, np.abs(roll - twist) - wide - long)
    assert not out[least <= 14].any()
    assert out[least > 14.2].mean() > 0.95
    assert 20 < out.sum() < 280
    assert not rolling_rods(replace(mechanism, rolls=()))
