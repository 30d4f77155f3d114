"""The record of a stop design and its proof, with the verdict on them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from math import isnan

from assembly.clearance.region.run_out import RunOut
from assembly.clearance.stops.stop_fit import StopDesign, WayFound
from assembly.clearance.stops.stop_proof import StopProof
from assembly.kinematics.mechanism import settings_of
from assembly.model.machine import Machine
from assembly.model.travel_stop import Pad
from assembly.record import (
    FORMAT,
    ActsEntry,
    ContactEntry,
    DirectionEntry,
    EndEntry,
    ProofEntry,
    StopEntry,
    StopsRecord,
    StopWayEntry,
    ThreadEntry,
    VerdictWord,
)
from assembly.strength.pressing import held
from assembly.studies.shared import (
    drive_entries,
    machine_entry,
    point,
    program_entry,
)
from assembly.studies.stops.designed import DriveDirection, StopsDesigned
from assembly.studies.stops.file_lines import given_up, heights_to_write, ranges_to_write
from assembly.studies.stops.proofs import proof_entry, proof_verdict


def stops_record(designed: StopsDesigned, proof: StopProof | None, why_none: str = "") -> StopsRecord:
    """The record of one stop design, made now; ``proof`` is None if a stop is none.

    ``why_none``: why no heights were found for which the proof holds.
    """
    machine = designed.machine
    directions = tuple(_direction(one, designed) for one in designed.directions)
    stops = tuple(_stop(design, designed) for design in designed.designs.values())
    proven = proof_entry(proof) if proof else None
    verdict, reason = _verdict(directions, stops, proven, _open_for(designed))
    return StopsRecord(
        format=FORMAT,
        kind="stops",
        program=program_entry(),
        machine=machine_entry(machine),
        made=datetime.now(UTC).isoformat(timespec="seconds"),
        drives=drive_entries(machine),
        verdict=verdict,
        reason=reason,
        directions=directions,
        stops=stops,
        proof=proven,
        findings=machine.findings,
        why_none=why_none,
        given_up=given_up(machine, stops),
        heights_to_write=heights_to_write(machine, stops) if verdict == "clear" else (),
        ranges_to_write=ranges_to_write(machine, proven) if verdict == "clear" and proven else (),
    )


def _open_for(designed: StopsDesigned) -> dict[tuple[str, str], str]:
    """By drive and side: why nothing is known of what a roll ends there for which none was found."""
    return {
        (one.drive, one.side.value): designed.lost[name]
        for one in designed.directions
        for free in one.free
        for name, _ in free.rolls
        if name in designed.lost
    }


def _verdict(
    directions: Sequence[DirectionEntry],
    stops: Sequence[StopEntry],
    proof: ProofEntry | None,
    open_for: Mapping[tuple[str, str], str],
) -> tuple[VerdictWord, str]:
    faulty = [stop.name for stop in stops if stop.faults and (stop.drive, stop.side) not in open_for]
    if faulty:
        return "fails", f"no stop yet: {', '.join(faulty)}"
    late = [stop for stop in stops if stop.order is not None and stop.order <= 0]
    if late:
        return "fails", f"{late[0].name} does not act ahead of {late[0].ahead_of}"
    weak = [stop.name for stop in stops if stop.press is not None and stop.press.weak]
    if weak:
        return "fails", f"fasteners too weak: {', '.join(weak)}"
    missed = [one for one in directions if one.missed is not None]
    known = [one for one in missed if (one.drive, one.side) not in open_for]
    if known:
        return "fails", f"{known[0].drive} {known[0].side}: the first to touch is not a stop"
    open_ = [open_for[one.drive, one.side] for one in missed]
    open_ += [open_for[stop.drive, stop.side] for stop in stops if stop.faults]
    if open_:
        return "undecided", open_[0]
    soft = [stop.name for stop in stops if stop.press is not None and stop.press.strained]
    if proof is None:
        return "undecided", "no stop is declared, and nothing was seen to end a drive as far as was looked"
    verdict, reason = proof_verdict(proof)
    if soft and verdict == "clear":
        return "undecided", f"squeezed farther than the figures of its pad hold: {', '.join(soft)}"
    return verdict, reason


def _end(machine: Machine, end: RunOut) -> EndEntry:
    at = {**settings_of(machine, end.at), **dict(end.rolls)}
    return EndEntry(end.cause.value, end.names, at, end.kept, end.pace)


def _direction(one: DriveDirection, designed: StopsDesigned) -> DirectionEntry:
    """The stop that acts before all else is the one that does so at every way; else the worst way is reported."""
    machine, column = designed.machine, list(designed.machine.drives).index(one.drive)
    size = [abs(free.at[column]) for free in one.free]
    nearest = min(range(len(size)), key=lambda row: (one.free[row].cause.value == "end", size[row]))
    first = _end(machine, one.free[nearest])
    acting = {name: _acts(designed.designs[name]) for name in one.stops}
    sure = [name for name, acts in acting.items() if acts and all(a < free for a, free in zip(acts, size, strict=True))]
    hard = sorted(sure, key=lambda name: max(acting[name]))
    missed = None
    if not sure and any(free.cause.value != "end" for free in one.free):
        whole = [acts for acts in acting.values() if acts]
        behind = [
            (min((acts[row] for acts in whole), default=float("inf")) - size[row], row)
            for row in range(len(size))
            if one.free[row].cause.value != "end"
        ]
        missed = _end(machine, one.free[max(behind)[1] if whole else nearest])
    return DirectionEntry(one.drive, one.side.value, first, one.stops, hard[0] if hard else None, missed)


def _acts(design: StopDesign) -> list[float]:
    acts = [abs(way.acts) for way in design.ways]
    return [] if not acts or any(map(isnan, acts)) else acts


def _stop(design: StopDesign, designed: StopsDesigned) -> StopEntry:
    stop = design.stop
    turning = designed.machine.drives[stop.drive].unit == "deg"
    return StopEntry(
        name=stop.name,
        drive=stop.drive,
        side=stop.side.value,
        striker=stop.striker,
        struck=stop.struck,
        carrier=stop.carrier,
        kind="pad" if isinstance(stop.form, Pad) else "bolt",
        stated=stop.height is not None,
        recommended_mm=design.recommended,
        height_mm=design.height,
        to_make_mm=design.to_make,
        play=stop.margin.play,
        give=design.yields.give,
        acts=_acting(design, designed.machine),
        thread=_thread(design),
        ahead_of=stop.ahead_of.stop if stop.ahead_of else None,
        order=_order(design, designed),
        contact=_contact(design, turning=turning),
        press=design.pressing,
        held=held(stop.fasteners) if design.pressing and stop.fasteners else None,
        twin_of=stop.twin_of or None,
        faults=design.faults,
        held_back=design.held_back,
    )


def _acting(design: StopDesign, machine: Machine) -> ActsEntry | None:
    acts, stop = _acts(design), design.stop
    if not acts:
        return None
    way, column = design.ways[design.governing], list(machine.drives).index(stop.drive)
    return ActsEntry(
        at=dict(settings_of(machine, way.ends.at)) | {stop.drive: way.acts},
        setting=way.acts,
        first=stop.side.sign * max(0.0, min(acts) - design.yields.unsure),
        last=stop.side.sign * (max(acts) + design.yields.unsure),
        at_most=way.at_most,
        dictated_by=_dictated(design, way, machine),
        given_away=round(abs(round(way.free.at[column], 2)) - abs(round(way.acts, 2)), 2),
        ways=tuple(_way(machine, stop.drive, one) for one in design.ways),
        unsure=design.yields.unsure,
    )


def _thread(design: StopDesign) -> ThreadEntry | None:
    form, per_turn = design.stop.form, design.per_turn
    if isinstance(form, Pad) or per_turn is None or design.height is None:
        return None
    return ThreadEntry(form.pitch, (design.to_make or design.height) / form.pitch, per_turn)


def _dictated(design: StopDesign, way: WayFound, machine: Machine) -> EndEntry:
    if not design.reaches_range:
        return _end(machine, way.ends)
    at = dict(settings_of(machine, way.ends.at)) | {design.stop.drive: design.wanted}
    return EndEntry("range", (), at, 0.0, 0.0)


def _order(design: StopDesign, designed: StopsDesigned) -> float | None:
    """By how much of its drive it acts before the stop that it comes ahead of; the least of all ways."""
    ahead = design.stop.ahead_of
    later = _acts(designed.designs[ahead.stop]) if ahead else []
    own = _acts(design)
    unsure = design.yields.unsure + (designed.designs[ahead.stop].yields.unsure if ahead else 0.0)
    return min(b - a for a, b in zip(own, later, strict=True)) - unsure if own and later else None


def _way(machine: Machine, drive: str, way: WayFound) -> StopWayEntry:
    at = dict(settings_of(machine, way.free.at))
    at[drive] = way.acts
    return StopWayEntry(at, way.at_most, _end(machine, way.free))


def _contact(design: StopDesign, *, turning: bool) -> ContactEntry | None:
    found = design.contact
    if found is None:
        return None
    return ContactEntry(
        point(found.on_stop),
        point(found.on_other),
        found.shape,
        found.unsquare_deg,
        found.drift_mm,
        found.approach,
        design.lever_mm if turning else None,
    )
