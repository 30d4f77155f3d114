"""What the signs in the table of variants mean, and why rows of it have no figures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assembly.record import VariantEntry, VariantsRecord

NAMES_TOLD = 8
LOSSES_TOLD, PAIRS_TOLD = 6, 3
STATES = {"not assembled": "CANNOT BE ASSEMBLED", "refused": "CANNOT BE MADE", "open": "NOT COMPUTED"}


def names_of(rows: Sequence[VariantEntry]) -> str:
    """Rows by their numbers, the first of many."""
    told = ["the file's own" if one.number == 0 else str(one.number) for one in rows[:NAMES_TOLD]]
    more = f" and {len(rows) - NAMES_TOLD} more" if len(rows) > NAMES_TOLD else ""
    return f"{', '.join(told)}{more}"


def remarks(record: VariantsRecord, rows: Sequence[VariantEntry]) -> Iterator[str]:
    """What the table's signs mean, and why rows have no figures."""
    if any(one.differs for one in rows):
        margin = (
            "; margin: proven beyond what is required" if any(one.kept_margin_mm is not None for one in rows) else ""
        )
        yield f"* not as in the file; change: of the least clearance, in mm{margin}"
    if any(one.first_joint for one in rows):
        yield "first joint: the one that reaches its limit first, and how far the range takes it; empty: as in the file"
    for one in (one for one in record.varied if one.step):
        where = (
            "at that joint; the washers themselves are not drawn" if one.kind == "joint" else "from what the file has"
        )
        yield f"{one.name}: in brackets how many {one.counted} {where}"
    reasons: dict[str, list[VariantEntry]] = {}
    for entry in rows:
        if entry.state != "swept":
            reasons.setdefault(f"{STATES[entry.state].lower()}: {entry.reason}", []).append(entry)
    yield from (f"{names_of(these)} {told}" for told, these in reasons.items())
    losses: dict[str, list[VariantEntry]] = {}
    for entry in rows:
        if entry.fails_now:
            pairs = "; ".join(" – ".join(pair) for pair in entry.fails_now[:PAIRS_TOLD])
            more = f" and {len(entry.fails_now) - PAIRS_TOLD} more" if len(entry.fails_now) > PAIRS_TOLD else ""
            losses.setdefault(f"clear in the file and not there: {pairs}{more}", []).append(entry)
    yield from (f"{names_of(these)}: {told}" for told, these in list(losses.items())[:LOSSES_TOLD])
