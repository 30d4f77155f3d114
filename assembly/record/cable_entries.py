"""Entries of the record about cables: lengths to cut, what the motion pulls, what splitters share. mm, degrees, N."""

from __future__ import annotations

from dataclasses import dataclass

from assembly.record.measure_entries import NOT_CLOSE, MeasureEntry
from assembly.record.values import Settings, VerdictWord


@dataclass(frozen=True, slots=True)
class HoseNearEntry:
    """A part that a slack hose may come near, whatever shape it takes: never a must, for it need not take that shape.

    ``proven``: it stays at least so far away, mm, over the whole range; null where that is not known. ``may_touch``: at
    ``at`` some shape of its length would be nearer than ``required``, ``least`` being a lower bound there.
    """

    part: str
    required: float
    may_touch: bool
    least: float | None
    proven: float | None
    at: Settings
    verdict: VerdictWord
    why: str


@dataclass(frozen=True, slots=True)
class CableRunEntry:
    """One run of a cable ``through`` its points. ``needed``: along its path, of one in an outer.

    ``outer`` is as cut, null where it is to be cut; ``to_cut`` the least that it may be, proven over the range, with
    the ``slack`` that is wanted; null where that is not known, or the run is bare.
    """

    through: tuple[str, ...]
    hose: bool
    bend: float
    outer: float | None
    slack: float
    needed: MeasureEntry | None
    to_cut: float | None
    diameter: float | None = None
    near: tuple[HoseNearEntry, ...] = ()


@dataclass(frozen=True, slots=True)
class PullEntry:
    """One side of a drive, up to ``to``, with the others at 0, at settings looked at: how far a cable is pulled there.

    ``most`` is below 0 where it stays slack; ``slackest`` the least. ``pulled_from``: the first setting beyond which it
    is pulled by more than its free play, ``full_from`` the first beyond which it is fully on; null where it is not.
    """

    drive: str
    to: float
    most: float
    slackest: float
    pulled_from: float | None
    full_from: float | None


@dataclass(frozen=True, slots=True)
class CableEntry:
    """One cable: ``inner`` as the file gives it, null where it is set with all drives at 0.

    ``path``: what the inner needs, without runs whose outers are still to be cut. ``inner_to_cut``: the least between
    its ends that the motion never pulls, with outers as long as they are to be cut. ``pull``: how far the motion pulls
    it, below 0 slack; ``sides``: drive by drive, and why the last ones are left out. ``straight``: the shortest
    straight between arcs. ``bends`` in degrees, and what of a force comes through them: with all drives at 0, and
    least, exp(-friction · bends).
    """

    name: str
    runs: tuple[CableRunEntry, ...]
    inner: float | None
    slack: float
    free_play: float | None
    full_pull: float | None
    friction: float | None
    path: MeasureEntry | None
    inner_to_cut: float | None
    pull: MeasureEntry | None
    sides: tuple[PullEntry, ...]
    straight: MeasureEntry | None
    bends: MeasureEntry | None
    through_at_zero: float | None
    through_least: float | None
    sides_left_out: str = ""


@dataclass(frozen=True, slots=True)
class SplitterEndEntry:
    """One end of a splitter: its ``cable``, the ``pull`` that is wanted, how far the end goes for that over the range.

    ``share`` of the pull's force; ``force`` in N behind the cable's bends, at their most; null where it is not known.
    """

    cable: str
    pull: float
    arm: float | None
    travel: MeasureEntry
    share: float | None
    force: float | None


@dataclass(frozen=True, slots=True)
class SplitterEntry:
    """What shares one pull between two cables: a beam, or a block (no ``arm``).

    ``travel``: how far the beam's middle goes; null for a block, which goes as far as the farther of its ends.
    ``apart``: how far the first end is ahead of the second, and ``tilt_most`` how far a beam leans by that, degrees;
    ``tilt``: at which it bottoms out.
    """

    name: str
    ends: tuple[SplitterEndEntry, SplitterEndEntry]
    travel: MeasureEntry | None
    travel_limit: float | None
    apart: MeasureEntry
    tilt: float | None
    tilt_most: float | None
    force: float | None


@dataclass(frozen=True, slots=True)
class CablesEntry:
    """What the record of a sweep holds of cables; what slack hoses may touch (``near``) is not looked for there."""

    cables: tuple[CableEntry, ...]
    splitters: tuple[SplitterEntry, ...]


UNPROVEN = "lengths that are not proven over the whole range"


def unproven_lengths(cable: CableEntry) -> tuple[MeasureEntry, ...]:
    """The measures that the lengths to cut of a cable follow from, as far as they do not hold in the whole range."""
    hoses = [run.needed for run in cable.runs if run.needed is not None]
    every = (*hoses, *([cable.path] if cable.path is not None else []))
    return tuple(one for one in every if one.why and one.why != NOT_CLOSE)


def is_pulled_unjudged(cable: CableEntry, loose: float) -> bool:
    """Whether the motion pulls a cable by more than ``loose`` mm of which nothing says how far it may be pulled."""
    pull = cable.pull
    return pull is not None and pull.verdict is None and (pull.most is None or pull.most > loose)
