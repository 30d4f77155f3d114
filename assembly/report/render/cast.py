"""The figures of a machine made ready to be drawn wherever they stand, and the cameras that have them in sight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.moving import Figure, Places
from assembly.geometry.scene import Role
from assembly.report.render.camera import Camera, Size, looking, looking_at_all
from assembly.report.render.palette import PAINTS, Paint, tints
from assembly.report.render.shaded_surfaces import Surfaces, surfaces
from assembly.report.render.stage import Stage


@dataclass(frozen=True, eq=False)
class Cast:
    """Figures told from the point ``about`` of each: those brought out, and the others, by their indices."""

    shown: Surfaces
    others: Surfaces
    who: tuple[list[int], list[int]]
    corners: tuple[Floats, ...]
    """Vertices (n, 3) mm of every figure, told from its ``about``."""
    paints: tuple[tuple[str, Paint], ...]
    """Those brought out, by name."""

    def stage(self, places: Places, index: int) -> Stage:
        """The layers where the figures stand at ``index``."""
        rotations, centres = places.rotations[index], places.centres[index]
        shown, others = (
            layer.moved(rotations[who], centres[who])
            for layer, who in zip((self.shown, self.others), self.who, strict=True)
        )
        return Stage(shown, others, surfaces([]), self.points(places, index))

    def points(self, places: Places, index: int) -> Floats:
        """All vertices (n, 3) mm at ``index``."""
        rotations, centres = places.rotations[index], places.centres[index]
        return np.concatenate(
            [points @ turn.T + at for points, turn, at in zip(self.corners, rotations, centres, strict=True)]
        )


def gathered(figures: Sequence[Figure], brought_out: frozenset[str]) -> Cast:
    """The cast of ``figures``; those named are in colour and the others grey, all in colour where none is named."""
    paints = tints([figure.fixed and figure.name not in brought_out for figure in figures])
    meshes = [figure.mesh for figure in figures]
    local = [Mesh(mesh.vertices - figure.about, mesh.faces) for mesh, figure in zip(meshes, figures, strict=True)]
    shown = [index for index, one in enumerate(figures) if not brought_out or one.name in brought_out]
    others = [index for index in range(len(figures)) if index not in shown]
    return Cast(
        surfaces([(local[index], paints[index]) for index in shown]),
        surfaces([(local[index], PAINTS[Role.QUIET]) for index in others]),
        (shown, others),
        tuple(mesh.vertices for mesh in local),
        tuple((figures[index].name, paints[index]) for index in shown),
    )


def cameras(cast: Cast, places: Places, sights: Sequence[Floats], size: Size) -> list[Camera]:
    """One camera for each sight, all in one scale, with all that is ever there in sight."""
    fitted = [looking_at_all(_outermost(cast, places, sight), sight, size) for sight in sights]
    height = max(camera.height for camera in fitted)
    return [replace(camera, height=height) for camera in fitted]


def cameras_round(cast: Cast, places: Places, sights: Sequence[Floats], size: Size) -> list[Camera]:
    """Cameras for sights that go round the upright line through the middle, which stays where it is in the picture."""
    points = cast.points(places, 0)
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    radius = float(np.linalg.norm((points - middle)[:, :2], axis=1).max())
    turn = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    ring = np.stack([radius * np.cos(turn), radius * np.sin(turn), np.zeros_like(turn)], axis=1)
    rise = np.array([0.0, 0.0, np.ptp(points[:, 2]) / 2])
    drum = np.concatenate([middle + ring + rise, middle + ring - rise])
    height = max(looking_at_all(drum, sight, size).height for sight in sights)
    return [looking(sight, middle, height) for sight in sights]


def _outermost(cast: Cast, places: Places, sight: Floats) -> Floats:
    """The points that stand farthest out, as seen along ``sight``, at each of the places."""
    camera = looking(sight, (0.0, 0.0, 0.0), 1.0)
    axes = np.stack([camera.right, camera.up, camera.towards], axis=1)
    found = []
    for index in range(len(places)):
        points = cast.points(places, index)
        seen = points @ axes
        found.append(points[np.concatenate([seen.argmin(axis=0), seen.argmax(axis=0)])])
    return np.concatenate(found)
