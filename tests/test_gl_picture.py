import numpy as np
import pytest
from picture_scenes import ball, box, rod

from assembly.geometry.mesh import joined
from assembly.report.render.camera import looking
from assembly.report.render.gl_picture import gl_renderer, works
from assembly.report.render.pictures import opengl_trouble
from assembly.report.render.ray_picture import ray_renderer

pytestmark = pytest.mark.skipif(bool(opengl_trouble()), reason="no OpenGL on this machine")


@pytest.mark.parametrize("near", [-np.inf, 0.0])
@pytest.mark.parametrize("towards", [(-1, -0.7, -0.5), (0, 0, -1)])
def test_both_renderers_see_the_same(towards, near):
    solid = joined([ball(30, (0, 40, 0), splits=3), box((50, 30, 90)), rod(8, 200, centre=(30, -20, 0))])
    layers = {"one": solid.vertices[solid.faces], "none": np.empty((0, 3, 3))}
    camera = looking(towards, (0, 0, 5), 220, near)
    with gl_renderer(layers) as one, ray_renderer(layers) as other:
        seen, expected = (renderer.seen("one", camera, (400, 300)) for renderer in (one, other))
    assert (expected >= 0).mean() > 0.05
    assert (seen == expected).mean() > 0.998


def test_layers_do_not_hide_each_other():
    front, back = box((10, 90, 90), (50, 0, 0)), box((10, 40, 40), (-50, 0, 0))
    with gl_renderer({"front": front.vertices[front.faces], "back": back.vertices[back.faces]}) as renderer:
        camera = looking((-1, 0, 0), (0, 0, 0), 100)
        assert (renderer.seen("front", camera, (100, 100)) >= 0).sum() == 90 * 90
        assert (renderer.seen("back", camera, (100, 100)) >= 0).sum() == 40 * 40


def test_the_plotter_is_closed_whatever_happens():
    square = box((1, 1, 1))
    kept = []

    def spoiled():
        with gl_renderer({"one": square.vertices[square.faces]}) as renderer:
            kept.append(renderer._plotter)
            raise RuntimeError

    with pytest.raises(RuntimeError):
        spoiled()
    assert kept[0].render_window is None


def test_the_probe_finds_its_two_triangles():
    assert works()
