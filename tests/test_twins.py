"""One side that differs from the mirror of the other, against the same machine written out by hand on both sides."""

import numpy as np
import pytest
from crooked_machines import POINTS, front_end
from small_machines import read

from assembly.cli import main
from assembly.errors import InputError
from assembly.kinematics.assembling import assemble
from assembly.kinematics.solver import solve
from assembly.model.machine import FindingKind

LONGER_ROD = 'set_length = { from = "tie_inner_right", to = "tie_outer_right", is = 181.5 }'
SHORTER_ROD = 'set_length = { from = "tie_inner_left", to = "tie_outer_left", is = 174 }'
SHORTER_ROD_RIGHT = SHORTER_ROD.replace("left", "right")
BENT = "points = { lower_ball_right = [7, -242.5, 154] }"
NO_LUG = 'shapes = [{ name = "tube", rod = ["lower_pivot_right", "lower_ball_right"], diameter = 18 }]'
LUG = (
    'shapes = [{ name = "tube", rod = ["lower_pivot_right", "lower_ball_right"], diameter = 18 },'
    ' { name = "lug", box = [10, -120, 170], size = [12, 20, 8] }]'
)
HIGHER = {"upper_pivot_right": (0, -55, 274)}
CROOKED = {
    "nothing is overridden": ({}, {}, {}),
    "a tie rod of another length": ({"tie_rod_right": LONGER_ROD}, {}, {}),
    "an arm that was bent": ({"lower_arm_right": BENT}, {}, {}),
    "both at once": ({"lower_arm_right": BENT, "tie_rod_right": LONGER_ROD}, {}, {}),
    "a hole of the frame drilled too high": ({}, HIGHER, {}),
    "a hole too high and a bent arm": ({"lower_arm_right": BENT}, HIGHER, {}),
    "both rods set, one of them anew": (
        {"tie_rod_left": SHORTER_ROD, "tie_rod_right": LONGER_ROD},
        {},
        {"tie_rod_left": SHORTER_ROD, "tie_rod_right": LONGER_ROD},
    ),
    "both rods set, another part anew": (
        {"tie_rod_left": SHORTER_ROD, "lower_arm_right": BENT},
        {},
        {"tie_rod_left": SHORTER_ROD, "tie_rod_right": SHORTER_ROD_RIGHT, "lower_arm_right": BENT},
    ),
    "an arm without its lug": ({"lower_arm_right": NO_LUG}, {}, {}),
    "an arm with a lug of its own and bent": (
        {"lower_arm_right": f"{LUG}\n{BENT}"},
        {},
        {"lower_arm_right": f"{LUG}\n{BENT}"},
    ),
    "a frame whose own hole on one side is off": ({"frame": "points = { tie_inner_left = [80, 60, 153] }"}, {}, {}),
}


def both(tables, points, by_hand):
    """The machine with a mirror and overrides, and the same by hand."""
    mirrored, full = dict(tables), dict(by_hand or tables)
    texts = []
    for given, sides in ((mirrored, ("left",)), (full, ("left", "right"))):
        frame = given.pop("frame", "")
        text = front_end(sides, given, points)
        texts.append(text.replace("fixed = true", f"fixed = true\n{frame}"))
    return [read(text) for text in texts]


@pytest.mark.parametrize("case", CROOKED)
class TestAgainstTheSameByHand:
    def test_joints_sit_at_the_same_places_with_the_same_limits(self, case):
        mirrored, by_hand = both(*CROOKED[case])
        assert mirrored.joints.keys() == by_hand.joints.keys()
        for name, joint in mirrored.joints.items():
            other = by_hand.joints[name]
            assert np.allclose((joint.at_first, joint.at_second), (other.at_first, other.at_second), atol=1e-12)
            assert (joint.kind, joint.first, joint.second) == (other.kind, other.first, other.second)
            assert (joint.turn_limit, joint.misalignment) == (other.turn_limit, other.misalignment)
            assert (joint.bolt is None) == (other.bolt is None)
            assert np.allclose(joint.bolt or 0, other.bolt or 0, atol=1e-12)

    def test_shapes_fill_the_same_space(self, case):
        mirrored, by_hand = both(*CROOKED[case])
        for name, part in mirrored.parts.items():
            other = by_hand.parts[name]
            assert [shape.name for shape in part.shapes] == [shape.name for shape in other.shapes]
            for here, there in zip(part.shapes, other.shapes, strict=True):
                assert here.mesh.volume == pytest.approx(there.mesh.volume, rel=1e-9)
                for end in (np.min, np.max):
                    box, same = (end(shape.mesh.vertices, axis=0) for shape in (here, there))
                    # facets of a mirrored cylinder may stand at other angles than those of one drawn there
                    assert box == pytest.approx(same, abs=0.05)

    def test_every_part_stands_in_the_same_place_at_every_setting(self, case):
        settings = np.linspace(-12, 12, 9)[:, None]
        mirrored, by_hand = (assemble(machine) for machine in both(*CROOKED[case]))
        one, other = solve(mirrored, settings), solve(by_hand, settings)
        assert one.reached.all()
        for part in mirrored.machine.parts:
            here, there = mirrored.world_from_rest(one.posture, part), by_hand.world_from_rest(other.posture, part)
            assert np.abs(here - there).max() < 1e-7


def test_what_is_overridden_is_told_with_its_line(capsys, tmp_path):
    text = front_end(("left",), {"tie_rod_right": LONGER_ROD, "tie_rod_left": SHORTER_ROD}, HIGHER)
    (finding,) = [finding for finding in read(text).findings if finding.parts == ("tie_rod_right",)]
    assert finding.kind is FindingKind.ONE_SIDE
    assert finding.line == text[: text.index("[parts.tie_rod_right]")].count("\n") + 1
    assert finding.message == "the mirror of tie_rod_left but for its own `set_length`"
    path = tmp_path / "crooked.toml"
    path.write_text(text, encoding="utf-8")
    assert main(["inspect", str(path)]) == 0
    told = capsys.readouterr().out
    row = next(line.split() for line in told.splitlines() if line.split()[:2] == ["tie_rod_right", "tie_inner_right"])
    # closed form: the drawn length
    drawn = np.linalg.norm(np.subtract(POINTS["tie_inner"], POINTS["tie_outer"]))
    assert row[3:6] == ["tie_outer_right", "181.5", f"{drawn:.2f}"]
    assert "points.upper_pivot_right" in told
    assert "4 mm off" in told


def test_a_roll_of_one_side_stands_instead_of_the_mirrored_one():
    tables = {"tie_rod_left": "roll = 20"}
    assert read(front_end(("left",), dict(tables))).parts["tie_rod_right"].roll == -20
    tables["tie_rod_right"] = "roll = 5"
    parts = read(front_end(("left",), tables)).parts
    assert (parts["tie_rod_left"].roll, parts["tie_rod_right"].roll) == (20, 5)
    assert [shape.name for shape in parts["tie_rod_right"].shapes] == ["tube"]


def test_a_machine_alike_on_both_sides_has_no_such_finding():
    assert read(front_end(("left",), {"tie_rod_left": SHORTER_ROD})).findings == ()
    # both sides written and alike
    assert read(front_end(("left",), points={"upper_pivot_right": (0, -55, 270)})).findings == ()


def test_an_own_point_of_one_side_on_a_part_of_both_is_told():
    text = front_end(("left",)).replace("fixed = true", "fixed = true\npoints = { tie_inner_left = [80, 60, 153] }")
    (finding,) = read(text).findings
    assert "`tie_inner_right` stays as drawn" in finding.message
    both_sides = "points = { tie_inner_left = [80, 60, 153], tie_inner_right = [80, -60, 153] }"
    assert read(front_end(("left",)).replace("fixed = true", f"fixed = true\n{both_sides}")).findings == ()


class TestTolerances:
    @staticmethod
    def of(tables):
        machine = read(front_end(("left",), tables) + "[dimensions]\nlong = { value = 174, plus_minus = 0.4 }\n")
        return {edit.part: edit.plus_minus for edit in machine.edits}

    @pytest.mark.parametrize(
        ("left", "right", "expected"),
        [
            (SHORTER_ROD, "", (0, 0)),
            (SHORTER_ROD.replace("174", '"long"'), "", (0.4, 0.4)),
            (SHORTER_ROD.replace("174", "174, plus_minus = 0.2"), "", (0.2, 0.2)),
            (SHORTER_ROD.replace("174", '"long"'), "plus_minus = 1", (0.4, 1)),
            (SHORTER_ROD + "\nplus_minus = 0.3", LONGER_ROD, (0.3, 0)),
            (SHORTER_ROD + "\nplus_minus = 0.3", LONGER_ROD + "\nplus_minus = 0.7", (0.3, 0.7)),
            (SHORTER_ROD, LONGER_ROD.replace("181.5", "181.5, plus_minus = 0.1") + "\nplus_minus = 0.7", (0, 0.1)),
        ],
    )
    def test_a_side_may_have_its_own(self, left, right, expected):
        found = self.of({"tie_rod_left": left, **({"tie_rod_right": right} if right else {})})
        assert (found["tie_rod_left"], found["tie_rod_right"]) == expected


def faults_of(text):
    with pytest.raises(InputError) as told:
        read(text)
    return told.value.faults


FAULTS = {
    "override of nothing": (
        {"tie_rdo_right": LONGER_ROD},
        "[parts.tie_rdo_right]",
        "would be the twin of `tie_rdo_left`, which is not in the file; the nearest is `tie_rod_left`",
    ),
    "length between points of the other name": (
        {"tie_rod_right": LONGER_ROD.replace("tie_inner_right", "tie_iner_right")},
        "set_length",
        "unknown point `tie_iner_right`; the nearest of the points is `tie_inner_right`",
    ),
    "point that takes a mirrored shape its length": (
        {"tie_rod_right": "points = { tie_outer_right = [80, -60, 150] }"},
        "[parts.tie_rod_right]",
        "with `tie_outer_right` as it is on this side parts.tie_rod_right.shapes[0] cannot be made",
    ),
    "tolerance of nothing": (
        {"upper_arm_right": "plus_minus = 0.5"},
        "plus_minus",
        "has no length of its own that could have a tolerance",
    ),
}


@pytest.mark.parametrize("case", FAULTS)
def test_a_fault_names_the_line_of_the_override(case):
    tables, line, message = FAULTS[case]
    text = front_end(("left",), tables)
    (fault,) = faults_of(text)
    assert fault.line == text[: text.index(line)].count("\n") + 1
    assert message in str(fault)
