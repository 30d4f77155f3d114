"""The play of a joint: how far its two parts go against each other by hand, under no load, as a file states it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from math import acos, atan2, degrees, hypot, isnan

from assembly.model.fault_list import FaultLog, listed, shown
from assembly.model.file_tables import JointTable, PlayTable
from assembly.model.fits import fit_of
from assembly.model.joint_play import JointPlay
from assembly.model.machine import FindingKind, Joint, JointKind
from assembly.model.positions import Place
from assembly.model.reading import Bench
from assembly.record import FindingEntry

WIDEST_ANGLE = 30.0
"""degrees from end to end: nothing that is to be a joint rattles by more."""
KEYS = {
    JointKind.PIN: ("radial", "axial", "angle"),
    JointKind.BALL: ("radial",),
    JointKind.SLIDE: ("radial", "angle"),
    JointKind.CYLINDRICAL: ("radial", "angle"),
    JointKind.UNIVERSAL: ("radial",),
}
"""What play of each kind of joint can be told."""
BOTH = "play is what a gauge shows from one end to the other; [from, to] counts from where the joint is drawn"


def read_play(table: JointTable, kind: JointKind, place: Place, bench: Bench) -> JointPlay | None:
    """The play that a joint states; None where it states none, or with its faults noted."""
    if table.play is None:
        return None
    where = (*place, "play")
    if not kind.has_freedom:
        hint = "a bolt that is loose is a joint that moves: draw it as a pin or a slide with its play"
        bench.log.add(where, f"parts that are {kind} have no play", hint)
        return None
    return _Reader(table.play, kind, where, bench).play()


def notes_of_play(joints: Mapping[str, Joint]) -> Iterator[FindingEntry]:
    """Says that play is not in everything that is told of a machine that has it."""
    loose = [name for name, joint in joints.items() if joint.is_loose]
    if loose:
        told = f"{listed(loose)} {'has' if len(loose) == 1 else 'have'} play, which counts in `swingroom spread` and "
        more = "`sweep --spread` only: all else takes the joints as drawn"
        yield FindingEntry(FindingKind.NOTE, "joints", told + more)


class _Reader:
    def __init__(self, table: PlayTable, kind: JointKind, place: Place, bench: Bench) -> None:
        self.table, self.kind, self.place, self.bench = table, kind, place, bench

    @property
    def log(self) -> FaultLog:
        return self.bench.log

    def play(self) -> JointPlay | None:
        before = self.log.marks
        for key in ("radial", "axial", "angle"):
            if getattr(self.table, key) is not None and key not in KEYS[self.kind]:
                told = f"play of a {self.kind} joint is told as {listed(KEYS[self.kind])}"
                self.log.add((*self.place, key), f"a {self.kind} joint has no {key} play of its own", told)
        whole, leaning = self._fit()
        radial, angle = self._amount("radial", whole), self._amount("angle", leaning)
        axial = self._axial()
        if not isnan(angle) and angle > WIDEST_ANGLE:
            hint = f"it is in degrees from end to end, up to {WIDEST_ANGLE:g}"
            self.log.add((*self.place, "angle"), f"{angle:g} degrees is no play of a joint", hint)
        if self.log.marks != before:
            return None
        return JointPlay(radial / 2, axial, angle / 2, self.table.fit or "")

    def _amount(self, key: str, fitted: float) -> float:
        given = getattr(self.table, key)
        if given is None:
            return fitted
        return self._not_negative(given, (*self.place, key))

    def _not_negative(self, given: float | str, place: Place) -> float:
        number = self.bench.figures.coordinate(given, place)
        if number < 0:
            self.log.add(place, f"play of {number:g} is negative", BOTH)
        return number

    def _axial(self) -> tuple[float, float]:
        given, place = self.table.axial, (*self.place, "axial")
        if given is None:
            return 0.0, 0.0
        if not isinstance(given, list):
            half = self._not_negative(given, place) / 2
            return 0.0 - half, half
        low, high = (self.bench.figures.coordinate(each, (*place, k)) for k, each in enumerate(given))
        if low > high:
            self.log.add(place, f"the play from {low:g} to {high:g} is negative", f"write [{high:g}, {low:g}]")
        elif low > 0 or high < 0:
            self.log.add(place, f"the play from {low:g} to {high:g} does not contain 0, where it is drawn", BOTH)
        return low, high

    def _fit(self) -> tuple[float, float]:
        """The most that a named fit lets go across, mm, and what a bearing of its width then lets lean, degrees."""
        table = self.table
        if table.fit is None:
            for key in ("diameter", "width"):
                self._alone(key)
            return 0.0, 0.0
        if table.radial is not None:
            self.log.add((*self.place, "radial"), "radial play is given beside a fit", "leave out one of them")
        if table.diameter is None:
            self.log.add(self.place, f"the fit {shown(table.fit)} needs a size", "give `diameter` in mm")
            return 0.0, 0.0
        diameter = self._size(self.bench.figures.size, "diameter")
        found = fit_of(table.fit, diameter) if not isnan(diameter) else ""
        if isinstance(found, str):
            if found:
                self.log.add((*self.place, "fit"), f"{shown(table.fit)} at {diameter:g} mm is no loose fit", found)
            return 0.0, 0.0
        return found.most, self._leaning(found.most, diameter)

    def _size(self, read: Callable[[float | str, Place], float], key: str) -> float:
        return read(getattr(self.table, key), (*self.place, key))

    def _alone(self, key: str) -> None:
        if getattr(self.table, key) is not None:
            self.log.add((*self.place, key), f"`{key}` says nothing without a fit", "give `fit`, as in H7/f7")

    def _leaning(self, most: float, diameter: float) -> float:
        """How far a shaft may lean in a bearing, degrees from end to end, until it is at both of its rims."""
        if self.table.width is None:
            if "angle" in KEYS[self.kind] and self.table.angle is None:
                hint = "give the bearing's `width`, from which it follows, or the `angle` itself in degrees"
                self.log.add(self.place, f"how far the {self.kind} may lean in its bearing is not given", hint)
            return 0.0
        if "angle" not in KEYS[self.kind] or self.table.angle is not None:
            why = "`angle` is given" if self.table.angle is not None else f"a {self.kind} joint may lean freely"
            self.log.add((*self.place, "width"), f"the width says nothing here: {why}", "leave it out")
            return 0.0
        width = self._size(self.bench.figures.size, "width")
        return 0.0 if isnan(width) else 2 * leaning(most, diameter, width)


def leaning(most: float, diameter: float, width: float) -> float:
    """Degrees either way that a shaft leans in a hole that is ``most`` wider, at both rims of its ``width``, all mm.

    Closed form: width sin θ + diameter cos θ = diameter + most.
    """
    far = hypot(width, diameter)
    if diameter + most >= far:
        return WIDEST_ANGLE
    return degrees(atan2(width, diameter) - acos((diameter + most) / far))
