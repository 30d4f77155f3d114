"""Measures against published and worked-out values: toe over travel, a steered wheel that leans, a leaning front."""

import numpy as np
import pytest
from measure_machines import four_bar, read
from test_measures import check, found

from assembly.kinematics.assembling import assemble
from assembly.kinematics.measure_figures import measure_motion
from assembly.kinematics.solver import solve

BOX = "shapes = [{ box = [0, 0, 900], size = [4, 4, 4] }]"


def values(machine, name, settings):
    """A measure at each of ``settings``."""
    mechanism = assemble(machine)
    solved = solve(mechanism, np.array(settings, dtype=float).reshape(len(settings), -1))
    assert solved.reached.all()
    return measure_motion(machine.measures[name], mechanism).values(solved.posture)


def corner(h, inner, **others):
    """The machine of ``corner_text``."""
    return read(corner_text(h, inner, **others))


def corner_text(h, inner, arm=350.0, axis=(100.0, 250.0), behind=90.0):
    """A left wheel on two equal parallel arms, its kingpin vertical, its toe set by a rod with two balls (TC-01)."""
    y, z = axis
    outer, x, py, pz = y + arm, *inner
    return f"""
[points]
rod_inner = [{x}, {py}, {pz}]
rod_outer = [{-behind}, {outer}, {z + h}]
[parts.frame]
fixed = true
{BOX}
[parts.lower]
{BOX}
[parts.upper]
{BOX}
[parts.upright]
{BOX}
[parts.hub]
{BOX}
[parts.rod]
{BOX}
[joints]
lower_inner = {{ pin = ["frame", "lower"], at = [0, {y}, {z}], along = [1, 0, 0] }}
upper_inner = {{ pin = ["frame", "upper"], at = [0, {y}, {z + 150}], along = [1, 0, 0] }}
lower_outer = {{ pin = ["lower", "upright"], at = [0, {outer}, {z}], along = [1, 0, 0] }}
upper_outer = {{ pin = ["upper", "upright"], at = [0, {outer}, {z + 150}], along = [1, 0, 0] }}
kingpin = {{ pin = ["upright", "hub"], at = [0, {outer}, {z}], along = [0, 0, 1] }}
rod_inner = {{ ball = ["frame", "rod"], at = "rod_inner" }}
rod_outer = {{ ball = ["rod", "hub"], at = "rod_outer" }}
[drives.travel]
turns = {{ lower_inner = 1 }}
range = [-20, 20]
[measures.toe]
angle = [{{ on = "hub", along = [1, 0, 0] }}, {{ on = "ground", along = [1, 0, 0] }}]
about = [0, 0, 1]
"""


def toe(machine, arm, travel):
    return values(machine, "toe", [[np.degrees(np.arcsin(each / arm))] for each in travel])


@pytest.mark.parametrize(
    ("h", "inner", "travel", "expected"),
    [
        (60, (-90, 20, 174), (-40, -20, 0, 20, 40, 60), (8.273, 4.073, 0, -3.997, -7.966, -11.957)),
        (31.4, (-90, 20, 174), (-40, -20, 0, 20, 40, 60), (6.602, 3.235, 0, -3.136, -6.204, -9.233)),
        (0, (-90, 20, 174), (-40, -20, 0, 20, 40, 60), (4.762, 2.312, 0, -2.195, -4.290, -6.298)),
        (0, (-90, 100, 250), (-40, -20, 0, 20, 40, 60), (0, 0, 0, 0, 0, 0)),
        (0, (-90, 20, 250), (-40, -20, 0, 20, 40, 60), (0.273, 0.068, 0, 0.068, 0.273, 0.620)),
        (0, (-90, 100, 253.2), (-40, 40, 60), (-0.234, 0.234, 0.354)),
        (0, (-90, 100, 260), (-40, 40, 60), (-0.734, 0.731, 1.105)),
        (0, (-90, 100, 246.8), (-40, 40, 60), (0.234, -0.234, -0.355)),
        (0, (-90, 110, 250), (-40, 40, 60), (-0.043, -0.043, -0.099)),
    ],
)
def test_toe_over_travel_of_a_crossed_tie_rod(h, inner, travel, expected):
    """BUILDERS_CASES TC-01, columns A to E and SPREAD (worked example, own model).

    Its SPREAD says low where its own formula, and column C, have the inner joint high, and the other way round.
    """
    assert toe(corner(h, inner), 350, travel) == pytest.approx(expected, abs=2e-3)


@pytest.mark.parametrize(
    ("rod", "expected"),
    [
        (300, (0, 0, 0, 0)),
        (250, (-0.120126, -0.120126, -0.489893, -0.489893)),
        (350, (0.085647,) * 2 + (0.347313,) * 2),
    ],
)
def test_toe_of_parallel_arms_with_a_rod_of_another_length(rod, expected):
    """REFERENCE_VALUES 2.12 (closed form): toe-out with a rod shorter than the arms, toe-in with a longer one."""
    machine = corner(0, (-100, 300 - rod, 250), arm=300.0, axis=(0.0, 250.0), behind=100.0)
    assert toe(machine, 300, (-25, 25, -50, 50)) == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize(
    ("caster", "steer", "roll", "ground", "elevation"),
    [
        (15, 20, 0, 19.370055, -5.078546),
        (0, 20, -25, 21.880233, -23.398962),
        (15, 20, -25, 22.084142, -28.513045),
        (15, 20, 25, 20.384548, 18.475776),
    ],
)
def test_steering_of_a_leaning_wheel_as_seen_on_the_ground(caster, steer, roll, ground, elevation):
    """REFERENCE_VALUES 2.11: the kinematic steering angle, and how far the spin axis rises (from memory, verified)."""
    s, c = np.sin(np.radians(caster)), np.cos(np.radians(caster))
    machine = read(
        f"""
[parts.ground_plate]
fixed = true
{BOX}
[parts.frame]
{BOX}
[parts.fork]
{BOX}
[joints]
roll = {{ pin = ["ground_plate", "frame"], at = [0, 0, 0], along = [1, 0, 0] }}
head = {{ pin = ["frame", "fork"], at = [0, 0, 500], along = [{-s:.17g}, 0, {c:.17g}] }}
[drives]
roll = {{ turns = {{ roll = 1 }}, range = [-30, 30] }}
steer = {{ turns = {{ head = 1 }}, range = [-30, 30] }}
[measures.ground]
angle = [{{ on = "ground", along = [0, 1, 0] }}, {{ on = "fork", along = [0, 1, 0] }}]
about = [0, 0, 1]
[measures.elevation]
level = {{ on = "fork", along = [0, 1, 0] }}
"""
    )
    assert values(machine, "ground", [[roll, steer]])[0] == pytest.approx(ground, abs=1e-6)
    assert values(machine, "elevation", [[roll, steer]])[0] == pytest.approx(elevation, abs=1e-6)


def test_distance_of_wheel_planes_of_a_leaning_parallelogram():
    """REFERENCE_VALUES 2.15 (closed form): 400 cos(lean), while the pivots stay 400 mm apart."""
    measures = found(
        four_bar(
            """
[measures.planes]
distance = [{ on = "crank", at = "o" }, { on = "rocker", at = "c", normal = [-1, 0, 0] }]
[measures.track]
distance = [{ on = "crank", at = "a" }, { on = "rocker", at = "b" }]
[measures.lean]
angle = [{ on = "crank", line = ["o", "a"] }, { on = "rocker", line = ["c", "b"] }]
most = 0.01
""",
            -25,
            25,
            crank=80.0,
            coupler=400.0,
            rocker=80.0,
            ground=400.0,
        )
    )
    check(measures["planes"], 362.523115, 400, 400)
    check(measures["track"], 400, 400, 400, tolerance=1e-9)
    assert measures["lean"].verdict == "clear"
