"""Machines that ``benchmark.py`` measures beside the one of the file: copies in a row, finer, with pedals, edited."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism
from assembly.model.cable import CableSystem
from assembly.model.machine import Drive, Joint, Machine, Part, Shape
from assembly.model.reader import machine_from_text
from assembly.model.wheel import NO_WHEELS

FINE = 0.0035
"""mm: the facet error at which three of the demos have a million triangles."""
GRID_STEP = 1.0
"""Degrees (or mm) between the poses that peers check."""
PEDALS = """
[parts.pedal_boom]
fixed = true
shapes = [{ name = "boom", rod = [[-620, 0, 215], [-620, 0, 272]], diameter = 30 }]
[parts.pedal_crank]
shapes = [
  { name = "axle", rod = [[-620, -104, 290], [-620, 104, 290]], diameter = 17, bearing_of = "pedal_axle" },
  { name = "arm one", rod = [[-620, 100, 290], [-620, 100, 140]], diameter = 18 },
  { name = "arm two", rod = [[-620, -100, 290], [-620, -100, 440]], diameter = 18 },
]
[parts.shoe_one]
shapes = [{ name = "shoe", box = [-640, 165, 140], size = [280, 90, 80] }]
[parts.shoe_two]
shapes = [{ name = "shoe", box = [-640, -165, 440], size = [280, 90, 80] }]
[joints.pedal_axle]
pin = ["frame", "pedal_crank"]
at = [-620, 0, 290]
along = [0, 1, 0]
[joints.pedal_one]
pin = ["pedal_crank", "shoe_one"]
at = [-620, 165, 140]
along = [0, 1, 0]
[joints.pedal_two]
pin = ["pedal_crank", "shoe_two"]
at = [-620, -165, 440]
along = [0, 1, 0]
[drives.pedal]
turns = { pedal_axle = 1, pedal_one = -1, pedal_two = -1 }
range = [0, 360]
"""
"""Cranks that turn all round behind the steering column of the demo, and shoes that stay level; own dimensions."""


def with_pedals(file: Path) -> Machine:
    """The machine of the demo's file with pedals and shoes as a third drive."""
    return machine_from_text(f"{file.read_text(encoding='utf-8')}\n{PEDALS}", file.parent)


def finer(file: Path, facet_error: float = FINE) -> Machine:
    """The machine of a file that states no facet error, with facets of this one."""
    text = file.read_text(encoding="utf-8")
    return machine_from_text(text.replace("format = 1\n", f"format = 1\nfacet_error = {facet_error}\n", 1), file.parent)


def edited(machine: Machine, name: str) -> Machine:
    """``machine`` with one part of which the true surface may lie a hair farther from the facets."""
    part = machine.parts[name]
    shapes = tuple(
        replace(shape, mesh=replace(shape.mesh, surface_error=shape.mesh.surface_error + 1e-5)) for shape in part.shapes
    )
    return replace(machine, parts={**machine.parts, name: replace(part, shapes=shapes)})


def grid_of(mechanism: Mechanism) -> Floats:
    """All settings (N, d) of a grid over the ranges of the drives."""
    steps = [
        np.linspace(drive.low, drive.high, round((drive.high - drive.low) / GRID_STEP) + 1)
        for drive in mechanism.machine.drives.values()
    ]
    return np.stack(np.meshgrid(*steps, indexing="ij"), axis=-1).reshape(-1, len(steps))


def row_of(machine: Machine, copies: int) -> Machine:
    """So many copies of ``machine`` side by side, all moved by the same drives."""
    corners = np.concatenate([part.mesh.bounds for part in machine.parts.values()])
    pitch = 1.5 * float(np.ptp(corners[:, 1]))
    parts: dict[str, Part] = {}
    joints: dict[str, Joint] = {}
    ratios: dict[str, dict[str, float]] = {name: {} for name in machine.drives}
    for copy in range(copies):
        shift = copy * pitch
        for name, part in machine.parts.items():
            shapes = tuple(_moved_shape(shape, copy, shift) for shape in part.shapes)
            parts[f"{name} {copy}"] = replace(part, name=f"{name} {copy}", shapes=shapes)
        for name, joint in machine.joints.items():
            joints[f"{name} {copy}"] = _moved_joint(joint, copy, shift)
        for name, drive in machine.drives.items():
            ratios[name] |= {f"{joint} {copy}": ratio for joint, ratio in drive.ratios.items()}
    drives: dict[str, Drive] = {name: replace(drive, ratios=ratios[name]) for name, drive in machine.drives.items()}
    clearance = replace(machine.clearance, parts={}, pairs={}, ignored={})
    bare = replace(
        machine, stops={}, loads={}, measures={}, rods={}, cables=CableSystem(), weights=None, running=NO_WHEELS
    )
    return replace(bare, parts=parts, joints=joints, drives=drives, clearance=clearance)


def _moved_shape(shape: Shape, copy: int, shift: float) -> Shape:
    place = np.eye(4)
    place[1, 3] = shift
    about = shape.round_about
    if about is not None:
        about = replace(about, at=_moved(about.at, shift))
    seats = tuple(f"{seat} {copy}" for seat in shape.seats)
    ball = None if shape.ball is None else _moved(shape.ball, shift)
    return replace(shape, mesh=shape.mesh.moved(place), seats=seats, round_about=about, ball=ball)


def _moved_joint(joint: Joint, copy: int, shift: float) -> Joint:
    names = {end: f"{getattr(joint, end)} {copy}" for end in ("name", "first", "second")}
    return replace(joint, **names, at_first=_moved(joint.at_first, shift), at_second=_moved(joint.at_second, shift))


def _moved(place: tuple[float, float, float], shift: float) -> tuple[float, float, float]:
    return place[0], place[1] + shift, place[2]
