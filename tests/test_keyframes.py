"""Keys along a drive: near enough to the solved poses between them, and never beyond what can be put together."""

import numpy as np
import pytest
from small_machines import SPINDLE, read, slider, trammel

from assembly.geometry.moving_parts import Places
from assembly.geometry.rotations import rotation_from_vector
from assembly.kinematics.assembling import assemble
from assembly.kinematics.keyframes import FIRST_STEPS, between, keys_towards
from assembly.kinematics.placed_parts import figures_of, places_of


def keys(text, end, near=0.1, drive=0, start=0.0):
    mechanism = assemble(read(text))
    at = np.zeros(len(mechanism.machine.drives))
    at[drive] = start
    return mechanism, keys_towards(mechanism, figures_of(mechanism), at, drive, end, near)


def test_a_straight_slide_needs_no_more_keys_than_the_first():
    _, found = keys(slider(), 8.0)
    assert found.solved.settings[:, 0] == pytest.approx(np.linspace(0, 8, FIRST_STEPS + 1))
    assert found.error_mm < 1e-9
    assert found.left_out is None


@pytest.mark.parametrize("near", [0.3, 0.1, 0.01])
def test_the_error_told_is_kept_and_is_that_of_a_finer_look(near):
    mechanism, found = keys(trammel(), -30.0, near)
    assert 0 < found.error_mm <= near
    values = found.solved.settings[:, 0]
    assert (values[0], values[-1]) == (0.0, -30.0)
    shares = np.linspace(0.05, 0.95, 19)
    places = places_of(mechanism, found.solved.posture)
    link = list(mechanism.machine.parts).index("link")
    worst = 0.0
    for share in shares:
        s = values[:-1] + share * np.diff(values)
        ends = np.zeros((len(s), 2, 3))  # of the rod: one on each carriage, 100 mm apart (closed form)
        ends[:, 0, 1], ends[:, 1, 2] = s, np.sqrt(100.0**2 - s**2)
        middle = figures_of(mechanism)[link].about
        drawn = np.array([[0.0, 0, 0], [0, 0, 100]]) - middle
        there = between(places, share)
        seen = drawn @ there.rotations[:, link].swapaxes(-1, -2) + there.centres[:, link, None]
        worst = max(worst, float(np.linalg.norm(seen - ends, axis=-1).max()))
    assert worst < 1.05 * near


def test_keys_end_where_the_rod_is_stretched_out():
    _, found = keys(trammel(low=-120.0), -120.0)
    last = found.solved.settings[-1, 0]
    assert -100 < last < -99.9  # the rod is 100 mm long (closed form)
    assert found.solved.reached.all()
    assert found.error_mm <= 0.1
    assert (found.left_out.first, found.left_out.last) == ({"push": last}, {"push": -120.0})
    assert found.left_out.lost.miss_mm == pytest.approx(20.0, abs=1e-3)


def test_at_its_end_a_drive_has_one_key():
    _, found = keys(slider(), 8.0, start=8.0)
    assert found.solved.settings.tolist() == [[8.0]]
    assert (found.error_mm, found.left_out) == (0.0, None)


def test_a_turn_and_a_half_is_followed_round():
    mechanism, found = keys(SPINDLE, 100.0)  # 2.5 times 100 degrees
    wheel = list(mechanism.machine.parts).index("wheel")
    turns = places_of(mechanism, found.solved.posture).rotations[:, wheel]
    angles = np.rad2deg(np.unwrap(np.arctan2(turns[:, 1, 0], turns[:, 0, 0])))
    assert angles[-1] == pytest.approx(250.0)
    assert np.diff(angles).max() < 60


def test_between_goes_straight_and_turns_evenly_the_short_way():
    turns = rotation_from_vector(np.deg2rad([[0.0, 0, 170], [0, 0, -170]]))  # 20 degrees apart
    places = Places(np.array([[[0.0, 0, 0]], [[4.0, 8, 0]]]), turns[:, None])
    there = between(places, 0.25)
    assert there.centres.tolist() == [[[1.0, 2.0, 0.0]]]
    assert there.rotations[0, 0] == pytest.approx(rotation_from_vector(np.deg2rad(np.array([0.0, 0, 175]))))
