"""Trying a change of the drawing: the pairs of one part swept as they would be, before anything is said of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort, PairResult
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.sweep import sweep_pairs
from assembly.geometry.mesh import Floats, Mesh
from assembly.model.machine import Joint, Machine, Part, Shape
from assembly.time_limit import check_time

TRIAL = Effort(decide_only=True, strikes_shown=False)
"""What decides a trial; one core, since it asks little."""
CLOSED_IN = Effort(strikes_shown=False)


def tried(
    groups: CellGroups, machine: Machine, about: Callable[[str, str], bool], effort: Effort = TRIAL
) -> Sequence[PairResult]:
    """The pairs of ``machine`` that are ``about`` what was changed, swept over the whole range in the cells ``groups``.

    ``machine`` differs from theirs in shapes and seats only, which move nothing: what is proven of the motion holds.
    """
    mechanism = groups.mechanism
    pairs = gather_pairs(machine, mechanism.bodies)
    chosen = pairs.only(pair for pair in pairs.checked if about(pair.a, pair.b))
    swept = sweep_pairs(replace(mechanism, machine=machine), chosen, effort, lambda *_: None, groups=groups)
    check_time()  # what a sweep that was cut short says is no ground for advice
    return swept.pairs


def with_moved(machine: Machine, part: str, shape: str, shift: Floats) -> Machine:
    """``machine`` with one shape of a part drawn elsewhere."""
    return _with_shapes(machine, part, lambda one: _moved(one, shift) if one.name == shape else one)


def with_seat(machine: Machine, joint: Joint, radius: float) -> Machine:
    """``machine`` with a seat of ``radius`` mm round a joint."""
    return replace(machine, joints={**machine.joints, joint.name: replace(joint, seat=radius)})


def with_bearing(machine: Machine, joint: Joint, shapes: Mapping[str, Sequence[str]]) -> Machine:
    """``machine`` with the ``shapes`` of each part named as the bearing of a joint."""
    for part in shapes:
        machine = _with_bearing(machine, joint.name, part, shapes[part])
    return machine


def _with_bearing(machine: Machine, joint: str, part: str, names: Sequence[str]) -> Machine:
    return _with_shapes(machine, part, lambda one: _seated(one, joint) if one.name in names else one)


def _with_shapes(machine: Machine, part: str, change: Callable[[Shape], Shape]) -> Machine:
    own: Part = machine.parts[part]
    return replace(machine, parts={**machine.parts, part: replace(own, shapes=tuple(map(change, own.shapes)))})


def _moved(shape: Shape, shift: Floats) -> Shape:
    mesh = Mesh(shape.mesh.vertices + shift, shape.mesh.faces, shape.mesh.surface_error)
    return replace(shape, mesh=mesh, round_about=None)


def _seated(shape: Shape, joint: str) -> Shape:
    return replace(shape, seats=(*shape.seats, joint))
