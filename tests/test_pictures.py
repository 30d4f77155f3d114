import os
import subprocess
import sys
from ctypes.util import find_library
from dataclasses import replace

import numpy as np
import pytest
from picture_scenes import HIGH, WIDE, ball, black, box, coloured, gap_scene, overlap_scene
from PIL import Image
from small_machines import slider
from tries import first

from assembly.cli import ExitStatus, main
from assembly.errors import InputError, OutputError, PictureError
from assembly.geometry.mesh import Mesh
from assembly.geometry.scene import Role, Scene, SceneSolid
from assembly.report.render import pictures
from assembly.report.render.palette import OVERLAP, PAINTS
from assembly.report.render.pictures import draw, draw_close_up, opengl_trouble
from assembly.report.render.sheet import layout

SIZE = (WIDE, HIGH)
draws = pytest.mark.usefixtures("opengl")
PLAN = layout(SIZE, with_close_up=True)


def drawn(scene, folder, size=SIZE):
    draw(scene, folder / "picture.png", size)
    with Image.open(folder / "picture.png") as image:
        return image.convert("RGB")


def saved(path):
    draw(gap_scene(), path, SIZE)
    return path.read_bytes()


def part_of(image, box):
    return image.crop((box.left, box.top, box.right, box.bottom))


@pytest.fixture
def fresh_probe():
    opengl_trouble.cache_clear()
    yield
    opengl_trouble.cache_clear()


@draws
def test_a_close_up_alone_shows_the_pair_and_nothing_where_there_is_no_pair(tmp_path):
    path = tmp_path / "close.png"
    assert draw_close_up(gap_scene(), path, (960, 640))
    with Image.open(path) as image:
        assert image.size == (960, 640)
        for role in (Role.FIRST, Role.SECOND):
            assert coloured(image.convert("RGB"), PAINTS[role].fill).sum() > 0.05 * 960 * 640, role
    path.unlink()
    assert not draw_close_up(replace(gap_scene(), gap=None), path, (960, 640))
    assert not path.exists()


@draws
def test_the_picture_shows_each_part_in_its_colour(tmp_path):
    image = drawn(gap_scene(), tmp_path)
    assert image.size == SIZE
    for role in Role:
        assert coloured(part_of(image, PLAN.whole), PAINTS[role].fill).sum() > 300, role
    for role in (Role.FIRST, Role.SECOND):
        assert coloured(part_of(image, PLAN.close), PAINTS[role].fill).sum() > 1500, role
    assert not coloured(image, OVERLAP.fill).any()


@draws
def test_an_overlap_buried_in_both_parts_is_seen_in_both_views(tmp_path):
    image = drawn(overlap_scene(), tmp_path)
    assert coloured(part_of(image, PLAN.whole), OVERLAP.fill).sum() > 100
    # 12 mm × 4 mm in a close-up about 40 mm wide
    expected = 12 * 4 * (PLAN.close.width / 40) ** 2
    assert coloured(part_of(image, PLAN.close), OVERLAP.fill).sum() == pytest.approx(expected, rel=0.2)


@draws
def test_the_gap_line_has_the_length_of_the_gap(tmp_path):
    close = part_of(drawn(gap_scene(gap=20.0), tmp_path), PLAN.close)
    column = black(close)[:, close.width // 2]
    middle = close.height // 2
    assert column[middle]
    above, below = (np.argmin(way) for way in (column[middle::-1], column[middle:]))  # how far it goes on without a gap
    per_mm = PLAN.close.width / 80  # 80 mm across the narrow side of the close-up
    assert above + below == pytest.approx(20 * per_mm, abs=10)
    assert above - below == pytest.approx(0, abs=3)


@draws
def test_a_part_before_the_gap_does_not_hide_it(tmp_path):
    crate = SceneSolid("crate round it all", box((300, 300, 300)), Role.QUIET)
    image = drawn(gap_scene(extra=(crate,)), tmp_path)
    for view, ghost, least in ((PLAN.whole, 0.35, 250), (PLAN.close, 0.14, 1500)):
        for role in (Role.FIRST, Role.SECOND):
            fill = (1 - ghost) * np.array(PAINTS[role].fill) + ghost * np.array(PAINTS[Role.QUIET].fill)
            assert coloured(part_of(image, view), fill).sum() > least


@draws
def test_other_parts_are_drawn_quietly(tmp_path):
    image = drawn(Scene("", "", (SceneSolid("frame", box((60, 60, 60))),)), tmp_path)
    inside = np.asarray(image.convert("L"))[120:240, 240:400]
    assert 100 < inside.min() < inside.max() <= 255
    assert (inside < 160).any()


@draws
def test_without_gap_or_overlap_the_machine_has_all_the_width(tmp_path):
    scene = Scene("whole machine", "at rest", (SceneSolid("ball", ball(40), Role.FIRST),))
    columns = np.nonzero(coloured(drawn(scene, tmp_path), PAINTS[Role.FIRST].fill)[60 : HIGH - 40].any(axis=0))[0]
    assert (columns.min() + columns.max()) / 2 == pytest.approx(WIDE / 2, abs=3)


@pytest.mark.parametrize("size", first([((700, 1000),), ((1600, 400),), ((640, 360),)], 2))
@draws
def test_every_size_is_drawn_as_asked(size, tmp_path):
    assert drawn(gap_scene(), tmp_path, size=size).size == size


HOSTILE = ["x" * 300, "😀" * 40, "漢字の部品", "<script>alert(1)</script>", "a\nb\x00c", "", "\u202eevil", "../../etc"]


@pytest.mark.parametrize("name", first(HOSTILE, 4))
@draws
def test_hostile_names_change_neither_colours_nor_size(name, tmp_path):
    image = drawn(gap_scene(names=(name, name[::-1]), title=name * 50, pose=name * 50), tmp_path)
    assert image.size == SIZE
    assert coloured(part_of(image, PLAN.close), PAINTS[Role.FIRST].fill).sum() > 1500


@draws
def test_the_same_scene_gives_the_same_file(tmp_path):
    one, other = (saved(tmp_path / f"{k}.png") for k in range(2))
    assert one == other
    assert sorted(path.name for path in tmp_path.iterdir()) == ["0.png", "1.png"]


@pytest.mark.parametrize(
    ("collision_model", "told"),
    [
        ("import os; os.kill(os.getpid(), 11)", "which does not work here"),
        ("raise SystemExit(3)", "which does not work here"),
        ("import time; time.sleep(60)", "which gave none in 1 s"),
    ],
)
def test_where_opengl_fails_or_hangs_it_is_said_with_what_helps(
    collision_model, told, tmp_path, monkeypatch, fresh_probe
):
    monkeypatch.setattr(pictures, "PROBE", collision_model)
    monkeypatch.setattr(pictures, "PROBE_SECONDS", 1.0)
    with pytest.raises(PictureError) as raised:
        draw(gap_scene(), tmp_path / "picture.png", SIZE)
    assert told in str(raised.value)
    assert "apt-get install --no-install-recommends libegl1 libgl1-mesa-dri" in str(raised.value)
    assert str(raised.value).endswith("the numbers do not depend on it")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(find_library("OSMesa") is not None, reason="VTK draws by OSMesa where EGL has no driver")
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="hides the drivers of Linux")
def test_without_a_driver_numbers_and_status_stand(tmp_path, capsys):
    (tmp_path / "rig.toml").write_text(slider(high=12.0), encoding="utf-8")
    bare = {**os.environ, "__EGL_VENDOR_LIBRARY_DIRS": str(tmp_path), "VTK_DEFAULT_OPENGL_WINDOW": "vtkEGLRenderWindow"}
    command = [sys.executable, "-m", "assembly", "pose", str(tmp_path / "rig.toml"), "--set", "push=12"]
    done = subprocess.run([*command, "--out", str(tmp_path / "out")], env=bare, capture_output=True, text=True)
    assert main([*command[3:], "--no-picture"]) == done.returncode == ExitStatus.FAILS
    numbers, _, note = " ".join(done.stdout.split()).partition(" picture: ")
    said = " ".join(capsys.readouterr().out.split())
    verdict = said.removeprefix(numbers)
    assert verdict.startswith(" FAILS: base (block) strikes sledge (nose): 2.00 mm deep")
    assert note.endswith(verdict)
    assert "2.00 mm deep" in numbers
    assert note.startswith("none was drawn: pictures are drawn with OpenGL, which does not work here; install libEGL")


def test_what_fails_while_drawing_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr(pictures, "opengl_trouble", lambda: "")
    monkeypatch.setattr(pictures, "rendering", lambda _: 1 / 0)
    with pytest.raises(PictureError, match=r"drawing failed: ZeroDivisionError.*numbers do not depend"):
        draw(gap_scene(), tmp_path / "picture.png", SIZE)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("size", [(8001, 900), (1600, 20000), (10, 10), (0, 0), (-1600, 900), (1600.0, 900), (1600,)])
def test_sizes_out_of_range_are_refused(size, tmp_path):
    with pytest.raises(InputError, match="640 × 360 to 8000 × 8000"):
        draw(gap_scene(), tmp_path / "picture.png", size)


@pytest.mark.parametrize("place", ["missing/picture.png", "", "x" * 300 + ".png"])
def test_a_place_that_cannot_be_written_is_told(place, tmp_path, monkeypatch):
    monkeypatch.setattr(pictures, "opengl_trouble", lambda: "")
    monkeypatch.setattr(pictures, "_png", lambda *_: b"png")
    with pytest.raises(OutputError, match="cannot write to"):
        draw(gap_scene(), tmp_path / place, SIZE)


@draws
def test_a_full_disk_leaves_the_old_picture_and_no_crumbs(tmp_path, monkeypatch):
    path = tmp_path / "picture.png"
    path.write_bytes(b"yesterday")

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="No space left"):
        draw(gap_scene(), path, SIZE)
    assert path.read_bytes() == b"yesterday"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(
    ("solids", "reason"),
    [
        ((), "nothing to draw"),
        ((SceneSolid("empty", Mesh(np.empty((0, 3)), np.empty((0, 3)))),), "nothing to draw"),
        ((SceneSolid("arm", Mesh(np.full((3, 3), np.nan), np.array([[0, 1, 2]]))),), "'arm' cannot be drawn"),
    ],
)
def test_what_cannot_be_drawn_is_named(solids, reason, tmp_path):
    with pytest.raises(PictureError, match=reason):
        draw(Scene("", "", solids), tmp_path / "picture.png", SIZE)


@draws
def test_the_printed_gap_is_never_rounded_up(tmp_path):
    pictures_of = [drawn(replace(gap_scene(), gap_mm=millimetres), tmp_path) for millimetres in (3.466, 3.46, 3.47)]
    down, told, up = (np.asarray(picture) for picture in pictures_of)
    assert (down == told).all()
    assert (down != up).any()
