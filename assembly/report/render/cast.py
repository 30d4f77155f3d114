"""The figures of a machine made ready to be drawn wherever they stand, and the cameras that have them in sight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.moving_parts import Figure, Places
from assembly.geometry.scene import Role
from assembly.report.render.camera import Camera, Size, looking, looking_at_all
from assembly.report.render.palette import PAINTS, Paint, tints
from assembly.report.render.renderer import Renderer
from assembly.report.render.stage import Layer, StageSolid


@dataclass(frozen=True, eq=False)
class Cast:
    """Figures told from the point ``about`` of each, and the names and paints of those ``brought_out``."""

    solids: tuple[StageSolid, ...]
    brought_out: tuple[tuple[str, Paint], ...]

    def place(self, renderer: Renderer, places: Places, index: int) -> None:
        """Put all figures where they stand at ``index``."""
        renderer.place(places.rotations[index], places.centres[index])

    def points(self, places: Places, index: int) -> Floats:
        """All vertices (n, 3) mm at ``index``."""
        placed = zip(self.solids, places.rotations[index], places.centres[index], strict=True)
        return np.concatenate([solid.mesh.vertices @ turn.T + at for solid, turn, at in placed])


def gathered(figures: Sequence[Figure], brought_out: frozenset[str]) -> Cast:
    """The cast of ``figures``; those named are in colour and the others grey, all in colour where none is named."""
    paints = tints([figure.fixed and figure.name not in brought_out for figure in figures])
    solids, named = [], []
    for figure, paint in zip(figures, paints, strict=True):
        mesh = figure.mesh
        local = Mesh(mesh.vertices - figure.about, mesh.faces)
        if brought_out and figure.name not in brought_out:
            solids.append(StageSolid(Layer.REST, local, PAINTS[Role.QUIET]))
        else:
            solids.append(StageSolid(Layer.FIRST, local, paint))
            named.append((figure.name, paint))
    return Cast(tuple(solids), tuple(named))


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
