"""Every failure Swingroom can raise, and the one shape in which a failure is reported.

SwingroomError
├── InputError            the builder's file, mesh or argument is wrong          (exit status 2)
│   └── ShapeError        a shape cannot be made from the numbers given          (exit status 2)
├── AssemblyError         the parts cannot be put together at a setting          (exit status 1)
├── CutShortError         a study ended before it had anything to show      (exit status 3)
│   └── TimeLimitError    the time was over before there was a result       (exit status 3)
├── OutputError           a result cannot be written where it was asked for      (exit status 2)
└── PictureError          nothing can draw here; numbers and exit status go on without it
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong: what failed and what was given, where, and what would be valid."""

    message: str
    place: str = ""
    """Table path in the mechanism file, such as ``parts.frame.shapes[2].diameter``."""
    file: str = ""
    line: int | None = None
    hint: str = ""

    def __str__(self) -> str:
        where = self.file
        if self.line is not None:
            where = f"{where}:{self.line}" if where else f"line {self.line}"
        head = ": ".join(piece for piece in (where, self.place) if piece)
        text = f"{head}: {self.message}" if head else self.message
        return f"{text}; {self.hint}" if self.hint else text


class SwingroomError(Exception):
    """Base of all errors that are reported to the user in one line each."""

    def __init__(self, *faults: Fault | str) -> None:
        self.faults = tuple(Fault(fault) if isinstance(fault, str) else fault for fault in faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type[SwingroomError], tuple[Fault, ...], dict[str, object]]:
        return type(self), self.faults, self.__dict__


class InputError(SwingroomError):
    """The mechanism file, a mesh file or an argument is wrong; holds every fault found, not the first only."""


class ShapeError(InputError):
    """A shape cannot be made from the numbers given."""


class AssemblyError(SwingroomError):
    """The parts cannot be put together; says which loop misses and by how many millimetres.

    ``gaps``: what each joint gapes by at rest, mm, where that is known.
    """

    def __init__(self, *faults: Fault | str, gaps: Mapping[str, float] | None = None) -> None:
        super().__init__(*faults)
        self.gaps = dict(gaps or {})


class CutShortError(SwingroomError):
    """A study ended before it had anything to show, such as a map whose worker process died."""


class TimeLimitError(CutShortError):
    """The time allowed was over before there was a result."""

    @classmethod
    def after(cls, seconds: float) -> TimeLimitError:
        """The error for a limit of ``seconds``."""
        return cls.because(f"the time limit of {seconds:g} s was reached")

    @classmethod
    def because(cls, told: str) -> TimeLimitError:
        """The error for what was ended early for the reason ``told``."""
        return cls(Fault(f"{told} before there was a result", hint="give a larger --time-limit, or none"), told=told)

    def __init__(self, *faults: Fault | str, told: str = "the time limit was reached") -> None:
        super().__init__(*faults)
        self.told = told
        """Why what is known is not all, in words."""


class OutputError(SwingroomError):
    """A result cannot be written where it was asked for; nothing half written is left behind."""


class PictureError(SwingroomError):
    """Nothing can draw on this machine, or drawing failed."""
