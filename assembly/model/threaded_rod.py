"""A rod that is screwed together: two ends with threads in a tube, as plain values, and what its threads allow.

Closed forms. The length from ball to ball is that of the tube and of both ends from ball to tip, less what is screwed
in. A tube turns both threads at once: with threads of two hands both go in or both come out, with threads of one hand
the one goes in as the other comes out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from assembly.model.thread_standards import EngagementRule, NutSize, SpannerSize

GRAIN = 1e-6
"""mm: a rule that is missed by less is kept."""
FLATS = 6


class Hand(StrEnum):
    """Which way a thread goes in."""

    RIGHT = "right"
    """Clockwise."""
    LEFT = "left"
    """Counter-clockwise."""


@dataclass(frozen=True, slots=True)
class RodThread:
    """One end of a rod: the thread that stands ``ball_to_tip`` mm out from the ball of ``joint``.

    ``size`` as it is called, ``diameter`` and ``pitch`` in mm, ``length`` mm of thread, ``tapped`` mm of thread in the
    tube (None: as deep as is needed), ``lock_nut`` between tube and shoulder. ``engaged`` mm are in the tube today.
    """

    joint: str
    size: str
    diameter: float
    pitch: float
    hand: Hand
    length: float
    ball_to_tip: float
    tapped: float | None = None
    lock_nut: NutSize | None = None
    nut_name: str = ""
    engaged: float = 0.0
    stated: bool = False
    """Whether the file says what is engaged; else both ends have the same."""
    by_series: bool = False
    """Whether a length that the file leaves out is that of a rod end of series K."""

    @property
    def showing(self) -> float:
        """Thread outside of the tube, mm."""
        return self.length - self.engaged

    @property
    def most(self) -> float:
        """What can be in, mm, at most: the lock nut stands before the shoulder, and the tube is tapped so deep."""
        outside = self.lock_nut.height if self.lock_nut else 0.0
        return min(self.length - outside, self.length if self.tapped is None else self.tapped)

    def required(self, rules: tuple[EngagementRule, ...]) -> tuple[float, str]:
        """What must be in, mm, by ``rules``, and the name of the one that asks for most; 0 without any."""
        asked = [(rule.least(self.diameter, self.pitch, self.length), rule.name) for rule in rules]
        return max(asked, default=(0.0, ""))


@dataclass(frozen=True, slots=True)
class RodLimit:
    """A length in mm at which turning must end, and what ends it."""

    length: float
    why: str


@dataclass(frozen=True, slots=True)
class ThreadedRod:
    """A rod of the file: the ``part`` it is, its two ends, its tube, and its ``length`` in mm from ball to ball today.

    ``rules``: what its engagement is judged by. ``tube_flats``: mm across flats on the tube, for a spanner; None where
    it is turned by hand. ``spanner``: the builder's own. ``twin_of``: the rod whose twin it is.
    """

    name: str
    part: str
    ends: tuple[RodThread, RodThread]
    tube_length: float
    rules: tuple[EngagementRule, ...] = ()
    length: float = 0.0
    tube_flats: float | None = None
    spanner: SpannerSize | None = None
    twin_of: str = ""

    @property
    def opposite(self) -> bool:
        """Whether the threads are of two hands."""
        return self.ends[0].hand is not self.ends[1].hand

    @property
    def per_turn(self) -> float:
        """What one turn of the tube makes of length, mm; 0 for two like threads of one hand."""
        first, second = (end.pitch for end in self.ends)
        return first + second if self.opposite else abs(first - second)

    def end_to_turn(self, change: float) -> int:
        """Which end is turned, once it is unbolted, to make the rod ``change`` mm longer.

        The one of the finer pitch; of two alike the one with more thread in, or where it gets shorter with less.
        """
        way = -1 if change > 0 else 1
        return min((0, 1), key=lambda number: (self.ends[number].pitch, way * self.ends[number].engaged))

    def at_length(self, length: float) -> ThreadedRod:
        """The rod screwed to ``length`` mm: by its tube where the threads are of two hands, else by one end."""
        more = length - self.length
        turned = self.end_to_turn(more)
        shares = [self._share(number) if self.opposite else float(number == turned) for number in (0, 1)]
        first, second = (
            replace(end, engaged=end.engaged - share * more) for end, share in zip(self.ends, shares, strict=True)
        )
        return replace(self, length=length, ends=(first, second))

    @property
    def apart(self) -> float:
        """The length, mm, at which a thread leaves the tube; of one hand, both of them."""
        return self._reached(tuple(end.engaged for end in self.ends))

    @property
    def greatest(self) -> RodLimit:
        """The greatest length by the rules; without rules, or where they ask for less, where a thread leaves."""
        asked = [end.required(self.rules) for end in self.ends]
        spare = tuple(end.engaged - least for end, (least, _) in zip(self.ends, asked, strict=True))
        first = self._first(spare)
        least, rule = asked[first]
        why = f"{self.ends[first].joint}: {least:g} mm must be in ({rule})" if rule else self._leaves(first)
        return RodLimit(self._reached(spare), why)

    @property
    def least(self) -> RodLimit:
        """The least length: a thread is all in or at the bottom of its hole, or the tips meet in the tube."""
        spare = tuple(end.engaged - end.most for end in self.ends)
        first = self._first(tuple(-one for one in spare))
        ends = RodLimit(self._reached(spare, shorter=True), self._all_in(self.ends[first]))
        if all(end.tapped is not None for end in self.ends):
            return ends
        meet = RodLimit(sum(end.ball_to_tip for end in self.ends), "the tips meet in the tube")
        return max(meet, ends, key=lambda limit: limit.length)

    def _share(self, number: int) -> float:
        every = sum(end.pitch for end in self.ends)
        return self.ends[number].pitch / every if self.opposite else 0.5

    def _first(self, spare: tuple[float, ...]) -> int:
        """The end at which so many mm are used up first."""
        return min((0, 1), key=lambda number: spare[number] / self._share(number))

    def _reached(self, spare: tuple[float, ...], *, shorter: bool = False) -> float:
        """The length at which the first end has given what it has to ``spare``, mm (negative: taken).

        Threads of one hand are not turned together: each end gives all it has.
        """
        if not self.opposite:
            return self.length + sum(spare)
        changes = [mm / self._share(number) for number, mm in enumerate(spare)]
        return self.length + (max(changes) if shorter else min(changes))

    def _leaves(self, number: int) -> str:
        return f"{self.ends[number].joint}: the thread leaves the tube; no rule is picked"

    @staticmethod
    def _all_in(end: RodThread) -> str:
        if end.tapped is not None and end.most == end.tapped:
            return f"{end.joint}: at the bottom of its thread in the tube"
        before = " but for its lock nut" if end.lock_nut else ""
        return f"{end.joint}: the thread is all in{before}"

    @property
    def turns_out(self) -> float:
        """Turns of the tube until the first thread leaves it, the way that this comes soonest."""
        return min(end.engaged / end.pitch for end in self.ends)

    @property
    def captive(self) -> bool:
        """Whether a tube that turns loose comes up against one end before it leaves the other, either way round.

        Never with threads of two hands: both ends come out together.
        """
        if self.opposite:
            return False
        first, second = self.ends
        return all(
            (going_in.most - going_in.engaged) / going_in.pitch <= coming_out.engaged / coming_out.pitch + GRAIN
            for going_in, coming_out in ((first, second), (second, first))
        )
