"""Rows that a group of motions implies: how many are left out, and that all rows hold where the others are solved."""

import known_linkages as known
import numpy as np
import pytest
from linkage_machines import GROUND, X, Y, Z, ball, cylindrical, machine, pin, planar, slide, slides, turns

from assembly.kinematics.assembling import assemble
from assembly.kinematics.block_stacks import stays_regular
from assembly.kinematics.solver import solve


def four_bar_on_a_turntable(along):
    """A planar four-bar, its plane square to ``along``, on a part that turns about an axis in that plane."""
    places = {
        "foot": ("table", "crank", (0, 0, 0)),
        "knee": ("crank", "coupler", (0, 40, 0)),
        "wrist": ("coupler", "rocker", (90, 80, 0)),
        "hip": ("table", "rocker", (100, 0, 0)),
    }
    return machine([pin("base", GROUND, "table", (0, 0, -50), X), *planar(places, along)], turns(base=1), turns(foot=1))


def scotch_yoke():
    """A pin on a crank in a slot that slides: pin-slide-free, two slides and two pins in one plane."""
    joints = [
        pin("axle", GROUND, "crank", (0, 0, 0)),
        pin("crank_pin", "crank", "block", (30, 0, 0)),
        slide("slot", "block", "yoke", (30, 0, 0), Y),
        slide("guide", "yoke", GROUND, (80, 0, 0), X),
    ]
    return machine(joints, turns(axle=1))


def two_hinges(second=pin):
    return machine(
        [pin("low", GROUND, "door", (0, 0, 0), Z), second("high", GROUND, "door", (0, 0, 700), Z)], turns(low=1)
    )


def two_guides():
    return machine(
        [slide("left", GROUND, "sledge", (0, 50, 0), X), slide("right", GROUND, "sledge", (0, -50, 3), X)],
        slides(left=1),
    )


def two_fulcrums():
    """A pin through a point and a ball at that point, between the same two parts."""
    return machine([pin("axle", GROUND, "arm", (40, 0, 0), X), ball("end", GROUND, "arm", (0, 0, 0))], turns(axle=1))


# by hand: rows less what a loop of the group needs (a line 0 or 1, a plane 3, a sphere 3 of 6), loop by loop
@pytest.mark.parametrize(
    ("make", "left_out", "reach"),
    [
        pytest.param(known.four_bar, 3, 170, id="planar"),
        pytest.param(lambda: known.slider_crank(40, 120, -20, 60), 3, 170, id="planar with a slide"),
        pytest.param(scotch_yoke, 3, 80, id="planar with two slides"),
        pytest.param(lambda: four_bar_on_a_turntable(Z), 3, 60, id="planar on a part that turns"),
        pytest.param(lambda: known.peaucellier(20), 9, 60, id="three planar loops"),
        pytest.param(lambda: known.spherical_four_bar(60), 3, 100, id="one point"),
        pytest.param(lambda: known.two_shafts(30, False, cross=True), 3, 100, id="a cross"),
        pytest.param(two_hinges, 5, 90, id="two hinges"),
        pytest.param(lambda: two_hinges(cylindrical), 4, 90, id="hinge and sleeve"),
        pytest.param(two_guides, 5, 90, id="two guides"),
        pytest.param(two_fulcrums, 3, 90, id="pin and ball"),
        pytest.param(lambda: known.bennett(60), 0, 50, id="no group: Bennett"),
        pytest.param(known.rod_between_cranks, 0, 30, id="nothing is held twice"),
    ],
)
def test_what_is_left_out_is_implied_at_every_posture(make, left_out, reach):
    mechanism = assemble(make())
    equations = mechanism.equations
    assert len(equations.owners) - len(equations.needed) == left_out
    drives = len(mechanism.machine.drives)
    settings = np.random.default_rng(2).uniform(-reach, reach, (12, drives))
    solved = solve(mechanism, settings)
    assert solved.reached.all()
    # all rows, those left out too, at postures found by the others alone
    assert np.abs(equations.values(solved.posture, settings)).max() < 1e-8


def test_pins_that_are_not_quite_parallel_imply_nothing():
    made = known.four_bar()
    tilted = pin("wrist", "coupler", "rocker", made.joints["wrist"].at_first, (1e-6, 0, 1))
    joints = [tilted if name == "wrist" else joint for name, joint in made.joints.items()]
    equations = assemble(machine(joints, turns(crank_pin=1))).equations
    assert len(equations.needed) == len(equations.owners)


def test_two_loops_that_turn_over_in_one_step_are_seen():
    before, over, on = np.eye(4), np.diag([-1.0, -1.0, 1.0, 1.0]), np.diag([0.9, 1.1, 1.0, 1.0])
    assert np.linalg.det(over) > 0
    assert stays_regular(np.stack([before] * 2), np.stack([over, on])).tolist() == [False, True]
