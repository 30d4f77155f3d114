"""What every number of postures tells of itself: a joint's motion, a measure."""

from __future__ import annotations

from typing import Protocol


class ScalarQuantity(Protocol):
    """One number of the postures of some ``bodies``, in ``unit``; ``turning``: whole turns of it are distinguished."""

    @property
    def name(self) -> str:
        """What it is called."""

    @property
    def unit(self) -> str:
        """``deg`` or ``mm``."""

    @property
    def turning(self) -> bool:
        """Whether values are known up to whole turns only."""

    @property
    def bodies(self) -> tuple[int, ...]:
        """The bodies that it depends on."""
