"""How long jobs report that they come along: to whoever looks on, or to nobody."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, int, int], None]
"""Called with the stage, how much of it is done and how much there is (0 of 0: not known)."""


def no_progress(_stage: str, _done: int, _total: int) -> None:
    """Report nothing."""
