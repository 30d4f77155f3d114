import os
from dataclasses import replace

import numpy as np
import pytest
from picture_scenes import HIGH, WIDE, ball, black, box, coloured, gap_scene, overlap_scene
from PIL import Image

from assembly.errors import InputError, OutputError, PictureError
from assembly.geometry.mesh import Mesh
from assembly.geometry.scene import Role, Scene, SceneSolid
from assembly.report.render import pictures
from assembly.report.render.palette import OVERLAP, PAINTS
from assembly.report.render.pictures import draw, opengl_trouble
from assembly.report.render.sheet import layout

SIZE = (WIDE, HIGH)
RENDERERS = [
    pytest.param("gl", marks=pytest.mark.skipif(bool(opengl_trouble()), reason="no OpenGL on this machine")),
    "ray",
]
PLAN = layout(SIZE, with_close_up=True)


def drawn(scene, folder, renderer="ray", size=SIZE):
    result = draw(scene, folder / "picture.png", size, renderer)
    assert result.renderer == renderer
    with Image.open(result.path) as image:
        return image.convert("RGB")


def part_of(image, box):
    return image.crop((box.left, box.top, box.right, box.bottom))


@pytest.fixture
def fresh_probe():
    opengl_trouble.cache_clear()
    yield
    opengl_trouble.cache_clear()


@pytest.mark.parametrize("renderer", RENDERERS)
def test_the_picture_shows_each_part_in_its_colour(renderer, tmp_path):
    image = drawn(gap_scene(), tmp_path, renderer)
    assert image.size == SIZE
    for role in Role:
        assert coloured(part_of(image, PLAN.whole), PAINTS[role].fill).sum() > 300, role
    for role in (Role.FIRST, Role.SECOND):
        assert coloured(part_of(image, PLAN.close), PAINTS[role].fill).sum() > 1500, role
    assert not coloured(image, OVERLAP.fill).any()


@pytest.mark.parametrize("renderer", RENDERERS)
def test_an_overlap_buried_in_both_parts_is_seen_in_both_views(renderer, tmp_path):
    image = drawn(overlap_scene(), tmp_path, renderer)
    assert coloured(part_of(image, PLAN.whole), OVERLAP.fill).sum() > 100
    # 12 mm × 4 mm in a close-up about 40 mm wide
    expected = 12 * 4 * (PLAN.close.width / 40) ** 2
    assert coloured(part_of(image, PLAN.close), OVERLAP.fill).sum() == pytest.approx(expected, rel=0.2)


@pytest.mark.skipif(bool(opengl_trouble()), reason="no OpenGL on this machine")
def test_both_renderers_draw_the_same_picture(tmp_path):
    one, other = (np.asarray(drawn(overlap_scene(), tmp_path, name), dtype=int) for name in ("gl", "ray"))
    assert (np.abs(one - other).max(axis=-1) > 12).mean() < 0.002


@pytest.mark.parametrize("renderer", RENDERERS)
def test_the_gap_line_has_the_length_of_the_gap(renderer, tmp_path):
    close = part_of(drawn(gap_scene(gap=20.0), tmp_path, renderer), PLAN.close)
    column = black(close)[:, close.width // 2]
    line = np.nonzero(column)[0]
    per_mm = PLAN.close.width / 80  # 80 mm across the narrow side of the close-up
    assert line.max() - line.min() == pytest.approx(20 * per_mm, abs=10)
    assert column[line.min() : line.max()].mean() > 0.95
    assert (line.max() + line.min()) / 2 == pytest.approx(close.height / 2, abs=3)


def test_a_part_before_the_gap_does_not_hide_it(tmp_path):
    crate = SceneSolid("crate round it all", box((300, 300, 300)), Role.QUIET)
    image = drawn(gap_scene(extra=(crate,)), tmp_path)
    for view, ghost, least in ((PLAN.whole, 0.35, 250), (PLAN.close, 0.14, 1500)):
        for role in (Role.FIRST, Role.SECOND):
            fill = (1 - ghost) * np.array(PAINTS[role].fill) + ghost * np.array(PAINTS[Role.QUIET].fill)
            assert coloured(part_of(image, view), fill).sum() > least


def test_other_parts_are_drawn_quietly(tmp_path):
    image = drawn(Scene("", "", (SceneSolid("frame", box((60, 60, 60))),)), tmp_path)
    inside = np.asarray(image.convert("L"))[120:240, 240:400]
    assert 100 < inside.min() < inside.max() <= 255
    assert (inside < 160).any()


def test_without_gap_or_overlap_the_machine_has_all_the_width(tmp_path):
    scene = Scene("whole machine", "at rest", (SceneSolid("ball", ball(40), Role.FIRST),))
    columns = np.nonzero(coloured(drawn(scene, tmp_path), PAINTS[Role.FIRST].fill)[60 : HIGH - 40].any(axis=0))[0]
    assert (columns.min() + columns.max()) / 2 == pytest.approx(WIDE / 2, abs=3)


@pytest.mark.parametrize("size", [(640, 360), (700, 1000), (1600, 400)])
def test_every_size_is_drawn_as_asked(size, tmp_path):
    assert drawn(gap_scene(), tmp_path, size=size).size == size


HOSTILE = ["x" * 300, "😀" * 40, "漢字の部品", "<script>alert(1)</script>", "a\nb\x00c", "", "\u202eevil", "../../etc"]


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_change_neither_colours_nor_size(name, tmp_path):
    image = drawn(gap_scene(names=(name, name[::-1]), title=name * 50, pose=name * 50), tmp_path)
    assert image.size == SIZE
    assert coloured(part_of(image, PLAN.close), PAINTS[Role.FIRST].fill).sum() > 1500


def test_the_same_scene_gives_the_same_file(tmp_path):
    one, other = (draw(gap_scene(), tmp_path / f"{k}.png", SIZE, "ray").path.read_bytes() for k in range(2))
    assert one == other
    assert sorted(path.name for path in tmp_path.iterdir()) == ["0.png", "1.png"]


@pytest.mark.parametrize(
    "probe", ["import os; os.kill(os.getpid(), 11)", "raise SystemExit(3)", "import time; time.sleep(60)"]
)
def test_where_opengl_fails_or_hangs_the_rays_draw_and_say_so(probe, tmp_path, monkeypatch, fresh_probe):
    monkeypatch.setattr(pictures, "PROBE", probe)
    monkeypatch.setattr(pictures, "PROBE_SECONDS", 1.0)
    result = draw(gap_scene(), tmp_path / "picture.png", SIZE)
    assert result.renderer == "ray"
    assert "without OpenGL" in result.note
    assert "apt-get install --no-install-recommends libegl1 libgl1-mesa-dri" in result.note
    with Image.open(result.path) as image:
        assert image.size == SIZE


def test_where_opengl_works_it_draws(tmp_path, monkeypatch, fresh_probe):
    monkeypatch.setattr(pictures, "PROBE", "")
    used = []
    monkeypatch.setattr(pictures, "_png", lambda *given: used.append(given[-1]) or b"png")
    assert draw(gap_scene(), tmp_path / "picture.png", SIZE) == pictures.PictureResult(tmp_path / "picture.png", "gl")
    assert used == ["gl"]


def test_a_renderer_that_fails_is_followed_by_the_next(tmp_path, monkeypatch):
    monkeypatch.setattr(pictures, "opengl_trouble", lambda: "")
    png = pictures._png

    def failing(scene, size, name):
        if name == "gl":
            raise RuntimeError("context lost")
        return png(scene, size, name)

    monkeypatch.setattr(pictures, "_png", failing)
    result = draw(gap_scene(), tmp_path / "picture.png", SIZE)
    assert result.renderer == "ray"
    assert "context lost" in result.note


def test_only_where_nothing_works_it_is_an_error(tmp_path, monkeypatch):
    monkeypatch.setattr(pictures, "opengl_trouble", lambda: "no OpenGL here")
    monkeypatch.setattr(pictures, "opened_renderer", lambda *_: 1 / 0)
    with pytest.raises(PictureError, match=r"no OpenGL here; the renderer 'ray' failed.*numbers do not depend"):
        draw(gap_scene(), tmp_path / "picture.png", SIZE)
    assert list(tmp_path.iterdir()) == []


def test_opengl_asked_for_by_name_is_not_replaced(tmp_path, monkeypatch):
    monkeypatch.setattr(pictures, "opengl_trouble", lambda: "no OpenGL here")
    with pytest.raises(PictureError, match="no OpenGL here"):
        draw(gap_scene(), tmp_path / "picture.png", SIZE, "gl")


@pytest.mark.parametrize("size", [(8001, 900), (1600, 20000), (10, 10), (0, 0), (-1600, 900), (1600.0, 900), (1600,)])
def test_sizes_out_of_range_are_refused(size, tmp_path):
    with pytest.raises(InputError, match="640 × 360 to 8000 × 8000"):
        draw(gap_scene(), tmp_path / "picture.png", size, "ray")


def test_an_unknown_renderer_is_refused_with_the_nearest(tmp_path):
    with pytest.raises(InputError, match="did you mean 'ray'"):
        draw(gap_scene(), tmp_path / "picture.png", SIZE, "rays")


@pytest.mark.parametrize("place", ["missing/picture.png", "", "x" * 300 + ".png"])
def test_a_place_that_cannot_be_written_is_told_before_drawing(place, tmp_path, monkeypatch):
    monkeypatch.setattr(pictures, "_png", lambda *_: pytest.fail("drawn for nothing"))
    with pytest.raises(OutputError, match="cannot be written"):
        draw(gap_scene(), tmp_path / place, SIZE, "ray")


def test_a_full_disk_leaves_the_old_picture_and_no_crumbs(tmp_path, monkeypatch):
    path = tmp_path / "picture.png"
    path.write_bytes(b"yesterday")

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="No space left"):
        draw(gap_scene(), path, SIZE, "ray")
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
        draw(Scene("", "", solids), tmp_path / "picture.png", SIZE, "ray")


def test_the_printed_gap_is_never_rounded_up(tmp_path):
    pictures_of = [drawn(replace(gap_scene(), gap_mm=millimetres), tmp_path) for millimetres in (3.466, 3.46, 3.47)]
    down, told, up = (np.asarray(picture) for picture in pictures_of)
    assert (down == told).all()
    assert (down != up).any()
