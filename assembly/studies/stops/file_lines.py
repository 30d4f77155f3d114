"""What a stop design takes of the range that was asked for, and the lines that put it into the file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import copysign
from typing import Literal

from assembly.model.machine import Machine
from assembly.record import GivenUpEntry, PasteEntry, ProofEntry, StopEntry

SIDES: tuple[Literal["low", "high"], ...] = ("low", "high")


def given_up(machine: Machine, stops: Sequence[StopEntry]) -> tuple[GivenUpEntry, ...]:
    """For each side of a drive that has a hard stop, what the earliest of these takes of the range asked for."""
    return tuple(_given_up(machine, stops))


def heights_to_write(machine: Machine, stops: Sequence[StopEntry]) -> tuple[PasteEntry, ...]:
    """One line for every height that the file does not hold yet."""
    return tuple(
        _below(machine, stop.name, f"height = {stop.to_make_mm:z.2f}")
        for stop in stops
        if stop.to_make_mm and not stop.stated and not stop.twin_of
    )


def ranges_to_write(machine: Machine, proof: ProofEntry) -> tuple[PasteEntry, ...]:
    """The ranges that were proven, as far as they are not those of the file."""
    return tuple(
        _instead(machine, name, f"range = [{_number(drive.from_)}, {_number(drive.to)}]")
        for name, drive in proof.drives.items()
        if (drive.from_, drive.to) != (machine.drives[name].low, machine.drives[name].high)
    )


def _given_up(machine: Machine, stops: Sequence[StopEntry]) -> Iterator[GivenUpEntry]:
    for name, drive in machine.drives.items():
        for side in SIDES:
            own = [stop for stop in stops if (stop.drive, stop.side) == (name, side) and not stop.ahead_of]
            reach = [(abs(stop.acts.first), abs(stop.acts.last)) for stop in own if stop.acts]
            if reach:
                asked = round(drive.low if side == "low" else drive.high, 2)
                first, last = (round(min(ends), 2) for ends in zip(*reach, strict=True))
                given, past = max(0.0, round(abs(asked) - first, 2)), max(0.0, round(last - abs(asked), 2))
                yield GivenUpEntry(name, side, asked, copysign(first, -1.0 if side == "low" else 1.0), given, past)


def _below(machine: Machine, stop: str, text: str) -> PasteEntry:
    """Where a stop's new line goes: below its header, inside its braces, or beside the first of its dotted keys."""
    line, written = machine.written.get(f"stops.{stop}", (None, f"[stops.{stop}]"))
    key, _, value = written.partition("=")
    if written.startswith("["):
        return PasteEntry(line, written, "below", text)
    if value.lstrip().startswith("{"):
        return PasteEntry(line, f"{key.strip()} = {{", "inside", f"{text},")
    keys = key.split(".")
    own = next((number for number, each in enumerate(keys) if each.strip(" \"'") == stop), 0)
    return PasteEntry(line, written, "below", f"{'.'.join(keys[: own + 1])}.{text}")


def _instead(machine: Machine, drive: str, text: str) -> PasteEntry:
    line, written = machine.written.get(f"drives.{drive}.range", (None, f"range of [drives.{drive}]"))
    key = written.partition("=")[0].rpartition(".")
    if key[2].strip() == "range":
        return PasteEntry(line, written, "instead", f"{key[0]}{key[1]}{text}")
    return PasteEntry(line, f"range of {drive}", "instead", text)


def _number(end: float) -> str:
    """With two digits where that is all of it."""
    return f"{end:z.2f}" if end == round(end, 2) else repr(float(end))
