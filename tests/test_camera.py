import numpy as np
import pytest

from assembly.report.render.camera import looking, looking_at_all


def test_seen_from_ahead_left_is_on_the_right_and_up_is_up():
    camera = looking((-1, 0, 0), (0, 0, 0), height=100)
    spots = camera.pixels([[0, 10, 0], [0, 0, 10], [10, 0, 0]], (200, 100))
    # closed form: one pixel per mm, y downwards, nearer is less deep
    assert spots == pytest.approx(np.array([[110, 50, 0], [100, 40, 0], [100, 50, -10]]))


def test_seen_from_above_forward_is_up_and_left_is_left():
    camera = looking((0, 0, -1), (0, 0, 0), height=100)
    spots = camera.pixels([[10, 0, 0], [0, 10, 0]], (100, 100))
    assert spots[:, :2] == pytest.approx(np.array([[50, 40], [40, 50]]))


def test_lengths_across_the_sight_keep_one_scale():
    rng = np.random.default_rng(1)
    camera = looking((-0.3, 0.8, -0.4), (5, 6, 7), height=50)
    points = rng.normal(size=(20, 3))
    points -= np.outer(points @ camera.towards, camera.towards)
    spots = camera.pixels(points + camera.target, (300, 200))[:, :2] - (150, 100)
    assert np.linalg.norm(spots, axis=1) == pytest.approx(np.linalg.norm(points, axis=1) * 200 / 50)


@pytest.mark.parametrize("towards", [(1, 0, 0), (0, 0, 1), (0, 0, -1), (-1, 2, -0.3)])
def test_the_picture_stands_square(towards):
    camera = looking(towards, (0, 0, 0), 1.0)
    axes = np.stack([camera.right, camera.up, camera.towards])
    assert axes @ axes.T == pytest.approx(np.eye(3))


@pytest.mark.parametrize("size", [(300, 100), (100, 300)])
def test_all_points_are_in_the_picture_and_fill_it(size):
    points = np.random.default_rng(2).uniform(-1, 1, (50, 3)) * (300, 100, 40) + (1000, 0, 0)
    camera = looking_at_all(points, (-1, 0.4, -0.6), size, margin=0.1)
    spots = camera.pixels(points, size)[:, :2]
    low, high = spots.min(axis=0), spots.max(axis=0)
    assert (low >= 0.0999 * np.array(size)).all()
    assert ((high - low) / np.array(size)).max() == pytest.approx(0.8)
    assert low + high == pytest.approx(np.array(size))
