"""A machine that moves as one binary glTF file (Khronos glTF 2.0 specification). The only door to pygltflib.

In the file lengths are metres, y is up and z ahead (section 3.4): x forward, y left, z up become z, x, y. Every part is
a named node about the point its motion is told about, every solid of it a named mesh below, every track an animation.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pygltflib as gltf
from numpy.typing import ArrayLike, NDArray
from scipy.spatial.transform import Rotation

from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.moving_parts import Figure, MovingModel, Places, Track
from assembly.report.render.creases import polydata, rounded
from assembly.report.render.palette import Colour, tints

PROGRAM = "swingroom"
METRES = 1e-3
AXES = [1, 2, 0]
"""Which of our axes is each of the file's."""
MOVES = 1e-6
"""A part whose place changes by less, in mm and in the entries of its rotation, has no channel in an animation."""


def glb_bytes(model: MovingModel) -> bytes:
    """The whole file."""
    written = _Writer()
    written.gltf.asset = gltf.Asset(version="2.0", generator=PROGRAM)
    paints = tints([figure.fixed for figure in model.figures])
    nodes = [
        written.part(figure, paint.fill, *_place(model.standing, index, 0))
        for index, (figure, paint) in enumerate(zip(model.figures, paints, strict=True))
    ]
    top = written.node(gltf.Node(name=model.name, children=nodes))
    written.gltf.scenes = [gltf.Scene(name=model.name, nodes=[top])]
    written.gltf.scene = 0
    written.gltf.animations = [written.animation(track, nodes) for track in model.tracks]
    return written.finished()


def _place(places: Places, figure: int, index: int | slice) -> tuple[Floats, Floats]:
    """Translations (..., 3) in metres and unit quaternions (..., 4), x y z w, each on its neighbour's side."""
    shifts = places.centres[index, figure][..., AXES] * METRES
    turns = places.rotations[index, figure][..., AXES, :][..., AXES]
    quaternions = Rotation.from_matrix(turns).as_quat()
    if quaternions.ndim > 1:
        agree = np.sign((quaternions[1:] * quaternions[:-1]).sum(axis=1))
        quaternions[1:] *= np.cumprod(np.where(agree == 0, 1.0, agree))[:, None]
    return shifts, quaternions


@dataclass
class _Writer:
    """Gathers what the file holds: its tables, and the bytes that they point into."""

    gltf: gltf.GLTF2 = field(default_factory=gltf.GLTF2)
    blob: bytearray = field(default_factory=bytearray)

    def finished(self) -> bytes:
        """The file, its one buffer inside."""
        self.gltf.buffers = [gltf.Buffer(byteLength=len(self.blob))]
        self.gltf.set_binary_blob(bytes(self.blob))
        return b"".join(self.gltf.save_to_bytes())

    def node(self, node: gltf.Node) -> int:
        """Number of the node."""
        self.gltf.nodes.append(node)
        return len(self.gltf.nodes) - 1

    def part(self, figure: Figure, colour: Colour, shift: Floats, quaternion: Floats) -> int:
        """Number of the node of a part, with its solids below."""
        material = self._material(figure.name, colour)
        below = [
            self.node(gltf.Node(name=_solid(figure, name), mesh=self._mesh(figure, name, mesh, material)))
            for name, mesh in figure.solids
            if len(mesh.faces)
        ]
        place = {"translation": shift.tolist(), "rotation": quaternion.tolist()}
        return self.node(gltf.Node(name=figure.name, children=below, **place))

    def _material(self, name: str, colour: Colour) -> int:
        linear = [float(((share + 0.055) / 1.055) ** 2.4) for share in np.array(colour) / 255]  # IEC 61966-2-1
        surface = gltf.PbrMetallicRoughness(baseColorFactor=[*linear, 1.0], metallicFactor=0.0, roughnessFactor=0.6)
        self.gltf.materials.append(gltf.Material(name=name, pbrMetallicRoughness=surface))
        return len(self.gltf.materials) - 1

    def _mesh(self, figure: Figure, name: str, mesh: Mesh, material: int) -> int:
        """Number of the mesh; corners that share a place and a direction are one vertex."""
        solid = rounded(polydata(mesh))
        corners = (solid.points - figure.about)[:, AXES] * METRES
        normals = solid.point_data["Normals"][:, AXES]
        rows = np.concatenate([corners, normals], axis=1).astype(np.float32) + 0.0
        vertices, number = np.unique(rows, axis=0, return_inverse=True)
        attributes = gltf.Attributes(
            POSITION=self._accessor(vertices[:, :3], gltf.ARRAY_BUFFER, bounds=True),
            NORMAL=self._accessor(vertices[:, 3:], gltf.ARRAY_BUFFER),
        )
        indices = self._accessor(number[solid.regular_faces].reshape(-1).astype(np.uint32), gltf.ELEMENT_ARRAY_BUFFER)
        primitive = gltf.Primitive(attributes=attributes, indices=indices, material=material)
        self.gltf.meshes.append(gltf.Mesh(name=_solid(figure, name), primitives=[primitive]))
        return len(self.gltf.meshes) - 1

    def animation(self, track: Track, nodes: list[int]) -> gltf.Animation:
        """A track, straight between its keys (section 3.11); parts that stand still in it are left out."""
        made = gltf.Animation(name=track.name)
        times = self._accessor(track.seconds.astype(np.float32), bounds=True)
        for figure, node in enumerate(nodes):
            shifts, quaternions = _place(track.places, figure, slice(None))
            for path, values, still in (
                ("translation", shifts, MOVES * METRES),
                ("rotation", quaternions, MOVES),
            ):
                if np.ptp(values, axis=0).max() > still:
                    output = self._accessor(values.astype(np.float32))
                    target = gltf.AnimationChannelTarget(node=node, path=path)
                    made.channels.append(gltf.AnimationChannel(sampler=len(made.samplers), target=target))
                    made.samplers.append(gltf.AnimationSampler(input=times, output=output, interpolation="LINEAR"))
        return made

    def _accessor(self, values: NDArray[Any], target: int | None = None, bounds: bool = False) -> int:
        """Number of the accessor of ``values`` (n,) or (n, k), appended to the bytes at a multiple of 4."""
        rows = np.ascontiguousarray(values)
        view = gltf.BufferView(buffer=0, byteOffset=len(self.blob), byteLength=rows.nbytes, target=target)
        self.blob += rows.tobytes()
        self.gltf.bufferViews.append(view)
        kind = gltf.FLOAT if rows.dtype == np.float32 else gltf.UNSIGNED_INT
        shape = {1: "SCALAR", 3: "VEC3", 4: "VEC4"}[1 if rows.ndim == 1 else rows.shape[1]]
        accessor = gltf.Accessor(bufferView=len(self.gltf.bufferViews) - 1, componentType=kind, count=len(rows))
        accessor.type = shape
        if bounds:
            accessor.min, accessor.max = (_listed(edge) for edge in (rows.min(axis=0), rows.max(axis=0)))
        self.gltf.accessors.append(accessor)
        return len(self.gltf.accessors) - 1


def _solid(figure: Figure, name: str) -> str:
    """A solid by its part and its own name, also where both are the same: the part's name alone is the part's node."""
    return f"{figure.name} ({name})"


def _listed(values: ArrayLike) -> list[float]:
    return [float(value) for value in np.atleast_1d(values)]
