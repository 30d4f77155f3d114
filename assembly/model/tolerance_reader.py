"""The tolerance that a dimension states, or has from the class that the file names for those that state none."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import isnan

from assembly.model.fault_list import FaultLog, shown
from assembly.model.file_tables import TolerancesTable
from assembly.model.general_tolerances import CLASSES, LEAST, UP_TO, general_tolerance
from assembly.model.positions import Place
from assembly.model.quantities_read import FileNumbers
from assembly.model.schema import checked_table
from assembly.record import DimensionEntry

Stated = float | str | list[float | str]
"""As the file has it: a number, or two limits."""
_SECTION = "tolerances"
_DIMENSIONS = "dimensions"
LONG = "f, m, c or v: fine, medium, coarse, very coarse"


def read_general(raw: Mapping[str, object], log: FaultLog) -> str:
    """The class of general tolerances that the file names; empty where it names none, or one that is not known."""
    if not raw:
        return ""
    table = checked_table(TolerancesTable, raw, (_SECTION,), log)
    if table is None:
        return ""
    if table.general not in CLASSES:
        message = f"{shown(table.general)} is no class of general tolerances"
        log.add((_SECTION, "general"), message, f"ISO 2768-1 has the classes {LONG}")
        return ""
    return table.general


def toleranced(
    name: str, entry: DimensionEntry, stated: Stated | None, general: str, figures: FileNumbers
) -> DimensionEntry:
    """``entry`` with the tolerance that the file states; else, of a plain number, that of the ``general`` class.

    What is worked out from other dimensions varies with them and has no general tolerance of its own.
    """
    place: Place = (_DIMENSIONS, name, "plus_minus")
    if isinstance(stated, list):
        low, high = _limits(stated, place, figures)
        return replace(entry, plus_minus=(high - low) / 2, middle=(low + high) / 2)
    if stated is not None:
        return replace(entry, plus_minus=figures.amount(stated, place))
    if not general or entry.text:
        return entry
    allowed = general_tolerance(entry.value, general)
    if allowed is None:
        message = f"class {general} has no tolerance for {entry.value:g} mm"
        hint = f"it goes from {LEAST:g} to {UP_TO[-1]:g} mm; give the dimension its own, 0 for a number that is exact"
        figures.log.add((_DIMENSIONS, name), message, hint)
        return entry
    return replace(entry, plus_minus=allowed, general=general)


def _limits(stated: Sequence[float | str], place: Place, figures: FileNumbers) -> tuple[float, float]:
    """The lower and the upper limit; no tolerance where they are faulty."""
    low, high = (figures.coordinate(one, (*place, k)) for k, one in enumerate(stated))
    if isnan(low) or isnan(high):
        return 0.0, 0.0
    if low > high:
        hint = f"write the lower limit first: [{high:g}, {low:g}]"
        figures.log.add(place, f"the lower limit {low:g} lies above the upper one {high:g}", hint)
        return 0.0, 0.0
    return low, high


def check_tolerances(dimensions: Mapping[str, DimensionEntry | None], log: FaultLog) -> None:
    """Note tolerances that are larger than their dimension; 0 may be off by anything."""
    for name, entry in dimensions.items():
        if entry is None or entry.value == 0 or isnan(entry.plus_minus):
            continue
        off = max(map(abs, entry.limits))
        if off > abs(entry.value):
            place: Place = (_DIMENSIONS, name) if entry.general else (_DIMENSIONS, name, "plus_minus")
            message = f"the tolerance {off:g} is larger than the dimension {entry.value:g}"
            log.add(place, message, "a tolerance is in mm, or in the unit of the dimension")
