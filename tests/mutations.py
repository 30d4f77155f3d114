"""Breaks the proof on purpose, one way of making bounds at a time: an attack that does not notice is worth nothing."""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from unittest import mock

import numpy as np
from linkage_machines import Floats

from assembly.clearance.narrow_phase.bounding_balls import BoundingBalls, Side, outline_turned
from assembly.clearance.proof import facing, product_cells, seeding
from assembly.clearance.proof import pair_search as search
from assembly.clearance.proof import solid_table as solid_table
from assembly.clearance.proof import stages as searching
from assembly.clearance.proof.lower_bound import Bounds, Method, Methods, lower_bound
from assembly.clearance.proof.solid_table import SweptBoxes
from assembly.clearance.region import carried
from assembly.clearance.region import clearance_field as field
from assembly.clearance.region import map_bounds as cellproof
from assembly.kinematics.closure import LEAST_MISS, Closure
from assembly.kinematics.travel import Displacement

MAKERS = (search, seeding, searching, facing, product_cells, solid_table, carried, cellproof, field)
"""Modules that make bounds."""


def halved(whole: Displacement) -> Displacement:
    """Half of a displacement."""
    return Displacement(0.5 * whole.motion, 0.5 * whole.residual)


@contextmanager
def weakened(kind: Method) -> Iterator[None]:
    """Bounds of one kind take off half of the displacement and no surface error; all others are as they were."""

    def weak(
        method: Method | Methods,
        distance: Floats | float,
        displacement: Displacement,
        surface_error: float,
        rounding: Floats | float = 0.0,
    ) -> Bounds:
        bounds = lower_bound(method, distance, displacement, surface_error, rounding)
        weaker = lower_bound(method, distance, halved(displacement), 0.0, rounding)
        return replace(bounds, lower=np.where(bounds.method == kind, weaker.lower, bounds.lower))

    displaced = SweptBoxes.displacement

    def nearer(boxes: SweptBoxes, side: Side) -> Displacement:
        return halved(displaced(boxes, side))

    with ExitStack() as patches:
        for module in MAKERS:
            patches.enter_context(mock.patch.object(module, "lower_bound", weak))
        if kind is Method.SWEPT_BOXES:
            patches.enter_context(mock.patch.object(SweptBoxes, "displacement", nearer))
        yield


@contextmanager
def closed_better(share: float) -> Iterator[None]:
    """Only a ``share`` of what redundant rows can miss is found."""
    bounds = Closure.bounds

    def weak(closure: Closure, left_out: Floats, moved: Floats) -> Floats:
        return LEAST_MISS + share * bounds(closure, left_out, moved)

    with mock.patch.object(Closure, "bounds", weak):
        yield


@contextmanager
def half_turned() -> Iterator[None]:
    """What is off the line of a roll is taken to fill half of the circles that it turns on."""

    def nearer(corners: Floats, at: Floats, along: Floats) -> BoundingBalls:
        whole = outline_turned(corners, at, along)
        return BoundingBalls(whole.points, 0.5 * whole.radii)

    with mock.patch.object(solid_table, "outline_turned", nearer):
        yield
