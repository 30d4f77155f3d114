"""The record of a stop design: what runs out first in each direction, every stop's figures, and what is proven."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assembly.record.entries import DriveEntry, FindingEntry, MachineEntry, ProgramEntry
from assembly.record.measure_entries import MeasureEntry
from assembly.record.values import Point, Settings, VerdictWord

CauseWord = Literal["pair", "joint", "measure", "loop", "range", "end"]


@dataclass(frozen=True, slots=True)
class EndEntry:
    """What ends the way along a drive: parts, a joint, a measure, a loop that locks, the range asked for, or nothing.

    ``kept``: mm or degrees that were asked for; ``pace``: how many of them are lost there per unit of the drive.
    """

    cause: CauseWord
    names: tuple[str, ...]
    at: Settings
    kept: float
    pace: float


@dataclass(frozen=True, slots=True)
class DirectionEntry:
    """One direction of a drive. ``first``: what would touch or run out first without a stop; ``stops``: those declared.

    ``first_stop``: the stop that acts before it, everywhere; null if there is none, and ``missed`` then says what
    comes before the stops, and where.
    """

    drive: str
    side: Literal["low", "high"]
    first: EndEntry
    stops: tuple[str, ...]
    first_stop: str | None
    missed: EndEntry | None


@dataclass(frozen=True, slots=True)
class StopWayEntry:
    """The stop's setting for one setting of the other drives (in ``at``, with where it acts)."""

    at: Settings
    at_most: float
    free: EndEntry


@dataclass(frozen=True, slots=True)
class ContactEntry:
    """Where the stop is struck at the way that governs it: points in the world, and what kind of blow it is."""

    on_stop: Point
    on_other: Point
    shape: str
    unsquare_deg: float
    drift_mm: float
    mm_per_unit: float
    lever_mm: float | None


@dataclass(frozen=True, slots=True)
class PressEntry:
    """What the stop takes when it acts, alone, where it is pressed hardest.

    ``force_n``: ``still_n``, what holds the load at rest, times ``factor``, or that of a fall where it ``falls``
    harder. Of a turning drive ``arm_mm`` is the lever there.
    ``strained``: its pad is squeezed farther than its figures hold; ``weak``: its fasteners take less than it does.
    """

    moment_nm: float | None
    force_n: float
    energy_j: float | None
    give_mm: float | None
    strain: float | None
    strained: bool
    weak: bool
    peak_mpa: float | None
    still_n: float | None = None
    factor: float = 1.0
    arm_mm: float | None = None
    falls: bool = False
    stiffness_n_per_mm: float | None = None
    thickness_mm: float | None = None


@dataclass(frozen=True, slots=True)
class HeldEntry:
    """What the stop's fasteners take."""

    shear_n: float
    bearing_n: float | None
    least_n: float


@dataclass(frozen=True, slots=True)
class ActsEntry:
    """Where a stop acts, ``at`` the way that governs it; ``first`` to ``last`` over all ways of its drive.

    These two count the surfaces' errors, by which it may be struck ``unsure`` sooner or later than its facets are.

    ``at_most``: the setting it may act at there. ``dictated_by`` ends that way; ``given_away`` is how much sooner the
    stop acts than it would end without margins.
    """

    at: Settings
    setting: float
    first: float
    last: float
    at_most: float
    dictated_by: EndEntry
    given_away: float
    ways: tuple[StopWayEntry, ...]
    unsure: float = 0.0


@dataclass(frozen=True, slots=True)
class ThreadEntry:
    """The thread of a stop's bolt: how many turns stand out, and what one turn does in the drive's unit."""

    pitch_mm: float
    turns: float
    per_turn: float


@dataclass(frozen=True, slots=True)
class StopEntry:
    """One stop. ``height_mm`` is what it acts with: the file's where ``stated``, else the recommended one.

    ``play`` and ``give`` are in the drive's unit. ``order``: by how much it acts before the stop that it comes ahead
    of, at the least.
    """

    name: str
    drive: str
    side: Literal["low", "high"]
    striker: str
    struck: str
    carrier: str
    kind: Literal["pad", "bolt"]
    stated: bool
    recommended_mm: float | None
    height_mm: float | None
    to_make_mm: float | None
    play: float
    give: float
    acts: ActsEntry | None
    thread: ThreadEntry | None
    ahead_of: str | None
    order: float | None
    contact: ContactEntry | None
    press: PressEntry | None
    held: HeldEntry | None
    twin_of: str | None
    faults: tuple[str, ...]
    held_back: float = 0.0
    """Drive units by which it acts sooner than its margins ask, so that it can be proven."""


@dataclass(frozen=True, slots=True)
class NearEntry:
    """A pair of the sweep of the stopped range that is not clear, or the nearest of those that are."""

    a: str
    b: str
    required_mm: float
    least_mm: float | None
    proven_mm: float | None
    at: Settings
    verdict: VerdictWord
    why: str
    closed_in: bool = False


@dataclass(frozen=True, slots=True)
class LimitEntry:
    """A joint's motion over the stopped range between its limits: found, proven, and the verdict on them."""

    joint: str
    unit: str
    least: float | None
    most: float | None
    proven_least: float | None
    proven_most: float | None
    low: float | None
    high: float | None
    verdict: VerdictWord


@dataclass(frozen=True, slots=True)
class StruckEntry:
    """Whether a stop is proven to be struck by the setting ``by`` of its drive, wherever the other drives stand.

    Where it is not, ``gap`` is a setting at which that was not shown; ``missed``: there the two are apart.
    """

    stop: str
    by: float
    proven: bool
    gap: Settings
    missed: bool = False


@dataclass(frozen=True, slots=True)
class ProofEntry:
    """The sweep of the machine with its stops built in, over the range that they leave.

    ``measures``: those that have limits, over that range.
    """

    drives: dict[str, DriveEntry]
    pairs: int
    near: tuple[NearEntry, ...]
    joints: tuple[LimitEntry, ...]
    struck: tuple[StruckEntry, ...]
    unreachable: int
    cells: int
    distance_queries: int
    measures: tuple[MeasureEntry, ...] = ()


@dataclass(frozen=True, slots=True)
class GivenUpEntry:
    """How much sooner a drive is stopped one way than the range that the file asks for; rounded so that it adds up.

    ``acts``: the first setting at which its stop may be struck; ``past``: how far beyond the range the last one is.
    """

    drive: str
    side: Literal["low", "high"]
    asked: float
    acts: float
    amount: float
    past: float = 0.0


@dataclass(frozen=True, slots=True)
class PasteEntry:
    """A ``text`` to be written into the file: ``how`` it stands to ``line``, which begins as ``anchor`` says.

    ``line`` is null where the machine was not read from a file.
    """

    line: int | None
    anchor: str
    how: Literal["below", "inside", "instead"]
    text: str


@dataclass(frozen=True, slots=True)
class StopsRecord:
    """Everything one stop design found."""

    format: int
    kind: Literal["stops"]
    program: ProgramEntry
    machine: MachineEntry
    made: str
    drives: dict[str, DriveEntry]
    verdict: VerdictWord
    reason: str
    directions: tuple[DirectionEntry, ...]
    stops: tuple[StopEntry, ...]
    proof: ProofEntry | None
    findings: tuple[FindingEntry, ...]
    why_none: str = ""
    """Why no heights were found for which the proof holds."""
    given_up: tuple[GivenUpEntry, ...] = ()
    heights_to_write: tuple[PasteEntry, ...] = ()
    """None if the design is not proven."""
    ranges_to_write: tuple[PasteEntry, ...] = ()
