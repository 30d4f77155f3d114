"""A machine that moves, as plain values: its parts as drawn, and where each stands at one setting after the other."""

from __future__ import annotations

from dataclasses import dataclass

from assembly.geometry.mesh import Floats, Mesh, joined


@dataclass(frozen=True, eq=False)
class Figure:
    """One part as drawn at rest: its solids by name, and the point ``about`` (3,) mm of it whose way is reported.

    ``fixed``: it belongs to the ground.
    """

    name: str
    solids: tuple[tuple[str, Mesh], ...]
    about: Floats
    fixed: bool = False

    @property
    def mesh(self) -> Mesh:
        """All triangles of all solids."""
        return joined(mesh for _, mesh in self.solids)


@dataclass(frozen=True, eq=False)
class Places:
    """Where F figures stand, N times over.

    ``centres`` (N, F, 3) mm: where the point ``about`` of each is; ``rotations`` (N, F, 3, 3): ``world_from_rest``.
    """

    centres: Floats
    rotations: Floats

    def __len__(self) -> int:
        return len(self.centres)

    def points(self, drawn: Floats) -> Floats:
        """Where points of the figures stand (N, F, k, 3) mm; ``drawn`` (F, k, 3) are reported from each ``about``."""
        return drawn @ self.rotations.swapaxes(-1, -2) + self.centres[:, :, None, :]


@dataclass(frozen=True, eq=False)
class Track:
    """One motion: ``seconds`` (N,) from 0, rising, and where all figures stand at each."""

    name: str
    seconds: Floats
    places: Places


@dataclass(frozen=True, eq=False)
class MovingModel:
    """A machine as it stands (``standing``: once), and its motions."""

    name: str
    figures: tuple[Figure, ...]
    standing: Places
    tracks: tuple[Track, ...] = ()
