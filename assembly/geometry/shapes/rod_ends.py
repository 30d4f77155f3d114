"""Rod ends: an eye, a ball with a bore in it, and a threaded shank."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from difflib import get_close_matches
from math import asin, sqrt
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.shapes.checks import (
    LEAST_SIZE,
    checked_direction,
    checked_facet_error,
    checked_point,
    checked_size,
    number_text,
    refused,
)
from assembly.geometry.shapes.closed_surfaces import revolved
from assembly.geometry.shapes.facets import affordable, facets_round, sag, steps_along
from assembly.geometry.shapes.rods import rod

ROD_END_SOURCE = "ISO 12240-4 / DIN 648 series K as printed in an open table of standard parts"
"""Where the dimensions of ROD_END_SIZES come from."""


@dataclass(frozen=True, slots=True)
class RodEndSize:
    """Dimensions of a rod end with a male thread, in mm; the letters are those of the standard's table."""

    bore: float
    """d"""
    ball_width: float
    """B: over the two flat faces of the ball."""
    housing_width: float
    """C1: over the eye, along the bolt."""
    ball_face: float
    """d3: diameter of the ball's flat faces."""
    eye_diameter: float
    """D2"""
    length: float
    """h: from the middle of the ball to the end of the thread."""
    shank_diameter: float
    """The thread's outside."""

    @property
    def ball_diameter(self) -> float:
        """Of the sphere that the ball is cut from: dk = sqrt(B² + d3²)."""
        return sqrt(self.ball_width**2 + self.ball_face**2)

    @property
    def opening(self) -> float:
        """Diameter in mm of the hole in the eye's faces: where the ball's sphere passes through them."""
        return sqrt(self.ball_diameter**2 - self.housing_width**2)


ROD_END_SIZES: Mapping[str, RodEndSize] = MappingProxyType(
    {
        "M5": RodEndSize(5, 8, 6, 7.7, 18, 33, 5),
        "M6": RodEndSize(6, 9, 6.8, 8.9, 20, 36, 6),
        "M8": RodEndSize(8, 12, 9, 10.4, 24, 42, 8),
        "M10": RodEndSize(10, 14, 10.5, 12.9, 28, 48, 10),
        "M12": RodEndSize(12, 16, 12, 15.4, 32, 54, 12),
        "M14": RodEndSize(14, 19, 13.5, 16.8, 36, 60, 14),
        "M16": RodEndSize(16, 21, 15, 19.3, 42, 66, 16),
    }
)


@dataclass(frozen=True, slots=True, eq=False)
class RodEnd:
    """The three solids of a rod end. They run into each other: together they are the rod end."""

    eye: Mesh
    ball: Mesh
    shank: Mesh

    @property
    def solids(self) -> Mapping[str, Mesh]:
        """The meshes by their names: eye, ball, shank."""
        return {"eye": self.eye, "ball": self.ball, "shank": self.shank}


def rod_end(
    centre: ArrayLike,
    shank: ArrayLike,
    bolt: ArrayLike,
    size: str | None = None,
    *,
    facet_error: float = 0.02,
    **dimensions: float | None,
) -> RodEnd:
    """A rod end with the middle of its ball at ``centre`` (3,) mm.

    ``shank`` points from the ball to the thread, ``bolt`` along the ball's bore. ``size`` and ``dimensions`` as in
    ``rod_end_size``. The eye stands square to the shank, turned about it as near to the bolt as it can; a bolt that
    is not square to the shank leaves the ball tilted in the eye by the rest.

    The eye is a ring with square edges, its hole as wide as the opening in its faces: the ball fills what the true
    eye has hollowed out between them. The shank starts where it comes out of the eye. Surface errors: as
    ``surfaces.revolved`` derives, and for the ball the sag of its profile's arc.
    """
    middle = checked_point("rod_end", "centre", centre)
    out = checked_direction("rod_end", "shank", shank)
    pin = checked_direction("rod_end", "bolt", bolt)
    through = pin - (pin @ out) * out
    if np.linalg.norm(through) < sqrt(0.5):
        problem = f"bolt = {number_text(bolt)} leans more than 45 degrees from square to the shank {number_text(shank)}"
        raise refused("rod_end", problem, "give a bolt direction across the shank")
    sizes = rod_end_size(size, **dimensions)
    wanted = checked_facet_error("rod_end", facet_error)
    eye = _eye(sizes, middle, through / np.linalg.norm(through), wanted)
    half_chord = sizes.shank_diameter / 2
    start = sqrt((sizes.eye_diameter / 2) ** 2 - half_chord**2)
    ends = [middle + start * out, middle + sizes.length * out]
    thread = rod(ends, diameter=sizes.shank_diameter, up=through, facet_error=wanted)
    return RodEnd(eye, _ball(sizes, middle, pin, wanted), thread)


def rod_end_size(size: str | None = None, **dimensions: float | None) -> RodEndSize:
    """The dimensions of ``size`` ("M5" to "M16", see ROD_END_SOURCE), each replaced by the one of its name if given.

    Without ``size`` all must be given. ShapeError where a name is unknown or the dimensions make no rod end.
    """
    names = [field.name for field in fields(RodEndSize)]
    for name in dimensions:
        if name not in names:
            raise refused("rod_end", f"{name} is no dimension of a rod end", _offer(name, names))
    if size is not None and size not in ROD_END_SIZES:
        raise refused(
            "rod_end", f"size = {number_text(size)} is not in the table", _offer(str(size), list(ROD_END_SIZES))
        )
    own = {name: value for name, value in dimensions.items() if value is not None}
    missing = [name for name in names if size is None and name not in own]
    if missing:
        problem = f"without a size {', '.join(missing)} must be given"
        raise refused("rod_end", problem, f"give them, or a size ({', '.join(ROD_END_SIZES)})")
    table = {} if size is None else {name: getattr(ROD_END_SIZES[size], name) for name in names}
    found = RodEndSize(**{name: checked_size("rod_end", name, {**table, **own}[name]) for name in names})
    _check_order(found)
    return found


def _check_order(sizes: RodEndSize) -> None:
    """ShapeError where a dimension that must be smaller than another is not."""
    radius = sizes.eye_diameter / 2
    for smaller, small, larger, large in (
        ("bore", sizes.bore, "ball_face", sizes.ball_face),
        ("housing_width", sizes.housing_width, "ball_width", sizes.ball_width),
        ("the ball's diameter", sizes.ball_diameter, "eye_diameter", sizes.eye_diameter),
        ("shank_diameter", sizes.shank_diameter, "eye_diameter", sizes.eye_diameter),
        ("half of eye_diameter", radius, "length", sizes.length),
    ):
        if small > large - LEAST_SIZE:
            problem = f"{smaller} = {number_text(small)} is not less than {larger} = {number_text(large)}"
            raise refused("rod_end", problem, f"make {smaller} smaller or {larger} larger")


def _eye(sizes: RodEndSize, middle: Floats, axis: Floats, wanted: float) -> Mesh:
    half, inner, outer = sizes.housing_width / 2, sizes.opening / 2, sizes.eye_diameter / 2
    profile = np.array([(-half, inner), (-half, outer), (half, outer), (half, inner)])
    return revolved(profile, middle, axis, facets_round(outer, wanted))


def _ball(sizes: RodEndSize, middle: Floats, axis: Floats, wanted: float) -> Mesh:
    radius, half, bore = sizes.ball_diameter / 2, sizes.ball_width / 2, sizes.bore / 2
    span = 2 * asin(half / radius)

    def facets(error: float) -> tuple[int, int]:
        return facets_round(radius, error / 2), steps_along(radius, span, error / 2)

    def triangles(error: float) -> int:
        return 2 * facets(error)[0] * (facets(error)[1] + 3)

    count, steps = facets(affordable(wanted, triangles))
    angles = np.linspace(-span / 2, span / 2, steps + 1)
    arc = radius * np.column_stack([np.sin(angles), np.cos(angles)])
    profile = np.concatenate([arc, [(half, bore), (-half, bore)]])
    return revolved(profile, middle, axis, count, sag(radius, span / (2 * steps)))


def _offer(name: str, valid: list[str]) -> str:
    near = get_close_matches(name, valid, n=1)
    return f"did you mean {near[0]}?" if near else f"give one of {', '.join(valid)}"
