"""What rods are turned by: measures of the file with all drives at 0, and the toe of wheels where it is set."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

import numpy as np

from assembly.kinematics.measure_figures import measure_motion
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.solver import solve
from assembly.kinematics.wheel_figures import named_figure, wheel_figure_names, wheel_motion
from assembly.model.machine import Machine
from assembly.model.wheel import WheelWord

TOE_WORDS = (WheelWord.TOTAL_TOE_MM, WheelWord.TOTAL_TOE, WheelWord.TOE_MM, WheelWord.TOE)
"""What is told of the toe of a pair and of its wheels."""


@dataclass(frozen=True, slots=True)
class RodFigure:
    """A number of the machine by its ``name``, in ``unit`` ("deg" or "mm").

    ``of_wheel``: a figure of wheels, told at the drives' settings ``at`` (d,), where toe is set; else a measure, with
    all drives at 0. ``where``: that setting in words, empty for all drives at 0.
    """

    name: str
    unit: str
    of_wheel: bool = False
    at: tuple[float, ...] = ()
    where: str = ""

    def value_in(self, made: Mechanism) -> float | None:
        """Its value in a machine that is put together; None where it has none, or that setting is not reached."""
        if not self.of_wheel:
            measure = made.machine.measures[self.name]
            return _finite(float(measure_motion(measure, made).values(made.home)[0]))
        figure = named_figure(made, self.name)
        posture = made.home
        if any(self.at):
            solved = solve(made, np.array([self.at]))
            posture = solved.posture
            if not solved.reached[0]:
                return None
        return None if figure is None else _finite(float(wheel_motion(made, figure).values(posture)[0]))


def rod_figures(machine: Machine) -> tuple[RodFigure, ...]:
    """The toe of every pair and wheel, and every measure."""
    measures = [RodFigure(one.name, one.unit) for one in machine.measures.values()]
    set_at = machine.running.road.toe_set_at
    at = tuple(float(set_at.get(name, 0.0)) for name in machine.drives)
    where = ", ".join(f"{name} {value:zg}" for name, value in zip(machine.drives, at, strict=True) if value)
    wheels = wheel_figure_names(machine.running, TOE_WORDS)
    return (*(RodFigure(name, word.unit, True, at, where) for name, word in wheels), *measures)


def total_toe(machine: Machine) -> tuple[RodFigure, ...]:
    """Total toe of every pair in mm, across the rim."""
    names = {name for name, _ in wheel_figure_names(machine.running, (WheelWord.TOTAL_TOE_MM,))}
    return tuple(one for one in rod_figures(machine) if one.of_wheel and one.name in names)


def _finite(value: float) -> float | None:
    return value if isfinite(value) else None
