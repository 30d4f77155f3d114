"""What a distance measured at one setting tells of others, against closed forms and what is measured there."""

from math import cos, radians, sin

import numpy as np
import pytest
from small_machines import quiet, read
from usable_machines import over_range, table

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.proof.pair_table import PairTable
from assembly.clearance.proof.solid_table import Boxes, stock_of
from assembly.clearance.region import carried as module
from assembly.clearance.region.carried import BelowQuery, bound_by_planes, bound_by_travel, distances_below, in_strides
from assembly.clearance.region.rules import Rules
from assembly.geometry.rotations import rotation_from_vector
from assembly.kinematics.assembling import assemble
from assembly.kinematics.solver import solve
from assembly.studies.sweep.check import check

LOOSE = 2e-6
"""mm: what is taken off for queries and rounding."""


@pytest.fixture(scope="module")
def survey():
    """A block of 10 mm, 15 mm above a plate that is 400 mm long; nothing moves it but the places given."""
    made = read(
        """
format = 1
name = "Plate and block"
[parts.plate]
fixed = true
shapes = [{ box = [0, 0, -5], size = [400, 400, 10] }]
[parts.block]
shapes = [{ box = [0, 0, 20], size = [10, 10, 10] }]
[joints.guide]
slide = ["plate", "block"]
at = [0, 0, 0]
along = [1, 0, 0]
[drives.x]
slides = { guide = 1 }
range = [-100, 100]
[clearance]
required = 3
"""
    )
    pairs, mechanism = check(made, Effort(decide_only=True), quiet).before.pairs, assemble(made)
    stock = stock_of(mechanism, pairs)
    return PairTable(mechanism, stock, Bench(stock.solids, None, None))


def places(turn=(0.0, 0.0, 0.0), shift=(0.0, 0.0, 0.0)):
    """A motion as one place (1, 4, 4), about where the block is drawn."""
    made, about = np.eye(4)[None].copy(), np.array([0.0, 0.0, 20.0])
    made[0, :3, :3] = rotation_from_vector(np.array(turn))
    made[0, :3, 3] = about - made[0, :3, :3] @ about + shift
    return made


def test_parts_that_slide_or_turn_along_their_gap_are_kept_apart_by_planes(survey):
    """Closed form: 15 mm whatever the block slides; turned by 30° its lowest edge is 5 (cos 30 + sin 30) below it."""
    (piece,) = survey.pieces(0)
    assert (piece.a.part, piece.b.part) == ("plate", "block")
    slid, turned = places(shift=(90.0, 40.0, 0.0)), places(turn=(0.0, radians(30), 0.0))
    up, none = np.array([[0.0, 0.0, 1.0]]), np.zeros(1)
    assert bound_by_planes(piece, slid, up, none)[0] == pytest.approx(15, abs=LOOSE)
    far = bound_by_travel(
        piece, np.concatenate([places(), slid]), np.array([15.0, 15.0]), np.zeros(2, int), np.zeros(2)
    )
    assert far[1] == pytest.approx(15 - np.hypot(90, 40), abs=LOOSE)
    exact = 20 - 5 * (cos(radians(30)) + sin(radians(30)))
    assert exact - LOOSE <= bound_by_planes(piece, turned, up, none)[0] <= exact


def test_no_bound_is_above_what_is_measured_there(survey):
    """200 places by chance, each told by another; measured there by FCL."""
    (piece,), chance = survey.pieces(0), np.random.default_rng(7)
    some = [places(chance.normal(size=3), chance.normal(size=3) * (60, 60, 8) + (0, 0, 12)) for _ in range(200)]
    where = np.concatenate(some)
    (looked,) = survey.bench.look([module.Job(piece.a.solid, piece.b.solid, where)])
    origins, none = np.roll(np.arange(200), 1), np.zeros(200)
    measured, apart = looked[:, 0], looked[origins, 0] > 0
    by_travel = bound_by_travel(piece, where, looked[origins, 0], origins, none)
    by_planes = bound_by_planes(piece, where, looked[origins, 1:], none)
    assert (by_travel <= measured).all()
    assert (by_planes[apart] <= measured[apart]).all()
    assert (by_planes > np.maximum(by_travel, 1.0)).sum() > 20


def test_only_what_may_be_below_is_measured(survey):
    """15 mm at each of 60 settings: as far as 10 one in 27 shows that of all, as far as 20 each is told."""
    (piece,) = survey.pieces(0)
    solved = solve(survey.mechanism, np.linspace(-100, 100, 60)[:, None])
    gaps, every = np.zeros(60), np.arange(60)
    for below, most in ((10.0, 3), (20.0, 60)):
        before = survey.bench.queries
        (found,) = distances_below(survey, solved.posture, [BelowQuery(piece, every, below, gaps)])
        assert survey.bench.queries - before == most
        assert found == pytest.approx(np.full(60, np.inf if below == 10 else 15.0))
    assert Boxes(survey.mechanism, solved.posture).gaps(piece) == pytest.approx(np.full(60, 15.0))


def test_one_in_so_many_settings_stands_for_those_round_it():
    assert in_strides(8, 3).tolist() == [1, 1, 1, 4, 4, 4, 6, 6]
    assert in_strides(3, 27).tolist() == [1, 1, 1]


def test_a_border_is_closed_in_on_by_few_looks(monkeypatch):
    """Of lines that one rule ends straight away a few are enough: halving 2.5 mm to 0.05 takes six looks or more."""
    looks, keeps = [], Rules.keeps
    monkeypatch.setattr(
        Rules, "keeps", lambda self, settings, numbers: looks.append(1) or keeps(self, settings, numbers)
    )
    record = over_range(table(y=(-25.0, 25.0)), 30)
    assert len(record.stretches) > 1
    assert len(looks) <= 5
