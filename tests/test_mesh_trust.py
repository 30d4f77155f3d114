"""Mesh files that must not be trusted as they are, as mechanism files (BUILDERS_CASES TC-07, worked examples)."""

import io
import math

import plain_meshes
import pytest

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.errors import InputError
from assembly.geometry.mesh import Mesh
from assembly.geometry.stl import stl_bytes
from assembly.model.reader import read_machine
from assembly.record import EstimateEntry
from assembly.report.text.sweep_text import sweep_blocks
from assembly.report.text.terminal import write
from assembly.studies.sweep.check import check
from assembly.studies.sweep.joint_ranges import joints_of
from assembly.studies.sweep.sweep_record import sweep_record

MACHINE = """
format = 1
name = "Two cubes"

[points]
far_post = [0, 600, 0]

[parts.stand]
fixed = true
meshes = [{{ file = "stand.stl", surface_error = 0 }}]

[parts.post]
fixed = true
shapes = [{{ box = "far_post", size = [20, 20, 20] }}]

[parts.carriage]
meshes = [{{ file = "carriage.stl", surface_error = 0{placed} }}]

[joints.guide]
slide = ["stand", "carriage"]
at = [0, 0, 0]
along = [0, 0, 1]

[drives.lift]
slides = {{ guide = 1 }}
range = [0, 1]

[clearance]
required = 1
"""


@pytest.fixture
def swept(tmp_path):
    """Pair of stand and carriage, and the machine's findings, for two solids given as vertices and triangles."""

    def sweep(stand, carriage, placed=""):
        for name, solid in (("stand", stand), ("carriage", carriage)):
            (tmp_path / f"{name}.stl").write_bytes(stl_bytes(Mesh(*solid)))
        file = tmp_path / "cubes.toml"
        file.write_text(MACHINE.format(placed=placed), encoding="utf-8")
        machine = read_machine(file)
        result = check(machine, Effort(), lambda *_: None).swept
        (pair,) = (pair for pair in result.pairs if {pair.pair.a, pair.pair.b} == {"stand", "carriage"})
        return pair, [f"{finding.about}: {finding.message}" for finding in machine.findings]

    return sweep


def cube(edge, x=0.0):
    return plain_meshes.cube(edge, (x, 0, 0))


def test_a_cube_written_in_metres_is_a_question_not_an_answer(swept):
    vertices, faces = cube(20, 40)
    with pytest.raises(InputError, match="1000 times smaller"):
        swept(cube(20), (vertices / 1000, faces))


def test_a_cube_mirrored_without_turning_its_facets_is_repaired_and_said(swept):
    vertices, faces = cube(20, 30)
    mirrored = vertices * (1, -1, 1), faces
    assert plain_meshes.signed_volume(mirrored) == pytest.approx(-8000)
    pair, findings = swept(cube(20), mirrored)
    assert pair.least == pytest.approx(10, abs=1e-5)
    assert any("inside out" in finding for finding in findings)


def test_left_and_right_of_a_mirrored_file_are_equally_far(swept):
    vertices, faces = cube(20, 30)
    right, _ = swept(cube(20), (vertices, faces))
    left, _ = swept(cube(20), (vertices * (-1, 1, 1), faces))
    assert left.least == pytest.approx(right.least, abs=1e-6)


def test_a_cube_without_one_triangle_is_not_called_closed(swept):
    vertices, faces = cube(40)
    with pytest.raises(InputError, match="3 open edges"):
        swept((vertices, faces[1:]), cube(10, 60))


def test_a_cube_inside_a_cube_fails_and_tells_the_way_out(swept):
    pair, _ = swept(cube(40), cube(10))
    assert pair.contained
    assert pair.verdict == "fails"
    assert pair.overlap.depth == pytest.approx(25, abs=0.05)


@pytest.mark.parametrize(("shift", "gap"), [(0.0, 5.0), (-3.0, 2.0), (3.0, 8.0)])
def test_a_stated_shift_of_one_file_shows_in_the_gap(swept, shift, gap):
    pair, _ = swept(cube(20), cube(20, 25), f", at = [{shift}, 0, 0]")
    assert pair.least == pytest.approx(gap, abs=1e-5)


def test_a_stated_place_unit_and_scale_are_said(swept):
    vertices, faces = cube(20, 25)
    stated = ', unit = "cm", scale = 0.1, rotated = [0, 0, 180], at = [50, 0, 0]'
    pair, findings = swept(cube(20), (vertices, faces), stated)
    said = "read in cm, scaled by 0.1, turned [0, 0, 180]° about x, y and z, moved by [50, 0, 0] mm"
    assert findings == [f"parts.carriage.meshes[0] (carriage.stl): {said}"]
    assert pair.least == pytest.approx(5.0, abs=1e-5)


@pytest.mark.parametrize(("stated", "sides"), [("", 32), ("", 8), (", surface_error = 0.05", 32)])
def test_a_bound_that_rests_on_an_estimate_says_so_beside_the_number_and_in_the_record(tmp_path, stated, sides):
    """Closed form: a cylinder of radius 10 is drawn by n facets that lie up to r(1 - cos(pi/n)) inside."""
    (tmp_path / "stand.stl").write_bytes(stl_bytes(Mesh(*cube(20))))
    (tmp_path / "carriage.stl").write_bytes(stl_bytes(Mesh(*plain_meshes.cylinder(10, 40, sides))))
    text = MACHINE.format(placed=", at = [25, 0, 0]").replace(
        '"carriage.stl", surface_error = 0', f'"carriage.stl"{stated}'
    )
    (tmp_path / "cubes.toml").write_text(text, encoding="utf-8")
    checked = check(read_machine(tmp_path / "cubes.toml"), Effort(), lambda *_: None)
    record = sweep_record(checked, joints_of(checked.mechanism))
    pair = next(pair for pair in record.pairs if {pair.a, pair.b} == {"stand", "carriage"})
    stream = io.StringIO()
    write(sweep_blocks(record), stream)
    told = " ".join(stream.getvalue().split())
    error = 10 * (1 - math.cos(math.pi / sides))
    if stated:
        assert pair.estimated == ()
        assert "estimated" not in told
        assert "*" not in told
        return
    assert pair.estimated == (EstimateEntry("carriage", "carriage.stl", pytest.approx(error, abs=1e-5)),)
    assert pair.proven_mm <= 25 - 10 - 10 + 1e-6
    words = f"with the estimated surface error of carriage.stl of {error:.3f} mm"
    least = math.floor(100 * pair.proven_mm) / 100
    assert f", proven nowhere below {least:.2f} mm, {words};" in told
    assert f"{least:.2f}* 1 " in told
    assert f"* proven {words}: state `surface_error`" in told
