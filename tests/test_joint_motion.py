"""Motions of joints never leave their bounds inside a cell, and the bounds are no wider than they must be."""

from dataclasses import replace

import numpy as np
import pytest
from linkage_machines import GROUND, ORIGIN, X, Y, Z, about, cylindrical, machine, pin, slides, turns
from motion_cells import CASES, random_cells
from random_machines import random_machine
from random_solids import direction
from tries import first
from watched_sweep import from_rest

from assembly.clearance.proof.first_cells import cells_over
from assembly.kinematics.assembling import assemble
from assembly.kinematics.bodies import moving_joints
from assembly.kinematics.cell_motion import bound_motion
from assembly.kinematics.joint_motion import Lean, PinTurn, Span, Travel, motions_of, nearest_turn
from assembly.kinematics.solver import solve
from assembly.model.machine import JointKind

SHARE = 0.4
"""Of the ranges, so that cells are wide."""
PROBES = 250
TOGETHER = 13
SLOW = (8, 17, 20, 26, 35, 44)
"""Machines that lock in most of their range, so that little can be proven of them."""
SEEDS = [seed for seed in range(30) if seed not in SLOW]
SLACK = 1e-6
"""degrees or mm by which two ways of working out one value may differ."""


def with_bolts(made, random):
    """``made`` with a bolt and an eye in some direction at every ball."""
    joints = {
        name: replace(joint, bolt=tuple(direction(random)), eye=tuple(direction(random)))
        if joint.kind is JointKind.BALL
        else joint
        for name, joint in made.joints.items()
    }
    return replace(made, joints=joints)


def probed(motion, mechanism, random):
    """Cells (N,) that are proven, and the machine at a setting in each: in corners, or anywhere inside."""
    cells = random.choice(np.flatnonzero(motion.certified), size=PROBES)
    shape = PROBES, motion.half.shape[1]
    corner = random.random((PROBES, 1)) < 0.5
    signs = np.where(corner, random.choice([-1.0, 1.0], size=shape), random.uniform(-1, 1, size=shape))
    solved = from_rest(mechanism, motion.settings[cells] + signs * motion.half[cells])
    return cells[solved.reached], solved.take(np.flatnonzero(solved.reached))


def violations(mechanism, motion, cells, solved, narrowed=lambda span, values: span):
    """(joint and motion, value, bounds) of everything that leaves its bounds; and the share of bounds that is used."""
    found, used = [], 0.0
    for joint in moving_joints(mechanism.machine):
        for each in motions_of(joint, mechanism.bodies):
            centres = each.values(motion.posture)
            span = narrowed(each.span(motion, centres), centres)
            values, centre = each.values(solved.posture), centres[cells]
            if each.turning:
                values = nearest_turn(values, centre)
            low, high = span.low[cells], span.high[cells]
            found += [
                (f"{joint.name} {each.name}", values[row], low[row], high[row])
                for row in np.flatnonzero((values < low - SLACK) | (values > high + SLACK))
            ]
            wide = (high - centre > 1e-3) & np.isfinite(high)
            used = max(used, float(((values - centre) / np.where(wide, high - centre, np.inf))[wide].max(initial=0.0)))
    return found, used


def tried(seed, narrowed=lambda span, values: span):
    random = np.random.default_rng(seed)
    mechanism = assemble(with_bolts(random_machine(seed, SHARE), random))
    cells = cells_over(mechanism)
    if not cells.motion.certified.any():
        return [], 0.0
    return violations(mechanism, cells.motion, *probed(cells.motion, mechanism, random), narrowed)


@pytest.mark.parametrize("start", first(range(0, len(SEEDS), TOGETHER), 1))
def test_no_motion_of_a_random_machine_leaves_its_bounds(start):
    reports = [tried(seed) for seed in SEEDS[start : start + TOGETHER]]
    assert [violation for found, _ in reports for violation in found] == []
    assert max(used for _, used in reports) > 0.9, "bounds that nothing comes near prove little"


def halved(span, values):
    return Span(values + (span.low - values) / 2, values + (span.high - values) / 2, span.up)


def test_half_the_bounds_are_seen_to_be_left():
    left = {name.rpartition(" ")[2] for seed in SEEDS[:8] for name, *_ in tried(seed, halved)[0]}
    assert {"turn", "travel", "misalignment"} <= left


@pytest.mark.parametrize("name", first(CASES, 5))
def test_no_motion_of_a_known_linkage_leaves_its_bounds_in_cells_of_any_width(name):
    case = CASES[name]
    random = np.random.default_rng(3)
    made = replace(case, make=lambda: with_bolts(case.make(), random))
    drawn = random_cells(made, 3)
    numbers, solved = drawn.inside
    found, _ = violations(drawn.mechanism, drawn.motion, numbers, solved)
    assert found == []


@pytest.mark.parametrize("angle", [0.0, 1e-9, 1e-4, 0.3, 90.0, 179.9999, 180.0])
def test_lean_of_a_bolt_square_to_its_pin_is_the_turn(angle):
    """Closed form, at the ends too, where sine or cosine is flat."""
    made = machine([pin("hinge", GROUND, "arm", ORIGIN, X)], turns(hinge=1))
    mechanism = assemble(made)
    lean = Lean(mechanism.bodies.body_of[GROUND], np.array(Z), mechanism.bodies.body_of["arm"], np.array(Z))
    solved = solve(mechanism, np.array([[angle]]))
    assert lean.values(solved.posture)[0] == pytest.approx(angle, abs=1e-9)
    for half in (1e-6, 0.5, 5.0):
        motion = bound_motion(mechanism, solved, np.array([[half]]))
        span = lean.span(motion, lean.values(solved.posture))
        assert span.low[0] <= max(angle - half, 0.0) + 1e-9
        assert span.high[0] >= min(angle + half, 180.0) - 1e-9
        assert span.high[0] <= angle + 1.03 * half + 1e-4


def test_turning_about_the_bolt_is_no_lean():
    """BUILDERS_CASES TC-02, the trap: 0.00 at any steering angle."""
    made = machine([pin("kingpin", GROUND, "upright", ORIGIN, Z)], turns(kingpin=1))
    mechanism = assemble(made)
    lean = Lean(mechanism.bodies.body_of[GROUND], np.array(Z), mechanism.bodies.body_of["upright"], np.array(Z))
    solved = solve(mechanism, np.array([[-170.0], [-35.0], [0.0], [20.0], [90.0]]))
    motion = bound_motion(mechanism, solved, np.full((5, 1), 3.0))
    assert lean.values(solved.posture) == pytest.approx(0.0, abs=1e-9)
    assert lean.span(motion, np.zeros(5)).high == pytest.approx(0.0, abs=0.02)


def test_eye_is_a_line_and_has_no_sign():
    made = machine([pin("hinge", GROUND, "arm", ORIGIN, X)], turns(hinge=1))
    bodies = assemble(made).bodies
    ball = replace(made.joints["hinge"], kind=JointKind.BALL, along=None, bolt=Z, eye=(0.0, 0.0, -1.0))
    (lean,) = motions_of(ball, bodies)
    assert lean.values(assemble(made).home) == pytest.approx(0.0)


def test_cylindrical_joint_turns_and_travels():
    made = machine(
        [cylindrical("sleeve", GROUND, "carrier", (10, 20, 30), Y)], turns(sleeve=1), slides("push", sleeve=1)
    )
    mechanism = assemble(made)
    turn, travel = motions_of(made.joints["sleeve"], mechanism.bodies)
    assert isinstance(turn, PinTurn)
    assert isinstance(travel, Travel)
    solved = solve(mechanism, np.array([[25.0, -7.0], [-170.0, 3.0]]))
    assert turn.values(solved.posture) == pytest.approx((25, -170))
    assert travel.values(solved.posture) == pytest.approx((-7, 3))


@pytest.mark.parametrize("degrees", [15.0, np.array([15.0, -40.0, 170.0])])
def test_rolled_end_leans_as_if_the_rod_had_been_rolled(degrees):
    """Oracle: the eye turned about the rod's line by the tensor form of a rotation."""
    made = machine([pin("hinge", GROUND, "arm", ORIGIN, X)], turns(hinge=1))
    mechanism = assemble(made)
    ground, arm = mechanism.bodies.body_of[GROUND], mechanism.bodies.body_of["arm"]
    axis, eye, bolt = np.array([0.6, 0.0, 0.8]), np.array(Y), np.array(Z)
    posture = solve(mechanism, np.array([[0.0], [20.0], [-50.0]])).posture
    leans = Lean(arm, eye, ground, bolt).rolled(arm, axis, degrees).values(posture)
    rolls = np.broadcast_to(degrees, 3)
    for turn, roll, lean in zip((0, 20, -50), rolls, leans, strict=True):
        line = about(X, turn) @ about(axis, roll) @ eye
        assert np.cos(np.radians(lean)) == pytest.approx(float(line @ bolt), abs=1e-12)
