"""Every figure of a machine's wheels as a scalar figure, bracketed as measures are, and the limits of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembly.kinematics.figures import FigureMotion
from assembly.kinematics.frames import Frames
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.stance import Stance, WheelLayout, layout_of
from assembly.kinematics.taylor import Taylor
from assembly.kinematics.wheel_rules import RULES
from assembly.model.wheel import OF_PAIR, OF_PAIR_AND_REAR, FigureLimit, Wheels, WheelWord, figures_of_wheels

DEGREES = 180.0 / np.pi


@dataclass(frozen=True, slots=True, eq=False)
class WheelFigure:
    """One figure of a machine's wheels; ``of_wheels``: the wheels by name, of a pair left, right and then the rear."""

    word: WheelWord
    of_wheels: tuple[str, ...]
    layout: WheelLayout

    @property
    def name(self) -> str:
        """What it is called."""
        return _called(self.word, self.of_wheels)

    @property
    def unit(self) -> str:
        """``deg`` or ``mm``."""
        return self.word.unit

    @property
    def turning(self) -> bool:
        """Whether whole turns are to be distinguished: wheels are looked at within half a turn."""
        return False

    @property
    def bodies(self) -> tuple[int, ...]:
        """The bodies that it depends on, each once."""
        mounted = (self.layout.wheels[name] for name in self.of_wheels)
        own = (body for one in mounted for body in (one.body, one.kingpin))
        return tuple(dict.fromkeys((*self.layout.bodies, *own)))

    @property
    def ends(self) -> tuple[float, float]:
        """Nothing: where a machine does not stand on a road an angle is not even known to be one."""
        return -np.inf, np.inf

    def among(self, bodies: Sequence[int]) -> WheelFigure:
        """The same over these ``bodies`` only, in this order."""
        return replace(self, layout=self.layout.among(bodies))

    def of(self, frames: Frames) -> Taylor:
        """The figure (N,) in its unit; NaN and unbounded where it has no value."""
        return self.on(Stance(self.layout, frames))

    def on(self, stance: Stance) -> Taylor:
        """The same of a machine on its road."""
        found = RULES[self.word](stance, self.of_wheels)
        return found.times(DEGREES) if self.unit == "deg" else found


def wheel_figures(mechanism: Mechanism) -> tuple[WheelFigure, ...]:
    """Every figure of a machine's wheels."""
    layout = layout_of(mechanism.machine.running, mechanism.bodies)
    return tuple(WheelFigure(word, of, layout) for word, of in figures_of_wheels(mechanism.machine.running))


def wheel_figure_names(wheels: Wheels, words: Sequence[WheelWord]) -> tuple[tuple[str, WheelWord], ...]:
    """The names of all figures of ``words``, those of pairs first."""
    return tuple((_called(word, of), word) for word, of in figures_of_wheels(wheels) if word in words)


def _called(word: WheelWord, of_wheels: tuple[str, ...]) -> str:
    pair = word in (*OF_PAIR, *OF_PAIR_AND_REAR)
    of = " and ".join(of_wheels[:2]) if pair else "".join(of_wheels[:1])
    return f"{of} {word.replace('_', ' ')}".strip()


def limited_figures(mechanism: Mechanism) -> Iterator[tuple[WheelFigure, FigureLimit]]:
    """Every limit with its figure; those of ``[road]`` hold for the machine and for every pair."""
    running = mechanism.machine.running
    for one in wheel_figures(mechanism):
        yield from ((one, limit) for limit in limits_for(running, one.of_wheels) if limit.figure is one.word)


def limits_for(wheels: Wheels, of_wheels: Sequence[str]) -> tuple[FigureLimit, ...]:
    """The limits by which figures of some wheels are judged: a wheel's own, or those of the road."""
    return wheels.wheels[of_wheels[0]].limits if len(of_wheels) == 1 else wheels.road.limits


def limit_name(figure: str, limit: FigureLimit) -> str:
    """What the measure of a figure that is held to ``limit`` is called."""
    if limit.at is None:
        return figure
    where = ", ".join(f"{name} {number:zg}" for name, number in limit.at.items()) or "0"
    return f"{figure} at {where}"


def names_to_ask(wheels: Wheels) -> Iterator[str]:
    """Every figure, and every limit of one at a single setting, as they can be asked about."""
    for word, of in figures_of_wheels(wheels):
        name = _called(word, of)
        yield name
        yield from (
            limit_name(name, limit) for limit in limits_for(wheels, of) if limit.figure is word and limit.at is not None
        )


def wheel_motion(mechanism: Mechanism, one: WheelFigure) -> FigureMotion:
    """A figure as a motion that can be searched over the range."""
    return FigureMotion(one, mechanism.bodies.centres)
