"""Freedoms by rank against the count of joints, redundant rows and idle rolls (REFERENCE_VALUES 1.15-1.25)."""

import front_ends
import known_linkages as known
import numpy as np
import pytest
from linkage_machines import GROUND, ORIGIN, X, Y, ball, cylindrical, machine, move, pin, slide, universal, weld

from assembly.kinematics.assembling import joint_mobility
from assembly.kinematics.bodies import gather_bodies
from assembly.kinematics.freedoms import RANK_TOLERANCE, lasting, mobility
from assembly.kinematics.joint_rows import joint_equations
from assembly.kinematics.step import project, rest_posture


def let_go(made):
    """The machine without its drives."""
    return machine(made.joints.values())


def least_held(made):
    """The smallest singular value of the joints' rows at rest that counts as held, as a share of the largest."""
    alone = let_go(made)
    equations = joint_equations(alone, gather_bodies(alone))
    home = project(equations, rest_posture(equations), np.zeros((1, 0)))
    values = np.linalg.svd(equations.jacobian(home)[0], compute_uv=False)
    return (values[values > RANK_TOLERANCE * values[0]] / values[0])[-1]


# columns: joint count (Grübler and Kutzbach), unknowns less rank, redundant rows; sources as in REFERENCE_VALUES
TABLE = {
    "1.15 planar 4R in space, closed form": (known.four_bar, -2, 1, 3),
    "1.15 the same built R-S-C-R, closed form": (known.loop_of_four_kinds, 1, 1, 0),
    "1.16 Bennett 4R, closed form; the count is the textbooks'": (lambda: known.bennett(60), -2, 1, 3),
    "1.17 Sarrus 6R, closed form": (lambda: known.sarrus(40), 0, 1, 1),
    "1.18 Bricard 6R on a cube, Arponen, Piipponen, Tuomela 2007": (known.bricard, 0, 1, 1),
    "1.19 third parallel crank, closed form": (lambda: known.parallelogram(third_misplaced=0.0), -6, 1, 7),
    "1.20 tilting parallelogram, closed form": (known.tilting_parallelogram, -6, 1, 7),
    "1.21 RSSR, closed form": (known.rod_between_cranks, 2, 2, 0),
    "1.22 double wishbone and tie rod, closed form": (front_ends.double_wishbone, 2, 2, 0),
    "1.22 each wishbone on two coaxial pins": (lambda: front_ends.double_wishbone("pins"), -8, 2, 10),
    "1.22 each wishbone on two rod ends": (lambda: front_ends.double_wishbone("balls"), 0, 2, 2),
    "1.22 with a rack": (lambda: front_ends.double_wishbone(rack=True), 3, 3, 0),
    "1.23 platform on 5 rods, closed form": (lambda: known.platform_on_rods(5), 6, 6, 0),
    "1.23 platform on 6 rods, closed form": (lambda: known.platform_on_rods(6), 6, 6, 0),
    "1.24 three collinear pins, closed form": (known.three_pins_in_line, -3, 1, 4),
    "1.25 parallelogram folded flat, closed form": (lambda: known.parallelogram(lean=0), -2, 2, 4),
    "universal joint between two shafts, closed form": (lambda: known.two_shafts(30, False), -2, 1, 3),
    "offset slider-crank, closed form": (lambda: known.slider_crank(40, 120, -20, 60), -2, 1, 3),
    "two bars hung on pins, closed form": (
        lambda: machine([pin("a", GROUND, "b", ORIGIN), pin("c", "b", "d", (9, 0))]),
        2,
        2,
        0,
    ),
    "a part that no joint holds beside a hung one, closed form": (
        lambda: machine([pin("a", GROUND, "b", ORIGIN), weld("c", "b", "d")], more=["loose"]),
        7,
        7,
        0,
    ),
}


@pytest.mark.parametrize(("make", "counted", "freedoms", "redundant"), TABLE.values(), ids=TABLE)
def test_freedoms_are_those_of_the_rank_and_not_of_the_count(make, counted, freedoms, redundant):
    found, _, _ = joint_mobility(make())
    assert (found.counted, found.freedoms, found.redundant) == (counted, freedoms, redundant)


@pytest.mark.parametrize(
    "make", [known.four_bar, front_ends.front_end, lambda: front_ends.front_end(bump=True), known.hexapod]
)
def test_drives_and_held_rolls_do_not_change_the_freedoms_of_the_joints(make):
    made = make()
    alone, idle, unset = joint_mobility(let_go(made))
    driven, rolls, left = joint_mobility(made)
    assert (alone.freedoms, alone.counted, alone.redundant) == (driven.freedoms, driven.counted, driven.redundant)
    assert len(rolls) == len(idle)
    assert sum(freedom.count for freedom in unset) == driven.freedoms - len(idle)
    assert left == ()


# 1.16: the rank alone decides; the smallest singular value of the misplaced linkage is small but not nothing
def test_bennett_with_one_pin_a_tenth_of_a_millimetre_off_cannot_move():
    right, wrong = known.bennett(60), known.bennett(60, misplaced=0.1)
    assert [joint_mobility(made)[0].freedoms for made in (right, wrong)] == [1, 0]
    assert least_held(right) > 0.05
    assert 1e-4 < least_held(wrong) < 5e-4
    assert least_held(wrong) > 100 * RANK_TOLERANCE


# 1.19: singular value 3.3e-3 with the source's own scale
def test_third_crank_three_millimetres_off_locks_the_parallelogram():
    made = known.parallelogram(third_misplaced=3.0)
    locked, _, _ = joint_mobility(made)
    assert (locked.freedoms, locked.redundant) == (0, 6)
    assert 2e-3 < least_held(made) < 7e-3


# 1.21: one useful freedom and one rod that rolls
def test_idle_rod_of_crossed_cranks_is_named_with_its_line():
    made = known.rod_between_cranks()
    _, idle, unset = joint_mobility(made)
    (roll,) = idle
    bodies = gather_bodies(made)
    assert [bodies.members[body] for body in roll.bodies] == [("rod",)]
    start, end = (np.array(made.joints[name].at_first) for name in ("rod_start", "rod_end"))
    line = (end - start) / np.linalg.norm(end - start)
    assert abs(roll.axis @ line) == pytest.approx(1, abs=1e-12)
    assert np.cross(roll.at - start, line) == pytest.approx(0, abs=1e-9)
    assert unset == ()


# 1.22: the tie rod rolls; its other freedom is the wheel's travel
def test_idle_tie_rod_of_a_double_wishbone_is_named_and_travel_is_left_unset():
    made = front_ends.double_wishbone()
    bodies = gather_bodies(made)
    _, (roll,), (unset,) = joint_mobility(made)
    assert [bodies.members[body] for body in roll.bodies] == [("tie_rod",)]
    assert unset.lasting
    assert bodies.body_of["upright"] in unset.bodies


# 1.23: the raw number 6 hides one freedom and five rolls, or none and six
@pytest.mark.parametrize(("rods", "useful"), [(5, 1), (6, 0)])
def test_platform_on_rods_has_one_roll_per_rod_and_the_rest_is_useful(rods, useful):
    made = known.platform_on_rods(rods)
    found, idle, unset = joint_mobility(made)
    bodies = gather_bodies(made)
    named = sorted(bodies.members[body][0] for roll in idle for body in roll.bodies)
    assert named == [f"rod_{k}" for k in range(rods)]
    assert found.freedoms - len(idle) == len(unset) == useful
    assert all(freedom.lasting for freedom in unset)


def test_two_tubes_of_a_telescope_roll_as_one():
    made = known.hexapod()
    _, idle, unset = joint_mobility(made)
    bodies = gather_bodies(made)
    named = sorted(sorted(bodies.members[body][0] for body in roll.bodies) for roll in idle)
    assert named == [[f"leg_{k}_high", f"leg_{k}_low"] for k in range(6)]
    assert unset == ()


def test_held_rod_takes_the_shortest_turn_from_rest():
    made = known.rod_between_cranks()
    moved = move(made, [-30, 25])
    start, end = (np.array(made.joints[name].at_first) for name in ("rod_start", "rod_end"))
    R = moved.frames("rod")[:, :3, :3]
    turned = np.stack([R[:, 2, 1] - R[:, 1, 2], R[:, 0, 2] - R[:, 2, 0], R[:, 1, 0] - R[:, 0, 1]], axis=-1)
    assert np.linalg.norm(turned, axis=1).min() > 0.05
    assert turned @ (end - start) == pytest.approx(0, abs=1e-7)


# 1.24: really rigid, to second order only
def test_three_pins_in_line_move_for_an_instant_only():
    made = known.three_pins_in_line(driven=False)
    found, _, (unset,) = joint_mobility(made)
    assert found.freedoms == 1
    assert not unset.lasting


def test_pins_out_of_line_with_a_third_bar_move_for_good():
    _, _, (unset,) = joint_mobility(let_go(known.four_bar()))
    assert unset.lasting


def null_direction(equations, posture, bodies):
    """The motion of ``bodies`` at rest that all rows allow, as a unit vector over all unknowns."""
    jacobian = equations.jacobian(posture)[0]
    columns = np.concatenate([6 * (body - 1) + np.arange(6) for body in bodies])
    _, _, right = np.linalg.svd(jacobian[:, columns])
    direction = np.zeros(jacobian.shape[1])
    direction[columns] = right[-1]
    return direction


# 1.25: change point: two branches cross where it is folded flat, one runs on from any other pose
def test_folded_parallelogram_has_two_freedoms_there_and_one_elsewhere():
    made = known.parallelogram(lean=0)
    at_rest, _, _ = joint_mobility(let_go(made))
    assert at_rest.freedoms == 2
    raised = let_go(known.parallelogram(lean=60))
    equations = joint_equations(raised, gather_bodies(raised))
    for lean in (7, 41, 100):
        other = let_go(known.parallelogram(lean=lean))
        assert joint_mobility(other)[0].freedoms == 1
    assert mobility(equations, rest_posture(equations)).freedoms == 1


def test_folded_parallelogram_with_its_crank_held_is_at_a_dead_centre():
    _, _, (unset,) = joint_mobility(known.parallelogram(lean=0))
    assert not unset.lasting
    names = gather_bodies(known.parallelogram(lean=0)).members
    assert {names[body][0] for body in unset.bodies} == {"right_crank", "coupler"}


def test_a_step_that_leaves_the_joints_is_no_lasting_freedom():
    made = let_go(known.four_bar())
    equations = joint_equations(made, gather_bodies(made))
    posture = rest_posture(equations)
    free = null_direction(equations, posture, [1, 2, 3])
    assert lasting(equations, posture, free)
    sideways = np.zeros_like(free)
    sideways[2] = 1.0
    assert not lasting(equations, posture, sideways)


@pytest.mark.parametrize(
    ("make", "held"),
    [
        (lambda: pin("tie", GROUND, "part", ORIGIN), 5),
        (lambda: ball("tie", GROUND, "part", ORIGIN), 3),
        (lambda: slide("tie", GROUND, "part", ORIGIN, Y), 5),
        (lambda: cylindrical("tie", GROUND, "part", ORIGIN, Y), 4),
        (lambda: universal("tie", GROUND, "part", ORIGIN, X, Y), 4),
    ],
)
def test_each_kind_of_joint_holds_what_its_definition_says(make, held):
    found, _, _ = joint_mobility(machine([make()]))
    assert (found.freedoms, found.counted, found.redundant) == (6 - held, 6 - held, 0)
