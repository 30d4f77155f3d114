"""Entries of the record about one pair: how deep, where first, where in the range, and the sum behind its bound."""

from __future__ import annotations

from dataclasses import dataclass

from assembly.record.values import Point, Settings


@dataclass(frozen=True, slots=True)
class OverlapEntry:
    """Two parts claim one place: moving b's shape by ``depth_mm`` along ``direction`` frees it from a's there.

    The pair's shapes are those that stand deepest in each other. ``inside`` is "a" or "b" where that one's shape lies
    wholly inside the other's. ``at_most_mm``: proven nowhere deeper; null where the depth is only the greatest found.
    """

    at: Settings
    depth_mm: float
    direction: Point
    volume_mm3: float
    where: Point
    inside: str = ""
    at_most_mm: float | None = None


@dataclass(frozen=True, slots=True)
class TermsEntry:
    """The sum behind ``proven_mm`` in the cell ``at`` ± ``half`` that governs it: distance less the others.

    ``method``: what the distance is, and where; ``travel``: how far the two can have moved from there.
    """

    at: Settings
    half: Settings
    distance: float
    travel: float
    residual: float
    surface_error: float
    query_tolerance: float
    rounding: float = 0.0
    method: str = ""


@dataclass(frozen=True, slots=True)
class RegionCell:
    """A box of settings."""

    at: Settings
    half: Settings


@dataclass(frozen=True, slots=True)
class RegionEntry:
    """Where the pair is nearer than it must be: cells, and their share of the range."""

    share: float
    cells: tuple[RegionCell, ...]


@dataclass(frozen=True, slots=True)
class Contact:
    """Along one drive (``direction`` 1 or -1), the others held: the first setting nearer than required."""

    drive: str
    direction: int
    at: Settings


@dataclass(frozen=True, slots=True)
class EstimateEntry:
    """A mesh file of a part whose surface error, mm, was estimated from its facets and not stated."""

    part: str
    file: str
    surface_error_mm: float
