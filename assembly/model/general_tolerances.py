"""Tolerances for dimensions that state none: permissible deviations of linear dimensions by class, as data.

Source: ISO 2768-1, table 1.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

UP_TO = (3.0, 6.0, 30.0, 120.0, 400.0, 1000.0, 2000.0, 4000.0)
"""mm: nominal sizes over the one before, the first from ``LEAST``, up to and including each."""
LEAST = 0.5
"""mm: smaller sizes have no general tolerance; it stands beside them."""
CLASSES: Mapping[str, tuple[float | None, ...]] = MappingProxyType(
    {
        "f": (0.05, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5, None),
        "m": (0.1, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2, 2.0),
        "c": (0.2, 0.3, 0.5, 0.8, 1.2, 2.0, 3.0, 4.0),
        "v": (None, 0.5, 1.0, 1.5, 2.5, 4.0, 6.0, 8.0),
    }
)
"""± mm of each class (fine, medium, coarse, very coarse) for each step of ``UP_TO``; None where it has none."""


def general_tolerance(size: float, name: str) -> float | None:
    """± mm that class ``name`` allows a linear dimension of ``size`` mm, of either sign; None where it says nothing."""
    if abs(size) < LEAST:
        return None
    return next((allowed for end, allowed in zip(UP_TO, CLASSES[name], strict=True) if abs(size) <= end), None)
