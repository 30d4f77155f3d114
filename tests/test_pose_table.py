"""The table of poses: its error is what a view can be off, and it is measured where it is largest."""

from pathlib import Path

import numpy as np
import pytest
from small_machines import quiet, read, slider, trammel

from assembly.clearance.narrow_phase.bounding_balls import outline_round
from assembly.geometry.rotations import rotation_from_vector
from assembly.kinematics.assembling import assemble
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve
from assembly.model.reader import read_machine
from assembly.studies.moving import pose_table as module
from assembly.studies.moving.pose_table import pose_table

HERE = Path(__file__).resolve().parent
CORNER = HERE.parent / "meshes" / "corner_case" / "corner_case.toml"

SWING = """
format = 1
name = "Swing"
[parts.post]
fixed = true
shapes = [{ box = [0, 0, -40], size = [10, 10, 10] }]
[parts.arm]
shapes = [{ box = [150, 0, 0], size = [300, 10, 10] }]
[joints.pivot]
pin = ["post", "arm"]
at = [0, 0, 0]
along = [0, 0, 1]
[drives.swing]
turns = { pivot = 1 }
range = [-80, 80]
"""

CRANK = """
format = 1
name = "Crank and rocker"
[parts.bed]
fixed = true
shapes = [{ box = [0, 0, -40], size = [10, 10, 10] }]
[parts.crank]
shapes = [{ rod = [[0, 0, 0], [0, 0, 60]], diameter = 6 }]
[parts.rod]
shapes = [{ rod = [[0, 0, 60], [150, 0, 90]], diameter = 6 }]
[parts.rocker]
shapes = [{ rod = [[150, 0, 90], [150, 0, 0]], diameter = 6 }]
[joints.one]
pin = ["bed", "crank"]
at = [0, 0, 0]
along = [0, 1, 0]
[joints.two]
pin = ["crank", "rod"]
at = [0, 0, 60]
along = [0, 1, 0]
[joints.three]
pin = ["rod", "rocker"]
at = [150, 0, 90]
along = [0, 1, 0]
[joints.four]
pin = ["rocker", "bed"]
at = [150, 0, 0]
along = [0, 1, 0]
[drives.turn]
turns = { one = 1 }
range = [LOW, HIGH]
"""


def assembled(text):
    return assemble(read(text))


def crank(low, high):
    return assembled(CRANK.replace("LOW", str(low)).replace("HIGH", str(high)))


def off(mechanism, table, settings):
    """The farthest that a vertex of any part is from its solved place at each setting, by moving every vertex."""
    guessed, known = table.between(settings)
    truth = solve(mechanism, settings)
    assert known.all()
    assert truth.reached.all()
    worst = np.zeros(len(settings))
    for name, part in mechanism.machine.parts.items():
        places = [mechanism.world_from_rest(posture, name) for posture in (guessed, truth.posture)]
        moved = [part.mesh.vertices @ at[:, :3, :3].transpose(0, 2, 1) + at[:, None, :3, 3] for at in places]
        worst = np.maximum(worst, np.linalg.norm(moved[0] - moved[1], axis=-1).max(axis=1))
    return worst


def test_what_slides_has_no_error():
    table = pose_table(assembled(slider()), quiet)
    assert table.error_mm < 1e-9
    assert table.counts == (5,)


def test_a_turn_about_one_line_is_tried_where_its_error_is_largest():
    mechanism = assembled(SWING)
    table = pose_table(mechanism, quiet, wanted_mm=1.0)
    everywhere = off(mechanism, table, np.linspace(-80, 80, 1601)[:, None])
    assert table.error_mm == pytest.approx(everywhere.max(), rel=0.01)
    step = np.deg2rad(160 / (table.counts[0] - 1))
    share = 0.21
    mixed = 2 * np.arctan2(share * np.sin(step / 2), 1 - share + share * np.cos(step / 2))
    assert table.error_mm == pytest.approx(2 * np.hypot(300, 5) * np.sin((share * step - mixed) / 2), rel=1e-6)


@pytest.mark.parametrize("mechanism", [crank(-25, 30), assemble(read_machine(CORNER))], ids=["loop", "two drives"])
def test_no_setting_is_much_farther_off_than_is_said(mechanism):
    table = pose_table(mechanism, quiet)
    drives = mechanism.machine.drives.values()
    low, high = np.array([drive.low for drive in drives]), np.array([drive.high for drive in drives])
    settings = low + np.random.default_rng(5).random((600, len(low))) * (high - low)
    worst = off(mechanism, table, settings).max()
    assert table.error_mm < 0.2
    assert worst < 1.1 * table.error_mm + 1e-9
    assert worst > 0.5 * table.error_mm


def test_at_its_own_points_it_is_solved():
    mechanism = crank(-25, 30)
    table = pose_table(mechanism, quiet)
    assert off(mechanism, table, table.axes[0][:, None]).max() < 1e-9


def test_a_table_that_may_not_grow_says_how_far_it_is_off():
    mechanism = crank(-25, 30)
    table = pose_table(mechanism, quiet, wanted_mm=1e-3, most_places=40)
    assert table.counts[0] * len(mechanism.bodies) <= 40
    assert table.error_mm > table.wanted_mm
    assert table.error_mm == pytest.approx(off(mechanism, table, np.array([table.error_at])).max(), abs=1e-9)


def test_nothing_is_said_where_the_machine_cannot_be_assembled():
    table = pose_table(assemble(read(trammel(-30, 110))), quiet, most_places=400)
    settings = table.axes[0]
    np.testing.assert_array_equal(table.reached, settings < 100)
    last = np.flatnonzero(table.reached)[-1]
    between = (settings[last] + settings[last + 1]) / 2
    assert table.between(np.array([[0.0], settings[last : last + 1], [between], [110.0]]))[1].tolist() == [
        True,
        True,
        False,
        False,
    ]


def test_the_drive_that_bends_the_motion_gets_the_finer_steps():
    table = pose_table(assemble(read_machine(CORNER)), quiet, wanted_mm=1e-3)
    assert table.counts[0] > table.counts[1] == 5


def test_the_largest_error_is_that_of_every_corner_at_every_posture(monkeypatch):
    """Against all corners at all postures, one after another; of most postures no corner is looked at."""
    chance = np.random.default_rng(3)
    corners = [chance.normal(size=(200, 3)) * 300, chance.normal(size=(12, 3)) * 100]
    turns = rotation_from_vector(chance.normal(size=(300, 2, 3)))
    off = rotation_from_vector(chance.normal(size=(300, 2, 3)) * np.linspace(0, 0.01, 300)[:, None, None])
    truth = Posture(chance.normal(size=(300, 2, 3)), turns)
    guessed = Posture(truth.centres + chance.normal(size=(300, 2, 3)) * 0.1, off @ turns)
    errors = [
        [
            max(np.linalg.norm((guessed.rotations[n, b] - truth.rotations[n, b]) @ c + shift) for c in corners[b])
            for b, shift in enumerate(guessed.centres[n] - truth.centres[n])
        ]
        for n in range(300)
    ]
    looked, away = [], module._away
    monkeypatch.setattr(
        module, "_away", lambda points, *by: looked.append((len(points), len(by[0]))) or away(points, *by)
    )
    shapes = [module._Shape(own, outline_round(own)) for own in corners]
    error, row, body = module._largest_error(guessed, truth, shapes)
    assert (row, body) == np.unravel_index(np.argmax(errors), (300, 2))
    assert error == pytest.approx(np.max(errors), abs=1e-12)
    assert sum(count for points, count in looked if points == 200) <= 100
