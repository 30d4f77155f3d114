"""Rolls that the ends of a rod allow, against closed forms and against rolls tried one by one."""

from math import acos, asin, cos, degrees, radians, sin

import numpy as np
import pytest
from linkage_machines import X, Y, Z, about
from random_solids import direction
from rod_machines import twisted_rod
from small_machines import read, trammel
from tries import first

from assembly.kinematics.assembling import assemble
from assembly.kinematics.joint_motion import Lean
from assembly.kinematics.rod_roll import Rod, RodEndOfRod, Windows, best_clocking, common_roll, rods_of, windows
from assembly.kinematics.rows import Posture

GROUND, ROD = 0, 1
TRIED = np.arange(-180.0, 180.0, 0.05)


def posture(*rotations):
    """The rod's rotations, one for each posture, the ground standing still."""
    turned = np.array([[np.eye(3), rotation] for rotation in rotations])
    return Posture(np.zeros(turned.shape[:3]), turned)


def end(name, eye, bolt, limit, axis=Y):
    return RodEndOfRod(name, Lean(ROD, np.array(eye), GROUND, np.array(bolt)), limit, ROD, np.array(axis))


def leans(each, roll, rotation):
    """Lean of an end by plain trigonometry (oracle)."""
    eye = rotation @ about(each.axis, roll) @ each.lean.eye
    return degrees(acos(np.clip(eye @ each.lean.bolt, -1, 1)))


@pytest.mark.parametrize("tilt", [0, 5, 9.9])
def test_rod_tilted_towards_its_bolt_rolls_by_the_closed_form(tilt):
    rod = Rod(0, ("rod",), (end("only", Z, Z, 10.0),))
    found = windows(rod, posture(about(X, tilt)))
    assert found.free()[0] == pytest.approx(degrees(acos(cos(radians(10)) / cos(radians(tilt)))))  # closed form
    assert found.middle[0, 0] == pytest.approx(0)


def test_rod_tilted_beyond_the_rating_has_no_roll_at_all():
    rod = Rod(0, ("rod",), (end("only", Z, Z, 10.0),))
    assert windows(rod, posture(about(X, 12.5))).free()[0] == pytest.approx(-2.5)


@pytest.mark.parametrize("seed", first(range(20), 8))
def test_least_lean_over_all_rolls_is_the_published_one(seed):
    """REFERENCE_VALUES 3.7: asin |n · r| for an eye square to the rod; any rating above it leaves some roll."""
    random = np.random.default_rng(seed)
    bolt, turn = direction(random), about(direction(random), random.uniform(0, 180))
    least = degrees(asin(abs(bolt @ (turn @ Y))))
    for limit, serves in ((least - 0.01, False), (least + 0.01, True)):
        found = windows(Rod(0, ("rod",), (end("only", X, bolt, limit),)), posture(turn))
        assert (found.free()[0] >= 0) == serves


@pytest.mark.parametrize("seed", first(range(25), 8))
def test_windows_are_the_rolls_at_which_the_ends_keep_their_limits(seed):
    """Oracle: every twentieth of a degree tried, eyes square to the rod or not."""
    random = np.random.default_rng(seed)
    ends = tuple(end(f"end_{k}", direction(random), direction(random), random.uniform(20, 120)) for k in range(2))
    rod, turns = Rod(0, ("rod",), ends), [about(direction(random), random.uniform(0, 180)) for _ in range(3)]
    found = windows(rod, posture(*turns))
    for k, turn in enumerate(turns):
        allowed = [np.array([leans(each, roll, turn) <= each.limit for roll in TRIED[::20]]) for each in ends]
        for which in range(2):
            at = Windows(found.middle[which : which + 1, k : k + 1], found.reach[which : which + 1, k : k + 1])
            inside = np.array([at.room(np.array([roll]))[0] for roll in TRIED[::20]])
            clear = np.abs(inside) > 0.05
            assert ((inside >= 0) == allowed[which])[clear].all()
        both = allowed[0] & allowed[1]
        best, room = (values[k] for values in found.best())
        assert room < 0.5 or all(leans(each, best, turn) <= each.limit for each in ends)
        assert room >= 0 or not both.any()


def longest_run(allowed):
    """Largest number of neighbours that are all true, round the circle."""
    if allowed.all():
        return len(allowed)
    breaks = np.flatnonzero(~np.concatenate([allowed, allowed]))
    return int(np.diff(breaks).max() - 1)


@pytest.mark.parametrize("seed", first(range(12), 5))
def test_free_roll_is_the_longest_run_of_rolls_that_serve_both_ends(seed):
    random = np.random.default_rng(seed)
    middle, reach = random.uniform(-180, 180, (2, 1)), random.uniform(30, 175, (2, 1))
    found = Windows(middle, reach)
    served = [np.abs((TRIED - middle[k] + 180) % 360 - 180) <= reach[k] for k in range(2)]
    run = longest_run(served[0] & served[1]) * 0.05
    assert 2 * found.free()[0] == pytest.approx(run, abs=0.11) or (run == 0 and found.free()[0] <= 0)


def test_any_roll_serves_an_end_that_turns_about_the_rod():
    rod = Rod(0, ("rod",), (end("only", Y, Y, 10.0),))
    assert windows(rod, posture(np.eye(3))).free()[0] == 180.0


@pytest.mark.parametrize("clocked", [0, 8, -19, 40])
def test_ends_clocked_apart_share_what_is_left_and_are_best_clocked_back(clocked):
    """BUILDERS_CASES C14, own model: eyes and bolts square to the rod, so each end allows ±14 about its own middle."""
    apart = (sin(radians(clocked)), 0, cos(radians(clocked)))
    rod = Rod(0, ("rod",), (end("one", Z, Z, 14.0), end("other", apart, Z, 14.0)))
    found = windows(rod, posture(np.eye(3)))
    assert 2 * found.free()[0] == pytest.approx(2 * 14 - abs(clocked))
    turn, half = best_clocking(found)
    assert (turn, 2 * half) == (pytest.approx(-clocked, abs=0.01), pytest.approx(28, abs=0.01))
    back = about(Y, turn) @ apart
    again = windows(Rod(0, ("rod",), (end("one", Z, Z, 14.0), end("other", back, Z, 14.0))), posture(np.eye(3)))
    assert 2 * again.free()[0] == pytest.approx(28, abs=0.02)


def test_one_roll_for_all_postures_lies_between_their_extremes():
    """The rod is rolled by 10 at one posture and by -4 at another: rolling it by -3 shares what is left evenly."""
    rod = Rod(0, ("rod",), (end("only", Z, Z, 14.0),))
    roll, room = common_roll(windows(rod, posture(about(Y, 10), about(Y, -4))))
    assert (roll, room) == (pytest.approx(-3, abs=0.01), pytest.approx(7, abs=0.01))  # closed form: (28 - 14) / 2


def test_no_one_roll_serves_postures_that_lie_too_far_apart():
    rod = Rod(0, ("rod",), (end("only", Z, Z, 14.0),))
    assert common_roll(windows(rod, posture(about(Y, 20), about(Y, -20))))[1] == pytest.approx(-6, abs=0.01)


def test_rods_are_found_with_their_rated_ends_and_sides():
    (rod,) = rods_of(assemble(read(twisted_rod(-5, 5))))
    assert (rod.parts, [each.joint for each in rod.ends]) == (("rod",), ["near", "far"])
    assert abs(rod.ends[0].axis @ np.array(Y)) == pytest.approx(1)
    (link,) = rods_of(assemble(read(trammel())))
    assert [each.joint for each in link.ends] == ["low_ball"]  # the other has no bolt
