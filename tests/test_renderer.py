"""What pyvista draws of our solids: where, how deep, in which light, with which lines. Expected: closed forms."""

import numpy as np
import pytest
from picture_scenes import ball, box, rod

from assembly.geometry.mesh import Mesh
from assembly.geometry.rotations import rotation_from_vector
from assembly.report.render.camera import looking
from assembly.report.render.palette import Paint
from assembly.report.render.renderer import BRIGHT, rendering, works
from assembly.report.render.stage import Layer, StageSolid

pytestmark = pytest.mark.usefixtures("opengl")

SIZE = (320, 240)
PAINT = Paint((100, 150, 200), (10, 20, 30), 1, 0.6)
PEN = 2.0
ALL = tuple(Layer)


def solid(mesh, layer=Layer.FIRST, paint=PAINT):
    return StageSolid(layer, mesh, paint)


def depth(solids, camera, size=SIZE, layers=ALL):
    with rendering(solids) as renderer:
        return renderer.depth(layers, camera, size)


def lined(colour):
    """Pixels (h, w) in the colour of lines."""
    return (np.abs(colour * 255 - np.array(PAINT.line)) < 4).all(axis=-1)


def test_a_ball_covers_a_circle_and_the_nearer_of_two_is_seen():
    near, far = solid(ball(30, (100, 0, 0))), solid(box((10, 100, 100), (-50, 0, 0)))
    seen = depth([near, far], looking((-1, 0, 0), (0, 0, 0), 120))
    pixel = (120 / 240) ** 2
    assert (seen < 0).sum() * pixel == pytest.approx(np.pi * 30**2, rel=0.01)
    assert np.isfinite(seen).sum() * pixel == pytest.approx(100 * 100, rel=0.01)
    assert seen[120, 160] == pytest.approx(-130, abs=0.05)
    assert seen[30, 160] == pytest.approx(45, abs=0.01)
    assert seen[0, 0] == np.inf


def test_what_is_nearer_than_the_near_plane_is_not_seen():
    solids = [solid(box((20, 40, 40)))]
    assert depth(solids, looking((-1, 0, 0), (0, 0, 0), 80))[120, 160] == pytest.approx(-10, abs=1e-3)
    assert depth(solids, looking((-1, 0, 0), (0, 0, 0), 80, near=0.0))[120, 160] == pytest.approx(10, abs=1e-3)
    assert not np.isfinite(depth(solids, looking((-1, 0, 0), (0, 0, 0), 80, near=11.0))).any()


def test_far_from_the_origin_it_is_as_sharp():
    centre = np.array([1e6, -1e6, 1e6]) + 0.3
    seen = depth([solid(box((20, 40, 40), centre))], looking((-1, 0, 0), centre, 80))
    assert np.isfinite(seen).sum() == 120 * 120
    assert seen[np.isfinite(seen)] == pytest.approx(-10, abs=1e-3)


def test_layers_do_not_hide_each_other():
    solids = [solid(box((10, 90, 90), (30, 0, 0))), solid(box((100, 40, 40)), Layer.REST)]
    camera = looking((-1, 0, 0), (0, 0, 0), 100)
    with rendering(solids) as renderer:
        for layer, side in ((Layer.FIRST, 90), (Layer.REST, 40)):
            assert np.isfinite(renderer.depth((layer,), camera, (100, 100))).sum() == side**2
        colour, nothing = renderer.image((Layer.OVERLAP,), camera, (100, 100), PEN)
    assert (colour == 1).all()
    assert not np.isfinite(nothing).any()


def test_each_face_has_the_light_of_its_slope():
    camera = looking((-1, -0.7, -0.5), (0, 0, 0), 120)
    with rendering([solid(box((50, 50, 50)))]) as renderer:
        colour, _ = renderer.image(ALL, camera, SIZE, PEN)
    lamp = -0.45 * camera.right + 0.75 * camera.up - camera.towards
    for normal in np.eye(3):
        column, row, _ = camera.pixels(25 * normal, SIZE).astype(int)
        lit = PAINT.shade + (BRIGHT - PAINT.shade) * max(0.0, normal @ lamp / np.linalg.norm(lamp))  # Lambert's law
        assert colour[row, column] * 255 == pytest.approx(np.minimum(np.array(PAINT.fill) * lit, 255), abs=1.5)


def test_a_box_has_nine_edges_in_sight_and_a_ball_its_outline_only():
    camera = looking((-1, -1, -1), (0, 0, 0), 160)
    with rendering([solid(box((50, 50, 50)))]) as renderer:
        edges = lined(renderer.image(ALL, camera, SIZE, PEN)[0])
    length = 9 * 50 * np.sqrt(2 / 3) * SIZE[1] / 160  # a cube's edges seen along its diagonal
    assert edges.sum() == pytest.approx(length * PEN, rel=0.3)
    with rendering([solid(ball(50, splits=5))]) as renderer:
        rows, columns = np.nonzero(lined(renderer.image(ALL, camera, SIZE, PEN)[0]))
    away = np.hypot(rows + 0.5 - 120, columns + 0.5 - 160)
    assert away == pytest.approx(50 * SIZE[1] / 160, abs=2.5)
    turns = np.degrees(np.arctan2(rows - 120, columns - 160))
    assert len(set(np.round(turns / 5).astype(int))) == 73


def test_a_hidden_edge_is_not_drawn():
    plate, behind = solid(box((4, 100, 100), (3, 0, 0))), solid(box((4, 60, 60), (-3, 0, 0)))
    with rendering([plate, behind]) as renderer:
        colour, _ = renderer.image(ALL, looking((-1, 0, 0), (0, 0, 0), 120), SIZE, PEN)
    assert not lined(colour)[30:210, 70:250].any()


def test_solids_stand_where_they_are_placed_with_their_light_and_outline():
    turn, shift = rotation_from_vector(np.deg2rad([[90.0, 0, 0]])), np.array([[0.0, 20, 10]])
    lying = rod(10, 80, centre=(15, -20, 5))
    points = lying.vertices @ turn[0].T + shift[0]
    camera = looking((-1, -0.5, -0.4), (0, 0, 0), 160)
    images = []
    for mesh, placed in ((lying, True), (Mesh(points, lying.faces), False)):
        with rendering([solid(mesh)]) as renderer:
            if placed:
                renderer.place(turn, shift)
            images.append(renderer.image(ALL, camera, SIZE, PEN))
    (one, deep), (other, expected) = images
    assert lined(other).sum() > 300
    assert (np.abs(one - other).max(axis=-1) > 0.02).mean() < 1e-3
    assert (np.isfinite(deep) != np.isfinite(expected)).mean() < 1e-4


def test_a_cut_solid_shows_its_hatched_face_where_the_plane_is():
    camera = looking((-1, 0, 0), (0, 0, 0), 100, near=-18.0)
    with rendering([solid(ball(30, splits=5))]) as renderer:
        colour, deep = renderer.image(ALL, camera, (400, 300), PEN)
    flat = deep == -18.0
    assert flat.sum() * (100 / 300) ** 2 == pytest.approx(np.pi * (30**2 - 18**2), rel=5e-3)
    plain = np.minimum(np.array(PAINT.fill) * BRIGHT / 255, 1)
    shown = (np.abs(colour[flat] - plain).max(axis=-1) < 0.01).mean()
    outline = 2 * PEN / (24 * 300 / 100)  # a ring as wide as the pen, as a share of the circle
    assert shown == pytest.approx((1 - outline) * (1 - 2 / 30), abs=0.03)  # lines of two pixels in thirty


def test_the_plotter_is_closed_whatever_happens():
    kept = []

    def spoiled():
        with rendering([solid(box((1, 1, 1)))]) as renderer:
            kept.append(renderer._plotter)
            raise RuntimeError

    with pytest.raises(RuntimeError):
        spoiled()
    assert kept[0].render_window is None


def test_the_probe_finds_its_square():
    assert works()
