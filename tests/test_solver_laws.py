"""What the solver promises whatever the machine: poses without history, no other assembly, drives as described."""

import front_ends
import known_linkages as known
import numpy as np
import pytest
from linkage_machines import (
    GROUND,
    ORIGIN,
    X,
    Z,
    about,
    ball,
    cylindrical,
    machine,
    move,
    pin,
    planar,
    polar,
    slide,
    slides,
    turns,
    weld,
)
from small_machines import read, trammel
from tries import first

from assembly.errors import InputError
from assembly.kinematics.assembling import assemble, joint_mobility
from assembly.kinematics.solver import _Walk, solve, unreachable

SAME = 1e-8
"""mm or rad between two ways to one pose; each may miss by the solver's 1e-9 mm."""


def five_bar(*, pins: bool):
    """Two cranks of 60, their feet 100 apart, and two bars of 70 between their ends, each crank with its drive.

    With ``pins`` the loop is held three times too often; otherwise it has a ball and a pin-slide in it.
    """
    left, right = polar(60, 90), polar(60, 90, (100, 0, 0))
    top = np.array([50, 60 + np.sqrt(70**2 - 50**2), 0])
    joints = planar({"left": (GROUND, "left_crank", ORIGIN), "right": (GROUND, "right_crank", (100, 0))})
    joints.append((pin if pins else cylindrical)("left_end", "left_crank", "left_bar", left, Z))
    joints.append(pin("top", "left_bar", "right_bar", top, Z) if pins else ball("top", "left_bar", "right_bar", top))
    joints.append(pin("right_end", "right_crank", "right_bar", right, Z))
    return machine(joints, turns(left=1), turns(right=1))


def side_of_top(moved):
    """On which side of the line between the crank ends the top pin stands (N,): the sign tells the assembly."""
    places = {name: joint.at_first for name, joint in moved.mechanism.machine.joints.items()}
    left, right = moved.point("left_crank", places["left_end"]), moved.point("right_crank", places["right_end"])
    return np.cross(moved.point("left_bar", places["top"]) - left, right - left)[:, 2]


def assert_same(solved, index, other):
    """The postures at ``index`` of ``solved`` are those of ``other``."""
    there = solved.posture.take(index)
    assert solved.reached[index].tolist() == other.reached.tolist()
    assert there.centres[other.reached] == pytest.approx(other.posture.centres[other.reached], abs=SAME)
    assert there.rotations[other.reached] == pytest.approx(other.posture.rotations[other.reached], abs=SAME)


@pytest.mark.parametrize(
    ("make", "reach", "count"),
    first(
        [
            (front_ends.front_end, (30, 35), 120),
            (lambda: front_ends.front_end(bump=True), (15, 25, 8), 70),
            (lambda: front_ends.over_centre(pins=True), (90,), 66),
            (known.rod_between_cranks, (60,), 70),
        ],
        2,
    ),
)
def test_pose_is_the_same_whatever_else_is_asked_and_in_whatever_order(make, reach, count):
    mechanism, rng = assemble(make()), np.random.default_rng(5)
    settings = rng.uniform(-1, 1, (count, len(reach))) * reach
    together = solve(mechanism, settings)
    assert together.reached.sum() > 0.9 * count
    order = rng.permutation(count)
    assert_same(together, order, solve(mechanism, settings[order]))
    few = order[:9]
    assert_same(together, few, solve(mechanism, settings[few]))
    assert_same(together, few[:1], solve(mechanism, settings[few[:1]]))


# closed form: the top pin stays on the side of the crank ends' line on which it was drawn
@pytest.mark.parametrize("pins", first([False, True], 1), ids=["ball in the loop", "pins only"])
def test_no_setting_is_reached_in_another_assembly(pins):
    near_folded = [(-177.776342, 178.307929), (-97.881928, 97.792366), (-116.192903, 116.084980), (-40, 30), (0, 0)]
    moved = move(five_bar(pins=pins), near_folded)
    side = side_of_top(moved)
    assert (side * side[-1] > 0).all()


def test_what_is_reached_does_not_depend_on_what_else_is_asked():
    mechanism = assemble(five_bar(pins=False))
    asked = [(-49.587861, -149.758865), (-49.824168, -150.625574), (-47.874652, -143.325765)]
    beside = [*np.tile(asked, (20, 1)), (-59.7, -165.7), (-36.4, -142.5)]
    together = solve(mechanism, np.array([*asked, *beside]))
    assert together.reached[:3].tolist() == solve(mechanism, np.array(asked)).reached.tolist()


def test_pose_is_the_same_to_rounding_whatever_was_asked_of_the_mechanism_before():
    settings = np.random.default_rng(8).uniform(-1, 1, (90, 2)) * (30, 35)
    fresh, asked = assemble(front_ends.front_end()), assemble(front_ends.front_end())
    solve(asked, settings[::-1])
    one_by_one = [solve(asked, setting[None]).posture for setting in settings[:5]]
    together = solve(fresh, settings).posture
    for row, alone in enumerate(one_by_one):
        assert alone.centres[0] == pytest.approx(together.centres[row], abs=1e-11)
        assert alone.rotations[0] == pytest.approx(together.rotations[row], abs=1e-13)


# closed form: the ends of the cranks are 140 apart at most
def test_what_is_reached_can_be_assembled_and_what_lies_beyond_is_not():
    mechanism = assemble(five_bar(pins=False))
    settings = np.random.default_rng(6).uniform(-180, 180, (12, 2))
    share = np.linspace(0, 1, 400)[:, None]
    apart = np.array([np.linalg.norm(ends_apart(share * setting), axis=-1).max() for setting in settings])
    solved = solve(mechanism, settings)
    assert (apart < 139.9).any()
    assert solved.reached[apart < 139.9].all()
    assert not solved.reached[np.linalg.norm(ends_apart(settings), axis=-1) > 140.1].any()


def ends_apart(settings):
    return polar(60, 90 + settings[:, 1], (100, 0, 0)) - polar(60, 90 + settings[:, 0])


# 1.16, 1.19, 1.24: locked or moving for an instant only: closed at rest, not to be moved
@pytest.mark.parametrize(
    "make",
    [
        lambda: known.bennett(60, misplaced=1.0),
        lambda: known.parallelogram(third_misplaced=3.0),
        known.three_pins_in_line,
    ],
)
def test_locked_linkage_stands_at_rest_and_reaches_nothing_else(make):
    mechanism = assemble(make())
    solved = solve(mechanism, [[0.0], [3.0], [-10.0]])
    assert solved.reached.tolist() == [True, False, False]
    told = unreachable(mechanism, solved, 2)
    assert told.miss_mm > 1e-3
    assert len(told.loop) >= 3


# 1.19: the third crank says the same twice but for 4e-7; all cranks turn alike
def test_rows_that_contradict_by_less_than_what_is_told_are_followed():
    moved = move(known.parallelogram(third_misplaced=4e-7), [-50, 20, 50])
    assert 1e-8 < moved.solved.residual.max() < 1e-6
    assert moved.turn("third_crank") == pytest.approx([-50, 20, 50], abs=1e-5)


def test_one_drive_moves_several_joints_by_their_ratios():
    arms = {f"pin_{k}": (GROUND, f"arm_{k}", (100 * k, 0)) for k in range(3)}
    moved = move(machine(planar(arms), turns("all", pin_0=1, pin_1=-0.5, pin_2=2.25)), [-20, 30])
    for arm, ratio in (("arm_0", 1), ("arm_1", -0.5), ("arm_2", 2.25)):
        assert moved.turn(arm) == pytest.approx(ratio * np.array([-20, 30]), abs=1e-7)


def test_several_drives_on_one_joint_add_up():
    made = machine(
        [slide("guide", GROUND, "block", (5, 0), (3, 4, 0))], slides("coarse", guide=2), slides("fine", guide=-0.1)
    )
    moved = move(made, [(10, 0), (10, 30), (-7, 5)])
    assert moved.point("block", (5, 0)) == pytest.approx(
        np.array([5, 0, 0]) + np.array([[20], [17], [-14.5]]) * (0.6, 0.8, 0), abs=SAME
    )


def test_turning_and_sliding_of_one_pin_slide_are_set_apart():
    made = machine([cylindrical("post", GROUND, "drum", (0, 0, 40), Z)], turns("turn", post=1), slides("lift", post=1))
    moved = move(made, [(30, 0), (0, 12), (200, -8)])
    assert moved.turn("drum") == pytest.approx([30, 0, -160], abs=1e-7)
    assert moved.point("drum", (0, 0, 40)) == pytest.approx(np.array([[0, 0, 40], [0, 0, 52], [0, 0, 32]]), abs=SAME)


def test_turns_and_slides_count_second_part_against_first_along_the_line():
    made = machine([pin("hinge", "flap", GROUND, ORIGIN, Z)], turns(hinge=1))
    assert move(made, [25]).turn("flap") == pytest.approx(-25, abs=1e-7)
    made = machine([slide("guide", "block", GROUND, ORIGIN, X)], slides(guide=1))
    assert move(made, [4]).point("block", ORIGIN)[0] == pytest.approx([-4, 0, 0], abs=SAME)


def test_solved_postures_tell_what_they_miss_joint_by_joint():
    moved = move(known.four_bar(), [10.0, 200.0])
    assert moved.solved.residual.max() < 1e-6
    misses = moved.mechanism.joint_misses(moved.solved.posture, moved.solved.settings)
    assert set(misses) == {"crank_pin", "knee", "wrist", "rocker_pin"}
    rows = len(moved.mechanism.equations.owners)
    assert max(misses.values()) <= moved.solved.residual.max() <= np.sqrt(rows) * max(misses.values())
    wrong = moved.mechanism.joint_misses(moved.solved.posture, moved.solved.settings + 1.0)
    assert wrong["crank_pin"] == pytest.approx(np.radians(1) * moved.mechanism.equations.scale, abs=1e-6)


def test_frames_are_rotations_and_the_ground_never_moves():
    moved = move(front_ends.front_end(), [(20, -15), (-10, 30)])
    for part in moved.mechanism.machine.parts:
        frames = moved.frames(part)
        assert frames[:, :3, :3] @ np.swapaxes(frames[:, :3, :3], 1, 2) == pytest.approx(
            np.broadcast_to(np.eye(3), (2, 3, 3)), abs=1e-12
        )
        assert (frames[:, 3] == (0, 0, 0, 1)).all()
    assert (moved.frames(GROUND) == np.eye(4)).all()


def test_machine_far_from_the_origin_and_turned_moves_alike():
    R, far, here = about((1, -2, 0.5), 50), np.array((3000.0, -2000, 500)), known.four_bar()
    drawn = [pin(name, j.first, j.second, R @ j.at_first + far, R @ j.along) for name, j in here.joints.items()]
    settings = [-120, -10, 75, 170]
    there = move(machine(drawn, turns(crank_pin=1)), settings).turn("rocker", R @ Z)
    assert there == pytest.approx(move(here, settings).turn("rocker"), abs=1e-7)


def test_no_settings_give_no_postures():
    solved = solve(assemble(known.four_bar()), np.zeros((0, 1)))
    assert len(solved.posture) == len(solved.reached) == 0


@pytest.mark.parametrize(
    "make",
    [
        pytest.param(lambda: machine([weld("weld", GROUND, "bracket")]), id="nothing moves"),
        pytest.param(lambda: known.platform_on_rods(6), id="a structure on six rods"),
    ],
)
def test_machine_without_drives_is_refused_in_words(make):
    with pytest.raises(InputError, match="no drive moves anything"):
        assemble(make())


@pytest.mark.parametrize(
    ("joints", "told"),
    [
        ([pin("pivot", GROUND, "arm", ORIGIN, Z), weld("weld", GROUND, "arm")], "both stand still"),
        (
            [
                pin("hub", GROUND, "disc", ORIGIN, Z),
                pin("pivot", "disc", "arm", ORIGIN, Z),
                weld("weld", "arm", "disc"),
            ],
            "are welded or bolted into one",
        ),
    ],
)
def test_a_drive_of_a_joint_that_cannot_move_is_refused(joints, told):
    """It once was CLEAR everywhere in a range of which no setting but 0 can be had, for nothing moved."""
    for ask in (assemble, joint_mobility):
        with pytest.raises(InputError, match=f"drives.pivot: it turns `pivot`, but .* {told}; let"):
            ask(machine(joints, turns(pivot=1)))


def test_a_joint_between_parts_that_stand_still_moves_nothing_by_itself():
    """No body has an unknown here; it once broke the program off."""
    with pytest.raises(InputError, match="no drive moves anything"):
        assemble(machine([pin("pivot", GROUND, "arm", ORIGIN, Z), weld("weld", GROUND, "arm")]))


def test_a_setting_that_cannot_be_reached_is_tried_once(monkeypatch):
    """The rod of 100 mm lies along its guide at 100 (closed form): no setting beyond can be put together."""
    mechanism = assemble(read(trammel(high=101.0)))
    first = solve(mechanism, np.array([[100.5], [-30.0], [101.0]]))
    assert list(first.reached) == [False, True, False]
    assert first.share[[0, 2]] == pytest.approx([100 / 100.5, 100 / 101], abs=1e-4)
    mixed = solve(mechanism, np.array([[20.0], [101.0], [-30.0], [100.5]]))
    assert list(mixed.reached) == [True, False, True, False]
    assert np.array_equal(mixed.posture.rotations[[3, 2, 1]], first.posture.rotations)
    assert np.array_equal(mixed.share[[3, 2, 1]], first.share)

    def tried_again(*_arguments):
        raise AssertionError("a way was followed that was followed before")

    monkeypatch.setattr(_Walk, "advance", tried_again)
    assert not solve(mechanism, np.array([[101.0], [100.5]])).reached.any()
