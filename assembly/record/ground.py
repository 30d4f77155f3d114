"""The record of what to grind off either part of a pair so that it keeps a clearance over the whole range.

mm and mm³; places and directions as the machine is drawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assembly.record.entries import DriveEntry, MachineEntry, ProgramEntry
from assembly.record.values import Point, VerdictWord

THIN_MM = 1.0
"""Of a wall of which less stays it is said that it is thin."""


@dataclass(frozen=True, slots=True)
class AddedEntry:
    """What was added to the clearance, so that nothing that must go stays; the sum is ``AddedEntry.whole_mm``.

    ``surface_error_mm``: of both surfaces, and of the distance query; ``displacement_mm``: the most that the two move
    between settings that were looked at; ``lattice_mm``: of the lattice that the cut was shaped on; ``flattened_mm``:
    where its facets were made fewer; ``spare_mm``: what the sweep afterwards has to work with.
    """

    surface_error_mm: float
    displacement_mm: float
    lattice_mm: float
    flattened_mm: float
    spare_mm: float

    @property
    def whole_mm(self) -> float:
        """All together."""
        both = self.surface_error_mm + self.displacement_mm
        return both + self.lattice_mm + self.flattened_mm + self.spare_mm


@dataclass(frozen=True, slots=True)
class GroundPlaceEntry:
    """One place of a shape: the greatest depth, at ``at``, on a face that looks along ``outwards``.

    ``length_mm`` and ``width_mm``: of the patch; ``nearest`` and ``nearest_mm``: the point or joint of the file next to
    it; ``wall_mm``: the least that stays behind the cut, null where there is nothing behind it. ``through``: the whole
    thickness goes.
    """

    shape: str
    depth_mm: float
    at: Point
    outwards: Point
    length_mm: float
    width_mm: float
    nearest: str
    nearest_mm: float
    wall_mm: float | None
    through: bool
    volume_mm3: float
    added: AddedEntry


@dataclass(frozen=True, slots=True)
class GroundPartEntry:
    """What goes from one ``part``, and the sweep of every pair of the part so.

    ``verdict``, ``least_mm`` and ``proven_mm`` are the pair's; ``pairs`` of the part were swept. ``advised``: the pair
    is proven and nothing speaks against it; else ``against`` says what does. ``still_failing``: pairs of the machine
    that are not clear with it either.
    """

    part: str
    places: tuple[GroundPlaceEntry, ...]
    advised: bool
    against: str
    verdict: VerdictWord | None = None
    least_mm: float | None = None
    proven_mm: float | None = None
    pairs: int = 0
    still_failing: tuple[tuple[str, str], ...] = ()

    @property
    def weakens(self) -> bool:
        """Whether little or nothing of a wall stays somewhere."""
        return any(place.through or (place.wall_mm is not None and place.wall_mm < THIN_MM) for place in self.places)


@dataclass(frozen=True, slots=True)
class GroundRecord:
    """What to grind: the pair as it is, the clearance ``wanted_mm``, and what goes from either part.

    ``pair``: none where no pair lacks anything. ``verdict`` and ``reason``: whether grinding one part is proven to do.
    """

    program: ProgramEntry
    machine: MachineEntry
    drives: Mapping[str, DriveEntry]
    verdict: VerdictWord
    reason: str
    pair: tuple[str, str] | None = None
    wanted_mm: float | None = None
    now: VerdictWord | None = None
    least_mm: float | None = None
    deep_mm: float | None = None
    parts: tuple[GroundPartEntry, ...] = ()
