"""What a page is made from: one finished sweep, and what else is known of the machine; plain values only."""

from __future__ import annotations

import struct
from dataclasses import dataclass

from assembly.record import Comparison, DistanceGrid, HelpRecord, MapRecord, MovingMachine, RangeRecord, Record


@dataclass(frozen=True, slots=True)
class Picture:
    """A PNG and what it shows."""

    png: bytes
    caption: str
    width: int
    height: int


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """Everything on one page.

    ``moving``: the machine to move, None where there was no time to make it ready. ``distances``: of the nearest pairs
    at settings that were checked. ``helps``: what numbers do to the first pairs. ``maps``: the map, or several slices
    of it that hold further drives at different settings; none where nothing could be mapped. ``usable``: how far the
    drives could go, if it was looked for. ``change``: against the last kept run, and ``no_change`` why there is none.
    ``close_up``: the worst pair alone, where it is nearest. ``command``: what to type to run the sweep again.
    ``commit``: the edit, where the file lies under version control. ``gaps``: what could not be made, a sentence each.
    """

    record: Record
    moving: MovingMachine | None
    command: str
    distances: DistanceGrid | None = None
    helps: HelpRecord | None = None
    maps: tuple[MapRecord, ...] = ()
    usable: RangeRecord | None = None
    change: Comparison | None = None
    no_change: str = ""
    commit: str = ""
    close_up: Picture | None = None
    pictures: tuple[Picture, ...] = ()
    chart: Picture | None = None
    gaps: tuple[str, ...] = ()


def size_of_png(png: bytes) -> tuple[int, int]:
    """Width and height in pixels, from the first chunk of a PNG (ISO/IEC 15948)."""
    width, height = struct.unpack(">II", png[16:24])
    return width, height
