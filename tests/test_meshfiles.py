"""Mesh files of every kind, good and broken; nothing broken becomes an empty part."""

import numpy as np
import pytest
from mesh_writers import SPECIFICATION, obj, ply, three_mf
from plain_meshes import BOX_FACES, box, cube, cylinder

from assembly.errors import InputError
from assembly.geometry import rotations
from assembly.geometry.mesh import Mesh
from assembly.geometry.meshfiles import read_mesh
from assembly.geometry.stl import stl_bytes

CUBE = cube(20)


@pytest.fixture
def saved(tmp_path):
    def save(name, data):
        path = tmp_path / name
        path.write_bytes(data)
        return path

    return save


def refusal_of(path, **options):
    with pytest.raises(InputError) as refusal:
        read_mesh(path, **options)
    assert refusal.value.faults[0].file == str(path)
    return str(refusal.value)


def messages(findings):
    return [finding.message for finding in findings]


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("cube.obj", obj(*CUBE)),
        ("cube.ply", ply(*CUBE)),
        ("cube.ply", ply(*CUBE, fmt="binary_little_endian")),
        ("cube.ply", ply(*CUBE, fmt="binary_big_endian")),
        ("CUBE.3MF", three_mf(*CUBE, unit="")),
        ("cube.3mf", three_mf(*CUBE, unit=' unit="millimeter"')),
    ],
    ids=["obj", "ply text", "ply little", "ply big", "3mf unstated", "3mf millimetre"],
)
def test_a_cube_is_read_the_same_from_every_kind_without_a_word(saved, name, data):
    mesh, findings = read_mesh(saved(name, data))
    assert findings == []
    assert (len(mesh.vertices), mesh.surface_error) == (8, 0)
    assert mesh.bounds.tolist() == [[-10, -10, -10], [10, 10, 10]]
    assert mesh.volume == pytest.approx(8000)


@pytest.mark.parametrize(("unit", "mm"), [("mm", 1), ("cm", 10), ("m", 1000), ("inch", 25.4)])
def test_units_and_scale_multiply_the_coordinates(saved, unit, mm):
    mesh, _ = read_mesh(saved("box.obj", obj(*box((1, 2, 3)))), unit=unit, scale=2.0)
    assert (mesh.bounds[1] - mesh.bounds[0]).tolist() == pytest.approx([2 * mm, 4 * mm, 6 * mm])


def test_the_pose_turns_and_shifts_after_the_unit(saved):
    world_from_part = rotations.pose_matrix(rotations.rotation_about_axes((0, 0, 90)), (100, 0, 5))
    mesh, _ = read_mesh(saved("box.obj", obj(*box((2, 4, 6), (1, 2, 3)))), unit="cm", pose=world_from_part)
    assert mesh.bounds.ravel().tolist() == pytest.approx([60, 0, 5, 100, 20, 65])


def test_the_unit_in_a_3mf_file_wins_and_is_told_where_it_differs(saved):
    path = saved("cube.3mf", three_mf(*cube(2)))
    mesh, findings = read_mesh(path)
    assert mesh.volume == pytest.approx((2 * 25.4) ** 3)
    assert [(finding.kind, finding.message) for finding in findings] == [
        ("note", "the file states its unit, inch: used instead of mm")
    ]
    assert read_mesh(path, unit="inch")[1] == []
    assert read_mesh(saved("cube2.3mf", three_mf(*cube(2), unit="")), unit="cm")[0].volume == pytest.approx(8000)


def test_a_3mf_item_is_placed_by_its_transform(saved):
    moved = ' transform="1 0 0 0 1 0 0 0 1 7 8 9"'
    mesh, _ = read_mesh(saved("cube.3mf", three_mf(*CUBE, unit="", transform=moved)))
    assert mesh.bounds.mean(axis=0).tolist() == pytest.approx([7, 8, 9])


def test_a_mirrored_3mf_item_is_put_right_and_told(saved):
    mirrored = ' transform="1 0 0 0 -1 0 0 0 1 0 0 0"'
    mesh, findings = read_mesh(saved("cube.3mf", three_mf(*CUBE, unit="", transform=mirrored)))
    assert mesh.volume == pytest.approx(8000)
    assert all(finding.kind == "repaired" for finding in findings)


def test_quads_in_ply_are_split_and_the_assumption_is_noted(saved):
    quads = np.stack([BOX_FACES[::2, 0], BOX_FACES[::2, 1], BOX_FACES[::2, 2], BOX_FACES[1::2, 2]], axis=1)
    mesh, findings = read_mesh(saved("cube.ply", ply(CUBE[0], quads)))
    assert mesh.volume == pytest.approx(8000)
    assert messages(findings) == ["facets with more than three corners were split as if they had no inward corners"]


def test_a_stated_surface_error_is_used_and_an_estimate_is_told(saved):
    path = saved("pin.obj", obj(*cylinder(25, 40, 32)))
    mesh, findings = read_mesh(path)
    sagitta = 25 * (1 - np.cos(np.pi / 32))  # closed form
    assert mesh.surface_error == pytest.approx(sagitta)
    assert messages(findings) == [
        f"surface error estimated at {sagitta:.2g} mm from the facets; state `surface_error` to override it"
    ]
    mesh, findings = read_mesh(path, surface_error=0.02)
    assert (mesh.surface_error, findings) == (0.02, [])
    assert read_mesh(path, unit="inch")[0].surface_error == pytest.approx(25.4 * sagitta)


def test_a_seam_that_was_joined_adds_to_the_surface_error(saved):
    """Every facet with corners of its own, one facet a step of single precision away."""
    vertices, faces = cube(20, (600, 0, 0))
    corners = vertices[faces].reshape(-1, 3)
    step = float(np.spacing(np.float32(610)))
    corners[:3, 0] += step
    mesh, findings = read_mesh(saved("a.obj", obj(corners, np.arange(36).reshape(-1, 3))), surface_error=0.02)
    assert mesh.surface_error == pytest.approx(0.02 + step, rel=1e-9)
    assert len(findings) == 1


def test_repairs_reach_the_caller(saved):
    mesh, findings = read_mesh(saved("arm.obj", obj(CUBE[0] * (1, -1, 1), CUBE[1])))
    assert mesh.volume == pytest.approx(8000)
    assert [(finding.kind, "inside out" in finding.message) for finding in findings] == [("repaired", True)]


def test_written_stl_is_read_back_whole(tmp_path):
    mesh = Mesh(*cylinder(25, 40, 64))
    (tmp_path / "pin.stl").write_bytes(stl_bytes(mesh))
    back, _ = read_mesh(tmp_path / "pin.stl")
    assert len(back.faces) == len(mesh.faces)
    assert back.volume == pytest.approx(mesh.volume, rel=1e-6)
    assert [path.name for path in tmp_path.iterdir()] == ["pin.stl"]


@pytest.mark.long
def test_a_hundred_thousand_triangles_are_read_whole(tmp_path):
    n = 230
    u, v = np.meshgrid(np.arange(n), np.arange(n), indexing="ij")
    a, b = 2 * np.pi * u / n, 2 * np.pi * v / n
    ring = 300 + 100 * np.cos(b)
    vertices = np.stack([ring * np.cos(a), ring * np.sin(a), 100 * np.sin(b)], axis=2).reshape(-1, 3)
    at = [(u + i) % n * n + (v + j) % n for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))]
    faces = np.concatenate([np.stack([at[k].ravel() for k in three], axis=1) for three in ((0, 1, 2), (0, 2, 3))])
    (tmp_path / "ring.stl").write_bytes(stl_bytes(Mesh(vertices, faces)))
    mesh, findings = read_mesh(tmp_path / "ring.stl")
    assert (len(mesh.faces), len(mesh.vertices)) == (2 * n * n, n * n)
    assert mesh.volume == pytest.approx(2 * np.pi**2 * 300 * 100**2, rel=1e-3)  # closed form of the torus
    assert mesh.surface_error == pytest.approx(100 * (1 - np.cos(np.pi / n)) + 400 * (1 - np.cos(np.pi / n)), rel=0.5)
    assert len(findings) == 1


def test_a_missing_file_is_told_with_the_nearest_name(saved):
    path = saved("frame_shell.stl", b"x")
    told = refusal_of(path.with_name("frame_shel.stl"))
    assert "there is no such file" in told
    assert "nearest name there: frame_shell.stl" in told
    assert "there is no such file" in refusal_of(path.parent / "nowhere" / "a.stl")


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("arm.step", "unknown kind of mesh file `.step`; valid: .stl, .obj, .ply, .3mf"),
        ("arm.slt", "nearest: .stl"),
        ("arm", "the name has no ending"),
    ],
)
def test_an_unknown_ending_lists_the_valid_ones(saved, name, told):
    assert told in refusal_of(saved(name, b"data"))


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({"unit": "inches"}, "unit = 'inches' is not known; valid: mm, cm, m, inch; nearest: inch"),
        ({"scale": 0.0}, "scale = 0.0"),
        ({"scale": float("nan")}, "scale = nan"),
        ({"surface_error": -0.1}, "surface_error = -0.1"),
        ({"surface_error": float("inf")}, "surface_error = inf"),
    ],
)
def test_options_that_cannot_be_used_are_refused(saved, options, told):
    assert told in refusal_of(saved("cube.obj", obj(*CUBE)), **options)


@pytest.mark.parametrize("name", ["a.stl", "a.obj", "a.ply", "a.3mf"])
@pytest.mark.parametrize("data", [b"", b"\n\n", b"\x89PNG\r\n\x1a\n" + bytes(range(256)), b"hello there\n" * 9])
def test_files_that_are_no_mesh_are_refused(saved, name, data):
    refusal_of(saved(name, data))


_DUMP = three_mf(*CUBE)
_LOST = three_mf(*CUBE, transform='/><item objectid="7"')
_TEXT = ply(*CUBE)
_BINARY = ply(*CUBE, fmt="binary_little_endian")


@pytest.mark.parametrize("data", [_BINARY[:-5], _TEXT.replace(b"3 0 1 3", b"3 0 x 3")])
def test_a_damaged_ply_file_is_told_in_words_of_the_shop(tmp_path, data):
    """What the reading library raised once stood there: names of its errors, shapes of its arrays."""
    (tmp_path / "a.ply").write_bytes(data)
    with pytest.raises(InputError) as refusal:
        read_mesh(tmp_path / "a.ply")
    hint = "damaged or of another kind than its ending says: export or copy it again"
    assert str(refusal.value).endswith(f"a.ply: cannot be read as PLY; {hint}")


@pytest.mark.parametrize(
    ("name", "data", "told"),
    [
        ("a.ply", _TEXT[:-8], "the header promises 12 facets, the file holds 11"),
        ("a.ply", _TEXT[:100], "cannot be read as PLY"),
        ("a.ply", _BINARY[:-5], "cannot be read as PLY"),
        ("a.ply", _BINARY + b"more", "cannot be read as PLY"),
        ("a.ply", _TEXT.replace(b"3 0 1 3", b"3 0 1 33"), "a vertex that does not exist"),
        ("a.ply", _TEXT.replace(b"3 0 1 3", b"3 0 x 3"), "cannot be read as PLY"),
        ("a.ply", _TEXT.replace(b"-10.0 -10.0 10.0", b"-10.0 nan 10.0"), "not finite"),
        ("a.ply", ply(CUBE[0], CUBE[1][:0]), "holds no triangles"),
        ("a.ply", ply(CUBE[0], CUBE[1][1:]), "3 open edges"),
        ("a.3mf", _DUMP[:200], "cannot be read as 3MF"),
        ("a.3mf", three_mf(*CUBE, xml="<model"), "cannot be read as 3MF"),
        ("a.3mf", three_mf(*CUBE, xml=f'<model xmlns="{SPECIFICATION}"/>'), "holds no triangles"),
        ("a.3mf", three_mf(*CUBE, unit=' unit="furlong"'), "states the unit 'furlong'; valid: micron, millimeter"),
        ("a.3mf", _LOST, "names objects that it does not hold: 7"),
        ("a.3mf", three_mf(CUBE[0], CUBE[1] + 4), "a vertex that does not exist"),
        ("a.3mf", three_mf(CUBE[0], CUBE[1][1:]), "3 open edges"),
        ("a.obj", obj(CUBE[0], CUBE[1][1:]), "3 open edges"),
        ("a.obj", obj(CUBE[0], CUBE[1]).replace(b"v -10.0", b"v inf", 1), "not finite"),
        ("a.obj", obj(CUBE[0], CUBE[1] + 1), "a vertex that does not exist"),
        ("a.stl", b"solid nothing\nendsolid nothing\n", "holds no triangles"),
        ("a.stl", bytes(84), "holds no triangles"),
    ],
)  # fmt: skip
def test_a_broken_file_is_refused_with_its_reason(saved, name, data, told):
    assert told in refusal_of(saved(name, data))


def test_folders_and_impossible_names_are_refused(tmp_path):
    (tmp_path / "arm.stl").mkdir()
    assert "cannot be read" in refusal_of(tmp_path / "arm.stl")
    assert "cannot be read" in refusal_of(tmp_path / "a\0b.stl")
