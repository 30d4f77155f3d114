"""Cells that touch agree on one branch or are given up, whatever the solver does; machines that are held twice."""

from dataclasses import replace
from itertools import product
from pathlib import Path

import known_linkages as known
import numpy as np
import pytest
from linkage_machines import wrapped
from random_machines import only
from small_machines import quiet
from test_coupled_loops import coupled, followers
from tries import first

from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.proof import cells as cells_of_pairs
from assembly.clearance.proof.cell_faces import faces, joined_to
from assembly.clearance.proof.first_cells import cells_over
from assembly.clearance.proof.joint_search import joint_search
from assembly.errors import AssemblyError
from assembly.kinematics import expansion
from assembly.kinematics.assembling import assemble
from assembly.kinematics.at_setting import posture_at
from assembly.kinematics.cell_motion import bound_motion
from assembly.kinematics.expansion import RowGroups, expand
from assembly.kinematics.joint_motion import motions_of
from assembly.kinematics.row_blocks import System
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import follow, solve
from assembly.model.reader import read_machine
from assembly.studies.sweep.check import check
from assembly.studies.sweep.joint_ranges import joints_of
from assembly.studies.sweep.sweep_record import sweep_record

CASES = Path(__file__).resolve().parent / "cases"


def ranged(made, low, high):
    return replace(made, drives={name: replace(drive, low=low, high=high) for name, drive in made.drives.items()})


def farthest_from_closed_form(cells, ids, count, offset):
    """How far in degrees any follower stands from its closed form at the centres of the cells ``ids``."""
    crank, posture = cells.motion.settings[ids, 0], cells.motion.posture.take(ids)
    wanted, _ = followers(count, offset, crank)
    bodies = [cells.mechanism.bodies.body_of[f"w{k + 1}"] for k in range(count)]
    turned = posture.rotations[:, bodies]
    return np.abs(wrapped(np.degrees(np.arctan2(turned[..., 1, 0], turned[..., 0, 0])).T - wanted)).max()


@pytest.mark.parametrize(("count", "offset"), first([(2, 0.0005), (3, 0.005), (2, 0.05), (4, 0.01)], 2))
def test_coupled_loops_are_proven_past_their_change_point_in_their_own_assembly(count, offset):
    cells = cells_over(assemble(ranged(coupled(count, offset), 0, 170)))
    proven, unresolved = cells.roots, cells.unresolved
    assert not len(unresolved)
    assert farthest_from_closed_form(cells, proven, count, offset) < 1e-5


# the solver is broken on purpose: it no longer looks whether a block could have lost its rank, and jumps
@pytest.mark.parametrize("count", first([2, 4], 1))
def test_a_solver_that_jumps_to_another_assembly_is_caught_at_a_face(monkeypatch, count):
    offset = 0.01
    monkeypatch.setattr(System, "stays_regular", lambda _, before, __: np.ones(len(before), dtype=bool))
    cells = cells_over(assemble(ranged(coupled(count, offset), 0, 170)))
    everything = np.flatnonzero(cells.motion.certified)
    assert farthest_from_closed_form(cells, everything, count, offset) > 90
    proven, unresolved = cells.roots, cells.unresolved
    assert cells.unresolved_share() > 0.4
    assert len(unresolved)
    assert farthest_from_closed_form(cells, proven, count, offset) < 1e-5


def test_a_centre_that_is_cut_out_of_a_proven_cell_and_jumps_bounds_nothing(monkeypatch):
    cells = cells_over(assemble(ranged(known.four_bar(), -60, 60)))
    proven = cells.roots
    crossed = assemble(ranged(known.four_bar(crossed=True), -60, 60))

    def other_assembly(mechanism, start, rows, settings):
        right = follow(mechanism, start, rows, settings)
        wrong = solve(crossed, settings).posture
        drawn = crossed.bodies.centres - mechanism.bodies.centres
        return replace(right, posture=Posture(wrong.centres - drawn, wrong.rotations))

    monkeypatch.setattr(cells_of_pairs, "follow_or_restart", other_assembly)
    (children,) = cells.split(proven[:1], np.array([0]))
    assert cells.motion.certified[children].tolist() == [False, True, False]


# all postures that one cell holds at random settings near its rim lie in no other assembly: own model, brute force
def test_a_certified_box_holds_one_posture_only():
    mechanism = assemble(known.four_bar())
    rng = np.random.default_rng(3)
    settings = rng.uniform(-160, 160, (40, 1))
    half = rng.uniform(0.5, 6, (40, 1))
    motion = bound_motion(mechanism, solve(mechanism, settings), half)
    assert motion.certified.sum() > 20
    crossed = assemble(known.four_bar(crossed=True))
    other = solve(crossed, settings).posture
    mine = solve(mechanism, settings).posture
    # the coupler's turn from drawn to here differs between the assemblies by what their drawings differ, too
    drawn = known.linkages.four_bar(40, 120, 80, 100, 90)[0] - known.linkages.four_bar(40, 120, 80, 100, 90, True)[0]
    body = mechanism.bodies.body_of["coupler"]
    angle = [np.degrees(np.arctan2(p.rotations[:, body, 1, 0], p.rotations[:, body, 0, 0])) for p in (mine, other)]
    apart = np.radians(np.abs(wrapped(angle[0] - angle[1] + drawn)))
    assert (motion.turn_box[:, body] < apart)[motion.certified].all()


def test_faces_are_those_that_a_comparison_of_all_boxes_finds():
    rng, span = np.random.default_rng(4), np.array([7.0, 3.0, 11.0])
    boxes = [(np.zeros(3), span)]
    for _ in range(40):
        low, size = boxes.pop(int(rng.integers(len(boxes))))
        axis = int(rng.integers(3))
        third = np.where(np.arange(3) == axis, size / 3, size)
        boxes += [(low + k * np.where(np.arange(3) == axis, third, 0), third) for k in range(3)]
    low, size = (np.array(part) for part in zip(*boxes, strict=True))
    first, second, points = faces(low + size / 2, size / 2, span)
    wanted = set()
    for a, b in product(range(len(boxes)), repeat=2):
        shared = np.minimum(low[a] + size[a], low[b] + size[b]) - np.maximum(low[a], low[b])
        if a < b and (np.abs(shared) < 1e-6).sum() == 1 and (shared > -1e-6).all():
            wanted.add((a, b))
    assert {(min(pair), max(pair)) for pair in zip(first.tolist(), second.tolist(), strict=True)} == wanted
    for cell in (first, second):
        assert (np.abs(points - low[cell] - size[cell] / 2) <= size[cell] / 2 + 1e-9).all()


def test_what_no_face_joins_to_the_start_is_not_joined():
    joined = joined_to(np.array([0]), 5, np.array([0, 3]), np.array([1, 4]))
    assert joined.tolist() == [True, True, False, False, False]


# closed form: a parallelogram drawn exactly can go on in two ways once its cranks line up at -60
def test_what_lies_beyond_a_true_change_point_is_given_up():
    cells = cells_over(assemble(ranged(known.parallelogram(lean=60), -100, 100)))
    proven = cells.roots
    ends = cells.motion.settings[proven, 0] - cells.motion.half[proven, 0]
    assert -60 < ends.min() < -59
    assert cells.unresolved_share() == pytest.approx(0.2, abs=0.01)


@pytest.mark.parametrize(
    ("make", "reach"),
    first(
        [
            (lambda: known.bennett(60), 50),
            (lambda: known.parallelogram(third_misplaced=0.0), 50),
            (known.coupled_wheels, 170),
            (known.tilting_parallelogram, 40),
            (lambda: known.sarrus(40), 30),
            (lambda: known.peaucellier(20), 40),
        ],
        3,
    ),
    ids=["Bennett", "three cranks", "coupled wheels", "tilting parallelogram", "Sarrus", "Peaucellier"],
)
def test_ordinary_machines_that_are_held_twice_are_proven(make, reach):
    assert cells_over(assemble(ranged(make(), -reach, reach))).unresolved_share() == 0


# closed form, worked out when the case was found: the loop misses by 2.9e-4 mm at the ends of the range
def test_loop_that_parts_at_third_order_is_not_clear():
    machine = only(read_machine(CASES / "redundant_loop_parts_at_third_order.toml"), ("c1", "bar"))
    checked = check(machine, Effort(decide_only=True), quiet)
    result, told = checked.swept, sweep_record(checked, joints_of(checked.mechanism))
    assert (told.verdict, [place for place in told.unreachable if place.missed]) == ("undecided", [])
    assert {pair.verdict for pair in result.pairs if not pair.pair.rigidly_coupled} == {Verdict.UNDECIDED}
    widest = max(abs(next(iter(place.at.values()))) for place in result.unreachable)
    (last,) = {place.miss_mm for place in result.unreachable if abs(next(iter(place.at.values()))) == widest}
    assert last == pytest.approx(2.9e-4 * (widest / 2) ** 3, rel=0.2)
    assert all(place.held_twice for place in result.unreachable)
    with pytest.raises(AssemblyError, match=r"misses by 0\.0003 mm.*held by more than it needs"):
        posture_at(checked.mechanism, (2.0,))


# the condition grows as one over the distance to the dead centre at -60, and so does what the inverse loses
def test_rounding_in_the_inverse_is_measured():
    mechanism = assemble(ranged(known.parallelogram(lean=60), -60, 0))
    solved = solve(mechanism, np.array([[0.0], [-59.9999]]))
    far, near = expand(mechanism, solved, RowGroups(mechanism)).loss.max(axis=1)
    assert far < 1e-11
    assert near > 1e3 * far


def test_cell_whose_inverse_loses_too_much_is_not_proven(monkeypatch):
    mechanism = assemble(known.four_bar())
    here, half = solve(mechanism, np.zeros((1, 1))), np.array([[0.1]])
    assert bound_motion(mechanism, here, half).certified.all()
    monkeypatch.setattr(expansion, "_loss", lambda system, slopes, _: np.full((len(slopes), len(system.blocks)), 2e-3))
    assert not bound_motion(mechanism, here, half).certified.any()


# closed form: the crank turns as its drive does; beyond -60 nothing is proven, and an angle of -200 would read as 160
def test_range_of_a_joint_leaves_out_what_is_not_proven(monkeypatch):
    monkeypatch.setattr(System, "stays_regular", lambda _, before, __: np.ones(len(before), dtype=bool))
    mechanism = assemble(ranged(known.parallelogram(lean=60), -250, 100))
    search = joint_search(mechanism)
    assert (search.seen.settings[:, 0] < -180).any()
    (turn,) = motions_of(mechanism.machine.joints["left_foot"], mechanism.bodies)
    (found,) = search.extremes([(turn, (None, None))])
    assert found.most == pytest.approx(100, abs=0.2)
    assert found.least == pytest.approx(-60, abs=0.5)
    unknown = np.isnan(found.looked_at)
    assert unknown[search.seen.settings[:, 0] < -61].all()
    assert not unknown[search.seen.settings[:, 0] > -59].any()
