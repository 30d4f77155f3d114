"""What the readings of a file come to on its machine, as a function of the numbers that may differ there.

Each set of numbers is read, put together and solved anew at the settings of all readings at once, as one stack; nothing
but the solids is taken over. Derivatives are differences of such machines.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from assembly.errors import AssemblyError, InputError
from assembly.geometry.mesh import Floats
from assembly.kinematics.assembling import assemble
from assembly.kinematics.joint_motion import nearest_turn
from assembly.kinematics.measure_figures import measure_motion
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.solver import solve
from assembly.model.machine import Machine
from assembly.model.mirror import Mirror
from assembly.model.perturbed import Perturbations, Reading
from assembly.model.survey import Uncertain
from assembly.time_limit import check_time

STEP = 1e-3
"""mm, degrees or as the number is: figures are smooth over far more, and rounding is far less."""

MOST_KEPT = 64
"""Machines that are kept for the next question."""

Figures = Callable[[Mechanism], Floats]
"""Some figures (f,) of one machine."""


class ObservedMachine:
    """The machine of a file with other numbers at k places: ``numbers`` (k,) are in their own units.

    ``uncertain``: these places; those that the file marks if none are given. Raises InputError for a machine that no
    file describes.
    """

    def __init__(self, machine: Machine, uncertain: Sequence[Uncertain] | None = None) -> None:
        self.machine = machine
        self.uncertain = machine.survey.uncertain if uncertain is None else tuple(uncertain)
        self.observations = machine.survey.observations
        self.drawn = np.array([one.value for one in self.uncertain], dtype=np.float64)
        self.reach = np.array([one.may_differ for one in self.uncertain], dtype=np.float64)
        self.readings = np.array([one.reading for one in self.observations], dtype=np.float64)
        self.errors = np.array([one.plus_minus for one in self.observations], dtype=np.float64)
        self._settings = np.array(
            [[one.at.get(name, 0.0) for name in machine.drives] for one in self.observations], dtype=np.float64
        ).reshape(len(self.observations), len(machine.drives))
        self._perturbations = Perturbations(machine)
        self._made: dict[bytes, Mechanism] = {}
        self._as_drawn: Mechanism | None = None
        self._slopes: list[tuple[Floats, Floats]] = []

    @property
    def mirror(self) -> Mirror:
        """Which names are twins."""
        return self._perturbations.base.bench.mirror

    def made(self, numbers: Floats) -> Mechanism:
        """The machine with ``numbers`` (k,), put together. Raises AssemblyError or InputError where it cannot be."""
        key = numbers.tobytes()
        if key not in self._made:
            check_time()
            changed = {
                one.place: float(number)
                for one, number, drawn in zip(self.uncertain, numbers, self.drawn, strict=True)
                if number != drawn
            }
            kept = dict(list(self._made.items())[1 - MOST_KEPT :])
            self._made = {**kept, key: self._put_together(self._perturbations.reading(changed))}
        return self._made[key]

    def _put_together(self, read: Reading) -> Mechanism:
        base = self._perturbations.base
        same = all(getattr(read, what) == getattr(base, what) for what in ("joints", "drives", "observed"))
        if same and self._as_drawn is not None:
            return self._as_drawn
        joints = {**self.machine.joints, **read.joints}
        made = assemble(replace(self.machine, joints=joints, drives=read.drives, measures=read.observed))
        if same:
            self._as_drawn = made
        return made

    def values(self, numbers: Floats) -> Floats:
        """What every reading (o,) comes to; NaN of all where the machine cannot be put together so."""
        return self.figures(numbers, self._observed, len(self.observations))

    def figures(self, numbers: Floats, of: Figures, count: int) -> Floats:
        """``count`` figures ``of`` the machine with ``numbers``; NaN of all where it cannot be put together so."""
        try:
            return of(self.made(numbers))
        except (AssemblyError, InputError):
            return np.full(count, np.nan)

    def slopes(self, numbers: Floats, of: Figures | None = None, count: int = 0) -> Floats:
        """Derivatives (f, k) of figures, those of the readings if none are given; 0 where a machine does not go."""
        asked, rows = (of, count) if of is not None else (self._observed, len(self.observations))
        made = np.zeros((rows, len(numbers)))
        for column in range(len(numbers)):
            step = np.zeros(len(numbers))
            step[column] = STEP
            up, down = (self.figures(numbers + way * step, asked, rows) for way in (1.0, -1.0))
            made[:, column] = (up - down) / (2 * STEP)
        return np.nan_to_num(made, nan=0.0)

    def slopes_near(self, numbers: Floats, near: float) -> Floats:
        """Derivatives (o, k) of the readings, at ``numbers`` or where they are known at most ``near`` from there.

        ``near`` is a share of what the numbers may differ by.
        """
        off = [float(np.abs((at - numbers) / self.reach).max(initial=0.0)) for at, _ in self._slopes]
        if not off or min(off) > near:
            self._slopes.append((numbers.copy(), self.slopes(numbers)))
            return self._slopes[-1][1]
        return self._slopes[int(np.argmin(off))][1]

    def _observed(self, mechanism: Mechanism) -> Floats:
        """The readings (o,) of one machine, all settings solved as one stack."""
        if not self.observations:
            return np.zeros(0)
        solved = solve(mechanism, self._settings)
        found = np.full(len(self.observations), np.nan)
        for row, one in enumerate(self.observations):
            if solved.reached[row]:
                motion = measure_motion(mechanism.machine.measures[one.name], mechanism)
                value = motion.values(solved.posture.take(np.array([row])))
                if one.measure.is_turn:
                    value = nearest_turn(value, np.array([one.reading]))
                found[row] = value[0]
        return found
