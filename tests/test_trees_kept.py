"""Trees of bounding volumes that a process keeps: no more than it may, made again alike, none left of what is gone."""

import gc

import numpy as np
import pytest
from small_machines import quiet, read, slider

from assembly.clearance.narrow_phase import distance
from assembly.clearance.narrow_phase.checked_pairs import Solid
from assembly.clearance.narrow_phase.distance import BYTES_A_TRIANGLE, CollisionModel, nearest
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.geometry.mesh import Mesh
from assembly.studies.sweep.whole_sweep import sweep_machine
from assembly.working_memory import keep_to, limited_to, own_share, share_among

BOX = 12 * BYTES_A_TRIANGLE
"""What the tree of a box takes."""


def cube(at):
    corners = np.stack(np.meshgrid([0.0, 1.0], [0.0, 1.0], [0.0, 1.0], indexing="ij"), axis=-1).reshape(-1, 3)
    faces = [[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1]]
    faces += [[2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3]]
    return CollisionModel(Solid(Mesh(corners + at, np.array(faces)), ("cube",), (0,)))


@pytest.fixture
def trees(monkeypatch):
    """Trees of this test alone, and how often one was made."""
    made, own, tree = [], distance._Trees(), CollisionModel.tree
    monkeypatch.setattr(distance, "_TREES", own)
    monkeypatch.setattr(CollisionModel, "tree", lambda model: made.append(model) or tree(model))
    return own, made


def test_the_tree_used_longest_ago_goes_and_is_made_again_alike(trees, monkeypatch):
    """Closed form: cubes of 1 mm at 0, 3 and 7 along x are 2, 3 and 6 mm apart."""
    own, made = trees
    monkeypatch.setattr(distance, "TREES_BYTES", 2 * BOX)
    first, second, third = (cube([x, 0.0, 0.0]) for x in (0.0, 3.0, 7.0))
    still = np.eye(4)
    for _ in range(2):
        assert nearest(first, second, still, still).distance == pytest.approx(2.0)
        assert nearest(second, third, still, still).distance == pytest.approx(3.0)
        assert nearest(first, third, still, still).distance == pytest.approx(6.0)
        assert own._held == 2 * BOX
    assert [*map(made.count, (first, second, third))] == [3, 2, 2]


def test_two_trees_stay_however_little_may_be_kept(trees, monkeypatch):
    _, made = trees
    monkeypatch.setattr(distance, "TREES_BYTES", 1)
    first, second = cube([0.0, 0.0, 0.0]), cube([3.0, 0.0, 0.0])
    for _ in range(3):
        nearest(first, second, np.eye(4), np.eye(4))
    assert len(made) == 2


def test_trees_of_solids_that_are_gone_are_gone(trees):
    own, made = trees
    first, second = cube([0.0, 0.0, 0.0]), cube([3.0, 0.0, 0.0])
    nearest(first, second, np.eye(4), np.eye(4))
    assert own._held == 2 * BOX
    made.clear()
    del first
    gc.collect()
    assert (own._held, len(own._kept)) == (BOX, 1)


def test_workers_share_what_trees_may_take():
    with limited_to(10**9):
        assert own_share(900) == 900
        keep_to(share_among(3))
        assert own_share(900) == 300


def test_a_sweep_that_may_keep_few_trees_finds_the_same_to_the_last_bit(monkeypatch):
    results = []
    for most in (10**9, 1):
        monkeypatch.setattr(distance, "TREES_BYTES", most)
        _, record = sweep_machine(read(slider()), Effort(), quiet)
        results.append(record.pairs)
    assert results[0] == results[1]
