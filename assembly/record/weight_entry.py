"""The entry of the record about what a machine weighs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assembly.record.values import Point


@dataclass(frozen=True, slots=True)
class WeightEntry:
    """What the record of a sweep holds of weights: all together, as drawn, and each part in kg."""

    mass_kg: float
    centre: Point
    parts: Mapping[str, float]
    unknown: tuple[str, ...]
