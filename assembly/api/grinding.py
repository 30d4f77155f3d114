"""What to grind off either part of a pair so that it keeps a clearance over the whole range."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from assembly.api.cores import all_cores
from assembly.api.main_check import SweepResult, sweep
from assembly.clearance.narrow_phase.checked_pairs import CheckedPair
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.errors import Fault, InputError
from assembly.geometry.scene import DepthScene
from assembly.geometry.stl import stl_bytes
from assembly.model.fault_list import shown
from assembly.model.machine import Machine
from assembly.progress import Progress, no_progress
from assembly.record import GroundRecord, PairEntry
from assembly.report.text.grind_text import ground_title
from assembly.report.text.words import short
from assembly.studies.grinding import GroundPart, SweptPairs, ground
from assembly.studies.shared import drive_entries, machine_entry, program_entry
from assembly.time_limit import check_time


@dataclass(frozen=True, slots=True, eq=False)
class GrindResult:
    """The ``record``; of each part from which something goes: STL of what goes and of what stays, and what is drawn."""

    record: GroundRecord
    gone: Mapping[str, bytes]
    kept: Mapping[str, bytes]
    scenes: Mapping[str, DepthScene]


def grind(
    machine: Machine,
    pair: tuple[str, str] | None = None,
    *,
    clearance: float | None = None,
    cores: int | None = None,
    progress: Progress = no_progress,
    cached: bool = True,
) -> GrindResult:
    """What to take off either part of a pair so that it keeps a clearance at every setting of the range.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    pair : tuple of str, optional
        The two parts; by default the pair that fails worst.
    clearance : float, optional
        What the two are to keep, mm; by default what the file requires.
    cores : int, optional
        Processes that sweep; by default all cores.
    progress : callable, optional
        Called with the stage, how much of it is done and how much there is.
    cached : bool
        Take what is known from the result cache.

    Returns
    -------
    GrindResult
        For either part the places where something goes, how deep, and what the sweep of all pairs of the part with it
        gone proved. Only what is proven is advised.

    Raises
    ------
    InputError
        For a pair that is none, or a clearance below what the file requires.
    AssemblyError
        If the machine cannot be put together at rest.
    KeyboardInterrupt
        If the sweep is stopped by hand.

    """
    effort = Effort(cores=cores or all_cores(), pairs=(pair,) if pair else ())
    swept = sweep(machine, effort=effort, progress=progress, cached=cached)
    if swept.stopped_by_hand:
        raise KeyboardInterrupt
    check_time()
    record = GroundRecord(
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        verdict="clear",
        reason="no pair comes nearer than it may",
    )
    entry = swept.pair(*pair) if pair else next((one for one in swept.pairs if one.verdict == "fails"), None)
    if entry is None:
        open_ = any(one.verdict == "undecided" for one in swept.pairs)
        reason = "no pair is seen to fail, but not all are proven: name one" if open_ else record.reason
        return GrindResult(replace(record, verdict="undecided" if open_ else "clear", reason=reason), {}, {}, {})
    wanted = entry.required_mm if clearance is None else clearance
    _check_wanted(entry, wanted)
    record = _asked(record, entry, wanted)
    if entry.verdict == "clear" and (entry.proven_mm or 0.0) >= wanted:
        reason = "the two are proven to keep it as they are"
        return GrindResult(replace(record, verdict="clear", reason=reason), {}, {}, {})
    made = ground(_swept_pairs(swept), _checked(swept, entry), wanted, progress)
    return _result(record, made)


def _check_wanted(entry: PairEntry, wanted: float) -> None:
    """InputError if less is wanted than the file requires."""
    if wanted < entry.required_mm:
        hint = f"ask for {entry.required_mm:g} mm or more, or change the rule in [clearance]"
        raise InputError(
            Fault(f"the file requires {entry.required_mm:g} mm of {shown(entry.a)} and {shown(entry.b)}", hint=hint)
        )


def _asked(record: GroundRecord, entry: PairEntry, wanted: float) -> GroundRecord:
    deep = None if entry.overlap is None else entry.overlap.at_most_mm or entry.overlap.depth_mm
    verdict = "fails" if entry.verdict == "clear" else entry.verdict  # it does not keep what is wanted
    return replace(
        record,
        verdict=verdict,
        pair=(entry.a, entry.b),
        wanted_mm=wanted,
        now=entry.verdict,
        least_mm=entry.least_mm,
        deep_mm=deep,
    )


def _swept_pairs(swept: SweepResult) -> SweptPairs:
    checked = swept.checked
    return SweptPairs(checked.swept.groups, checked.pairs, [one.result for one in checked.found])


def _checked(swept: SweepResult, entry: PairEntry) -> CheckedPair:
    return next(one for one in swept.checked.pairs.checked if {one.a, one.b} == {entry.a, entry.b})


def _result(record: GroundRecord, made: tuple[GroundPart, ...]) -> GrindResult:
    entries = tuple(one.entry for one in made)
    advised = [one for one in entries if one.advised]
    cut = [one for one in made if len(one.gone.faces)]
    reason = f"proven with {advised[0].part} ground so" if advised else "nothing that could be ground is proven to do"
    record = replace(record, reason=reason, parts=entries)
    return GrindResult(
        record,
        {one.entry.part: stl_bytes(one.gone) for one in cut},
        {one.entry.part: stl_bytes(one.kept) for one in cut},
        {one.entry.part: _scene(record, one) for one in cut if one.entry.places},
    )


def _scene(record: GroundRecord, made: GroundPart) -> DepthScene:
    """The part with the patch, seen onto its deepest place."""
    place = max(made.entry.places, key=lambda one: one.depth_mm)
    wanted, other = short(record.wanted_mm or 0.0), next(one for one in record.pair or () if one != made.entry.part)
    triangles = np.concatenate([one.triangles for one in made.depths])
    near = np.linalg.norm(triangles.mean(axis=1) - np.array(place.at), axis=1) <= place.length_mm
    patch = triangles[near] if near.any() else triangles
    return DepthScene(
        title=ground_title(record, made.entry),
        caption=f"so that it keeps {wanted} mm from {other} over the whole range; as drawn, all drives at 0",
        kept=made.kept,
        triangles=triangles,
        depths=np.concatenate([one.depths for one in made.depths]),
        at=(patch.min(axis=(0, 1)) + patch.max(axis=(0, 1))) / 2,
        outwards=np.array(place.outwards),
        extent=place.length_mm,
    )
