"""Entries of the record about joints and rods; the same conventions as in ``entries``."""

from __future__ import annotations

from dataclasses import dataclass

from assembly.record.values import Settings, VerdictWord


@dataclass(frozen=True, slots=True)
class HalfEntry:
    """The least margin of a joint over one half of a drive's range (``direction`` 1 or -1), as looked at.

    The other drives stand anywhere. ``share``: the reserve as a share of its limit.
    """

    drive: str
    direction: int
    reserve: float
    share: float
    at: Settings


@dataclass(frozen=True, slots=True)
class JointEntry:
    """One motion of a joint in ``unit`` ("deg" or "mm"), from rest as drawn; a ball's is its misalignment.

    ``least`` and ``most`` were found, ``proven_least`` and ``proven_most`` are passed at no setting. ``limit_low`` and
    ``limit_high`` are what it may reach, ``reserve_low`` and ``reserve_high`` what is left of them at the least and the
    most; ``limit`` and ``reserve`` are the nearer of them, ``at`` shows it. ``limiter``: what is met there, where the
    mounting says so. ``spent``: misalignment at rest. An end of a rod that ``rolls`` is measured with the rod rolled by
    ``roll`` degrees from how the model holds it; at ``best_roll`` no one roll serves everywhere, and the rod is rolled
    at each setting to where all of its ends have the most room. ``verdict`` is null without limits.
    """

    name: str
    kind: str
    motion: str
    first: str
    second: str
    unit: str
    least: float | None
    most: float | None
    at_least: Settings
    at_most: Settings
    proven_least: float | None
    proven_most: float | None
    limit: float | None
    reserve: float | None
    at: Settings
    limit_low: float | None
    limit_high: float | None
    reserve_low: float | None
    reserve_high: float | None
    limiter: str
    spent: float | None
    rolls: bool
    roll: float
    verdict: VerdictWord | None
    halves: tuple[HalfEntry, ...]
    best_roll: bool = False


@dataclass(frozen=True, slots=True)
class FirstOutEntry:
    """The joint that keeps the least share of its limit in one direction of a drive, the others anywhere."""

    drive: str
    direction: int
    joint: str
    motion: str
    unit: str
    limit: float
    reserve: float
    at: Settings


@dataclass(frozen=True, slots=True)
class RodEntry:
    """The roll of a rod about its own line, in degrees, found at the ``settings`` settings looked at.

    ``free`` is the least that it has from end to end, ``at`` a setting that shows it; below zero the rod binds there.
    ``common_roll``: the one roll that serves all ends best everywhere, ``common_room`` how far it may go either way,
    below zero where none serves. ``first_out``: the end that then has least misalignment left, ``left``. ``clocking``:
    by how much to turn the second of two ends on the rod for the largest least roll, ``clocked_free``. ``verdict``:
    clear where some roll is proven to serve at every setting, between those looked at too.
    """

    parts: tuple[str, ...]
    ends: tuple[str, ...]
    settings: int
    free: float
    at: Settings
    common_roll: float
    common_room: float
    first_out: str
    left: float
    clocking: float | None
    clocked_free: float | None
    verdict: VerdictWord
