"""The sides a machine is looked at from, by plain words; the first is the one to begin with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.report.render.camera import from_bearing

BEARING, ABOVE = 38.0, 24.0
"""Degrees left of straight ahead and above the horizon, where the viewer of a corner stands."""


@dataclass(frozen=True, eq=False)
class Sight:
    """Which way the viewer looks (3,), and how that is said below the picture."""

    towards: Floats
    label: str


SIGHTS: Mapping[str, Sight] = MappingProxyType(
    {
        "corner": Sight(from_bearing(BEARING, ABOVE), "from ahead, left and above"),
        "rear-corner": Sight(from_bearing(180 - BEARING, ABOVE), "from behind, left and above"),
        "front": Sight(np.array([-1.0, 0.0, 0.0]), "front"),
        "rear": Sight(np.array([1.0, 0.0, 0.0]), "rear"),
        "left": Sight(np.array([0.0, -1.0, 0.0]), "left side"),
        "right": Sight(np.array([0.0, 1.0, 0.0]), "right side"),
        "top": Sight(np.array([0.0, 0.0, -1.0]), "top"),
        "below": Sight(np.array([0.0, 0.0, 1.0]), "from below"),
    }
)


def turning(number: int) -> list[Floats]:
    """As many sights, once round the machine to the viewer's right, from the corner."""
    return [from_bearing(BEARING + 360 * step / number, ABOVE) for step in range(number)]
