"""Quaternions against rotation matrices made by Rodrigues' formula (closed form)."""

import numpy as np
import pytest

from assembly.geometry.rotations import angle_of, rotation_from_vector
from assembly.geometry.turns import mixed, quaternions, rotations_of


def test_there_and_back():
    turns = rotation_from_vector(np.random.default_rng(3).normal(size=(2, 5, 3)) * 1.7)
    np.testing.assert_allclose(rotations_of(quaternions(turns)), turns, atol=1e-12)
    assert (quaternions(turns)[..., 3] >= 0).all()


def test_a_quarter_turn_about_z_in_numbers():
    turn = rotation_from_vector(np.array([0.0, 0.0, np.pi / 2]))
    np.testing.assert_allclose(quaternions(turn), [0, 0, np.sqrt(0.5), np.sqrt(0.5)], atol=1e-12)


@pytest.mark.parametrize("sign", [1, -1], ids=["alike", "other sign"])
def test_half_way_between_two_turns_about_one_line_is_half_the_angle(sign):
    ends = quaternions(rotation_from_vector(np.array([[0.0, 0.2, 0.0], [0.0, 1.0, 0.0]])))
    ends[1] *= sign
    middle = rotations_of(mixed(ends, np.array([0.5, 0.5])))
    np.testing.assert_allclose(middle, rotation_from_vector(np.array([0.0, 0.6, 0.0])), atol=1e-12)


def test_mixed_turns_run_ahead_and_behind_of_the_true_one():
    ends = quaternions(rotation_from_vector(np.array([[0.0, 0.0, 0.0], [1.2, 0.0, 0.0]])))
    angles = [float(angle_of(rotations_of(mixed(ends, np.array([1 - t, t]))))) for t in (0.21, 0.79)]
    assert angles[0] < 0.21 * 1.2
    assert angles[1] > 0.79 * 1.2
    assert np.isclose(sum(angles), 1.2)
