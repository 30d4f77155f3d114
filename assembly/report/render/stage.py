"""What stands on the stage of a picture: solids in their colours, in the layers that are drawn over each other."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from assembly.errors import PictureError
from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.scene import Role, Scene
from assembly.report.render.palette import OVERLAP, PAINTS, Paint


class Layer(StrEnum):
    """What a solid is to the picture: one of the pair, what both of these claim, or all the rest."""

    FIRST = "first"
    SECOND = "second"
    OVERLAP = "overlap"
    REST = "rest"


PAIR = (Layer.FIRST, Layer.SECOND)
_LAYERS = {Role.FIRST: Layer.FIRST, Role.SECOND: Layer.SECOND, Role.QUIET: Layer.REST}


@dataclass(frozen=True, eq=False)
class StageSolid:
    """One closed surface to be drawn."""

    layer: Layer
    mesh: Mesh
    paint: Paint


def stage(scene: Scene) -> tuple[StageSolid, ...]:
    """The solids of ``scene``; PictureError if one has no finite place or nothing is left to draw."""
    for one in scene.solids:
        if not np.isfinite(one.mesh.vertices).all():
            raise PictureError(f"part {one.name[:60]!r} cannot be drawn: it has corners at no finite place")
    solids = [StageSolid(_LAYERS[one.role], one.mesh, PAINTS[one.role]) for one in scene.solids if len(one.mesh.faces)]
    if not solids:
        raise PictureError("there is nothing to draw: no solid of the scene has a surface")
    if scene.overlap is not None and len(scene.overlap.faces):
        solids.append(StageSolid(Layer.OVERLAP, scene.overlap, OVERLAP))
    return tuple(solids)


def corners(solids: Iterable[StageSolid]) -> Floats:
    """All corners (n, 3) mm of ``solids``."""
    return np.concatenate([solid.mesh.vertices for solid in solids])
