"""The map as the page draws it: every cell's colour and figures as printed, and the usable range's border."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from assembly.record import MapCell, MapRecord, PairEntry, RangeRecord, Record, TravelStopEntry
from assembly.report.render.margin_scale import step_at
from assembly.report.text.words import below, figure, gap, setting

UNREACHED = "none"


def map_data(
    maps: Sequence[MapRecord], usable: RangeRecord | None, stops: Sequence[TravelStopEntry], worst: PairEntry | None
) -> dict[str, Any] | None:
    """All slices of the map; None if there is none."""
    if not maps:
        return None
    first = maps[0]
    names = list(first.drives)
    pairs: dict[str, int] = {}
    for record in maps:
        for cell in record.cells:
            pairs.setdefault(_names(cell), len(pairs))
    return {
        "free": [names.index(name) for name in first.counts],
        "counts": list(first.counts.values()),
        "required": first.required_mm,
        "pairs": list(pairs),
        "stops": [[names.index(stop.drive), stop.side] for stop in stops if stop.drive in first.counts],
        "worst": None if worst is None else [worst.at.get(name, 0.0) for name in names],
        "slices": [_slice(record, pairs) for record in maps],
        "range": None if usable is None or len(first.counts) != len(usable.looked) else _range(usable),
    }


def _slice(record: MapRecord, pairs: dict[str, int]) -> dict[str, Any]:
    names = list(record.drives)
    return {
        "held": [[names.index(name), value] for name, value in record.held.items()],
        "title": f"with {setting(record.held, record.drives)}" if record.held else "",
        "step": [step_of(cell) for cell in record.cells],
        "least": [_least(cell) for cell in record.cells],
        "proven": [None if cell.proven_mm is None else figure(below(cell.proven_mm)) for cell in record.cells],
        "owner": [pairs[_names(cell)] if cell.a else -1 for cell in record.cells],
        "height": [cell.least_mm for cell in record.cells] if len(record.counts) == 1 else [],
        "floor": [cell.proven_mm for cell in record.cells] if len(record.counts) == 1 else [],
    }


def _least(cell: MapCell) -> str:
    if cell.least_mm is None:
        return "cannot be reached"
    return f"{gap(cell.least_mm)} mm{'' if cell.least_mm else ' (they strike)'}"


def _names(cell: MapCell) -> str:
    return f"{cell.a} – {cell.b}" if cell.a else ""


def step_of(cell: MapCell) -> int | str:
    """The cell's step of the scale of colours."""
    if not cell.reached or cell.room_mm is None:
        return UNREACHED
    return step_at(cell.room_mm, cell.least_mm or 0.0)


def _range(usable: RangeRecord) -> dict[str, Any]:
    ended = {governor.number for governor in usable.governors if not governor.rules}
    return {
        "looked": [[drive.from_, drive.to] for drive in usable.looked.values()],
        "stretches": [
            {"governor": stretch.governor, "points": stretch.points, "ended": stretch.governor in ended}
            for stretch in usable.stretches
        ],
    }


def worst_pair(record: Record) -> PairEntry | None:
    """The pair whose place the map marks: the first, where it is known to be nearest."""
    first = record.pairs[0] if record.pairs else None
    return first if first and first.at and (first.closed_in or first.verdict == "fails") else None


def looks_beyond(maps: Sequence[MapRecord], usable: RangeRecord | None) -> bool:
    """Whether the map shows more than the range in the file."""
    if usable is None or not maps or len(maps[0].counts) != len(usable.looked):
        return False
    own = maps[0].drives
    return any((wide.from_, wide.to) != (own[name].from_, own[name].to) for name, wide in usable.looked.items())
