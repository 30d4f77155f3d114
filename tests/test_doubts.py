"""What looks forgotten in a drawing: each finding with a machine that has it and one that nearly has it (own)."""

import json
import re
from pathlib import Path

import numpy as np
import pytest
from plain_meshes import ball
from small_machines import read, slider
from tries import first

from assembly.clearance.narrow_phase.checked_pairs import Solid
from assembly.clearance.narrow_phase.distance import CollisionModel, nearest
from assembly.clearance.narrow_phase.drawing_doubts import find_doubts
from assembly.clearance.narrow_phase.drawn_shapes import DrawnShape
from assembly.cli import main
from assembly.geometry.mesh import Mesh
from assembly.geometry.rotations import rotation_from_vector
from assembly.geometry.shapes import box
from assembly.model.machine import FindingKind, Shape
from assembly.model.reader import read_machine

HERE = Path(__file__).resolve().parent
CASES = HERE / "cases"
DEMOS = [
    *sorted((HERE.parent / "meshes").glob("*/*.toml")),
    *sorted((HERE.parent / "assembly" / "starter").glob("*.toml")),
]

HINGE = """
format = 1
[parts.frame]
fixed = true
shapes = [{ name = "post", box = [0, 0, -40], size = [60, 20, 20] }, PIN]
[parts.flap]
shapes = [
  { name = "knuckle", tube = [[-10, 0, 0], [10, 0, 0]], diameter = 20, wall = 4 },
  { name = "leaf", box = [0, 40, 0], size = [20, 62, 6] },
  MORE
]
[joints.hinge]
pin = ["frame", "flap"]
at = AT
along = [1, 0, 0]
[drives.swing]
turns = { hinge = 1 }
range = [-5, 5]
"""
WEB = '{ name = "web", box = [-20, 0, -15], size = [8, 8, 34] }'
PIN = f'{WEB}, {{ name = "pin", rod = [[-24, 0, 0], [20, 0, 0]], diameter = 11.9 }}'


def hinge(pin=PIN, more="", at="[0, 0, 0]"):
    return HINGE.replace("PIN", pin).replace("MORE", more).replace("AT", at)


def found(text):
    return [(each.kind, each.message) for each in find_doubts(read(text))]


@pytest.mark.parametrize(
    "path", first(sorted(DEMOS, key=lambda path: path.stat().st_size), 3), ids=lambda path: path.stem
)
def test_the_demos_have_no_such_findings(path):
    machine = read_machine(path)
    assert find_doubts(machine) == ()
    assert {finding.kind for finding in machine.findings} <= {FindingKind.NOTE}


def line_of(text, piece):
    return text[: text.index(piece)].count("\n") + 1


class TestFloatingShapes:
    # closed form: the leaf ends at y = 71; the lug is 6 mm wide
    @pytest.mark.parametrize(("middle", "gap"), [(76.0, 2.0), (75.0, 1.0), (84.5, 10.5), (74.4, None), (72, None)])
    def test_a_shape_is_named_with_its_gap_where_it_touches_nothing(self, middle, gap):
        text = hinge(more=f'{{ name = "lug", box = [0, {middle}, 0], size = [6, 6, 6] }}')
        told = f"lug of flap touches nothing of it: {gap} mm from the nearest, leaf"
        assert found(text) == ([] if gap is None else [(FindingKind.FLOATING, told)])
        for finding in find_doubts(read(text)):
            assert finding.parts == ("flap",)
            assert finding.line == line_of(text, '"lug"')

    def test_a_shape_inside_another_is_held(self):
        assert found(hinge(more='{ name = "core", box = [0, 40, 0], size = [6, 6, 2] }')) == []

    def test_a_shape_on_a_part_that_is_tied_rigidly_is_held(self):
        plate = '[parts.plate]\nshapes = [{ name = "plate", box = [0, 90, 0], size = [20, 38, 6] }]\n'
        tie = '[joints.weld]\nwelded = ["flap", "plate"]\n'
        lug = '{ name = "lug", box = [0, 110, 0], size = [6, 6, 6] }'
        assert found(hinge(more=lug) + plate + tie) == []
        # the same lug with the plate on a joint that moves
        loose = '[joints.weld]\npin = ["flap", "plate"]\nat = [0, 72, 0]\nalong = [1, 0, 0]\n'
        drive = "[drives.fold]\nturns = { weld = 1 }\nrange = [-5, 5]\n"
        kinds = [kind for kind, _message in found(hinge(more=lug) + plate + loose + drive)]
        assert kinds == [FindingKind.FLOATING]

    def test_two_shapes_that_hang_together_are_one_finding(self):
        lugs = ", ".join(f'{{ name = "lug {at}", box = [0, {at}, 0], size = [6, 6, 6] }}' for at in (85, 91))
        ((_kind, message),) = found(hinge(more=lugs))
        assert message.startswith("lug 85 and lug 91 of flap touch nothing of it: 11.0 mm")

    def test_twins_are_told_once(self):
        mirrored = '[mirror]\nleft = "right"\n' + hinge(more='{ name = "lug", box = [0, 76, 0], size = [6, 6, 6] }')
        text = mirrored.replace("flap", "flap_left").replace("hinge", "hinge_left").replace("[mirror]", "[mirror]", 1)
        text = text.replace('[mirror]\nleft = "right"\n', "") + '[mirror]\nleft = "right"\n'
        text = text.replace("{ hinge_left = 1 }", "{ hinge_left = 1, hinge_right = 1 }")
        machine = read(text)
        assert {"flap_left", "flap_right"} <= machine.parts.keys()
        assert [each.parts for each in find_doubts(machine)] == [("flap_left",)]


class TestBareJoints:
    def test_a_pin_that_was_forgotten_is_found_in_the_case(self):
        path = CASES / "missing_pin_no_finding.toml"
        bare = [each for each in find_doubts(read_machine(path)) if each.kind is FindingKind.BARE_JOINT]
        (finding,) = bare
        assert finding.about == "joints.lower_pivot_right"
        assert finding.line == line_of(path.read_text(encoding="utf-8"), "lower_pivot_left = { pin")
        # closed form: the head bush, of radius 15, stands 55 mm beside the pivot
        assert "nothing of frame is drawn here: its nearest shape, head bush, is 40.0 mm away" in finding.message
        assert "lower_arm_right has bush here" in finding.message

    def test_the_same_machine_with_the_pin_has_none(self):
        path = CASES / "wrong_loop_blamed.toml"
        assert FindingKind.BARE_JOINT not in {each.kind for each in find_doubts(read_machine(path))}

    def test_a_hinge_without_its_pin_is_told(self):
        ((kind, message),) = found(hinge(pin=""))
        assert kind is FindingKind.BARE_JOINT
        # closed form: the post's upper side lies at z = -30
        assert message.startswith("nothing of frame is drawn here: its nearest shape, post, is 30.0 mm away")

    @pytest.mark.parametrize("at", ["[0, 0, 0]", "[9, 0, 0]", "[-300, 0, 0]", "[500, 0, 0]"])
    def test_the_point_may_lie_anywhere_on_the_pins_line(self, at):
        assert found(hinge(at=at)) == []

    # closed form: the knuckle ends at x = -10, the pin `gap` mm before it
    @pytest.mark.parametrize(("gap", "missing"), [(2.5, False), (3.5, True)])
    def test_a_stub_that_ends_a_washer_before_the_other_part_counts(self, gap, missing):
        stub = f'{WEB}, {{ name = "stub", rod = [[-24, 0, 0], [{-10 - gap}, 0, 0]], diameter = 11.9 }}'
        # the web, x from -24 to -16, is 6 mm away along the line
        assert [kind for kind, _ in found(hinge(pin=stub, at="[5, 0, 0]"))] == [FindingKind.BARE_JOINT] * missing

    # closed form: reach is twice the knuckle's inner radius of 6 and 2 mm more; the tube's wall begins at its inner one
    @pytest.mark.parametrize(("inner", "missing"), [(13.8, False), (14.3, True)])
    def test_a_bush_counts_up_to_a_little_more_than_twice_what_turns_in_it(self, inner, missing):
        bush = f'{{ name = "bush", tube = [[-30, 0, 0], [30, 0, 0]], diameter = {2 * inner + 8}, wall = 4 }}'
        link = '{ name = "link", box = [0, 0, -24], size = [10, 10, 20] }'
        assert [kind for kind, _ in found(hinge(pin=f"{bush}, {link}"))] == [FindingKind.BARE_JOINT] * missing

    def test_a_point_far_from_both_parts_is_told_of_both(self):
        text = hinge(at="[0, 0, 300]")
        (finding,) = find_doubts(read(text))
        assert finding.parts == ("frame", "flap")
        assert "the joint's point may be wrong" in finding.message

    # closed form: the ball stands at the origin, the far arm's end `away` mm beside it
    @pytest.mark.parametrize(("away", "missing"), [(9.5, False), (10.5, True)])
    def test_a_ball_with_nothing_in_its_eye_is_told(self, away, missing):
        arm = f'[parts.arm]\nshapes = [{{ name = "arm", box = [0, {-away - 10}, 0], size = [20, 20, 20] }}]\n'
        joint = '[joints.eye]\nball = ["flap", "arm"]\nat = [0, 0, 0]\n'
        # the flap's knuckle is filled here, so the ball stands inside of it, 2 mm below a surface
        text = hinge(more='{ name = "plug", rod = [[-10, 0, 0], [10, 0, 0]], diameter = 4 }') + arm + joint
        bare = [message for kind, message in found(text) if kind is FindingKind.BARE_JOINT]
        assert len(bare) == missing
        assert all(f"nothing of arm is drawn here: its nearest shape, arm, is {away} mm away" in each for each in bare)


# closed form: distances to a cube of 10 mm, from outside its face, edge and corner, and from inside
@pytest.mark.parametrize(
    ("at", "expected"),
    [((0, 0, 8), 3), ((0, 8, 9), 5), ((7, 8, 11), 7), ((0, 0, 1), 4), ((0, 0, 70), 65), ((5, 5, 5), 0)],
)
def test_distance_from_a_point_to_a_surface(at, expected):
    cube = DrawnShape("part", Shape("cube", box((0, 0, 0), (10, 10, 10))))
    assert cube.from_surface(np.array(at, dtype=float)) == pytest.approx(expected, abs=1e-9)


def test_distance_is_that_of_the_whole_shapes():
    random, still = np.random.default_rng(13), np.eye(4)
    vertices, faces = ball(30.0, 2)
    for _ in range(40):
        shapes = []
        for stretch in random.uniform(0.2, 1.5, (2, 3)):
            turn = rotation_from_vector(random.normal(size=3))
            shapes.append(Mesh((vertices * stretch) @ turn.T + random.uniform(-60, 60, 3), faces))
        whole = nearest(*(CollisionModel(Solid(mesh, ("",), (0,), (mesh,))) for mesh in shapes), still, still).distance
        a, b = (DrawnShape("part", Shape("egg", mesh)) for mesh in shapes)
        assert (a.distance(b), b.distance(a)) == pytest.approx((whole, whole), abs=1e-6)


class TestNames:
    SIDES = (
        'format = 1\n[mirror]\nleft = "right"\n[parts.frame]\nfixed = true\nshapes = [FRAME]\n'
        '[parts.flap_left]\nshapes = [{ name = "flap", box = [0, FLAP, 0], size = [20, 40, 6] }]\n'
        '[joints.hinge_left]\npin = ["frame", "flap_left"]\nat = [0, 20, 0]\nalong = [1, 0, 0]\n'
        "[drives.swing]\nturns = { hinge_left = 1, hinge_right = 1 }\nrange = [-5, 5]\n"
    )

    def of(self, frame, flap=42):
        text = self.SIDES.replace("FRAME", frame).replace("FLAP", str(flap))
        return text, [each for each in read(text).findings if each.kind is FindingKind.WRONG_SIDE]

    BEAM = '{ name = "beam", box = [0, 0, -9], size = [20, 20, 12] }'

    def test_a_shape_of_one_side_on_a_part_without_a_twin_is_told(self):
        text, (finding,) = self.of(f'{self.BEAM},\n{{ name = "lug left", box = [0, 9, 0], size = [9, 9, 9] }}')
        assert finding.line == line_of(text, '"lug left"')
        assert finding.message.startswith("frame has no twin, so nothing mirrors `lug left`: draw `lug right` too")

    @pytest.mark.parametrize("other", ["lug right", "lug left right"])
    def test_a_shape_with_its_counterpart_is_not(self, other):
        lugs = [f'{{ name = "{name}", box = [0, {y}, 0], size = [9, 9, 9] }}' for name, y in ((other, -9),)]
        if other == "lug right":
            lugs.append('{ name = "lug left", box = [0, 9, 0], size = [9, 9, 9] }')
        _text, told = self.of(", ".join([self.BEAM, *lugs]))
        assert told == []

    # closed form: 40 mm wide about its middle
    @pytest.mark.parametrize(("middle", "wrong"), [(42, False), (-42, True), (-19, False), (-21, True), (0, False)])
    def test_a_part_that_lies_on_the_other_side_than_its_name_says_is_told(self, middle, wrong):
        text, told = self.of(self.BEAM, middle)
        assert len(told) == wrong
        for finding in told:
            assert finding.line == line_of(text, "[parts.flap_left]")
            assert "its name says left, but all of it lies on the right" in finding.message


class TestWhereItIsTold:
    NOSE = '{ name = "nose", box = [0, 30, 0], size = [20, 20, 20] }'
    CHIP = '{ name = "chip", box = [0, 45, 0], size = [6, 6, 6] }'
    TEXT = slider().replace(NOSE, f"{NOSE},\n{CHIP}")

    def test_the_sweep_and_its_record_have_it_and_the_status_stays(self, tmp_path, capsys):
        path = tmp_path / "sledge.toml"
        path.write_text(self.TEXT, encoding="utf-8")
        status = main(["sweep", str(path), "--out", str(tmp_path / "out"), "--no-picture", "--cores", "1"])
        told = " ".join(capsys.readouterr().out.split())
        assert status == 0
        assert re.search(r"Worth knowing.* \(chip\) \(line \d+\): chip of sledge touches nothing of it: 2\.0 mm", told)
        record = json.loads((tmp_path / "out" / "record.json").read_text(encoding="utf-8"))
        (entry,) = record["findings"]
        assert (entry["kind"], entry["parts"], entry["line"]) == (
            "floating shape",
            ["sledge"],
            line_of(self.TEXT, '"chip"'),
        )

    def test_inspect_has_it(self, tmp_path, capsys):
        path = tmp_path / "hinge.toml"
        path.write_text(self.TEXT, encoding="utf-8")
        assert main(["inspect", str(path)]) == 0
        assert "chip of sledge touches nothing of it: 2.0 mm" in " ".join(capsys.readouterr().out.split())


COMMAS = {
    "in quotes": ("size = [20, 62, 6]", 'size = [20, "62,5", 6]', "use a point: 62.5"),
    "bare": ("diameter = 20,", "diameter = 20,5,", "use a point: 20.5"),
    "in a list": ("size = [20, 62, 6]", "size = [20, 62,5, 6]", "for decimals use a point: 12.5, not 12,5"),
    "in a point": ("at = [0, 0, 0]", "at = [0, 0,5, 0]", "for decimals use a point: 12.5, not 12,5"),
}


@pytest.mark.parametrize("case", COMMAS)
def test_a_decimal_comma_gets_the_point(case, tmp_path, capsys):
    sound, broken, told = COMMAS[case]
    text = hinge()
    assert sound in text
    path = tmp_path / "hinge.toml"
    path.write_text(text.replace(sound, broken, 1), encoding="utf-8")
    assert main(["inspect", str(path)]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith(f"{path}:{line_of(text, sound)}: ")
    assert line.endswith(told)
