"""Everything a builder can get wrong, typed at the command line: one line says what, where, and what would be valid.

Nothing is written, nothing ends in a traceback, and the exit status is 2; what may be given nevertheless is said.
"""

import json
import os
from pathlib import Path

import numpy as np
import pytest
from mesh_writers import obj
from plain_meshes import box, cube, inward

from assembly.cli import ExitStatus, main
from assembly.geometry.mesh import Mesh
from assembly.geometry.stl import stl_bytes

MACHINE = """\
format = 1
name = "Hatch"
[dimensions]
reach = 30
half = "reach / 2"
[points]
hinge = [0, "reach", 0]
[parts.frame]
fixed = true
shapes = [{ box = [0, 0, 0], size = [20, 20, 20] }]
[parts.lid]
shapes = [{ name = "skin", box = "hinge", size = [20, 10, 20] }]
meshes = [{ file = "cap.stl" }]
[parts.stay]
shapes = [{ rod = [[0, 40, 0], [0, 60, 0]], diameter = 6 }]
[joints.pivot]
pin = ["frame", "lid"]
at = "hinge"
along = [1, 0, 0]
[joints.knuckle]
ball = ["lid", "stay"]
at = [0, 40, 0]
[joints.foot]
ball = ["frame", "stay"]
at = [0, 60, 0]
[drives.open]
turns = { pivot = 1 }
range = [0, 30]
[clearance]
required = 1
"""
CAP = box((10, 10, 10), (0, 40, 20))


def stl(solid):
    return stl_bytes(Mesh(*solid))


@pytest.fixture
def shop(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("hatch.toml").write_text(MACHINE, encoding="utf-8")
    Path("cap.stl").write_bytes(stl(CAP))
    return tmp_path


def refused(capsys, *arguments):
    """The one line told; nothing else on any stream, no file more than before."""
    before = sorted(Path().rglob("*"))
    assert main(list(arguments)) == ExitStatus.INPUT
    told = capsys.readouterr()
    assert told.out == ""
    assert sorted(Path().rglob("*")) == before
    (line,) = told.err.splitlines()
    return line


SLIPS = [
    ("not TOML", "[parts.lid]", "[parts.lid", 11, "", "this is not TOML that can be read"),
    ("unknown section", "[clearance]", "[clearence]", 29, "clearence", "the nearest is `clearance`"),
    ("unknown key", "required = 1", "requierd = 1", 30, "clearance.requierd", "the nearest is `required`"),
    ("wrong type", "fixed = true", 'fixed = "yes"', 9, "parts.frame.fixed", "true or false is needed"),
    ("nan", 'hinge = [0, "reach", 0]', "hinge = [0, nan, 0]", 7, "points.hinge[1]", "`nan` is not a finite number"),
    ("infinity", "reach = 30", "reach = inf", 4, "dimensions.reach", "`inf` is not a finite number"),
    (
        "size of zero",
        "diameter = 6",
        "diameter = 0",
        15,
        "parts.stay.shapes[0].diameter",
        "0 is not a size; give 0.001",
    ),
    ("negative size", "[20, 10, 20]", "[20, -10, 20]", 12, "parts.lid.shapes[0].size[1]", "-10 is not a size; give"),
    ("unknown point", 'at = "hinge"', 'at = "hige"', 18, "joints.pivot.at", "the nearest of the points is `hinge`"),
    ("unknown part", '["frame", "lid"]', '["frame", "lit"]', 17, "joints.pivot.pin[1]", "of the parts is `lid`"),
    ("part joined to itself", '["frame", "lid"]', '["lid", "lid"]', 17, "joints.pivot.pin", "joined to itself"),
    ("one name twice", "[joints.foot]", "[joints.pivot]", 23, "", "this is not TOML that can be read"),
    (
        "drive on a ball",
        "{ pivot = 1 }",
        "{ foot = 1 }",
        27,
        "drives.open.turns.foot",
        "is a ball joint, which no drive",
    ),
    ("unknown joint", "{ pivot = 1 }", "{ pivt = 1 }", 27, "drives.open.turns.pivt", "of the joints is `pivot`"),
    ("empty range", "range = [0, 30]", "range = [0, 0]", 28, "drives.open.range", "is empty or reversed"),
    ("part nothing holds", '["frame", "lid"]', '["frame", "stay"]', 11, "parts.lid", "no chain of joints ties"),
    ("circle of dimensions", "reach = 30", 'reach = "half"', 4, "dimensions.reach", "reach -> half -> reach"),
    ("missing mesh", "cap.stl", "cpa.stl", 13, "parts.lid.meshes[0].file", "the nearest file name there is `cap.stl`"),
]


@pytest.mark.parametrize("command", ["inspect", "sweep"])
@pytest.mark.parametrize("slip", SLIPS, ids=[slip[0] for slip in SLIPS])
def test_a_slip_in_the_file_is_one_line_with_its_place(shop, capsys, slip, command):
    name, sound, broken, number, place, told = slip
    if name == "part nothing holds":
        sound, broken = MACHINE, MACHINE.replace('"lid", "stay"', '"frame", "stay"').replace(sound, broken)
    assert sound in MACHINE
    Path("hatch.toml").write_text(MACHINE.replace(sound, broken, 1), encoding="utf-8")
    line = refused(capsys, command, "hatch.toml")
    assert line.startswith(f"hatch.toml:{number}: {place}")
    assert told in line


def test_a_missing_file_names_itself(shop, capsys):
    assert refused(capsys, "sweep", "hach.toml").startswith("hach.toml: there is no such file")


def with_nan():
    data = bytearray(stl(CAP))
    data[84 + 12 : 84 + 16] = np.float32(np.nan).tobytes()
    return bytes(data)


def shared_edge():
    """A cube with a wall on one of its edges: three facets meet there."""
    vertices, faces = cube(10, (0, 40, 20))
    extra = len(vertices)
    more = np.concatenate([vertices, [[99.0, 40, 20]]])
    return stl((more, np.concatenate([faces, [[faces[0, 0], faces[0, 1], extra]]])))


def lying(count):
    data = bytearray(stl(CAP))
    data[80:84] = count.to_bytes(4, "little")
    return bytes(data)


MESHES = [
    ("empty file", b"", "the file is empty"),
    ("no triangles", lying(0)[:84], "holds no triangles"),
    ("open", stl((CAP[0], CAP[1][1:])), "3 open edges"),
    ("not manifold", shared_edge(), "edge"),
    ("nan", with_nan(), "1 vertex is not finite (NaN or infinite)"),
    ("count too high", lying(13), "the header promises 13 triangles, the file holds 12"),
    ("count too low", lying(11), "the header promises 11 triangles, the file holds 12"),
    ("count beyond all files", lying(2**32 - 1), "the header promises 4294967295 triangles"),
]


@pytest.mark.parametrize("mesh", MESHES, ids=[mesh[0] for mesh in MESHES])
def test_a_broken_mesh_is_one_line_that_names_it_and_the_place_that_asks_for_it(shop, capsys, mesh):
    _, data, told = mesh
    Path("cap.stl").write_bytes(data)
    line = refused(capsys, "sweep", "hatch.toml")
    assert line.startswith("hatch.toml:13: parts.lid.meshes[0].file: `cap.stl`")
    assert told in line


def test_the_line_of_a_text_mesh_that_is_wrong_is_told(shop, capsys):
    Path("cap.obj").write_bytes(obj(*CAP).replace(b"v ", b"v x ", 1))
    Path("hatch.toml").write_text(MACHINE.replace("cap.stl", "cap.obj"), encoding="utf-8")
    line = refused(capsys, "inspect", "hatch.toml")
    assert line.startswith("hatch.toml:13: parts.lid.meshes[0].file: `cap.obj` line 1: `v x")


def findings_of(capsys):
    assert main(["inspect", "hatch.toml", "--json"]) == ExitStatus.CLEAR
    found = json.loads(capsys.readouterr().out)["findings"]
    return [(each["about"], each["message"]) for each in found if each["kind"] in ("note", "repaired")]


def test_a_mesh_that_is_inside_out_is_turned_and_said(shop, capsys):
    Path("cap.stl").write_bytes(stl(inward(CAP)))
    ((about, message),) = findings_of(capsys)
    assert about == "parts.lid.meshes[0] (cap.stl)"
    assert "inside out" in message


def test_a_mesh_ten_metres_away_is_read_and_said(shop, capsys):
    Path("cap.stl").write_bytes(stl(box((10, 10, 10), (10_500, 40, 20))))
    ((about, message),) = findings_of(capsys)
    assert about == "parts.lid.meshes[0] (cap.stl)"
    assert "mm away from the rest of the machine" in message


def test_a_mesh_outside_the_folder_is_read_and_said(shop, capsys):
    Path("down").mkdir()
    Path("down/hatch.toml").write_text(MACHINE.replace("cap.stl", "../cap.stl"), encoding="utf-8")
    os.chdir("down")
    ((_, message),) = findings_of(capsys)
    assert "outside the machine's folder" in message


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="no folder is known that refuses even root")
def test_an_output_folder_that_cannot_be_written_is_told_before_the_sweep(shop, capsys):
    assert refused(capsys, "sweep", "hatch.toml", "--out", "/proc/deep").startswith("cannot write to /proc/deep: ")


def test_an_output_folder_in_the_way_of_a_file_is_told_before_the_sweep(shop, capsys):
    line = refused(capsys, "sweep", "hatch.toml", "--out", "cap.stl/deep")
    assert line.startswith("cannot write to cap.stl/deep: a file is in the way")


def grid_ball(radius, rings):
    """A ball of (2 · rings - 2) · 2 · rings triangles from a grid of latitudes and longitudes."""
    turns = 2 * rings
    up = np.linspace(0, np.pi, rings + 1)[1:-1]
    round_it = 2 * np.pi * np.arange(turns) / turns
    ring = np.sin(up)[:, None]
    skin = np.stack([ring * np.cos(round_it), ring * np.sin(round_it), np.cos(up)[:, None] + 0 * round_it], axis=-1)
    vertices = radius * np.concatenate([skin.reshape(-1, 3), [[0, 0, 1], [0, 0, -1]]])
    row, column = np.mgrid[: rings - 2, :turns].reshape(2, -1)
    after = (column + 1) % turns
    a, b, c, d = row * turns + column, (row + 1) * turns + column, (row + 1) * turns + after, row * turns + after
    north, south, last = len(vertices) - 2, len(vertices) - 1, (rings - 2) * turns
    k = np.arange(turns)
    after = (k + 1) % turns
    caps = [np.stack([np.full(turns, north), k, after], axis=1)]
    caps += [np.stack([np.full(turns, south), last + after, last + k], axis=1)]
    return vertices, np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1), *caps])


@pytest.mark.long
def test_two_hundred_thousand_triangles_are_read(shop, capsys):
    vertices, faces = grid_ball(200.0, 228)
    assert len(faces) > 200_000
    Path("cap.stl").write_bytes(stl((vertices + (0, 300, 0), faces)))
    assert main(["inspect", "hatch.toml", "--json"]) == ExitStatus.CLEAR
    raw = json.loads(capsys.readouterr().out)
    (lid,) = (part for part in raw["parts"] if part["part"] == "lid")
    assert lid["triangles"] == len(faces) + 12
