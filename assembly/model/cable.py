"""Cables and hoses as the builder described them, and what pulls two brakes alike; plain values, mm and N."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import radians, sin
from types import MappingProxyType
from typing import Any

from assembly.model.feature import Feature
from assembly.model.quantities import Vector


def _no_entries() -> Mapping[Any, Any]:
    return MappingProxyType({})


@dataclass(frozen=True, slots=True)
class CableRun:
    """One stretch of a cable from its first point to its last, in a hose or bare.

    ``points``: where the straights on both sides of a guide meet; the first and the last are its ends. ``bend``: the
    radius of the arc that rounds each corner, 0 for none. ``hose``: whether it lies in an outer; ``outer``: the length
    of that, None where it is still to be cut; ``slack``: how much longer than its path the outer is to be everywhere;
    ``diameter``: of the outer. ``held``: where each point holds it as drawn, which at a guide is the middle of the arc.
    """

    points: tuple[Feature, ...]
    bend: float = 0.0
    hose: bool = False
    outer: float | None = None
    slack: float = 0.0
    diameter: float | None = None
    held: tuple[Vector, ...] = ()

    @property
    def is_known(self) -> bool:
        """Whether the inner in it is as long as something that is known: its path, or the outer where that is cut."""
        return not self.hose or self.outer is not None


@dataclass(frozen=True, slots=True)
class Cable:
    """One inner from end to end, over its ``runs``.

    ``inner``: how long it is between its ends; None: set with all drives at 0, neither slack nor pulled. ``slack``:
    what is to be left of it everywhere. ``free_play``: how far it may be pulled before what it works acts, None where
    that is not said; ``full_pull``: how far until that is fully on. ``friction``: the builder's figure for the inner
    against what it bends round.
    """

    name: str
    runs: tuple[CableRun, ...]
    inner: float | None = None
    slack: float = 0.0
    free_play: float | None = None
    full_pull: float | None = None
    friction: float | None = None

    @property
    def may_pull(self) -> float | None:
        """How far the motion may pull it at most; None where nothing limits that."""
        if self.free_play is None and self.inner is None:
            return None
        return (self.free_play or 0.0) - self.slack

    @property
    def is_pulled(self) -> bool:
        """Whether a motion can pull it: some run is bare, or lies in an outer of known length."""
        return any(run.is_known for run in self.runs)


@dataclass(frozen=True, slots=True)
class Splitter:
    """What shares one pull between two cables: a beam with an end for each, or a block that pulls both alike.

    ``cables``: their names. ``pulls``: how far each is to be pulled. ``arms``: from the beam's middle pin to either
    end; None for a block. ``tilt``: degrees that the beam can tilt either way before it bottoms out. ``travel``: how
    far its middle can be pulled. ``force``: N that it is pulled with.
    """

    name: str
    cables: tuple[str, str]
    pulls: tuple[float, float]
    arms: tuple[float, float] | None = None
    tilt: float | None = None
    travel: float | None = None
    force: float | None = None

    @property
    def shares(self) -> tuple[float, float]:
        """Of the middle's travel, what each end counts; a block goes as far as either."""
        if self.arms is None:
            return 0.5, 0.5
        first, second = self.arms
        return second / (first + second), first / (first + second)

    @property
    def most_apart(self) -> float | None:
        """How far one end may be ahead of the other before the beam bottoms out."""
        if self.arms is None or self.tilt is None:
            return None
        return sum(self.arms) * sin(radians(self.tilt))


@dataclass(frozen=True, slots=True)
class CableSystem:
    """All cables of a machine, and what shares pulls between them."""

    cables: Mapping[str, Cable] = field(default_factory=_no_entries)
    splitters: Mapping[str, Splitter] = field(default_factory=_no_entries)
