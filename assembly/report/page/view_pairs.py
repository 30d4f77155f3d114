"""The pairs of a record as the view shows them: where to go, what to draw, and the figure to write, as printed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from assembly.record import DistanceGrid, OverlapSolid, PairEntry, Record
from assembly.report.page.numbers import Numbers
from assembly.report.text.words import gap, pair_setting, part


def pairs_data(record: Record, solids: Sequence[OverlapSolid]) -> list[dict[str, Any]]:
    """One entry per pair, in the record's order; ``solids``: the overlaps that the view can draw."""
    overlaps = {(one.a, one.b): index for index, one in enumerate(solids)}
    return [_pair(pair, record, overlaps.get((pair.a, pair.b), -1)) for pair in record.pairs]


def _pair(pair: PairEntry, record: Record, overlap: int) -> dict[str, Any]:
    points = [pair.point_a, pair.point_b] if pair.point_a and pair.point_b else None
    across = [b - a for a, b in zip(*points, strict=True)] if points else [0.0, 0.0, 0.0]
    return {
        "a": pair.a,
        "b": pair.b,
        "at": [pair.at.get(name, 0.0) for name in record.drives],
        "points": points,
        "axis": list(pair.overlap.direction) if pair.overlap else across,
        "overlap": overlap,
        "label": label(pair),
        "names": f"{part(pair.a, pair.shape_a)} – {part(pair.b, pair.shape_b)}",
        "constant": pair.constant,
        "where": pair_setting(pair, record.drives),
    }


UNREACHED, STRUCK = 2**32 - 1, 2**32 - 2
"""In the place of a distance: the machine cannot be put together there, or the two strike."""


def distances_data(record: Record, grid: DistanceGrid | None, numbers: Numbers) -> dict[str, Any] | None:
    """Distances of pairs, by their numbers in the record, in hundredths of a millimetre; rounded as ``gap`` does."""
    if grid is None or not grid.pairs:
        return None
    rows = {(pair.a, pair.b): number for number, pair in enumerate(record.pairs)}
    hundredths = np.floor(100 * (np.nan_to_num(grid.distances) + 1e-6))
    coded = np.where(grid.distances <= 0, STRUCK, np.where(np.isnan(grid.distances), UNREACHED, hundredths))
    return {
        "axes": [axis.tolist() for axis in grid.axes.values()],
        "pairs": [rows[names] for names in grid.pairs],
        "values": numbers.add("u32", coded),
    }


def label(pair: PairEntry) -> str:
    """The figure beside a pair's gap or overlap."""
    if pair.overlap is not None:
        return f"{gap(pair.overlap.depth_mm)} mm deep here"
    if pair.least_mm is None:
        return "not looked at"
    return f"{gap(pair.least_mm)} mm{'' if pair.closed_in else ' here'}"
