"""What the search spares itself: memory for motion that is made where it is asked for, and work that proves nothing."""

from math import inf
from pathlib import Path
from unittest import mock

import numpy as np
import pytest
from small_machines import read, slider, trammel
from watched_sweep import swept

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof import local_search as downhill
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.lower_bound import RelativePlaces
from assembly.clearance.proof.seeding import Seeding
from assembly.kinematics.array_stacks import _arrays
from assembly.kinematics.assembling import assemble
from assembly.kinematics.travel import displacement
from assembly.model.reader import machine_from_text

CASES = Path(__file__).resolve().parent / "cases"
ONE_ROD = (CASES / "rolling_rod_with_lug.toml").read_text()
SECOND = """
[parts.stick2]
shapes = [{ name = "bolt 3", rod = [[0, 200, -30], [0, 200, 30]], diameter = 8, bearing_of = "b3" }]
[parts.pushrod2]
shapes = [
  { name = "tube", rod = [[30, 200, 0], [370, 200, 0]], diameter = 14 },
  { name = "lug", box = [200, 200, 60], size = [20, 6, 120] },
]
[joints.roll2]
pin = ["ground", "stick2"]
at = [-60, 200, 0]
along = [1, 0, 0]
[joints.b3]
ball = ["pushrod2", "stick2"]
at = [0, 200, 0]
bolt = [0, 0, 1]
misalignment = 12
seat_radius = 16
[joints.b4]
ball = ["pushrod2", "ground"]
at = [400, 200, 0]
bolt = [0, 0, 1]
misalignment = 12
seat_radius = 16
[drives.r]
turns = { roll = 1, roll2 = 1 }
"""
TWO_RODS = ONE_ROD.replace("[drives.r]\nturns = { roll = 1 }\n", SECOND)
"""A second rod 200 mm beside the first, of which the same drive turns the stick's bolt."""


def cells_with_rolls(text, rolls, columns):
    return CellGroups(assemble(machine_from_text(text, CASES))).rolled(rolls).of(columns)


def cut_to_ninths(cells, ids, column):
    for _ in range(2):
        ids = cells.split(ids, np.full(len(ids), column)).reshape(-1)
    return ids


# arithmetic: a setting and a half-width for each column, and eight numbers or flags of at most eight bytes
def test_a_cell_with_rolls_takes_no_more_than_its_settings_and_a_few_numbers():
    cells = cells_with_rolls(TWO_RODS, (0, 1), (0, 1, 2))
    assert sum(array.nbytes for array in _arrays(cells._table.rows)) <= len(cells) * 8 * (2 * 3 + 8)


def test_bounds_of_some_bodies_are_those_of_all_in_the_order_asked_for():
    cells = cells_with_rolls(TWO_RODS, (0, 1), (0, 1, 2))
    ids = cut_to_ninths(cells, cut_to_ninths(cells, cells.roots[:2], 1), 2)
    body_of = cells.mechanism.bodies.body_of
    bodies = tuple(body_of[name] for name in ("pushrod2", "ground", "pushrod"))
    few, every = cells.motion_of(ids, bodies), cells.motion.take(ids)
    assert every.certified.any()
    points, none, centres = np.array([[200.0, 0, 120], [30, 7, 0]]), np.zeros(2), cells.mechanism.bodies.centres
    for body, other in ((0, 2), (1, 2), (2, 1)):
        own = displacement(few.motion, body, other, points, none, few.rest).whole
        assert own == pytest.approx(displacement(every, bodies[body], bodies[other], points, none, centres).whole)
    assert (cells.rotations_of(ids, bodies[0]) == few.motion.posture.rotations[:, 0]).all()


# closed form: bolt 2 stands still, so a roll of the rod leans its end by as much: 20 to 60 degrees are beyond 12
def test_what_one_rods_ends_exclude_falls_away_before_the_other_roll_is_cut():
    cells = cells_with_rolls(TWO_RODS, (0, 1), (0, 1, 2))
    ninths = cut_to_ninths(cells, cells.roots, 1)
    assert (cells.half[ninths, 2] == 180).all()
    assert (cells.axes_to_cut(cells.roots, np.zeros_like(cells.roots)) == 1).all()
    assert (cells.axes_to_cut(ninths, np.zeros_like(ninths)) == 2).all()
    assert (cells.some_allowed(ninths) == (np.abs(cells.settings[ninths, 1]) < 1)).all()


def test_no_distance_is_carried_to_a_cell_that_was_measured_itself():
    raised, carried = [], []
    take_in, moved = Seeding.take_in, RelativePlaces.moved

    def taken(seeding, rows, found):
        raised.append(seeding)
        take_in(seeding, rows, found)

    def watched(places, rows, origins):
        carried.extend((seeding, row) for seeding in raised[-1:] if seeding.places is places for row in set(rows))
        assert not any(seeding.measured[row] for seeding in raised[-1:] if seeding.places is places for row in rows)
        return moved(places, rows, origins)

    with mock.patch.object(Seeding, "take_in", taken), mock.patch.object(RelativePlaces, "moved", watched):
        swept(read(trammel()), Effort())
    assert carried


# Lipschitz: a distance changes by no more than points move, so a measured cell's own distance proves the most
def test_a_walk_downhill_measures_no_setting_twice_and_ends_where_it_did():
    looked, measure_at = {}, downhill.measure_at

    def watched(mechanism, bench, searches, settings):
        for search, own in zip(searches, settings, strict=True):
            assert len(own) or search.least < inf
            looked.setdefault(search, []).extend(map(tuple, own.tolist()))
        measure_at(mechanism, bench, searches, settings)

    with mock.patch.object(downhill, "measure_at", watched):
        run = swept(read(slider()), Effort())
    assert any(len(own) > 4 for own in looked.values())
    assert all(len(set(own)) == len(own) for own in looked.values())
    assert run.result.pairs
