"""A machine of independent groups is searched group by group: what others add changes nothing and costs nothing."""

import numpy as np
import pytest
from grouped_machines import grouped_machine
from many_parts import cranks
from proof_attack import attack
from small_machines import read
from tries import first

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.kinematics.assembling import assemble
from assembly.kinematics.cell_motion import bound_motion
from assembly.kinematics.joint_motion import motions_of
from assembly.kinematics.mechanism import Submechanism
from assembly.kinematics.reduced import each_group, submechanism
from assembly.kinematics.solver import from_rest, solve

QUICK = Effort(decide_only=True)
SEEDS = (2, 3, 4, 5)
SWEPT = (2, 3, 5)
"""Those that are swept soon; of the second one a drive moves two of the groups."""
TRUSS = """
[parts.left_leg]
shapes = [{ rod = [[0, -90, 0], [50, -90, 50]], square = 4 }]
[parts.right_leg]
shapes = [{ rod = [[100, -90, 0], [50, -90, 50]], square = 4 }]
[joints.left_foot]
pin = ["bed", "left_leg"]
at = [0, -90, 0]
along = [0, 1, 0]
[joints.right_foot]
pin = ["bed", "right_leg"]
at = [100, -90, 0]
along = [0, 1, 0]
[joints.apex]
pin = ["left_leg", "right_leg"]
at = [50, -90, 50]
along = [0, 1, 0]
"""
"""Two legs that hold each other: no drive moves them."""


def anywhere(mechanism, count, seed=0):
    """Settings all over the drives' ranges."""
    random = np.random.default_rng(seed)
    ends = np.array([(drive.low, drive.high) for drive in mechanism.machine.drives.values()])
    return random.uniform(*ends.T, size=(count, len(ends)))


def grouped(text):
    mechanism = assemble(read(text))
    return {
        names[0]: int(group) for names, group in zip(mechanism.bodies.members, mechanism.system.groups, strict=True)
    }


def test_bodies_of_a_loop_and_those_that_one_drive_moves_are_one_group():
    apart = grouped(cranks(2) + TRUSS)
    assert apart == {"bed": -1, "left_leg": -1, "right_leg": -1} | {
        f"{name}_{number}": number for name in ("crank", "link", "block") for number in (0, 1)
    }
    assert set(grouped(cranks(2, drives=False)).values()) == {-1, 0}


def test_of_one_group_nothing_is_left_out():
    mechanism = assemble(read(cranks(3, drives=False)))
    assert all(submechanism(mechanism, body).mechanism is mechanism for body in range(len(mechanism.bodies)))
    (alone,) = each_group(mechanism)
    settings = anywhere(mechanism, 3)
    assert (alone.widened(settings) == settings).all()
    assert (alone.narrowed(settings) == settings).all()


def test_settings_of_a_group_are_told_in_those_of_all():
    mechanism = assemble(read(cranks(3)))
    reduced = submechanism(mechanism, *(mechanism.bodies.body_of[name] for name in ("link_2", "block_0")))
    assert reduced.widened(np.array([[1.0, 2.0, 9.0]])).tolist() == [[1.0, 0.0, 2.0, 9.0]]
    assert reduced.widened(np.array([1.0, 2.0]), np.array([5.0, 6.0, 7.0])).tolist() == [1.0, 6.0, 2.0]
    assert reduced.narrowed(np.array([1.0, 2.0, 3.0, 9.0])).tolist() == [1.0, 3.0, 9.0]
    assert list(reduced.mechanism.machine.drives) == ["turn_0", "turn_2"]
    assert "link_1" not in reduced.mechanism.machine.parts


def farthest(mechanism):
    """How far off (mm, rad) any group puts its bodies, from where the whole machine has them with others anywhere."""
    every = from_rest(mechanism, anywhere(mechanism, 12))
    rows, off = np.flatnonzero(every.reached), 0.0
    for one in each_group(mechanism):
        own = solve(one.mechanism, one.narrowed(every.settings[rows]))
        assert own.reached.all()
        whole = every.posture.of_bodies(rows, one.bodies.tolist())
        for name in ("centres", "rotations"):
            off = max(off, np.abs(getattr(own.posture, name) - getattr(whole, name)).max())
    return off


# independent: the whole machine solved as one system of equations
@pytest.mark.parametrize("seed", SEEDS)
def test_a_group_stands_where_the_whole_machine_has_it_wherever_the_others_stand(seed):
    assert farthest(assemble(grouped_machine(seed))) < 1e-6


# independent: as above
def test_all_groups_together_stand_where_each_does():
    mechanism = assemble(grouped_machine(5))
    settings = anywhere(mechanism, 6)
    together, whole = solve(mechanism, settings), from_rest(mechanism, settings)
    assert (together.reached == whole.reached).all()
    rows = np.flatnonzero(whole.reached)
    assert len(rows)
    for name in ("centres", "rotations"):
        own, other = (getattr(one.posture, name)[rows] for one in (together, whole))
        assert own == pytest.approx(other, abs=1e-6)
    assert (together.residual[rows] < 1e-6).all()


def test_a_group_that_is_given_the_settings_of_another_is_seen(monkeypatch):
    mechanism = assemble(read(cranks(2)))
    assert farthest(mechanism) < 1e-6
    monkeypatch.setattr(Submechanism, "narrowed", lambda one, settings: settings[..., ::-1][..., one.drives])
    assert farthest(mechanism) > 1


# independent: cells of the same machine without the other groups
def test_bounds_on_a_group_are_those_of_the_group_alone():
    alone, many = (assemble(read(cranks(count))) for count in (1, 3))
    reduced = submechanism(many, many.bodies.body_of["crank_0"])
    settings, half = anywhere(alone, 5), np.full((5, 1), 1.5)
    own, same = (bound_motion(one, solve(one, settings), half) for one in (alone, reduced.mechanism))
    assert own.certified.all()
    for name in ("shift_rate", "turn_rate", "shift_bend", "turn_bend", "shift_rest", "turn_rest", "certified"):
        assert getattr(same, name) == pytest.approx(getattr(own, name), rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("seed", first(SWEPT, 1))
def test_no_setting_of_random_groups_breaks_what_was_proven(seed):
    report = attack(grouped_machine(seed, 0.25), 16, seed, QUICK, brute=1)
    assert [str(violation) for violation in report.violations] == []
    assert report.distances > 0
    assert report.clear > 0


def test_motions_of_joints_are_told_of_fewer_bodies():
    mechanism = assemble(read(cranks(2)))
    posture = solve(mechanism, anywhere(mechanism, 4)).posture
    for one in each_group(mechanism):
        bodies = one.bodies.tolist()
        for joint in one.mechanism.machine.joints.values():
            for motion in motions_of(joint, mechanism.bodies):
                own = motion.among(bodies).values(posture.of_bodies(np.arange(4), bodies))
                assert own == pytest.approx(motion.values(posture), abs=1e-12)
