"""The tables of ``[rods]`` as written."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from assembly.model.schema import Name, Number, StrictTable, empty_list


class NutTable(StrictTable):
    """A lock nut that is of no standard here."""

    called: ClassVar[str] = "a lock nut"
    across_flats: Number
    height: Number


class RodSpannerTable(StrictTable):
    """A builder's own spanner."""

    called: ClassVar[str] = "a spanner"
    length: Number
    head: Number
    thickness: Number


class EngagementRuleTable(StrictTable):
    """A rule of the builder's own."""

    called: ClassVar[str] = "a rule of engagement"
    name: Name
    source: str = "the builder's own"
    diameters: Number | None = None
    millimetres: Number | None = None
    turns: Number | None = None
    share: Number | None = None


class RodThreadTable(StrictTable):
    """One end of a rod."""

    called: ClassVar[str] = "an end of a rod"
    joint: Name
    size: Name
    pitch: Number | None = None
    diameter: Number | None = None
    hand: Literal["right", "left"]
    thread_length: Number | None = None
    ball_to_tip: Number | None = None
    tapped: Number | None = None
    engaged: Number | None = None
    lock_nut: Any = None


class ThreadedRodTable(StrictTable):
    """One rod."""

    called: ClassVar[str] = "a rod"
    part: Name
    tube_length: Number
    ends: list[RodThreadTable]
    rules: list[Any] = empty_list()
    tube_flats: Number | None = None
    spanner: RodSpannerTable | None = None
