"""The machine's solids and poses as a browser draws them: corners on a fine lattice, triangles, edges, places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.record import MovingMachine, OverlapSolid
from assembly.report.page.numbers import Numbers
from assembly.report.render.creases import creased
from assembly.time_limit import check_time

LATTICE = 65535
"""Steps along each side of the box round a part: of a part a metre long one is 0.015 mm."""

Json = dict[str, Any]


def solids_data(moving: MovingMachine, numbers: Numbers) -> Json:
    """Bodies, parts, overlaps and tables of poses; the arrays go into ``numbers``. Raises TimeLimitError."""
    return {
        "bodies": moving.reference_points.tolist(),
        "parts": [
            {"name": part.name, "body": part.body}
            | _drawn(part.shapes, part.coarse, moving.reference_points[part.body], numbers)
            for part in moving.parts
        ],
        "overlaps": [_overlap(overlap, numbers) for overlap in moving.overlaps],
        "grid": {
            "axes": [
                {"low": float(axis[0]), "high": float(axis[-1]), "count": len(axis)}
                for axis in moving.grid.axes.values()
            ],
            "places": numbers.add("f32", moving.grid.places),
            "reached": numbers.add("u8", moving.grid.reached),
        },
        "solved": {
            "settings": [list(pose.at.values()) for pose in moving.solved],
            "places": numbers.add("f32", np.array([pose.places for pose in moving.solved])),
        },
    }


def _overlap(overlap: OverlapSolid, numbers: Numbers) -> Json:
    return {"name": f"{overlap.a} – {overlap.b}"} | _drawn((("", overlap.solid),), overlap.solid, np.zeros(3), numbers)


def _drawn(shapes: Sequence[tuple[str, Mesh]], coarse: Mesh, origin: Floats, numbers: Numbers) -> Json:
    """The shapes of one part in one list, from ``origin``; each shape by its name and its first triangle."""
    points, faces, edges, names = [np.empty((0, 3))], [_none(3)], [_none(2)], []
    corners = triangles = 0
    for name, mesh in shapes:
        check_time()
        solid = creased(mesh)
        points.append(solid.points)
        faces.append(solid.faces + corners)
        edges.append(solid.edges + corners)
        names.append((name, triangles))
        corners += len(solid.points)
        triangles += len(solid.faces)
    every = np.concatenate(points) - origin
    low = every.min(axis=0) if corners else np.zeros(3)
    size = np.ptp(every, axis=0) if corners else np.zeros(3)
    box = _Box(low, size)
    rough = creased(coarse)
    return {
        "low": low.tolist(),
        "size": size.tolist(),
        "vertices": numbers.add("u16", box.steps(every)),
        "index": numbers.add(_kind(corners), np.concatenate(faces)),
        "lines": numbers.add(_kind(corners), np.concatenate(edges)),
        "rough": None
        if len(rough.faces) >= triangles
        else {
            "vertices": numbers.add("u16", box.steps(rough.points - origin)),
            "index": numbers.add(_kind(len(rough.points)), rough.faces),
        },
        "shapes": names,
    }


@dataclass(frozen=True, slots=True, eq=False)
class _Box:
    """The box round a part, with a lattice in it."""

    low: Floats
    size: Floats

    def steps(self, points: Floats) -> Floats:
        """Points (n, 3) as whole steps of the lattice; those outside of the box come to lie on it."""
        shares = (points - self.low) / np.where(self.size > 0, self.size, 1.0)
        return np.asarray(np.rint(np.clip(shares, 0.0, 1.0) * LATTICE))


def _kind(corners: int) -> str:
    return "u16" if corners <= LATTICE else "u32"


def _none(width: int) -> Indices:
    return np.empty((0, width), dtype=np.int64)
