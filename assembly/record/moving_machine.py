"""A machine that can be shown moving: the solids of its parts, and where every body stands, as plain values.

It is a value for views in the program, not a file. mm; turns are unit quaternions (x, y, z, w), ``world_from_rest``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats, Mesh
from assembly.record.entries import DriveEntry
from assembly.record.values import Settings


@dataclass(frozen=True, slots=True, eq=False)
class MovingPart:
    """A part: the number of the body that it moves with, and its named shapes where they are drawn at rest.

    ``coarse``: the whole part with fewer triangles, for while it moves.
    """

    name: str
    body: int
    shapes: tuple[tuple[str, Mesh], ...]
    coarse: Mesh


@dataclass(frozen=True, slots=True, eq=False)
class PoseGrid:
    """Solved poses at every point of a grid over the drives, the last drive quickest, to be interpolated between.

    ``axes``: evenly spaced settings of each drive. ``places`` (N, B, 7): each body's reference point and turn; of no
    meaning where not ``reached`` (N,). ``error_mm``: the largest error measured of any point of any part inside the
    cells, of the part ``error_part`` at ``error_at``; None if no cell could be tried.
    """

    axes: Mapping[str, Floats]
    places: Floats
    reached: NDArray[np.bool_]
    wanted_mm: float
    error_mm: float | None
    error_at: Settings
    error_part: str


@dataclass(frozen=True, slots=True, eq=False)
class SolvedPose:
    """Where the bodies (B, 7) stand at one setting, solved."""

    at: Settings
    places: Floats


@dataclass(frozen=True, slots=True, eq=False)
class OverlapSolid:
    """What two parts both claim at a setting, where it lies in the world then."""

    a: str
    b: str
    at: Settings
    solid: Mesh


@dataclass(frozen=True, slots=True, eq=False)
class DistanceGrid:
    """Distances of pairs at every point of a grid over the drives, the last drive quickest.

    ``axes``: settings of each drive, rising. ``distances`` (P, N) mm, one row for each of ``pairs``: 0 where the
    two strike or one lies inside the other, not a number where the machine cannot be put together.
    """

    axes: Mapping[str, Floats]
    pairs: tuple[tuple[str, str], ...]
    distances: Floats


@dataclass(frozen=True, slots=True, eq=False)
class MovingMachine:
    """Everything that is needed to show the machine at any setting of its drives.

    ``reference_points`` (B, 3): of each body, at rest. ``coarse_mm``: how far the coarse parts may be from the others.
    ``solved``: the settings that the record names.
    """

    name: str
    drives: Mapping[str, DriveEntry]
    reference_points: Floats
    parts: tuple[MovingPart, ...]
    coarse_mm: float
    grid: PoseGrid
    solved: tuple[SolvedPose, ...]
    overlaps: tuple[OverlapSolid, ...]
    unrolled: tuple[str, ...] = ()
    """Parts that can roll about their own lines, and stand at the shortest turn from rest."""
