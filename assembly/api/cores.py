"""How many processes this machine can run at once, and a progress that nobody watches."""

from __future__ import annotations

import os


def all_cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def no_progress(_stage: str, _done: int, _total: int) -> None:
    """Report nothing."""
