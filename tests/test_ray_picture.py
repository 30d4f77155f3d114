import numpy as np
import pytest
from picture_scenes import ball, box

from assembly.report.render.camera import looking
from assembly.report.render.ray_picture import ray_renderer

SIZE = (320, 240)


def test_a_ball_covers_a_circle_and_the_nearer_of_two_is_seen():
    near, far = ball(30, (100, 0, 0)), box((10, 100, 100), (-50, 0, 0))
    count = len(near.faces)
    triangles = np.concatenate([near.vertices[near.faces], far.vertices[far.faces]])
    with ray_renderer({"all": triangles, "none": np.empty((0, 3, 3))}) as renderer:
        seen = renderer.seen("all", looking((-1, 0, 0), (0, 0, 0), 120), SIZE)
    pixel = (120 / 240) ** 2
    assert ((seen >= 0) & (seen < count)).sum() * pixel == pytest.approx(np.pi * 30**2, rel=0.01)  # closed form
    assert (seen >= 0).sum() * pixel == pytest.approx(100 * 100, rel=0.01)


def test_what_is_nearer_than_the_near_plane_is_not_seen():
    solid = box((20, 40, 40))
    with ray_renderer({"box": solid.vertices[solid.faces]}) as renderer:
        front = renderer.seen("box", looking((-1, 0, 0), (0, 0, 0), 80), SIZE)[120, 160]
        back = renderer.seen("box", looking((-1, 0, 0), (0, 0, 0), 80, near=0.0), SIZE)[120, 160]
    assert solid.vertices[solid.faces[front], 0] == pytest.approx(10)
    assert solid.vertices[solid.faces[back], 0] == pytest.approx(-10)


def test_far_from_the_origin_it_is_as_sharp():
    solid = box((20, 40, 40), (1e5, -1e5, 1e5))
    with ray_renderer({"box": solid.vertices[solid.faces]}) as renderer:
        seen = renderer.seen("box", looking((-1, 0, 0), (1e5, -1e5, 1e5), 80), SIZE)
    assert (seen >= 0).sum() == 120 * 120
