"""The whole machine from chosen sides: what is seen where, in which colour, in one scale."""

from itertools import pairwise

import numpy as np
import pytest
from picture_scenes import box, coloured
from PIL import Image
from tries import first

from assembly.commands.picture import VIEWS
from assembly.geometry.moving_parts import Figure, Places
from assembly.geometry.rotations import rotation_from_vector
from assembly.report.render import portrait
from assembly.report.render.drawing import Box
from assembly.report.render.palette import OVERLAP, PAINTS, tints
from assembly.report.render.portrait import (
    SIGHTS,
    Look,
    Subject,
    cameras,
    cameras_round,
    gathered,
    moving_sheets,
    shared_out,
    still_sheet,
    turning,
    turning_sheets,
)
from assembly.report.render.renderer import rendering

pytestmark = pytest.mark.usefixtures("opengl")

SIZE = (400, 300)
POST, ARM = tints([True, False])


def rig(*shifts, turns=None):
    """A post on the ground and an arm ahead of it, to the left and up, that goes by ``shifts``."""
    figures = (
        Figure("post", (("foot", box((40, 40, 100), (0, 0, 50))),), np.zeros(3), fixed=True),
        Figure("arm", (("bar", box((60, 20, 20), (200, 100, 150))),), np.array([200.0, 100, 150])),
    )
    gone = np.asarray(shifts or [(0, 0, 0)], dtype=float)
    centres = np.stack([np.zeros_like(gone), gone + figures[1].about], axis=1)
    rotations = np.tile(np.eye(3), (len(gone), 2, 1, 1))
    if turns is not None:
        rotations[:, 1] = turns
    return Subject("Rig", tuple(f"at {k}" for k in range(len(gone))), figures, Places(centres, rotations))


def middle_of(image, paint):
    """Middle (x, y) px of what is seen in a colour."""
    rows, columns = np.nonzero(coloured(image, paint.fill))
    assert len(rows) > 50
    return np.array([columns.mean(), rows.mean()])


def plain(*sights, size=SIZE, **more):
    return Look(sights, size, plain=True, **more)


def test_the_command_offers_the_sights_there_are():
    assert tuple(SIGHTS) == VIEWS


@pytest.mark.parametrize(
    ("sight", "across", "up"),
    first(
        [
            ("front", 1, 1),  # seen from ahead the machine's left is on the viewer's right
            ("rear", -1, 1),
            ("left", -1, 1),  # forward is to the viewer's left
            ("right", 1, 1),
            ("top", -1, 1),  # forward is up, left is left
            ("below", 1, 1),
        ],
        3,
    ),
)
def test_each_sight_shows_the_arm_where_a_viewer_there_sees_it(sight, across, up):
    image = still_sheet(rig(), plain(sight))
    right, down = middle_of(image, ARM) - middle_of(image, POST)
    assert right * across > 30
    assert -down * up > 12


def test_from_a_corner_the_viewer_stands_ahead_left_and_above():
    towards = SIGHTS["corner"].towards
    assert (towards < 0).tolist() == [True, True, True]
    assert (SIGHTS["rear-corner"].towards > 0).tolist() == [True, False, False]


def two_views(image, paint):
    """Rows and columns of the pixels of one part, in the left view and in the right one."""
    shown = coloured(image, paint.fill)
    shown[shown.sum(axis=1) <= 10] = False  # outlines of the other part, in a mixed colour
    rows, columns = np.nonzero(shown)
    used = np.unique(columns)
    widest = int(np.argmax(np.diff(used)))
    left = columns <= used[widest]
    return (rows[left], columns[left]), (rows[~left], columns[~left])


def test_views_on_one_sheet_share_their_scale():
    image = still_sheet(rig(), plain("front", "left", size=(800, 300)))
    heights = [np.ptp(rows) for rows, _ in two_views(image, POST)]
    assert heights[0] == pytest.approx(heights[1], abs=1)
    widths = [np.ptp(columns) for _, columns in two_views(image, ARM)]
    assert widths[1] == pytest.approx(3 * widths[0], rel=0.1)  # 60 mm along, 20 mm across


def test_parts_that_are_brought_out_are_in_colour_and_the_others_grey():
    image = still_sheet(rig(), plain("left", parts=frozenset({"post"})))
    first = tints([False])[0]
    assert coloured(image, first.fill).sum() > 300
    assert coloured(image, PAINTS["quiet"].fill).sum() > 100
    assert abs(middle_of(image, first)[0] - middle_of(still_sheet(rig(), plain("left")), POST)[0]) < 2


def test_neighbouring_parts_differ_and_none_looks_like_an_overlap():
    paints = tints([False] * 7)
    assert all(one.fill != other.fill for one, other in pairwise(paints))
    assert OVERLAP.fill not in [paint.fill for paint in paints]


def test_a_clear_ground_is_clear_and_parts_are_solid():
    image = still_sheet(rig(), plain("left", clear=True))
    assert image.mode == "RGBA"
    alpha = np.asarray(image)[..., 3]
    assert (alpha[0].max(), alpha.max()) == (0, 255)
    white = Image.new("RGBA", image.size, "white")
    white.alpha_composite(image)
    opaque = still_sheet(rig(), plain("left"))
    assert np.abs(np.asarray(white.convert("RGB"), dtype=int) - np.asarray(opaque, dtype=int)).max() < 12
    assert (np.asarray(image)[..., 3] > 250).sum() == pytest.approx((np.asarray(opaque) < 250).any(-1).sum(), rel=0.04)


def test_words_marks_and_legend_stand_on_the_sheet_unless_it_is_plain():
    with_words = still_sheet(rig(), Look(("left",), (800, 600)))
    dark = np.asarray(with_words.convert("L")) < 90
    assert dark[:80, :200].any()  # title
    assert dark[-120:-30, -200:].any()  # scale
    assert coloured(with_words.crop((0, 560, 400, 600)), ARM.fill).sum() > 20  # legend
    assert not (np.asarray(still_sheet(rig(), plain("left")).convert("L"))[:20] < 90).any()


def test_a_moving_part_moves_by_what_its_places_say_and_the_others_stand():
    one, other = moving_sheets(rig((0, 0, 0), (100, 0, 0)), plain("left"))
    posts = [middle_of(image, POST) for image in (one, other)]
    assert np.abs(posts[0] - posts[1]).max() < 0.1
    per_mm = np.ptp(np.nonzero(coloured(one, ARM.fill))[1]) / 60
    assert (middle_of(other, ARM) - middle_of(one, ARM)) == pytest.approx([-100 * per_mm, 0], abs=5)  # less its outline


def test_a_part_turns_about_its_own_point():
    turns = rotation_from_vector(np.deg2rad([[0.0, 90, 0]]))  # about y: the bar stands up
    (image,) = moving_sheets(rig((0, 0, 0), turns=turns), plain("left"))
    rows, columns = np.nonzero(coloured(image, ARM.fill))
    assert np.ptp(rows) == pytest.approx(3 * np.ptp(columns), rel=0.1)


def test_cameras_have_all_that_is_ever_there_in_sight():
    subject = rig((0, 0, 0), (500, -300, 200), (-100, 50, 0))
    cast = gathered(subject.figures, frozenset())
    seen, cells = cameras(cast, subject.places, [sight.towards for sight in SIGHTS.values()], Box(0, 0, *SIZE), 20)
    for camera, cell in zip(seen, cells, strict=True):
        for index in range(3):
            spots = camera.pixels(cast.points(subject.places, index), cell.size)[:, :2]
            assert (spots > 0).all()
            assert (spots < cell.size).all()


def test_views_fill_their_sheet_in_one_scale():
    """Closed form: 400 and 200 mm side by side on 1200 px are 2 px for each mm; in two rows it would be 1.5."""
    cells, scale = shared_out(Box(0, 0, 1200, 640), [(400.0, 200.0), (200.0, 200.0)], 20)
    assert scale == pytest.approx(2.0)
    assert [(cell.left, cell.right) for cell in cells] == [(0, 800), (800, 1200)]
    assert {(cell.top, cell.bottom) for cell in cells} == {(20, 640)}


@pytest.mark.parametrize("sights", [("left",), ("left", "top"), ("corner", "front", "top"), tuple(SIGHTS)])
def test_the_drawing_reaches_over_the_sheet_in_one_direction_at_the_least(sights):
    drawn = (np.asarray(still_sheet(rig(), plain(*sights))) < 250).any(axis=-1)
    cells = np.nonzero(drawn.any(axis=0))[0], np.nonzero(drawn.any(axis=1))[0]
    shares = [np.ptp(one) / side for one, side in zip(cells, drawn.shape[::-1], strict=True)]
    assert max(shares) > 0.75


def test_two_parts_that_are_brought_out_have_the_colours_of_a_pair_in_the_order_of_the_file():
    cast = gathered(rig().figures, frozenset({"post", "arm"}))
    assert [paint.fill for _, paint in cast.brought_out] == [PAINTS["first"].fill, PAINTS["second"].fill]


def test_once_round_comes_back_to_the_corner_and_keeps_the_middle_where_it_is():
    sights = turning(8)
    assert sights[0] == pytest.approx(SIGHTS["corner"].towards)
    assert np.cross(sights[0], sights[2])[2] > 0  # the viewer goes anticlockwise as seen from above
    subject = rig()
    cast = gathered(subject.figures, frozenset())
    found = cameras_round(cast, subject.places, sights, SIZE)
    assert len({(*camera.target.tolist(), camera.height) for camera in found}) == 1
    for camera in found:
        seen = camera.pixels(cast.points(subject.places, 0), SIZE)[:, :2]
        assert (seen > 0).all()
        assert (seen < SIZE).all()


def test_films_open_one_renderer_for_all_their_frames(monkeypatch):
    opened = []
    monkeypatch.setattr(portrait, "rendering", lambda solids: opened.append(solids) or rendering(solids))
    frames = list(turning_sheets(rig(), plain("corner"), 3))
    assert (len(frames), len(opened)) == (3, 1)
    assert len({frame.tobytes() for frame in frames}) == 3
    assert len(list(moving_sheets(rig((0, 0, 0), (100, 0, 0)), plain("left")))) == 2
    assert len(opened) == 2
