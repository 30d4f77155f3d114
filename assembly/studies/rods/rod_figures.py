"""What rods are turned by: measures of the file with all drives at 0, and the toe of wheels where it is set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

import numpy as np

from assembly.kinematics.measure_figures import measure_motion
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve
from assembly.kinematics.wheel_figures import wheel_figure_names, wheel_figures, wheel_motion
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
        return values_in((self,), made)[0]


def values_in(figures: Sequence[RodFigure], made: Mechanism) -> list[float | None]:
    """The value of each of ``figures`` in a machine that is put together, as ``RodFigure.value_in``."""
    wheels = {one.name: wheel_motion(made, one) for one in wheel_figures(made)}
    postures: dict[tuple[float, ...], Posture | None] = {}

    def value(one: RodFigure) -> float | None:
        if not one.of_wheel:
            return _finite(float(measure_motion(made.machine.measures[one.name], made).values(made.home)[0]))
        if one.at not in postures:
            postures[one.at] = _posture_at(made, one.at)
        posture, figure = postures[one.at], wheels.get(one.name)
        return None if posture is None or figure is None else _finite(float(figure.values(posture)[0]))

    return [value(one) for one in figures]


def _posture_at(made: Mechanism, at: tuple[float, ...]) -> Posture | None:
    """Where the machine stands with its drives ``at``; None where it does not get there."""
    if not any(at):
        return made.home
    solved = solve(made, np.array([at]))
    return solved.posture if solved.reached[0] else None


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
