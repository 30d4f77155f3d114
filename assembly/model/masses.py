"""Masses of a machine as drawn: every part's, what it carries, and the height that a stop's load needs."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, replace

import numpy as np

from assembly.errors import Fault, InputError, ShapeError
from assembly.geometry.mass_properties import volume_and_centre
from assembly.geometry.mesh import Floats, Mesh
from assembly.model.machine import Machine
from assembly.model.mirror import flipped
from assembly.model.quantities import Vector
from assembly.model.travel_stop import StopLoad
from assembly.model.weights import PartWeight, Weights
from assembly.record import WeightEntry
from assembly.time_limit import check_time

DM3 = 1e6
"""mm³ in a dm³."""


@dataclass(frozen=True, slots=True)
class PointMass:
    """A mass in kg at the place ``at`` (mm, as drawn) of ``part``; ``name`` of what is carried, else empty.

    ``volume`` in mm³ where that was needed. ``why``: why its mass is not known, which then is 0.
    """

    part: str
    mass: float
    at: Vector
    name: str = ""
    volume: float | None = None
    told: PartWeight | None = None
    why: str = ""


VolumeOf = Callable[[Mesh], tuple[float, Floats]]
"""What gives the volume in mm³ of what facets enclose, and its centre (3,)."""


def masses_of(machine: Machine, volume_of: VolumeOf = volume_and_centre) -> tuple[PointMass, ...]:
    """Every part and all that is carried; a twin of which the solid is its original's is not measured again."""
    weights = machine.weights
    if weights is None:
        hint = (
            'write [weights] into it, with `material = "steel"` for all parts, and what [weights.parts] say otherwise'
        )
        raise InputError(Fault("the file says nothing of weights", file=machine.file, hint=hint))
    known: dict[str, tuple[float, Vector]] = {}
    parts = tuple(_of_part(machine, weights, name, known, volume_of) for name in machine.parts)
    return parts + tuple(PointMass(one.part, one.mass, one.at, one.name) for one in weights.carried)


def _of_part(
    machine: Machine, weights: Weights, name: str, known: dict[str, tuple[float, Vector]], volume_of: VolumeOf
) -> PointMass:
    told = weights.of(name)
    middle = _vector(machine.parts[name].mesh.bounds.mean(axis=0)) if machine.parts[name].shapes else (0.0, 0.0, 0.0)
    if told is None:
        return PointMass(name, 0.0, middle, why="the file says neither its material nor its mass")
    if told.mass is not None and told.at is not None:
        return PointMass(name, told.mass, told.at, told=told)
    try:
        volume, centre = _measured(machine, name, known, volume_of)
    except ShapeError as error:
        return PointMass(name, told.mass or 0.0, told.at or middle, told=told, why=error.faults[0].message)
    mass = told.mass if told.mass is not None else (told.density or 0.0) * volume / DM3
    return PointMass(name, mass, told.at or centre, volume=volume, told=told)


def _measured(
    machine: Machine, name: str, known: dict[str, tuple[float, Vector]], volume_of: VolumeOf
) -> tuple[float, Vector]:
    original = machine.twin_of.get(name, "")
    if original in known and _mirrored(machine, name, original):
        volume, centre = known[original]
        return volume, flipped(centre)
    check_time()
    size, middle = volume_of(machine.parts[name].mesh)
    known[name] = size, _vector(middle)
    return known[name]


def _mirrored(machine: Machine, name: str, original: str) -> bool:
    own, other = (machine.parts[one].mesh for one in (name, original))
    return own.vertices.shape == other.vertices.shape and bool(
        np.array_equal(own.vertices, other.vertices * (1.0, -1.0, 1.0))
    )


def centre_of(masses: tuple[PointMass, ...]) -> tuple[float, Vector]:
    """The mass of all in kg and its centre in mm, as drawn. InputError if there is none."""
    whole = sum(one.mass for one in masses)
    if whole <= 0:
        raise InputError(Fault("nothing has a mass", hint="give parts a `material`, a `density` or a `mass`"))
    moment = sum((one.mass * np.asarray(one.at) for one in masses), np.zeros(3))
    return whole, _vector(moment / whole)


def weight_entry(machine: Machine, volume_of: VolumeOf = volume_and_centre) -> WeightEntry | None:
    """What the record of a sweep holds of weights; None where the file says nothing, or of nothing."""
    masses = masses_of(machine, volume_of) if machine.weights else ()
    if not any(one.mass for one in masses):
        return None
    whole, centre = centre_of(masses)
    parts = {one.name or one.part: one.mass for one in masses if one.mass}
    return WeightEntry(whole, centre, parts, tuple(one.part for one in masses if not one.mass))


def height_above(line: tuple[Vector, Vector], at: Vector) -> float:
    """How far ``at`` is, mm, from the line through a point along a unit vector."""
    start, along = (np.asarray(each) for each in line)
    gone = np.asarray(at) - start
    return float(np.linalg.norm(gone - (gone @ along) * along))


def with_load_heights(machine: Machine) -> Machine:
    """``machine`` with the heights that loads of its stops leave out: that of all masses above the line of the lean.

    Raises InputError where nothing says it.
    """
    lacking = {name: stop for name, stop in machine.stops.items() if stop.load and _lacks_height(stop.load)}
    if not lacking:
        return machine
    faults = list(_unknown(machine, lacking))
    if faults:
        raise InputError(*faults)
    lean = machine.weights.lean if machine.weights else None
    height = height_above((lean.at, lean.along), centre_of(masses_of(machine))[1]) if lean else None
    known = {
        name: replace(stop, load=stop.load and replace(stop.load, height=height)) for name, stop in lacking.items()
    }
    return replace(machine, stops={**machine.stops, **known})


def _lacks_height(load: StopLoad) -> bool:
    return load.mass is not None and load.height is None


def _unknown(machine: Machine, lacking: Collection[str]) -> Iterator[Fault]:
    lean = machine.weights.lean if machine.weights else None
    for name in lacking:
        if lean is None or lean.drive != machine.stops[name].drive:
            place = f"stops.{name}.load"
            told = "`mass` needs a `height`"
            hint = "mm of its centre above the line it leans about; or [weights] with a `lean` of that drive"
            yield Fault(told, place, machine.file, machine.written.get(f"stops.{name}", (None, ""))[0], hint)


def _vector(values: Floats) -> Vector:
    x, y, z = (float(value) for value in values)
    return x, y, z
