"""Travel bounds hold at every setting of a cell: brute force over several machines, and what happens where they cannot.

A cell's centre and width are drawn at random. Balls of random size are laid about both bodies of a pair, seen from the
other body, and followed to many settings of the cell: none of their points may go farther than the bound.
"""

from dataclasses import replace

import front_ends
import known_linkages as known
import numpy as np
import pytest
from linkage_machines import move
from motion_cells import CASES, CELLS, Cells, open_chain, random_cells, seen_from
from oracles import linkages
from tries import first

from assembly.kinematics.assembling import assemble
from assembly.kinematics.cell_motion import bound_motion
from assembly.kinematics.mechanism import Solved
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import follow, solve
from assembly.kinematics.travel import displacement, travel

BALLS = 12


def used_shares(cells: Cells, seed: int) -> np.ndarray:
    """How much of its travel bound (cells,) each pair of bodies used up at worst, over all settings of the cell."""
    rng = np.random.default_rng(seed)
    centres, (number, inside) = cells.mechanism.bodies.centres, cells.inside
    shares = []
    for body in range(len(centres)):
        for other in set(range(len(centres))) - {body}:
            points, radii = centres[body] + rng.normal(scale=120, size=(BALLS, 3)), rng.uniform(0, 40, BALLS)
            bound = travel(cells.motion, body, other, points, radii, centres)
            out = rng.normal(size=(BALLS, 3))
            on_ball = points + radii[:, None] * out / np.linalg.norm(out, axis=1)[:, None]
            before = seen_from(cells.motion.posture, body, other, on_ball, centres)[number]
            gone = np.linalg.norm(seen_from(inside.posture, body, other, on_ball, centres) - before, axis=-1).max(
                axis=1
            )
            worst = np.zeros(len(cells.motion))
            np.maximum.at(worst, number, gone)
            shares.append(worst / bound)
    return np.array(shares)


@pytest.fixture(scope="module", params=first(CASES.values(), 4), ids=CASES)
def cells(request):
    return random_cells(request.param, 3)


@pytest.fixture(scope="module")
def used(cells):
    """How much of its bound each pair of bodies used up at worst (pairs, cells)."""
    return used_shares(cells, 4)


def test_no_point_goes_farther_than_the_bound_at_any_setting_of_a_cell(cells, used):
    assert cells.motion.certified.sum() > CELLS / 2
    assert cells.inside[1].reached.all()
    assert used.max() <= 1 + 1e-9


def test_half_the_bound_would_be_too_little(cells, used):
    assert used.max() > 0.5


def test_bound_is_nearly_used_up_where_cells_are_narrow(cells, used):
    narrow = cells.motion.certified & (cells.motion.half[:, 0] < 0.3 * cells.motion.half[:, 0].max())
    assert np.median(used.max(axis=0)[narrow]) > 0.6


def test_every_setting_of_a_certified_cell_follows_from_rest_to_the_same_posture(cells):
    number, inside = cells.inside
    some = np.arange(0, len(number), 97)
    again = solve(cells.mechanism, inside.settings[some])
    assert again.reached.all()
    assert inside.posture.take(some).centres == pytest.approx(again.posture.centres, abs=1e-6)
    assert inside.posture.take(some).rotations == pytest.approx(again.posture.rotations, abs=1e-8)


def test_derivatives_of_the_motion_are_exact(cells):
    motion, mechanism = cells.motion, cells.mechanism
    drives, h = motion.half.shape[1], 0.02
    take = np.flatnonzero(motion.certified)[:4]
    centre = solve(mechanism, motion.settings[take])
    index = np.arange(len(take))
    for k in range(drives):
        step = h * np.eye(drives)[k]
        low, high = (follow(mechanism, centre, index, centre.settings + way * step).posture for way in (-1, 1))
        rate = (high.centres - low.centres) / (2 * h)
        assert motion.shift_rate[take][:, :, k] == pytest.approx(rate, abs=1e-5)
        bend = (high.centres + low.centres - 2 * centre.posture.centres) / h**2
        assert motion.shift_bend[take][:, :, k, k] == pytest.approx(bend, abs=2e-4)


def test_a_body_does_not_travel_against_itself_and_shared_motion_does_not_count():
    mechanism = assemble(open_chain())
    motion = bound_motion(mechanism, solve(mechanism, np.zeros((1, 3))), np.array([[1.5, 0.0, 0.0]]))
    centres, points, radii = mechanism.bodies.centres, np.array([(240.0, 30, 15)]), np.array([10.0])
    body = mechanism.bodies.body_of
    assert travel(motion, body["hand"], body["hand"], points, radii, centres) == 0
    assert travel(motion, body["hand"], body["forearm"], points, radii, centres)[0] < 0.05
    # closed form: a chord of 2 sin(0.75 deg) times the distance from the pin's line, the ball's radius included
    chord = 2 * np.sin(np.radians(0.75)) * (np.hypot(240, 30) + 10)
    assert chord <= travel(motion, body["hand"], 0, points, radii, centres)[0] < 1.05 * chord


# TC-06: dead centres at s = -98.16 and +106.43
def test_cells_that_reach_a_dead_centre_are_not_certified_and_bound_nothing():
    mechanism = assemble(front_ends.over_centre(pins=True))
    centres = np.array([[-97.0], [-90.0], [0.0], [90.0], [104.0], [106.0]])
    solved = solve(mechanism, centres)
    assert solved.reached.all()
    motion = bound_motion(mechanism, solved, np.array([[2.0], [0.2], [4.0], [0.2], [3.0], [0.6]]))
    assert motion.certified.tolist() == [False, True, True, True, False, False]
    arm, points = mechanism.bodies.body_of["arm"], np.array([(-100.0, 0, 0)])
    far = travel(motion, arm, 0, points, np.zeros(1), mechanism.bodies.centres)
    assert np.isinf(far).tolist() == (~motion.certified).tolist()


def test_cells_are_not_certified_where_the_centre_was_not_reached_or_a_body_turns_far():
    mechanism = assemble(front_ends.over_centre(pins=True))
    assert not bound_motion(mechanism, solve(mechanism, [[110.0]]), np.array([[0.001]])).certified.any()
    still = solve(mechanism, [[0.0]])
    assert bound_motion(mechanism, still, np.array([[1.0]])).certified.all()
    assert not bound_motion(mechanism, replace(still, reached=np.zeros(1, bool)), np.array([[1.0]])).certified.any()
    chain = assemble(open_chain())
    wide = bound_motion(chain, solve(chain, np.zeros((2, 3))), np.array([[1.0, 1, 1], [60.0, 0, 0]]))
    assert wide.certified.tolist() == [True, False]


# 1.16, 1.19, 1.24: closed at rest and nowhere else
@pytest.mark.parametrize(
    "make",
    [
        known.three_pins_in_line,
        lambda: known.parallelogram(third_misplaced=3.0),
        lambda: known.bennett(60, misplaced=1.0),
    ],
)
def test_cells_are_not_certified_where_only_their_centre_can_be_assembled(make):
    mechanism = assemble(make())
    centre = solve(mechanism, [[0.0]])
    assert centre.reached.all()
    assert not bound_motion(mechanism, centre, np.array([[2.0]])).certified.any()


# 9.16: Newton and Kantorovich from (20, 57) degrees: the true error is 0.00567023 rad, within a radius of 0.00574573
def test_bound_from_a_posture_off_by_a_known_error_holds_the_true_one_closely():
    mechanism = assemble(known.four_bar(40))
    right = move(mechanism, [0.0]).solved
    coupler, rocker = linkages.four_bar(40, 120, 80, 100, 40)
    wrong = {"coupler": np.radians(20 - coupler), "rocker": np.radians(57 - rocker)}
    posture = right.posture
    centres, rotations = posture.centres.copy(), posture.rotations.copy()
    for part, pivot in (("coupler", "knee"), ("rocker", "rocker_pin")):
        body, at = mechanism.bodies.body_of[part], np.array(mechanism.machine.joints[pivot].at_first)
        cosine, sine = np.cos(wrong[part]), np.sin(wrong[part])
        rotations[0, body] = [[cosine, -sine, 0], [sine, cosine, 0], [0, 0, 1]]
        centres[0, body] = at + rotations[0, body] @ (centres[0, body] - at)
    off = Solved(right.settings, Posture(centres, rotations), right.reached, right.share, right.residual)
    motion = bound_motion(mechanism, off, np.zeros((1, 1)))
    assert motion.certified.all()
    bound, error = motion.turn_rest[0, [mechanism.bodies.body_of[part] for part in wrong]], np.abs([*wrong.values()])
    assert error.max() == pytest.approx(0.00567023, abs=5e-9)
    assert (error <= bound).all()
    assert (bound < 1.6 * error).all()


def test_what_the_solver_missed_is_part_of_the_bound_and_told_apart():
    mechanism = assemble(known.four_bar())
    solved = solve(mechanism, [[10.0]])
    centres = solved.posture.centres.copy()
    centres[0, 2, 0] += 1e-4
    off = Solved(
        solved.settings, Posture(centres, solved.posture.rotations), *[np.ones(1, bool), np.ones(1), np.zeros(1)]
    )
    exact, missed = (bound_motion(mechanism, each, np.array([[0.0]])) for each in (solved, off))
    points, radii = np.array([(0.0, 0, 0)]), np.zeros(1)
    far, none = (displacement(each, 2, 0, points, radii, mechanism.bodies.centres) for each in (missed, exact))
    assert none.whole[0] < 1e-6
    assert far.residual[0] >= 1e-4
    assert far.motion[0] < 1e-6
