"""Products of vectors and rotations as stacks."""

import numpy as np
import pytest

from assembly.geometry.rotations import across, cross, length, rotation_from_vector, skew, unit


@pytest.mark.parametrize(
    ("first", "second"), [((3,), (3,)), ((5, 3), (3,)), ((4, 7, 3), (7, 3)), ((4, 7, 2, 3), (4, 7, 1, 3))]
)
def test_cross_products_are_those_of_numpy_to_the_last_bit(first, second):
    """Rounding included: postures, and so records, depend on it."""
    random = np.random.default_rng(3)
    a, b = random.normal(size=first), random.normal(size=second)
    assert np.array_equal(cross(a, b), np.cross(a, b))
    assert cross(b, a).flags.c_contiguous


def test_single_vectors_are_written_out_as_numpy_rounds_them(monkeypatch):
    """The same bits, and none of the general routines that take many times as long for three numbers."""
    random = np.random.default_rng(4)
    pairs = random.normal(size=(2000, 2, 3)) * 10.0 ** random.integers(-4, 5, size=(2000, 1, 1))
    sizes = [np.linalg.norm(a) for a, _ in pairs]
    products = [np.cross(a, b) for a, b in pairs]
    for name in ("cross", "linalg.norm", "moveaxis"):
        monkeypatch.setattr(f"numpy.{name}", None)
    for (a, b), size, product in zip(pairs, sizes, products, strict=True):
        assert length(a) == size
        assert np.array_equal(unit(a), a / size)
        assert np.array_equal(cross(a, b), product)
        assert np.array_equal(skew(a) @ np.eye(3), [[0, -a[2], a[1]], [a[2], 0, -a[0]], [-a[1], a[0], 0]])
    first, second = across(unit(pairs[0, 0]))
    assert abs(first @ second) + abs(first @ pairs[0, 0]) < 1e-9
    turn = rotation_from_vector(pairs[1, 0])
    assert np.allclose(turn @ turn.T, np.eye(3), atol=1e-14)
