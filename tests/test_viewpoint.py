import numpy as np
import pytest
from picture_scenes import ball, box, gap_scene, overlap_scene, rod, tube
from tries import first

from assembly.geometry.mesh import Mesh, joined
from assembly.geometry.scene import Role, Scene, SceneSolid
from assembly.report.render.renderer import rendering
from assembly.report.render.stage import corners, stage
from assembly.report.render.viewpoint import close_up, focus, overview

pytestmark = pytest.mark.usefixtures("opengl")


def cameras(scene, size=(600, 700)):
    solids, about = stage(scene), focus(scene)
    with rendering(solids) as renderer:
        whole = overview(renderer, corners(solids), about, size)
        return whole, close_up(renderer, about, whole, size)


@pytest.mark.parametrize("way", [(0, 0, 1), (1, 0, 0), (1, -2, 0.5)])
def test_the_close_up_looks_square_to_the_gap(way):
    way = np.array(way) / np.linalg.norm(way)
    solids = (SceneSolid("a", ball(20), Role.FIRST), SceneSolid("b", ball(20, 46 * way), Role.SECOND))
    _, camera = cameras(Scene("", "", solids, (20 * way, 26 * way), 6.0))
    assert camera.towards @ way == pytest.approx(0, abs=1e-9)
    assert camera.target == pytest.approx(23 * way)
    assert camera.near == -np.inf
    assert 40 <= camera.height * 600 / 700 <= 100


def test_a_gap_closed_in_on_all_sides_is_cut_open():
    inner = ball(20, splits=3)
    hollow = ball(24, splits=3)
    shell = joined([ball(40, splits=3), Mesh(hollow.vertices, hollow.faces[:, ::-1])])
    solids = (SceneSolid("shell", shell, Role.FIRST), SceneSolid("core", inner, Role.SECOND))
    _, camera = cameras(Scene("", "", solids, (np.array([20.0, 0, 0]), np.array([24.0, 0, 0])), 4.0))
    assert camera.near == 0.0


def test_a_pin_in_an_open_bore_is_seen_along_the_bore():
    solids = (SceneSolid("bush", tube(10.5, 25, 60), Role.FIRST), SceneSolid("pin", rod(10, 60), Role.SECOND))
    _, camera = cameras(Scene("", "", solids, (np.array([10.0, 0, 0]), np.array([10.5, 0, 0])), 0.5))
    assert abs(camera.towards[2]) > 0.99


def test_a_gap_that_can_be_seen_from_one_way_only_is_seen_that_way():
    turn = np.sqrt(0.5) * np.array([[1, -1, 0], [1, 1, 0], [0, 0, np.sqrt(2)]])
    walls = [box((400, 20, 200), (0, side * 40, 0)) for side in (-1, 1)]
    channel = joined([*walls, box((400, 100, 20), (0, 0, -60)), box((400, 100, 20), (0, 0, 60))])
    pose = np.eye(4)
    pose[:3, :3] = turn
    solids = (
        SceneSolid("channel", channel.moved(pose), Role.FIRST),
        SceneSolid("slider", box((400, 40, 90), (0, 0, 0)).moved(pose), Role.SECOND),
    )
    _, camera = cameras(Scene("", "", solids, (np.array([0, 0, -50.0]), np.array([0, 0, -45.0])), 5.0))
    assert abs(camera.towards @ turn[:, 0]) == pytest.approx(1)
    assert camera.near == -np.inf


@pytest.mark.parametrize("side", first([1, -1], 1))
def test_the_whole_is_seen_from_the_side_where_the_pair_is(side):
    wall = SceneSolid("wall", box((500, 20, 500), (0, -60 * side, 0)))
    kerb = SceneSolid("kerb", box((500, 20, 20), (0, 60 * side, -240)))
    whole, _ = cameras(gap_scene(extra=(wall, kerb)))
    assert -whole.towards[1] * side > 0.2
    assert -whole.towards[2] > 0


def test_the_choice_is_always_the_same():
    one, other = cameras(overlap_scene()), cameras(overlap_scene())
    assert [camera.towards.tolist() for camera in one] == [camera.towards.tolist() for camera in other]


def test_a_long_overlap_is_seen_from_its_end():
    _, camera = cameras(overlap_scene())
    assert abs(camera.towards[0]) > 0.99
    assert camera.near == 0.0


def test_nothing_to_look_at_is_no_focus():
    assert focus(Scene("", "", (SceneSolid("a", ball(1)),))) is None


def test_points_that_touch_still_give_a_view():
    touch = np.zeros(3)
    solids = (SceneSolid("a", ball(20, (0, 0, -20)), Role.FIRST), SceneSolid("b", ball(20, (0, 0, 20)), Role.SECOND))
    _, camera = cameras(Scene("", "", solids, (touch, touch), 0.0))
    assert np.isfinite(camera.towards).all()
    assert camera.target == pytest.approx(touch)
