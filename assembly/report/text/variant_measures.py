"""The columns that measures have in the table of variants."""

from __future__ import annotations

from assembly.record import VariantEntry, VariantsRecord
from assembly.report.text.words import figure, unit_sign

MEASURES_TOLD = 3
"""Measures that have a column; all are in the table for a spreadsheet."""
ENDING = {"fails": " FAILS", "undecided": " UNDECIDED"}


def measures_told(record: VariantsRecord) -> tuple[str, ...]:
    """The measures that have a column, those with limits first."""
    every = sorted(record.entries[0].measures, key=lambda one: one.verdict is None)
    return tuple(one.name for one in every[:MEASURES_TOLD])


def measure_told(entry: VariantEntry, name: str) -> str:
    """From where to where a measure goes in one variant."""
    one = next((each for each in entry.measures if each.name == name), None)
    if one is None:
        return ""
    ending = ENDING.get(one.verdict or "", "")
    if one.least is None or one.most is None:
        return f"not known{ending}"
    return f"{figure(one.least)} to {figure(one.most)}{unit_sign(one.unit)}{ending}"
