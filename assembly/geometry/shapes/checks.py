"""What every shape demands of its numbers; a refusal says what failed, what was given and what would be valid."""

from __future__ import annotations

from collections.abc import Sequence
from numbers import Real

import numpy as np
from numpy.typing import ArrayLike

from assembly.errors import Fault, ShapeError
from assembly.geometry.mesh import Floats

LEAST_SIZE = 0.001
"""mm; below this no workshop can tell a size from nothing."""
FARTHEST = 1e6
"""mm; up to here a coordinate keeps nine digits behind the millimetre's point."""
LEAST_FACET_ERROR = 1e-6


def refused(shape: str, problem: str, valid: str) -> ShapeError:
    """The error to raise: which shape, what is wrong with what was given, and what would be valid."""
    return ShapeError(Fault(f"{shape}: {problem}", hint=valid))


def number_text(value: object) -> str:
    """A number, a point or anything else as it stands in a message."""
    if isinstance(value, Real):
        return f"{float(value):.6g}"
    if isinstance(value, (np.ndarray, list, tuple)):
        return f"({', '.join(number_text(item) for item in value)})"
    return repr(value)


def checked_size(shape: str, name: str, value: object, least: float = LEAST_SIZE) -> float:
    """``value`` as a length in mm from ``least`` to one kilometre."""
    if not isinstance(value, Real) or isinstance(value, bool) or not least <= float(value) <= FARTHEST:
        raise refused(shape, f"{name} = {number_text(value)} is not a size", f"give {least:g} to {FARTHEST:g} mm")
    return float(value)


def checked_sizes(shape: str, name: str, value: ArrayLike, count: int, least: float = LEAST_SIZE) -> list[float]:
    """``value`` as ``count`` lengths in mm, each from ``least`` to one kilometre."""
    sizes = _numbers(value)
    if sizes is None or sizes.shape != (count,):
        raise refused(shape, f"{name} = {number_text(value)} are not {count} sizes", f"give {count} numbers in mm")
    return [checked_size(shape, f"{name}[{i}]", size, least) for i, size in enumerate(sizes)]


def checked_facet_error(shape: str, value: object) -> float:
    """``value`` as the greatest wanted distance in mm between facets and true surface."""
    return checked_size(shape, "facet_error", value, LEAST_FACET_ERROR)


def checked_point(shape: str, name: str, value: ArrayLike, count: int = 3) -> Floats:
    """``value`` as ``count`` finite coordinates in mm within one kilometre of the origin."""
    point = _numbers(value)
    if point is None or point.shape != (count,) or not (np.abs(point) <= FARTHEST).all():
        valid = f"give {count} numbers in mm from {-FARTHEST:g} to {FARTHEST:g}"
        raise refused(shape, f"{name} = {number_text(value)} is not a point", valid)
    return point


def checked_direction(shape: str, name: str, value: ArrayLike) -> Floats:
    """``value`` as a unit vector (3,)."""
    arrow = _numbers(value)
    if arrow is None or arrow.shape != (3,) or not np.isfinite(arrow).all() or not np.abs(arrow).max() > 1e-9:
        raise refused(
            shape, f"{name} = {number_text(value)} is not a direction", "give 3 finite numbers that are not all 0"
        )
    arrow = arrow / np.abs(arrow).max()
    unit: Floats = arrow / np.linalg.norm(arrow)
    return unit


def checked_points(shape: str, name: str, values: Sequence[ArrayLike] | Floats, count: int, least: int) -> Floats:
    """``values`` as at least ``least`` points (n, ``count``) in mm; no point stands on the one before it."""
    if not isinstance(values, (Sequence, np.ndarray)) or isinstance(values, str):
        raise refused(shape, f"{name} = {number_text(values)} is not a list of points", f"give at least {least} points")
    if len(values) < least:
        raise refused(shape, f"{name} has {len(values)} points", f"give at least {least}")
    points = np.array([checked_point(shape, f"{name}[{i}]", value, count) for i, value in enumerate(values)])
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    for i in np.flatnonzero(steps < LEAST_SIZE):
        raise refused(
            shape,
            f"{name}[{i}] and {name}[{i + 1}] are the same point {number_text(points[i])}",
            f"leave one out, or set them at least {LEAST_SIZE:g} mm apart",
        )
    return points


def _numbers(value: object) -> Floats | None:
    try:
        return np.array(value, dtype=np.float64)
    except (TypeError, ValueError):
        return None
