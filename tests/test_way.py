"""Ways over the drives: what is reached, and what is left out because the machine cannot be put together there."""

import numpy as np
import pytest
from small_machines import read, trammel

from assembly.kinematics.assembling import assemble
from assembly.kinematics.drive_path import way_along

FLAG = """
[parts.flag]
shapes = [{ box = [300, 0, 40], size = [5, 5, 5] }]

[joints.flag_pin]
pin = ["frame", "flag"]
at = [300, 0, 20]
along = [1, 0, 0]

[drives.wave]
turns = { flag_pin = 1 }
range = [-40, 40]
"""


@pytest.fixture(scope="module")
def short_rod():
    """A rod of 100 mm cannot follow a carriage that is 120 mm off (closed form)."""
    return assemble(read(trammel(low=-120.0) + FLAG))


def pushed(*values, wave=0.0):
    return np.array([[value, wave] for value in values], dtype=float)


def at(push, wave):
    return {"push": push, "wave": wave}


def test_a_way_that_is_open_is_kept_whole(short_rod):
    way = way_along(short_rod, pushed(0, -50, -99, 20))
    assert way.solved.settings[:, 0].tolist() == [0, -50, -99, 20]
    assert way.left_out == ()


def test_what_is_gone_along_twice_is_left_out_once_to_its_far_end(short_rod):
    way = way_along(short_rod, pushed(-90, -101, -110, -120, -109, -102, -95))
    assert way.solved.settings[:, 0].tolist() == [-90, -95]
    (left_out,) = way.left_out
    assert (left_out.first, left_out.last) == (at(-120, 0), at(-95, 0))  # the last that is shown
    assert left_out.lost.at == at(-120, 0)
    assert left_out.lost.miss_mm == pytest.approx(20.0, abs=1e-3)  # 120 - 100, closed form


def test_stretches_apart_and_round_a_corner_are_told_each(short_rod):
    round_a_corner = np.array([[-110, -20], [-110, 0], [-110, 20], [-105, 20], [0, 20], [-104, 40]], dtype=float)
    left_out = way_along(short_rod, round_a_corner).left_out
    assert [(one.first, one.last) for one in left_out] == [
        (at(-110, -20), at(-110, 20)),
        (at(-110, 20), at(0, 20)),
        (at(-104, 40), at(-104, 40)),
    ]


def test_a_way_that_is_all_lost_leaves_nothing(short_rod):
    way = way_along(short_rod, pushed(-110))
    assert len(way.solved.settings) == 0
    assert len(way.left_out) == 1
