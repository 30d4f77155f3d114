"""One number of the file a step up and a step down: what is read, and the equations of the machine as they are then."""

from __future__ import annotations

from dataclasses import dataclass

from assembly.errors import InputError
from assembly.geometry.mesh import Mesh
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.perturbed import perturbed
from assembly.model.machine import Shape
from assembly.model.parameters import Parameter
from assembly.model.perturbed import Perturbations, Reading

STEP = 1e-3
"""mm, degrees or as the number is: what is read is smooth over far more, and rounding is far less."""


@dataclass(frozen=True, slots=True, eq=False)
class Stepped:
    """The file with one number changed by ``step``: ``mechanism`` has the joints and drives that it then has."""

    perturbations: Perturbations
    parameter: Parameter
    step: float
    reading: Reading
    before: Mechanism
    mechanism: Mechanism
    rules_differ: bool
    """Whether another clearance is required of some pair."""

    def mesh(self, part: str, shape: Shape) -> Mesh | None:
        """The solid ``shape`` of ``part`` as it is drawn then; None where that is as it was."""
        return self.perturbations.mesh(self.reading, (self.parameter.place, self.step), part, shape)


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """One number, a step ``up`` and a step ``down``; ``refused``: why the file cannot be read so."""

    parameter: Parameter
    up: Stepped | None = None
    down: Stepped | None = None
    refused: str = ""


def change_of(mechanism: Mechanism, perturbations: Perturbations, parameter: Parameter) -> Change:
    """What changes with ``parameter``; ``mechanism`` is that of the file as it is."""
    made = []
    for step in (STEP, -STEP):
        try:
            reading = perturbations.reading({parameter.place: parameter.value + step})
        except InputError as error:
            return Change(parameter, refused=error.faults[0].message)
        drives = {name: reading.drives[name] for name in mechanism.machine.drives if name in reading.drives}
        then = perturbed(mechanism, reading.joints, drives)
        differ = reading.clearance != perturbations.base.clearance
        made.append(Stepped(perturbations, parameter, step, reading, mechanism, then, differ))
    return Change(parameter, made[0], made[1])
