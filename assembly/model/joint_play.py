"""The play of a joint as a value."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class JointPlay:
    """How far a joint's second part goes against the first by hand, from where it is drawn.

    ``radial`` mm square to its line, of a ball or a universal joint in any direction; ``angle`` degrees that the parts
    turn against each other about any axis that the joint holds: both either way, half of what a gauge shows from end to
    end. ``axial`` mm along its line, lowest first. ``fit``: the fit that the play is that of, where it is from one.
    """

    radial: float = 0.0
    axial: tuple[float, float] = (0.0, 0.0)
    angle: float = 0.0
    fit: str = ""

    @property
    def is_none(self) -> bool:
        """Whether nothing moves."""
        return not (self.radial or self.angle or any(self.axial))
