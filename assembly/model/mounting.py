"""How far a rod end can lean as it is mounted, from its dimensions and from what stands beside its ball.

In a section along the bolt the eye is a rectangle, C1 wide along the bolt and D2 across, with a hole where the ball, of
the diameter dk = sqrt(B² + d3²), passes through its faces. Something round of diameter D stands over each face of the
eye, W apart over both sides. Leaning, the corner of whatever is smaller meets the other's face:

    lean = asin(W / L) - asin(C1 / L),    L = min(sqrt(W² + D²), sqrt(C1² + D2²)),

or, where D is so small that its corner lies within the ball, the edge of the hole meets its side:

    lean = acos(C1 / dk) - asin(D / dk).

With W = B and D = d3 this is the ball's own limit, the angle of the catalogues; D without end is the cheek of a fork
(REFERENCE_VALUES 3.1 and 3.5; derived there and compared with contact in three dimensions).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, asin, degrees, hypot, inf, sqrt

from assembly.geometry.shapes import ROD_END_SIZES, ROD_END_SOURCE
from assembly.model.fault_list import listed, nearest, shown
from assembly.model.file_tables import MountingTable
from assembly.model.positions import Place
from assembly.model.reading import Bench

OWN, SPACER, SHANK, CHEEK, HEAD = (
    "the ball's own shoulder",
    "the washer or spacer at the ball",
    "the bolt's bare shank",
    "the fork's cheek",
    "the bolt's head or nut",
)
"""What limits a lean."""
_NEEDED = {
    "ball_width": "ball_width",
    "housing_width": "housing_width",
    "eye_diameter": "eye_diameter",
    "shoulder": "ball_face",
}
_FROM_TABLE = {**_NEEDED, "bore": "bore"}
"""Keys of the file and the fields of the table of sizes that stand in for them."""


@dataclass(frozen=True, slots=True)
class Mounting:
    """A rod end and what stands beside its ball; mm.

    ``ball_width`` B over the ball's flat faces, ``shoulder`` d3 the diameter of these, ``housing_width`` C1 and
    ``eye_diameter`` D2 of the eye. ``beside``: diameter of what touches the ball's faces, ``spacer`` its thickness on
    each side. ``fork``: flat cheeks stand beyond the spacers. ``bolt_head``: diameter of a head or nut that stands
    there, where there is one.
    """

    ball_width: float
    housing_width: float
    eye_diameter: float
    shoulder: float
    beside: float
    spacer: float = 0.0
    fork: bool = True
    bolt_head: float | None = None

    @property
    def ball_diameter(self) -> float:
        """Of the sphere that the ball is cut from: dk."""
        return hypot(self.ball_width, self.shoulder)

    @property
    def hole(self) -> float:
        """Diameter of the hole in the eye's faces, where the ball passes through them."""
        return sqrt(self.ball_diameter**2 - self.housing_width**2)

    def limit(self) -> tuple[float, str]:
        """Degrees that the bolt may lean against the eye, and what it meets there."""
        beyond = self.ball_width + 2 * self.spacer
        cases = [(self.lean_to(self.ball_width, self.beside), self._touching())]
        if self.fork:
            cases.append((self.lean_to(beyond, inf), CHEEK))
        if self.bolt_head is not None:
            cases.append((self.lean_to(beyond, self.bolt_head), HEAD))
        return min(cases, key=lambda case: case[0])

    def _touching(self) -> str:
        if self.beside == self.shoulder:
            return OWN
        return SPACER if self.beside > self.shoulder else SHANK

    def lean_to(self, width: float, diameter: float) -> float:
        """Degrees until the eye meets what is round, ``diameter`` across and ``width`` apart over both sides.

        90 where it never does.
        """
        corner, ball = hypot(width, diameter), self.ball_diameter
        if corner < ball:
            return degrees(acos(self.housing_width / ball) - asin(diameter / ball))
        reach = min(corner, hypot(self.housing_width, self.eye_diameter))
        if width >= reach:
            return 90.0
        return degrees(asin(width / reach) - asin(self.housing_width / reach))


def read_mounting(table: MountingTable, place: Place, bench: Bench) -> Mounting | None:
    """The mounting that a table describes, or None with its faults noted."""
    log, figures = bench.log, bench.figures
    before = log.marks
    sizes = _from_size(table, place, bench)
    for key in _FROM_TABLE:
        if (written := getattr(table, key)) is not None:
            sizes[key] = figures.size(written, (*place, key))
    missing = [key for key in _NEEDED if key not in sizes]
    if missing and table.size is None:
        first, *_, last = ROD_END_SIZES
        log.add(place, f"the mounting lacks {listed(missing)}", f"give them, or a `size` from {first} to {last}")
    beside = None if table.beside is None else figures.size(table.beside, (*place, "beside"))
    head = None if table.bolt_head is None else figures.size(table.bolt_head, (*place, "bolt_head"))
    spacer = figures.amount(table.spacer, (*place, "spacer"))
    if log.marks > before:
        return None
    bore = sizes.pop("bore", None)
    made = Mounting(
        **sizes, beside=sizes["shoulder"] if beside is None else beside, spacer=spacer, fork=table.fork, bolt_head=head
    )
    _check(made, bore, place, bench)
    return made if log.marks == before else None


def _from_size(table: MountingTable, place: Place, bench: Bench) -> dict[str, float]:
    if table.size is None:
        return {}
    size = ROD_END_SIZES.get(table.size)
    if size is None:
        hint = f"{nearest(table.size, ROD_END_SIZES, 'sizes')}; its own dimensions can be written instead"
        bench.log.add((*place, "size"), f"unknown size {shown(table.size)} of rod end ({ROD_END_SOURCE})", hint)
        return {}
    return {key: float(getattr(size, field)) for key, field in _FROM_TABLE.items()}


def _check(made: Mounting, bore: float | None, place: Place, bench: Bench) -> None:
    """Faults of dimensions that cannot belong to one rod end."""
    log = bench.log
    if made.housing_width >= made.ball_width:
        told = f"the eye, {made.housing_width:g} mm wide, is not narrower than the ball, {made.ball_width:g} mm"
        log.add((*place, "housing_width"), told, "the ball's flat faces stand out of the eye")
    elif made.eye_diameter <= made.hole:
        told = f"the ball leaves a hole of {made.hole:.4g} mm in an eye of {made.eye_diameter:g} mm"
        log.add((*place, "eye_diameter"), told, "give the outside of the eye, larger than that")
    if bore is not None and made.beside < bore:
        told = f"{made.beside:g} mm is less than the ball's bore, {bore:g} mm"
        log.add((*place, "beside"), told, "give the diameter of what touches the ball's faces")
    if made.bolt_head is not None and bore is not None and made.bolt_head <= bore:
        told = f"{made.bolt_head:g} mm would slip through the ball's bore, {bore:g} mm"
        log.add((*place, "bolt_head"), told, "give the diameter of the head or nut over its corners")
