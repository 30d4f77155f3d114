"""Stops as parts of the machine: the solid of a pad or bolt of given height, and a machine with stops built in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from assembly.geometry.mesh import Mesh
from assembly.geometry.shapes import rod
from assembly.model.machine import Joint, JointKind, Machine, Part, Shape
from assembly.model.travel_stop import Pad, TravelStop

STOP_FACET_ERROR = 0.01
"""mm"""


def stop_solid(stop: TravelStop, low: float, high: float) -> Mesh:
    """The stop's pad or bolt from ``low`` to ``high`` mm above its foot, as drawn at rest."""
    foot, along = np.array(stop.at), np.array(stop.along)
    points = [foot + low * along, foot + high * along]
    if isinstance(stop.form, Pad) and stop.form.square:
        return rod(points, square=stop.form.across, facet_error=STOP_FACET_ERROR)
    across = stop.form.across if isinstance(stop.form, Pad) else stop.form.diameter
    return rod(points, diameter=across, facet_error=STOP_FACET_ERROR)


def stop_to_make(stop: TravelStop, height: float) -> Mesh:
    """The stop's pad or bolt by itself, standing on its foot at the origin, along z."""
    return stop_solid(replace(stop, at=(0.0, 0.0, 0.0), along=(0.0, 0.0, 1.0)), 0.0, height)


def with_stops(machine: Machine, heights: Mapping[str, float]) -> Machine:
    """``machine`` with those of its stops built in that ``heights`` (mm by name) gives, each a part of its own."""
    parts, joints, stops = dict(machine.parts), dict(machine.joints), dict(machine.stops)
    for name, height in heights.items():
        stop = stops[name] = replace(stops[name], height=height)
        shape = "pad" if isinstance(stop.form, Pad) else "bolt"
        parts[name] = Part(name, (Shape(shape, stop_solid(stop, 0.0, height)),))
        origin = (0.0, 0.0, 0.0)
        weld = f"{name} on {stop.carrier}"
        joints[weld] = Joint(weld, JointKind.WELDED, stop.carrier, name, origin, origin)
    return replace(machine, parts=parts, joints=joints, stops=stops)


def without_stops(machine: Machine) -> Machine:
    """``machine`` with none of its stops built in; what is known of their heights stays."""
    parts = {name: part for name, part in machine.parts.items() if name not in machine.stops}
    joints = {
        name: joint
        for name, joint in machine.joints.items()
        if joint.first not in machine.stops and joint.second not in machine.stops
    }
    return replace(machine, parts=parts, joints=joints)
