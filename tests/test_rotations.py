"""Products of vectors and rotations as stacks."""

import numpy as np
import pytest

from assembly.geometry.rotations import cross


@pytest.mark.parametrize(
    ("first", "second"), [((3,), (3,)), ((5, 3), (3,)), ((4, 7, 3), (7, 3)), ((4, 7, 2, 3), (4, 7, 1, 3))]
)
def test_cross_products_are_those_of_numpy_to_the_last_bit(first, second):
    """Rounding included: postures, and so records, depend on it."""
    random = np.random.default_rng(3)
    a, b = random.normal(size=first), random.normal(size=second)
    assert np.array_equal(cross(a, b), np.cross(a, b))
    assert cross(b, a).flags.c_contiguous
