"""What the record of a sweep tells besides of the other numbers that move with the same points.

Those of wheels, cables, and rods that are screwed together.
"""

from __future__ import annotations

from dataclasses import replace

from assembly.errors import TimeLimitError
from assembly.kinematics.mechanism import Mechanism
from assembly.record import FindingEntry, Record
from assembly.studies.cabling import cables_entry
from assembly.studies.rods.rods_study import rods_turned
from assembly.studies.wheels.wheels_study import WheelWish, wheel_tables


def with_figures(record: Record, mechanism: Mechanism) -> Record:
    """The record of a sweep of ``mechanism`` with tables of its wheels, lengths of its cables, and turns of its rods.

    What there was no time for is told as a finding.
    """
    for name, add in (("wheels", _with_wheels), ("cables", _with_cables), ("rods", _with_rods)):
        try:
            record = add(record, mechanism)
        except TimeLimitError:
            told = f"there was no time left for what a sweep tells of {name}: `swingroom {name}` tells it"
            record = replace(record, findings=(*record.findings, FindingEntry("note", name, told)))
    return record


def _with_wheels(record: Record, mechanism: Mechanism) -> Record:
    if not mechanism.machine.running.wheels:
        return record
    return replace(record, wheels=wheel_tables(mechanism, WheelWish()))


def _with_cables(record: Record, mechanism: Mechanism) -> Record:
    """From the brackets of the sweep, so that little is computed anew."""
    if not mechanism.machine.cables.cables:
        return record
    found = {one.name: one for one in record.measures}
    return replace(record, cables=cables_entry(mechanism, found))


def _with_rods(record: Record, mechanism: Mechanism) -> Record:
    if not mechanism.machine.rods:
        return record
    return replace(record, rods_turned=rods_turned(mechanism))
