"""What tolerances do to the form of shapes: by how much each may stand out of what is drawn, once a frame carries it.

A shape that is drawn anew with other dimensions has the same facets with corners elsewhere. A point of a facet goes
with its corners, so no point of it is farther from the drawn facet than the farthest corner goes: that is its growth.
Its surface error is the largest that it has at the ends of the tolerances.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np

from assembly.clearance.tolerances.as_built import AsBuilt
from assembly.clearance.tolerances.frames import Carrier
from assembly.clearance.tolerances.readings import DimensionBound, enclosed
from assembly.errors import InputError
from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.shapes.facets import Counts, facets_as
from assembly.model.machine import Shape

MOST_CORNERS = 6
"""Dimensions of one shape of which every combination of ends is looked at; of more, the sum of all counts."""
WORTH_A_FRAME = 0.02
"""mm of growth for the sake of which a shape gets a frame of its own."""
SAVED = 0.2
"""It must leave no more than this share of it."""


@dataclass(frozen=True, slots=True, eq=False)
class Grown:
    """A shape that a frame, ``carrier``, takes along, and of which no point goes farther than ``growth`` mm from there.

    ``corners`` (n, 3): where its corners are drawn.
    """

    carrier: Carrier
    growth: float
    corners: DimensionBound


@dataclass(eq=False)
class Growth:
    """Looks up shapes of the drawn machine. Raises InputError for one of which nothing can be said."""

    built: AsBuilt
    _known: dict[tuple[str, str], Grown | str] = field(default_factory=dict)

    def of(self, part: str, shape: Shape) -> Grown | str:
        """How a shape of ``part`` grows; why nothing is known of it, where that is so."""
        key = part, shape.name
        if key not in self._known:
            try:
                self._known[key] = self._grown(part, shape)
            except _UnlikeError:
                self._known[key] = f"{shape.name} of {part} is drawn with other facets within its tolerance"
            except InputError as error:
                self._known[key] = f"{shape.name} of {part} cannot be drawn within its tolerance: {error}"
        return self._known[key]

    def _grown(self, part: str, shape: Shape) -> Grown:
        drawn = _Drawn(self.built, part, shape)
        corners = enclosed(self.built.readings, drawn.corners)
        seen, rolls = self.built.seen(part, corners), part in self.built.aligned
        if not seen.slopes.any() and not seen.rest.any():
            return Grown(Carrier(part, np.zeros((len(seen.slopes), 3)), 0.0), drawn.more_error, corners)
        found = [(self._left(seen, one), one) for one in self.built.frames.carrying(part)]
        left, carrier = min(found, key=lambda one: one[0])
        own = Carrier("", (seen.slopes.min(axis=1) + seen.slopes.max(axis=1)) / 2, 0.0)
        alone = self._left(seen, own)
        if left > WORTH_A_FRAME and alone < SAVED * left and not rolls:
            x, y, z = shape.mesh.vertices.mean(axis=0).tolist()
            name = self.built.frames.of(part, own.slopes, np.zeros(3), (x, y, z))
            left, carrier = alone, replace(own, name=name)
        return Grown(carrier, left + drawn.more_error, corners)

    def _left(self, corners: DimensionBound, carrier: Carrier) -> float:
        """How far (mm) any corner may go from where a frame takes it."""
        ends = np.array([one.ends for one in self.built.readings.tolerances])
        return farthest(relative(corners, carrier.slopes), ends) + carrier.rest


def relative(corners: DimensionBound, slopes: Floats) -> DimensionBound:
    """Corners (n, 3) as seen from what shifts by ``slopes`` (k, 3)."""
    return DimensionBound(corners.value, corners.slopes - slopes[:, None], corners.rest)


def farthest(corners: DimensionBound, ends: Floats) -> float:
    """How far any corner (n, 3) may go where dimensions are between their ``ends`` (k, 2).

    A length is a convex function of the dimensions and so largest at a corner of their box.
    """
    movers = [number for number, slope in enumerate(corners.slopes) if np.any(slope)]
    rest = np.linalg.norm(corners.rest, axis=-1)
    if len(movers) > MOST_CORNERS:
        far = sum(np.abs(ends[k]).max() * np.linalg.norm(corners.slopes[k], axis=-1) for k in movers)
        return float(np.max(far + rest, initial=0.0))
    most = 0.0
    for chosen in product(*(ends[k] for k in movers)):
        gone = sum((change * corners.slopes[k] for k, change in zip(movers, chosen, strict=True)), np.zeros(3))
        most = max(most, float(np.max(np.linalg.norm(gone, axis=-1) + rest, initial=0.0)))
    return most


class _UnlikeError(Exception):
    """A shape has other facets than as drawn."""


@dataclass(eq=False)
class _Drawn:
    """One shape drawn with dimensions off; ``more_error`` mm: how much more its surface error comes to anywhere."""

    built: AsBuilt
    part: str
    shape: Shape
    more_error: float = 0.0
    _counts: Counts | None = None

    def corners(self, changes: Mapping[int, float]) -> Floats:
        """(n, 3) mm."""
        if not changes:
            return np.asarray(self.shape.mesh.vertices)
        made = self._made(changes)
        if made is None:
            return np.asarray(self.shape.mesh.vertices)
        drawn = self.shape.mesh
        if made.vertices.shape != drawn.vertices.shape or not np.array_equal(made.faces, drawn.faces):
            raise _UnlikeError
        self.more_error = max(self.more_error, made.surface_error - drawn.surface_error)
        return np.asarray(made.vertices)

    def _made(self, changes: Mapping[int, float]) -> Mesh | None:
        readings = self.built.readings
        reading, own = readings.at(changes), readings.perturbations
        key = tuple(str(step) for number, change in sorted(changes.items()) for step in (number, change))
        with facets_as(self._chosen()):
            return own.mesh(reading, (key, 0.0), self.part, self.shape)

    def _chosen(self) -> list[int]:
        """The numbers of facets that the shape has as drawn."""
        if self._counts is None:
            with facets_as() as counts:
                self.built.readings.perturbations.drawn_again(self.part, self.shape)
            self._counts = counts
        return self._counts.chosen
