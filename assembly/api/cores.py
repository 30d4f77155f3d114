"""How many processes this machine can run at once."""

from __future__ import annotations

import os


def all_cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
