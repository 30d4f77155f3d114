"""Rigid groups of parts, and the loops that joints close between them."""

from itertools import pairwise

import known_linkages as known
import numpy as np
import pytest
from linkage_machines import GROUND, ORIGIN, Z, ball, machine, pin, planar, weld, with_place

from assembly.kinematics.bodies import gather_bodies, loop_through, loops, moving_joints


def welded():
    """An arm of three welded parts on a pin, a bracket welded to the frame and a second fixed part."""
    joints = [
        weld("weld_tip", "tip", "arm"),
        pin("hinge", "bracket", "arm", (10, 0)),
        weld("weld_bracket", GROUND, "bracket"),
        weld("weld_boss", "arm", "boss"),
        ball("end", "tip", "rod", (100, 0)),
    ]
    return machine(joints, fixed=(GROUND, "engine"))


def tied_triangle():
    """Three arms that are joined to the ground and to each other, each to each."""
    ends = {"ab": "ab", "bc": "bc", "ca": "ca", "ga": (GROUND, "a"), "gb": (GROUND, "b"), "gc": (GROUND, "c")}
    return machine([ball(name, *pair, (10 * k, k**2, 0)) for k, (name, pair) in enumerate(ends.items())])


def test_parts_that_are_welded_or_fixed_move_as_one_body():
    bodies = gather_bodies(welded())
    assert bodies.members == ((GROUND, "engine", "bracket"), ("tip", "arm", "boss"), ("rod",))
    assert dict(bodies.body_of) == {
        GROUND: 0, "engine": 0, "bracket": 0, "tip": 1, "arm": 1, "boss": 1, "rod": 2
    }  # fmt: skip
    assert len(bodies) == 3


def test_ground_comes_first_wherever_the_file_names_it():
    made = machine([pin("hinge", "arm", "frame", ORIGIN), pin("other", "arm", "tip", (5, 0))], fixed=())
    parts = {**made.parts, "frame": type(made.parts["frame"])("frame", (), fixed=True)}
    ordered = type(made)(made.name, {name: parts[name] for name in ("arm", "tip", "frame")}, made.joints)
    assert gather_bodies(ordered).members == (("frame",), ("arm",), ("tip",))


def test_a_part_welded_to_itself_through_others_is_one_body():
    joints = [weld("a", "p", "q"), weld("b", "q", "r"), weld("c", "r", "p"), pin("d", GROUND, "r", ORIGIN)]
    assert gather_bodies(machine(joints)).members == ((GROUND,), ("p", "q", "r"))


def test_a_part_that_nothing_holds_is_a_body_of_its_own():
    assert gather_bodies(machine([pin("a", GROUND, "b", ORIGIN)], more=["loose"])).members[-1] == ("loose",)


def test_label_names_one_part_and_those_with_it():
    bodies = gather_bodies(welded())
    assert bodies.label(1) == "tip (with arm, boss)"
    assert bodies.label(2) == "rod"


def test_centre_of_a_body_is_the_middle_of_the_box_round_its_joints():
    bodies = gather_bodies(welded())
    assert bodies.centres[bodies.body_of["arm"]] == pytest.approx([55, 0, 0])
    assert bodies.centres[bodies.body_of["rod"]] == pytest.approx([100, 0, 0])


def test_centre_uses_each_part_s_own_place_of_an_edited_joint():
    made = with_place(known.four_bar(90), "wrist", first=(500, 40, 0))
    bodies = gather_bodies(made)
    knee = np.array(made.joints["knee"].at_second)
    assert bodies.centres[bodies.body_of["coupler"]] == pytest.approx(np.add(knee, (500, 40, 0)) / 2)
    end = np.array(made.joints["wrist"].at_second)
    assert bodies.centres[bodies.body_of["rocker"]] == pytest.approx(np.add(end, (100, 0, 0)) / 2)


def test_rigid_joints_are_not_moving_ones():
    assert [joint.name for joint in moving_joints(welded())] == ["hinge", "end"]


# closed form: independent loops = joints - bodies + 1 for a machine in one piece
@pytest.mark.parametrize(
    ("make", "expected"),
    [
        (known.four_bar, [4]),
        (lambda: known.parallelogram(third_misplaced=0.0), [4, 4]),
        (known.tilting_parallelogram, [4, 4]),
        (lambda: known.peaucellier(20), [4, 4, 5]),
        (tied_triangle, [3, 3, 3]),
        (lambda: known.sarrus(40), [6]),
        (known.bricard, [6]),
        (lambda: known.platform_on_rods(6), [4] * 5),
        (lambda: machine(planar({"a": (GROUND, "b", ORIGIN), "c": ("b", "d", (9, 0))})), []),
        (lambda: machine([pin("a", GROUND, "b", ORIGIN), pin("c", GROUND, "b", (0, 0, 80))]), [2]),
        (lambda: machine([pin(name, GROUND, "b", (0, 0, z)) for z, name in enumerate("abc")]), [2, 2]),
        (lambda: machine([pin("a", GROUND, "b", ORIGIN), ball("c", "d", "e", (0, 0, 80))]), []),
    ],
)
def test_loops_are_the_independent_ones_and_as_short_as_can_be(make, expected):
    made = make()
    bodies = gather_bodies(made)
    found = loops(made, bodies)
    assert [len(names) for names in found] == expected
    assert all(closes(made, bodies, names) for names in found)
    assert len(set(found)) == len(found)


def closes(made, bodies, names):
    """Whether every body that the joints ``names`` touch is touched twice."""
    ends = [bodies.body_of[end] for name in names for end in (made.joints[name].first, made.joints[name].second)]
    return all(ends.count(body) == 2 for body in ends)


def test_squeezer_has_its_three_published_loops():
    places = {name: np.array(place) for name, place in {"crank": (7, 0), "upper": (-30, 17)}.items()}
    places |= {"common": np.array((-21, 1)), "lower": np.array((-30, -15))}
    made = known.squeezer(places, 1000)
    assert len(loops(made, gather_bodies(made))) == 3


@pytest.mark.parametrize("joint", ["crank_pin", "knee", "wrist", "rocker_pin"])
def test_loop_through_a_joint_starts_with_it_and_runs_round(joint):
    made = known.four_bar()
    names = loop_through(made, gather_bodies(made), joint)
    assert names[0] == joint
    assert sorted(names) == ["crank_pin", "knee", "rocker_pin", "wrist"]
    order = ["crank_pin", "knee", "wrist", "rocker_pin"]
    steps = [abs(order.index(a) - order.index(b)) for a, b in pairwise(names)]
    assert set(steps) <= {1, 3}


def test_loop_through_a_joint_is_the_shortest_and_skips_bodies_welded_together():
    joints = [*planar({"a": (GROUND, "p", ORIGIN), "b": ("p", "q", (50, 0)), "c": ("q", "bracket", (90, 0))})]
    joints += [weld("weld", GROUND, "bracket"), *planar({"d": ("q", "r", (95, 0)), "e": ("r", GROUND, (99, 0))})]
    made = machine(joints)
    assert set(loop_through(made, gather_bodies(made), "b")) == {"a", "b", "c"}
    assert set(loop_through(made, gather_bodies(made), "d")) == {"c", "d", "e"}


def test_loop_through_a_joint_that_closes_none_is_the_joint_alone():
    made = machine([pin("a", GROUND, "b", ORIGIN), pin("c", "b", "d", (0, 0, 9), Z)])
    assert loop_through(made, gather_bodies(made), "c") == ("c",)


def test_two_joints_between_the_same_parts_are_one_loop():
    made = machine([pin("front", GROUND, "arm", ORIGIN), pin("rear", GROUND, "arm", (0, 0, 80))])
    assert loop_through(made, gather_bodies(made), "rear") == ("rear", "front")
