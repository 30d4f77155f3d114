"""Solids that are round about a line or a point: sphere, cone, ring and turned profile."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import combinations
from math import ceil, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike

from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.geometry.shapes.checks import (
    LEAST_SIZE,
    checked_direction,
    checked_facet_error,
    checked_point,
    checked_points,
    checked_size,
    checked_sizes,
    number_text,
    refused,
)
from assembly.geometry.shapes.closed_surfaces import revolved
from assembly.geometry.shapes.facets import MOST_TRIANGLES, affordable, counted, facets_round, sag
from assembly.geometry.shapes.outlines import checked_outline

_LEAST_FREQUENCY = 4
_SAG_OF_ONE = 0.292
"""A sphere of radius 1 whose 20 icosahedron faces are split into f² each sags by less than this over f².

The largest facets lie in the middle of a face: their edge is that of the icosahedron, 1.0515/f, thrown from the face's
distance 0.7947 out to the sphere, and a facet of edge e sags by its circumradius squared over two, e²/6."""
_ON_THE_AXIS = 1e-9


def sphere(centre: ArrayLike, diameter: float, *, facet_error: float = 0.02) -> Mesh:
    """A ball about ``centre`` (3,) with ``diameter``, in mm.

    Surface error. An icosahedron's faces are split evenly and their corners set on the sphere. All facets face
    away from the centre and close round it once, so each ray from the centre meets them once, at a distance
    between h, the least distance of a facet's plane, and the radius r: the distance both ways is at most r - h.
    """
    middle = checked_point("sphere", "centre", centre)
    radius = checked_size("sphere", "diameter", diameter) / 2
    wanted = sqrt(_SAG_OF_ONE * radius / checked_facet_error("sphere", facet_error))
    most = 2 * int(sqrt(MOST_TRIANGLES / 20) / 2)
    corners, faces = _split_icosahedron(counted(min(max(2 * ceil(wanted / 2), _LEAST_FREQUENCY), most)))
    a, b, c = (corners[faces[:, k]] for k in range(3))
    normals = np.cross(b - a, c - a)
    heights = np.einsum("ij,ij->i", normals, a) / np.linalg.norm(normals, axis=1)
    return Mesh(middle + radius * corners, faces, radius * (1 - float(heights.min())))


def cone(points: Sequence[ArrayLike] | Floats, diameters: Sequence[float], *, facet_error: float = 0.02) -> Mesh:
    """A cone or frustum between two ``points`` (2, 3) with the ``diameters`` (2,) there, in mm; one of them may be 0.

    Surface error: of the larger end, as ``surfaces.revolved`` derives.
    """
    ends = checked_points("cone", "points", points, 3, 2)
    if len(ends) != 2:
        raise refused("cone", f"points has {len(ends)} points", "give 2")
    given = checked_sizes("cone", "diameters", diameters, 2, least=0.0)
    first, last = (checked_size("cone", "a diameter that is not 0", size) / 2 if size else 0.0 for size in given)
    if first == last == 0:
        raise refused("cone", "diameters = (0, 0) leaves no solid", "give at most one diameter of 0")
    length = float(np.linalg.norm(ends[1] - ends[0]))
    outline = [(0.0, 0.0), (0.0, first), (length, last), (length, 0.0)]
    profile = np.array([corner for i, corner in enumerate(outline) if corner != outline[i - 1]])
    count = facets_round(max(first, last), checked_facet_error("cone", facet_error))
    return revolved(profile, ends[0], (ends[1] - ends[0]) / length, count)


def ring(centre: ArrayLike, axis: ArrayLike, *, diameter: float, thickness: float, facet_error: float = 0.02) -> Mesh:
    """A ring of round section, such as a tyre: ``diameter`` over all, ``thickness`` of its section, in mm.

    Surface error: the section's own sag plus that of the turning, as ``surfaces.revolved`` derives.
    """
    middle = checked_point("ring", "centre", centre)
    line = checked_direction("ring", "axis", axis)
    outer = checked_size("ring", "diameter", diameter) / 2
    section = checked_size("ring", "thickness", thickness) / 2
    if 2 * section > outer - LEAST_SIZE:
        problem = (
            f"thickness = {number_text(2 * section)} closes the hole of a ring of diameter {number_text(2 * outer)}"
        )
        raise refused("ring", problem, f"give less than {number_text(outer)} mm")

    def facets(error: float) -> tuple[int, int]:
        return facets_round(outer, error / 2), facets_round(section, error / 2)

    def triangles(error: float) -> int:
        return 2 * facets(error)[0] * facets(error)[1]

    turns, around = facets(affordable(checked_facet_error("ring", facet_error), triangles))
    angles = 2 * pi * np.arange(around) / around
    profile = np.column_stack([section * np.sin(angles), outer - section + section * np.cos(angles)])
    return revolved(profile, middle, line, turns, sag(section, pi / around))


def turned(profile: Sequence[ArrayLike] | Floats, at: ArrayLike, axis: ArrayLike, *, facet_error: float = 0.02) -> Mesh:
    """A turned part: the closed ``profile`` (n, 2) of (along, radius) in mm, turned about ``axis`` through ``at``.

    ``along`` counts from ``at``. The profile may run along the axis or touch it, but not cross it or itself.
    Surface error: of the largest radius, as ``surfaces.revolved`` derives.
    """
    origin = checked_point("turned", "at", at)
    line = checked_direction("turned", "axis", axis)
    corners = checked_outline("turned", "profile", profile)
    corners[np.abs(corners[:, 1]) < _ON_THE_AXIS, 1] = 0.0
    for along, radius in corners:
        if radius < 0 or 0 < radius < LEAST_SIZE:
            what = "crosses the axis" if radius < 0 else "is too near the axis"
            problem = f"the profile's point {number_text((along, radius))} {what}"
            raise refused("turned", problem, f"give a radius of 0, or of at least {LEAST_SIZE:g} mm")
    count = facets_round(float(corners[:, 1].max()), checked_facet_error("turned", facet_error))
    return revolved(corners, origin, line, count)


@lru_cache(maxsize=8)
def _split_icosahedron(frequency: int) -> tuple[Floats, Indices]:
    """Corners (n, 3) on the unit sphere and triangles (20 f², 3); an even frequency sets corners on the axes."""
    golden = (1 + sqrt(5)) / 2
    tips = np.array([np.roll((0.0, y, z), turn) for turn in range(3) for y in (-1, 1) for z in (-golden, golden)])
    weights: list[Indices] = []
    faces: list[Indices] = []
    for face in _icosahedron_faces(tips):
        lattice, cells = _lattice(frequency)
        spread = np.zeros((len(lattice), len(tips)), dtype=np.int64)
        spread[:, face] = lattice
        faces.append(cells + sum(len(block) for block in weights))
        weights.append(spread)
    shared, own = np.unique(np.concatenate(weights), axis=0, return_inverse=True)
    corners = shared @ tips
    corners /= np.linalg.norm(corners, axis=1, keepdims=True)
    triangles = own.ravel()[np.concatenate(faces)]
    for array in (corners, triangles):
        array.setflags(write=False)
    return corners, triangles


def _icosahedron_faces(tips: Floats) -> list[list[int]]:
    """The 20 outward triangles whose three edges are all 2 long."""
    faces = []
    for a, b, c in combinations(range(len(tips)), 3):
        if all(abs(float(np.linalg.norm(tips[i] - tips[j])) - 2) < 0.1 for i, j in ((a, b), (b, c), (c, a))):
            outward = np.linalg.det(tips[[a, b, c]]) > 0
            faces.append([a, b, c] if outward else [a, c, b])
    return faces


def _lattice(frequency: int) -> tuple[Indices, Indices]:
    """Corner weights (n, 3) that add up to ``frequency``, and the f² triangles between them, counter-clockwise."""
    steps = [(i, j) for i in range(frequency + 1) for j in range(frequency + 1 - i)]
    place = {step: index for index, step in enumerate(steps)}
    cells = [(place[i, j], place[i + 1, j], place[i, j + 1]) for i, j in steps if i + j < frequency]
    cells += [(place[i + 1, j], place[i + 1, j + 1], place[i, j + 1]) for i, j in steps if i + j < frequency - 1]
    weights = np.array([(frequency - i - j, i, j) for i, j in steps], dtype=np.int64)
    return weights, np.array(cells, dtype=np.int64)
