"""What a picture shows: posed triangles with their roles, ready to draw; its numbers are measured elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats, Mesh


class Role(StrEnum):
    """How a solid is drawn."""

    FIRST = "first"
    SECOND = "second"
    QUIET = "quiet"


@dataclass(frozen=True, eq=False)
class SceneSolid:
    """One part where it stands at the pose."""

    name: str
    mesh: Mesh
    role: Role = Role.QUIET


@dataclass(frozen=True, eq=False)
class Scene:
    """A machine at one setting, with the pair to look at.

    ``gap`` holds the two nearest points (3,) mm, one on each part, where the pair is apart;
    ``gap_mm`` is the distance to print. ``overlap`` is the solid that both parts claim, where they
    strike; then ``gap`` is None and ``overlap_label`` says how deep. ``verdict`` ("clear", "fails",
    "undecided", of a stop "holds") and ``answer``, the figure with what is required, open the sheet where
    they are known. ``labels``: what stands at the place in the whole
    machine and in the close-up of a contact, instead of the distance.
    """

    title: str
    pose_text: str
    solids: tuple[SceneSolid, ...]
    gap: tuple[NDArray[np.float64], NDArray[np.float64]] | None = None
    gap_mm: float | None = None
    overlap: Mesh | None = None
    overlap_label: str = ""
    verdict: str = ""
    answer: str = ""
    labels: tuple[str, str] | None = None


@dataclass(frozen=True, eq=False)
class DepthScene:
    """One part as drawn, and how deep something goes from it.

    ``kept``: what stays; ``triangles`` (n, 3, 3) mm of the old surface with the depth (n,) mm under each. ``at`` (3,)
    mm, ``outwards`` (3,): the deepest place and where its face looks; ``extent`` mm: how long the patch is there.
    """

    title: str
    caption: str
    kept: Mesh
    triangles: Floats
    depths: Floats
    at: Floats
    outwards: Floats
    extent: float
