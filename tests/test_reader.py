"""What a sound mechanism file becomes: every number where the file says, the other side as its mirror image."""

import hashlib
import math
import pickle

import numpy as np
import pytest
from mechanism_files import BENCH, TRIKE, folder_with_meshes, write_box

from assembly.model.load_case import Force, LoadCase, Moment, Stop, Weight
from assembly.model.machine import DriveKind, FindingKind, JointKind, RatedForce
from assembly.model.reader import machine_from_text, read_machine


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return folder_with_meshes(tmp_path_factory.mktemp("shop"))


@pytest.fixture(scope="module")
def trike(folder):
    path = folder / "trike.toml"
    path.write_text(TRIKE, encoding="utf-8")
    return read_machine(path)


@pytest.fixture(scope="module")
def bench(folder):
    return machine_from_text(BENCH, folder)


def shape(machine, part, name):
    return next(shape for shape in machine.parts[part].shapes if shape.name == name)


class TestTheSketchOfTheDesign:
    def test_names_are_complete_with_the_other_side(self, trike):
        sides = ["lower_arm", "upright", "wheel"]
        assert set(trike.parts) == {
            "frame",
            "seat",
            *(f"{name}_{side}" for name in sides for side in ("left", "right")),
        }
        assert len(trike.joints) == 7
        assert trike.name == "Parcel trike front end"

    def test_dimensions_keep_value_tolerance_and_text(self, trike):
        assert (trike.dimensions["track"].value, trike.dimensions["track"].plus_minus) == (640, 0)
        assert (trike.dimensions["arm_inner"].value, trike.dimensions["arm_inner"].plus_minus) == (58, 0.5)

    def test_points_are_worked_out_and_mirrored(self, trike):
        assert trike.points["lower_outer_left"] == (0, 640 / 2 - 62, 157)
        assert trike.points["lower_outer_right"] == (0, -(640 / 2 - 62), 157)

    def test_joints_carry_their_numbers(self, trike):
        ball = trike.joints["lower_ball_left"]
        assert (ball.kind, ball.first, ball.second) == (JointKind.BALL, "lower_arm_left", "upright_left")
        assert (ball.at_first, ball.at_second) == ((0, 258, 157), (0, 258, 157))
        assert (ball.bolt, ball.misalignment, ball.seat, ball.along) == ((0, 0, 1), 22, 14, None)
        assert trike.joints["lower_pivot_left"].along == (1, 0, 0)

    def test_drive_names_both_sides(self, trike):
        tilt = trike.drives["tilt"]
        assert (tilt.kind, tilt.low, tilt.high) == (DriveKind.TURNS, -30, 30)
        assert tilt.ratios == {"lower_pivot_left": 1, "lower_pivot_right": 1}

    def test_clearance_holds_on_both_sides(self, trike):
        rules = trike.clearance
        assert [rules.for_pair("frame", f"wheel_{side}") for side in ("left", "right")] == [6, 6]
        assert rules.for_pair("frame", "upright_left") == 3
        assert rules.ignored == {frozenset({"seat", "frame"}): "bolted together"}

    def test_shapes_and_meshes_are_named_and_seated(self, trike):
        assert [each.name for each in trike.parts["frame"].shapes] == ["frame_shell", "tube 1"]
        assert shape(trike, "lower_arm_left", "bush").seats == ("lower_pivot_left",)
        assert shape(trike, "lower_arm_right", "bush").seats == ("lower_pivot_right",)
        assert trike.parts["frame"].fixed
        assert not trike.parts["wheel_left"].fixed

    def test_mesh_lies_where_its_file_says(self, trike):
        bounds = shape(trike, "frame", "frame_shell").mesh.bounds
        assert bounds == pytest.approx(np.array([(-300, -30, 140), (0, 30, 260)]))

    def test_digests_are_those_of_the_bytes(self, trike, folder):
        wanted = {name: hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in trike.digests}
        assert trike.digests == wanted
        assert set(wanted) == {"trike.toml", "frame_shell.stl"}
        assert trike.file == "trike.toml"

    def test_machine_can_be_sent_to_another_process(self, trike):
        assert pickle.loads(pickle.dumps(trike)).points == trike.points  # noqa: S301 - made one line above


class TestMirror:
    def test_twin_shapes_are_mirror_images_with_the_same_volume(self, trike):
        for name in ("lower_arm", "wheel"):
            left, right = trike.parts[f"{name}_left"].mesh, trike.parts[f"{name}_right"].mesh
            assert right.vertices == pytest.approx(left.vertices * (1, -1, 1))
            assert right.volume == pytest.approx(left.volume)
            assert right.volume > 0

    def test_arrows_and_places_of_twin_joints_are_mirrored(self, bench):
        left, right = bench.joints["shoulder_left"], bench.joints["shoulder_right"]
        assert right.along == pytest.approx((left.along[0], -left.along[1], left.along[2]))
        assert (right.first, right.second) == ("stand", "arm_right")

    def test_an_entry_written_out_wins_over_the_twin(self, folder):
        text = TRIKE.replace("head_low =", "lower_outer_right = [1, -200, 150]\nhead_low =")
        text += "[parts.wheel_right]\nshapes = [{ sphere = [0, -320, 157], diameter = 50 }]\n"
        text += '[joints.hub_right]\nwelded = ["wheel_right", "upright_right"]\n'
        machine = machine_from_text(text, folder)
        assert machine.points["lower_outer_right"] == (1, -200, 150)
        assert [each.name for each in machine.parts["wheel_right"].shapes] == ["sphere 1"]
        assert not machine.joints["hub_right"].kind.has_freedom
        # what the file writes for one side holds for all that uses it on that side
        assert machine.joints["lower_ball_right"].at_first == (1, -200, 150)

    def test_loads_stand_where_their_part_has_its_own_points_and_are_not_mirrored(self, bench):
        assert bench.loads == {
            "hand": LoadCase(
                forces=(Force("arm_left", (120, 40, 70), (0, 120, -50)),),
                moments=(Moment("link_left", (0, 0, 12)),),
                weights=(Weight("slider", (120, 0, 60), 1.2),),
                gravity=9.80665,
                down=(0, 0, -1),
                stop=Stop("slider", "stand", (120, 0, 60), (0, 0, 1), "lift"),
            )
        }

    def test_ratings_are_mirrored_with_their_joint(self, bench):
        rated = ((RatedForce.WHOLE, 1200), (RatedForce.RADIAL, 900), (RatedForce.AXIAL, 300))
        for side in ("left", "right"):
            assert bench.joints[f"shoulder_{side}"].ratings == rated
        assert bench.joints["rail"].ratings == ()

    def test_a_pair_across_the_machine_is_mirrored_across(self, bench):
        assert bench.clearance.pairs == {
            frozenset({"link_left", "arm_right"}): 4,
            frozenset({"link_right", "arm_left"}): 4,
        }
        assert list(bench.clearance.ignored) == [frozenset({"arm_left", "arm_right"})]
        assert bench.clearance.parts == {"link_left": 2, "link_right": 2}

    def test_words_are_split_at_each_separator_and_only_there(self, folder):
        text = TRIKE.replace(
            "[parts.seat]",
            '[parts."left-seat rail"]\nfixed = true\n'
            "shapes = [{ sphere = [-99, 99, 300], diameter = 9 }]\n"
            "[parts.leftover]\nfixed = true\nshapes = [{ sphere = [-99, 0, 9], diameter = 9 }]\n[parts.seat]",
        )
        parts = machine_from_text(text, folder).parts
        assert "right-seat rail" in parts
        assert "rightover" not in parts

    def test_a_name_with_both_words_has_no_twin_and_is_noted(self, folder):
        text = TRIKE.replace("seat_bolts", "left_right_bolts")
        machine = machine_from_text(text, folder)
        assert len(machine.joints) == 7
        assert "joints.left_right_bolts" in [finding.about for finding in machine.findings]

    def test_a_word_that_nothing_holds_is_noted(self, folder, trike):
        assert trike.findings == ()
        machine = machine_from_text(TRIKE.replace('left = "right"', 'left = "right"\nport = "starboard"'), folder)
        assert [finding.about for finding in machine.findings] == ["mirror.port"]


class TestOwnPointsAndLengths:
    def test_each_part_brings_its_own_copy_of_a_point_to_the_joint(self, bench):
        knuckle = bench.joints["knuckle_left"]
        assert knuckle.at_first == (120, 40, 70)
        assert knuckle.at_second == pytest.approx((120, 40, 75))
        assert bench.joints["knuckle_right"].at_second == pytest.approx((120, -40, 75))
        assert bench.points["tip_left"] == (120, 40, 60)

    def test_shapes_are_drawn_with_the_parts_own_points(self, bench):
        assert shape(bench, "arm_left", "bar").mesh.bounds[1, 2] == pytest.approx(70)
        assert shape(bench, "link_left", "hexagon 1").mesh.bounds[1, 2] == pytest.approx(75)

    def test_lengths_are_set_in_their_order(self, folder):
        one = '{ from = "elbow_left", to = "tip_left", is = 75 }'
        two = '{ from = "tip_left", to = "elbow_left", is = "60+20" }'
        text = BENCH.replace(one, f"[{one}, {two}]")
        link = machine_from_text(text, folder).parts["link_left"]
        assert link.shapes[0].mesh.bounds[:, 2] == pytest.approx([75 - 80, 75])

    def test_literal_coordinates_are_the_same_in_both_parts(self, bench):
        assert bench.joints["rail"].at_first == bench.joints["rail"].at_second == (120, 0, 60)

    def test_a_point_that_only_one_part_has_is_where_that_part_has_it(self, folder):
        text = BENCH.replace("points = { tip_left", "points = { pad = [1, 2, 3], tip_left")
        text = text.replace('at = "post"', 'at = "pad"')
        shoulder = machine_from_text(text, folder).joints["shoulder_left"]
        assert shoulder.at_first == shoulder.at_second == (1, 2, 3)


class TestShapesOfTheFile:
    def test_box_is_turned_about_its_centre(self, bench):
        assert shape(bench, "stand", "box 1").mesh.bounds[1] == pytest.approx((15 * math.sqrt(2), 15 * math.sqrt(2), 5))

    def test_plate_lies_on_the_side_that_is_named(self, bench):
        plate = shape(bench, "stand", "plate 2").mesh
        assert plate.bounds == pytest.approx(np.array([(-90, -20, 0), (-30, 20, 5)]))
        cut_out = math.pi * 4**2 + math.pi * 3**2 + 10 * 6
        assert plate.volume == pytest.approx((60 * 40 - cut_out) * 5, rel=1e-3)

    def test_mesh_takes_unit_scale_rotation_and_place(self, bench):
        bounds = shape(bench, "stand", "block").mesh.bounds
        assert bounds == pytest.approx(np.array([(-30, -20, -90), (30, 20, -10)]))

    def test_cut_takes_away(self, bench, folder):
        whole = BENCH[: BENCH.index(",\n    cut = ")] + " }," + BENCH[BENCH.index("diameter = 4 }] },") + 18 :]
        before = shape(machine_from_text(whole, folder), "arm_left", "bar").mesh.volume
        drilled = before - shape(bench, "arm_left", "bar").mesh.volume
        assert 0.9 * math.pi * 2**2 * 9 < drilled < math.pi * 2**2 * 10.1

    def test_joined_is_one_solid(self, bench):
        slider = shape(bench, "slider", "turned 1")
        covered = 2 * (5 * math.sqrt(9**2 - 5**2) + 9**2 * math.asin(5 / 9))
        wanted = math.pi * 9**2 * 30 + 30 * 10 * 10 - covered * 5
        assert slider.mesh.volume == pytest.approx(wanted, rel=1e-2)
        assert slider.mesh.bounds[1, 2] == pytest.approx(95)

    def test_rod_end_is_an_eye_a_ball_and_a_shank_with_the_same_seat(self, bench):
        pieces = [each for each in bench.parts["arm_left"].shapes if each.name.startswith("rod_end 2")]
        assert [each.name for each in pieces] == ["rod_end 2 eye", "rod_end 2 ball", "rod_end 2 shank"]
        assert {each.seats for each in pieces} == {("knuckle_left",)}

    def test_facets_are_as_fine_as_asked(self, folder):
        counts = []
        for error in ("0.1", "0.01"):
            machine = machine_from_text(BENCH.replace("facet_error = 0.1", f"facet_error = {error}"), folder)
            mesh = shape(machine, "link_left", "cone 2").mesh
            assert mesh.surface_error <= float(error)
            counts.append(len(mesh.faces))
        assert counts[0] < counts[1]


def test_arithmetic_stands_wherever_a_number_does(bench):
    assert (bench.dimensions["swing"].value, bench.dimensions["swing"].text) == (30, "half / 2")
    assert bench.dimensions["swing"].plus_minus == 0.6
    assert (bench.drives["lift"].high, bench.drives["lift"].ratios) == (30, {"rail": 0.5})


def test_name_is_the_folders_where_none_is_given(bench, folder):
    assert bench.name == folder.name


def test_byte_order_mark_and_windows_line_ends_are_accepted(folder, trike):
    path = folder / "exported.toml"
    path.write_bytes(b"\xef\xbb\xbf" + TRIKE.replace("\n", "\r\n").encode())
    assert read_machine(path).points == trike.points


def test_a_mesh_outside_the_folder_is_read_and_noted(folder, tmp_path):
    write_box(tmp_path / "shared.stl", (300, 60, 120))
    machine = machine_from_text(TRIKE.replace("frame_shell.stl", str(tmp_path / "shared.stl")), folder)
    (finding,) = machine.findings
    assert finding.kind is FindingKind.NOTE
    assert finding.about == f"parts.frame.meshes[0] ({tmp_path / 'shared.stl'})"
    assert "outside" in finding.message


def test_a_repaired_mesh_is_a_finding(folder, tmp_path):
    write_box(tmp_path / "tub.stl", (-300, 60, 120))
    (finding,) = machine_from_text(TRIKE.replace("frame_shell.stl", "tub.stl"), tmp_path).findings
    assert (finding.kind, finding.about) == (FindingKind.REPAIRED, "parts.frame.meshes[0] (tub.stl)")


def test_a_rated_ball_without_a_bolt_is_noted(folder):
    (finding,) = machine_from_text(TRIKE.replace("bolt = [0, 0, 1]\n", ""), folder).findings
    assert finding.about == "joints.lower_ball_left"
