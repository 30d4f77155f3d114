"""Frames of parts: what of a part moves as one when dimensions vary, a part of its own on slides that they drive.

A joint's place in a part, a shape or a measure's point that lies elsewhere for other dimensions is carried by a frame
of the part. A frame keeps the part's direction and is shifted along it by ``slopes`` times the dimensions, and by up to
``rest`` in any way at all: a driven slide for each axis in which it moves. So the machine with its dimensions anywhere
within their tolerances is a machine with further drives, of which the very equations are solved and bounded.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.model.machine import Drive, DriveKind, Joint, JointKind, Part, Vector

AXES: tuple[Vector, ...] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
ALIKE_DIGITS = 9
"""PartFrames whose slopes agree to so many digits are one."""
DIMENSION = "dimension "
"""What the name of a dimension's drive begins with."""


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """A frame of ``part`` called ``name``, shifted along a ``axes`` by ``slopes`` (k, a) and ``rest`` (a,) mm more."""

    part: str
    name: str
    slopes: Floats
    rest: Floats
    at: Vector
    """mm: where its slides are drawn; near what it carries, so that levers are short."""
    axes: tuple[Vector, ...] = AXES

    @property
    def slides(self) -> Iterator[tuple[str, Vector, Floats, float]]:
        """Of each slide from the part to the frame its name, its direction, its slopes (k,) and its rest."""
        for axis, along in enumerate(self.axes):
            if self.slopes[:, axis].any() or self.rest[axis]:
                yield f"{self.name} slide {axis + 1}", along, self.slopes[:, axis], float(self.rest[axis])


@dataclass(frozen=True, slots=True, eq=False)
class Carrier:
    """A frame by ``name``, shifted by ``slopes`` (k, 3) and up to ``rest`` mm more."""

    name: str
    slopes: Floats
    rest: float


@dataclass(eq=False)
class PartFrames:
    """The frames of a machine, of each part as many as it needs; ``names`` of the k dimensions."""

    names: tuple[str, ...]
    _made: dict[tuple[str, bytes], Frame] = field(default_factory=dict)
    _count: int = 0

    def of(self, part: str, slopes: Floats, rest: Floats, at: Vector, axes: tuple[Vector, ...] = AXES) -> str:
        """The name of the frame of ``part`` that shifts along ``axes``; the part's own if it stays.

        One with a rest, or other axes, is nobody else's: nothing says that two shift alike.
        """
        if not slopes.any() and not rest.any():
            return part
        key = part, (np.round(slopes, ALIKE_DIGITS) + 0.0).tobytes()
        if rest.any() or axes is not AXES:
            key = part, f"alone {self._count}".encode()
        if key not in self._made:
            self._count += 1
            self._made[key] = Frame(part, f"{part} (frame {self._count})", slopes, rest, at, axes)
        return self._made[key].name

    @property
    def every(self) -> tuple[Frame, ...]:
        """All frames that were asked for."""
        return tuple(self._made.values())

    def carrying(self, part: str) -> list[Carrier]:
        """What carries shapes of ``part``: its frames, the part itself first."""
        own = [one for one in self.every if one.part == part]
        carriers = [Carrier(one.name, one.slopes @ np.array(one.axes), float(np.linalg.norm(one.rest))) for one in own]
        return [Carrier(part, np.zeros((len(self.names), 3)), 0.0), *carriers]

    def parts(self, drawn: Mapping[str, Part]) -> dict[str, Part]:
        """A part for each frame, with all shapes of its part as ``drawn``, and one between its slides, without any."""
        links = {name: Part(name, ()) for frame in self.every for name in _links(frame)[1:]}
        return {**links, **{one.name: Part(one.name, drawn[one.part].shapes) for one in self.every}}

    def joints(self) -> dict[str, Joint]:
        """The slides from each part to its frames."""
        made = {}
        for frame in self.every:
            links = _links(frame)
            for number, (name, along, _, _) in enumerate(frame.slides):
                ends = links[number], links[number + 1]
                made[name] = Joint(name, JointKind.SLIDE, *ends, frame.at, frame.at, along=along)
        return made

    def drives(self, ranges: Floats) -> dict[str, Drive]:
        """A drive for each dimension that shifts a frame, between its ``ranges`` (k, 2), and one for each rest."""
        made = {}
        for number, name in enumerate(self.names):
            ratios = {
                slide: float(slopes[number])
                for frame in self.every
                for slide, _, slopes, _ in frame.slides
                if slopes[number]
            }
            if ratios:
                low, high = ranges[number].tolist()
                made[DIMENSION + name] = Drive(DIMENSION + name, DriveKind.SLIDES, ratios, low, high)
        for frame in self.every:
            for slide, _, _, rest in frame.slides:
                if rest:
                    name = f"rest of {slide}"
                    made[name] = Drive(name, DriveKind.SLIDES, {slide: 1.0}, -rest, rest)
        return made


def _links(frame: Frame) -> list[str]:
    """The part, then what lies between the slides, and the frame itself."""
    count = len(list(frame.slides))
    return [frame.part, *(f"{frame.name} link {number}" for number in range(1, count)), frame.name]
