"""A machine with its dimensions anywhere within their tolerances, as a machine that has them for further drives.

Where dimensions vary, joints sit elsewhere in their parts and shapes lie elsewhere. What keeps its form is carried by
frames (``frames``); what changes its form is grown (``growth``). The rest of the proof is that of any sweep: bounds
over cells of all drives hold for every setting and every choice of the dimensions.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from assembly.clearance.tolerances.alignment import Alignment, JointEnd, alignments
from assembly.clearance.tolerances.frames import PartFrames
from assembly.clearance.tolerances.readings import DimensionBound, Readings, bent_texts, uncounted_lengths
from assembly.errors import InputError
from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism
from assembly.model.cable import CableSystem
from assembly.model.feature import GROUND, Feature
from assembly.model.machine import Drive, Joint, Machine, Vector
from assembly.model.measure import Measure
from assembly.model.perturbed import Reading
from assembly.model.wheel import NO_WHEELS

STAYS = 1e-12
"""What varies by less does not vary."""


@dataclass(frozen=True, eq=False)
class AsBuilt:
    """``drawn`` with its dimensions as drives. ``refused``: why nothing can be proven of it, empty where it can.

    ``ends``: the places of joints as drawn where dimensions vary; ``seats``: the radii of their seats.
    ``aligned``: how parts are looked at that can roll. ``joints``: all, between the frames that carry them.
    """

    drawn: Mechanism
    readings: Readings
    frames: PartFrames
    refused: tuple[str, ...]
    ends: Mapping[JointEnd, DimensionBound] = field(default_factory=dict)
    seats: Mapping[str, DimensionBound] = field(default_factory=dict)
    aligned: Mapping[str, Alignment] = field(default_factory=dict)
    joints: Mapping[str, Joint] = field(default_factory=dict)
    measures: Mapping[str, Measure] = field(default_factory=dict)
    open_measures: Mapping[str, str] = field(default_factory=dict)
    """Measures of which nothing is proven, and why."""
    open_joints: Mapping[str, str] = field(default_factory=dict)
    """Joints whose limits are not proven, and why."""

    def machine(self, leans: int = 0) -> Machine:
        """The machine to be put together; its pairs are made by ``grown_pairs``.

        Lines drawn in parts that are turned to their ends may be off by a little: ends of rods get a limit that is so
        much wider (``leans`` = 1), for all rolls that they may allow, or narrower (-1), for what they are sure to keep.
        """
        ranges = np.array([one.ends for one in self.readings.tolerances]).reshape(-1, 2)
        drawn = self.drawn.machine
        joints = {name: self._leaning(joint, leans) for name, joint in self.joints.items()}
        return replace(
            drawn,
            parts={**drawn.parts, **self.frames.parts(drawn.parts)},
            joints={**joints, **self.frames.joints()},
            drives={**drawn.drives, **self.frames.drives(ranges)},
            measures=self.measures,
            loads={},
            rods={},
            edits=(),
            weights=None,
            running=NO_WHEELS,
            cables=CableSystem(),
        )

    def _leaning(self, joint: Joint, leans: int) -> Joint:
        drawn = self.drawn.machine.joints[joint.name]
        turned = sum(self.aligned[part].turned for part in (drawn.first, drawn.second) if part in self.aligned)
        if joint.misalignment is None or not turned or not leans:
            return joint
        return replace(joint, misalignment=max(0.0, joint.misalignment + leans * float(np.rad2deg(turned))))

    @property
    def turns(self) -> bool:
        """Whether any line is off in the axes of its part."""
        return any(one.turned for one in self.aligned.values())

    def seen(self, part: str, places: DimensionBound) -> DimensionBound:
        """Places (..., 3) of ``part`` as drawn, in the axes in which it is looked at."""
        return self.aligned[part].seen(places) if part in self.aligned else places


def as_built(mechanism: Mechanism, readings: Readings) -> AsBuilt:
    """``mechanism`` with the dimensions of ``readings`` as drives. InputError where no file describes it."""
    names = tuple(one.name for one in readings.tolerances)
    frames, machine = PartFrames(names), mechanism.machine
    bent = tuple(
        f"`{text}` has kinks or jumps where a tolerance is in it" for text in bent_texts(machine, readings.tolerances)
    )
    bent += tuple(
        f"the tolerance of the set_length of {part} is counted only as that of a dimension: write it there"
        for part in uncounted_lengths(machine)
    )
    nothing = AsBuilt(mechanism, readings, frames, bent)
    if bent:
        return nothing
    try:
        ends, seats = _ends(machine, readings)
        fixed, limits, measured = tuple(_turned(readings)), _limits(readings), _Measured(machine, readings)
    except InputError as error:
        return replace(nothing, refused=(f"with a dimension within its tolerance {error.faults[0].message}",))
    found = alignments(mechanism, readings, ends)
    refused = (*fixed, *dict.fromkeys(one for one in found.values() if isinstance(one, str)))
    aligned = {part: one for part, one in found.items() if not isinstance(one, str)}
    made = replace(nothing, refused=refused, ends=ends, seats=seats, aligned=aligned, open_joints=limits)
    if refused:
        return made
    joints = {name: _carried(made, joint) for name, joint in machine.joints.items()}
    measures, open_measures = measured.carried(made)
    return replace(made, joints=joints, measures=measures, open_measures=open_measures)


def _carried(built: AsBuilt, joint: Joint) -> Joint:
    """``joint`` between the frames that carry its places."""
    first, second = (
        _carrier(built, (joint.name, end), part, at)
        for end, (part, at) in enumerate(((joint.first, joint.at_first), (joint.second, joint.at_second)))
    )
    return replace(joint, first=first, second=second)


def _carrier(built: AsBuilt, end: JointEnd, part: str, at: Vector) -> str:
    places = built.ends.get(end)
    if places is None:
        return part
    aligned = built.aligned.get(part)
    if aligned is None:
        return built.frames.of(part, places.slopes, places.rest, at)
    if end == aligned.stays:
        return part
    x, y, z = aligned.along.tolist()
    return built.frames.of(part, aligned.lengthened[:, None], np.array([aligned.rest]), at, ((x, y, z),))


def _ends(machine: Machine, readings: Readings) -> tuple[dict[JointEnd, DimensionBound], dict[str, DimensionBound]]:
    """Where the joints that can move sit in their parts, and how large their seats are, where dimensions vary."""
    ends: dict[JointEnd, DimensionBound] = {}
    seats = {}
    for name, joint in machine.joints.items():
        if joint.kind.has_freedom:
            places = readings.enclosure(partial(_places_of, name))
            for end in (0, 1):
                ends[name, end] = DimensionBound(places.value[end], places.slopes[:, end], places.rest[end])
            seats[name] = readings.enclosure(partial(_seat_of, name))
    return ends, seats


def _places_of(name: str, reading: Reading) -> Floats:
    joint = reading.joints[name]
    return np.array([joint.at_first, joint.at_second])


def _seat_of(name: str, reading: Reading) -> Floats:
    return np.array([reading.joints[name].seat])


def _turned(readings: Readings) -> Iterator[str]:
    """Lines and drives that are other than as drawn for some dimensions: of these nothing is bounded."""
    base = readings.base
    for number, one in enumerate(readings.tolerances):
        for change in readings.samples(number):
            reading = readings.at({number: change})
            lines = [name for name, joint in reading.joints.items() if not _same_lines(joint, base.joints[name])]
            loose = [name for name, joint in reading.joints.items() if joint.play != base.joints[name].play]
            moved = [name for name, drive in reading.drives.items() if not _same_drive(drive, base.drives[name])]
            if lines:
                yield f"the tolerance of {one.name} turns the line of joint {lines[0]}, which is not bounded"
            if moved:
                yield f"the tolerance of {one.name} changes the range of drive {moved[0]}, which is not bounded"
            if loose:
                yield f"the tolerance of {one.name} changes the play of joint {loose[0]}, which is not bounded"
            if lines or moved or loose:
                break


def _same_lines(one: Joint, other: Joint) -> bool:
    names = ("along", "along_second", "bolt", "eye")
    return all(_near(getattr(one, name), getattr(other, name)) for name in names)


def _near(one: Vector | tuple[float, ...] | None, other: Vector | tuple[float, ...] | None) -> bool:
    if one is None or other is None:
        return one is other
    return bool(np.abs(np.subtract(one, other)).max() <= STAYS)


def _same_drive(one: Drive, other: Drive) -> bool:
    return (one.low, one.high, dict(one.ratios)) == (other.low, other.high, dict(other.ratios))


def _limits(readings: Readings) -> dict[str, str]:
    """Joints whose limits vary, with the reason why they are not proven."""
    found = {}
    for number, one in enumerate(readings.tolerances):
        for change in readings.samples(number):
            for name, joint in readings.at({number: change}).joints.items():
                base = readings.base.joints[name]
                limits = ("misalignment", "turn_limit", "travel_limit")
                if any(getattr(joint, limit) != getattr(base, limit) for limit in limits):
                    found[name] = f"its limit varies with {one.name}"
    return found


class _Measured:
    """The features of measures where dimensions vary: those that only move are carried by frames."""

    def __init__(self, machine: Machine, readings: Readings) -> None:
        self.machine, self.readings = machine, readings
        self.places = {name: readings.enclosure(partial(_feature_places, name)) for name in machine.measures}
        self.varying = {name: why for name in machine.measures if (why := self._varies(name))}

    def _varies(self, name: str) -> str:
        """Why nothing is proven of a measure; empty where something is."""
        base = self.readings.base.measures[name]
        if base.paths:
            return "the length of a cable is not bounded"
        if self.places[name].rest.any():
            return "its points are no straight function of the dimensions"
        for number, one in enumerate(self.readings.tolerances):
            for change in self.readings.samples(number):
                then = self.readings.at({number: change}).measures[name]
                if then.limits != base.limits:
                    return f"its limits vary with {one.name}"
                pairs = zip(_features(then), _features(base), strict=True)
                if not all(_near(now.along, before.along) for now, before in pairs):
                    return f"{one.name} turns one of its lines"
        return ""

    def carried(self, built: AsBuilt) -> tuple[dict[str, Measure], dict[str, str]]:
        """Every measure with its features in frames, and those of which nothing is proven."""
        made, still = {}, dict(self.varying)
        for name, one in self.machine.measures.items():
            slopes = self.places[name].slopes
            every = [self._carried(built, feature, slopes[:, k]) for k, feature in enumerate(_features(one))]
            if None in every and name not in still:
                still[name] = (
                    "a dimension moves a point of the ground, or a part that can roll, from which it is measured"
                )
            features = tuple(each or feature for each, feature in zip(every, _features(one), strict=True))
            count = len(one.features)
            made[name] = replace(one, features=features[:count], axis=features[count] if one.axis else None)
        return made, still

    def _carried(self, built: AsBuilt, feature: Feature, slopes: Floats) -> Feature | None:
        if feature.part in built.aligned:
            return None
        if not slopes.any():
            return feature
        if feature.part == GROUND or feature.at is None:
            return None
        return replace(feature, part=built.frames.of(feature.part, slopes, np.zeros(3), feature.at))


def _features(measure: Measure) -> tuple[Feature, ...]:
    return (*measure.features, *([measure.axis] if measure.axis else ()))


def _feature_places(name: str, reading: Reading) -> Floats:
    return np.array([one.at or (0.0, 0.0, 0.0) for one in _features(reading.measures[name])])
