"""``swingroom grind``: what to grind, the files of it, and a picture with the depths in steps."""

import json

import numpy as np
import pytest
from grinding_machines import ROLLER

from assembly.cli import main
from assembly.geometry.scene import DepthScene
from assembly.geometry.shapes import box
from assembly.geometry.stl import parse_stl
from assembly.report.render.depth_picture import depth_picture, depth_steps


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "roller.toml"
    coarse = ROLLER.replace("facet_error = 0.02", "facet_error = 0.2").replace("REQUIRED", "3")
    path.write_text(coarse, encoding="utf-8")
    return path


def test_the_answer_is_on_the_screen_and_its_solids_beside(file, tmp_path, capsys):
    """Closed form: 2 mm of either part must go; the record, two STL of each part and no picture are written."""
    assert main(["grind", str(file), "--out", str(tmp_path / "out"), "--no-picture", "--cores", "1"]) == 1
    out = capsys.readouterr().out
    assert out.startswith("FAILS: bed – roller come as near as 1.")
    assert "Off bed, proven" in out
    assert "bed (slab): up to 2." in out
    assert "off its upper side over " in out
    assert "mm stay behind the cut at the thinnest" in out
    assert "- grind bed, or roller: the STL of what goes is the gauge" in out
    assert len(out.splitlines()) <= 39
    told = json.loads((tmp_path / "out" / "grind.json").read_text(encoding="utf-8"))
    assert {one["part"]: (one["advised"], one["verdict"]) for one in told["parts"]} == {
        "bed": (True, "clear"),
        "roller": (True, "clear"),
    }
    names = {path.name for path in (tmp_path / "out").iterdir()}
    solids = {f"grind_{part}_{word}.stl" for part in ("bed", "roller") for word in ("gone", "stays")}
    assert names == {"grind.json"} | solids
    corners = parse_stl((tmp_path / "out" / "grind_bed_gone.stl").read_bytes(), "gone")
    assert -3.2 < np.min(corners[..., 2]) < -2.0
    assert np.max(corners[..., 2]) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--clearance", "2"], "the file requires 3 mm of `bed` and `roller`"),
        (["--clearance", "-1"], "is not a number, 0 or more"),
        (["--pair", "bed", "rolle"], "no part `rolle`"),
    ],
)
def test_bad_questions_have_one_line(file, tmp_path, capsys, arguments, told):
    assert main(["grind", str(file), "--out", str(tmp_path / "out"), *arguments]) == 2
    said = capsys.readouterr().err
    assert told in said
    assert "Traceback" not in said


def test_steps_of_depth_are_round_and_reach_the_deepest():
    assert depth_steps(2.42) == (0.5, 1.0, 1.5, 2.0, 2.5)
    assert depth_steps(0.03) == (0.1,)
    assert depth_steps(7.02) == (2.0, 4.0, 6.0, 8.0)
    assert depth_steps(0.0) == (0.1,)


def test_the_picture_shows_the_part_and_every_step_of_depth():
    """Two halves of a patch on a block, 0.1 and 2 mm deep: yellow and the darkest, as the scale has them."""
    from io import BytesIO

    from PIL import Image

    square = np.array([[[-5.0, -5, 5], [0, -5, 5], [0, 5, 5]], [[-5, -5, 5], [0, 5, 5], [-5, 5, 5]]])
    triangles = np.concatenate([square, square + (5, 0, 0)])
    scene = DepthScene(
        "Block: what goes from block",
        "so that it keeps 3 mm",
        box((0, 0, 0), (10, 10, 10)),
        triangles,
        np.array([0.1, 0.1, 2.0, 2.0]),
        np.array([0.0, 0, 5]),
        np.array([0.0, 0, 1]),
        10.0,
    )
    pixels = np.asarray(Image.open(BytesIO(depth_picture(scene, (960, 540)))).convert("RGB")).astype(int)
    light = (pixels[..., 0] > 200) & (pixels[..., 1] > 190) & (pixels[..., 2] < 110)
    dark = (pixels[..., 0] < 100) & (pixels[..., 1] < 40) & (pixels[..., 2] < 80) & (pixels[..., 0] > 40)
    assert light.sum() > 5000
    assert dark.sum() > 5000
