"""What is known of a true surface beside the facets that stand for it."""

from __future__ import annotations

from dataclasses import dataclass

from assembly.model.quantities import Vector


@dataclass(frozen=True, slots=True)
class RoundAbout:
    """What a true surface is round about: the line through ``at`` mm along the unit ``along``; None: any through it."""

    at: Vector
    along: Vector | None


@dataclass(frozen=True, slots=True)
class Estimate:
    """A surface error in mm that was estimated from the facets of a mesh ``file``."""

    file: str
    error: float
