"""What a run cost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class WorkEntry:
    """What the run cost, and the effort that was asked for; ``query_seconds`` are summed over all processes."""

    poses: int
    distance_queries: int
    query_seconds: float
    cells: int
    seconds: Mapping[str, float]
    cores: int
    triangles: int
    bracket_mm: float
    bracket_share: float
    budget_s: float | None
    stopped: str
    joint_settings: int
    interest_mm: float = 10.0
    """Pairs that come within their required clearance plus this are closed in on."""
    recalled: int = 0
    """Pairs whose result was known from earlier runs, and depends on nothing that has changed."""
