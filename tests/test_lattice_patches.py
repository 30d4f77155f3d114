"""Cells side by side, however many drives are held."""

import tracemalloc

import numpy as np

from assembly.clearance.region.lattice_patches import patches_of


def test_held_drives_cost_nothing_and_change_nothing():
    """By hand: 4 by 3 cells without the middle column and one more fall in three. 3^13 neighbours took 170 MB."""
    assert patches_of(np.array([True]), (1, 1)).tolist() == [1]  # what labels is loaded before it is measured
    marked = np.array([[1, 0, 1], [1, 0, 1], [1, 0, 0], [1, 0, 1]], dtype=bool)
    tracemalloc.start()
    found = patches_of(marked.reshape(-1), (4, *(1,) * 11, 3))
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert found.tolist() == [1, 0, 2, 1, 0, 2, 1, 0, 0, 1, 0, 3]
    assert most < 10e6
