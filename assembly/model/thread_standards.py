"""Threads, nuts, spanners and rules of engagement as data, each with its source; mm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

COARSE: Mapping[str, float] = MappingProxyType(
    {
        "M3": 0.5,
        "M4": 0.7,
        "M5": 0.8,
        "M6": 1.0,
        "M8": 1.25,
        "M10": 1.5,
        "M12": 1.75,
        "M14": 2.0,
        "M16": 2.0,
        "M18": 2.5,
        "M20": 2.5,
        "M22": 2.5,
        "M24": 3.0,
    }
)
"""Pitches of coarse threads, mm (ISO 261)."""
FINE: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {
        "M3": (0.35,),
        "M4": (0.5,),
        "M5": (0.5,),
        "M6": (0.75,),
        "M8": (1.0, 0.75),
        "M10": (1.25, 1.0, 0.75),
        "M12": (1.5, 1.25, 1.0),
        "M14": (1.5, 1.25, 1.0),
        "M16": (1.5, 1.0),
        "M18": (2.0, 1.5, 1.0),
        "M20": (2.0, 1.5, 1.0),
        "M22": (2.0, 1.5, 1.0),
        "M24": (2.0, 1.5, 1.0),
    }
)
"""Pitches of fine threads, mm (ISO 261)."""
THREAD_LENGTH: Mapping[str, float] = MappingProxyType(
    {"M5": 19.0, "M6": 21.0, "M8": 25.0, "M10": 28.0, "M12": 32.0, "M14": 36.0, "M16": 37.0}
)
"""Of rod ends with a male thread, series K of ISO 12240-4, as the dimensions of ``ROD_END_SIZES``."""


@dataclass(frozen=True, slots=True)
class NutSize:
    """A hexagon nut: width across flats and greatest height, mm."""

    across_flats: float
    height: float


_FLATS = {"M5": 8.0, "M6": 10.0, "M8": 13.0, "M10": 16.0, "M12": 18.0, "M14": 21.0, "M16": 24.0}
_FULL = {"M5": 4.7, "M6": 5.2, "M8": 6.8, "M10": 8.4, "M12": 10.8, "M14": 12.8, "M16": 14.8}
_THIN = {"M5": 2.7, "M6": 3.2, "M8": 4.0, "M10": 5.0, "M12": 6.0, "M14": 7.0, "M16": 8.0}
NUTS: Mapping[str, Mapping[str, NutSize]] = MappingProxyType(
    {
        name: MappingProxyType({size: NutSize(_FLATS[size], height) for size, height in heights.items()})
        for name, heights in (("ISO 4032", _FULL), ("ISO 4035", _THIN))
    }
)
"""Hexagon nuts by standard (4032: regular, 4035: thin) and size; a fine thread has the nut of its coarse one."""


@dataclass(frozen=True, slots=True)
class EngagementRule:
    """How much thread must be in at each end: the most of what it asks for, or that the rod is ``captive``.

    ``diameters`` of the thread, ``millimetres``, ``turns`` of its pitch, ``share`` of its whole length.
    """

    name: str
    source: str
    diameters: float = 0.0
    millimetres: float = 0.0
    turns: float = 0.0
    share: float = 0.0
    captive: bool = False

    def least(self, diameter: float, pitch: float, length: float) -> float:
        """What must be in, mm, of a thread of so many mm."""
        return max(self.diameters * diameter, self.millimetres, self.turns * pitch, self.share * length)


_EVERY_RULE = (
    EngagementRule("1 d in steel", "rule of thumb; tables of least engagement give it for 8.8 in S235", diameters=1.0),
    EngagementRule(
        "1.5 d",
        "rule of thumb for cast iron and bronze; no builder's page that was read gives it for tie rods",
        diameters=1.5,
    ),
    EngagementRule("2 d in aluminium", "rule of thumb; by calculation less is enough in strong alloys", diameters=2.0),
    EngagementRule("2.5 d", "from memory of aircraft practice", diameters=2.5),
    EngagementRule("half the thread", "common practice of builders (three of them)", share=0.5),
    EngagementRule("5 turns", "common practice of kart builders (one of them)", turns=5.0),
    EngagementRule("8 mm", "a builder of three-wheelers, who names no size", millimetres=8.0),
    EngagementRule("captive", "common practice of builders (three of them): more in than out", captive=True),
)
RULES: Mapping[str, EngagementRule] = MappingProxyType({rule.name: rule for rule in _EVERY_RULE})
"""What a builder may pick by name; none holds where none is picked."""


@dataclass(frozen=True, slots=True)
class SpannerSize:
    """An open spanner: over all, from the nut's middle to its far end, across its head, and its thickness, mm."""

    length: float
    head: float
    thickness: float


_SPANNERS = {
    8.0: SpannerSize(130, 19, 4.5),
    10.0: SpannerSize(140, 23, 5),
    13.0: SpannerSize(165, 29, 6),
    16.0: SpannerSize(185, 35, 7),
    17.0: SpannerSize(190, 37, 7),
    18.0: SpannerSize(200, 39, 7.5),
    19.0: SpannerSize(210, 41, 8),
    21.0: SpannerSize(225, 45, 8.5),
    22.0: SpannerSize(230, 47, 9),
    24.0: SpannerSize(250, 51, 9.5),
}
"""By the width across flats (common practice). Makers differ by some mm: a builder's own spanner can be stated."""


def spanner_for(across_flats: float) -> SpannerSize:
    """The spanner of a width across flats, mm: of the table, the next larger, or in proportion to the largest."""
    fits = [size for size in _SPANNERS if size >= across_flats - 1e-9]
    if fits:
        return _SPANNERS[min(fits)]
    largest = max(_SPANNERS)
    ratio, known = across_flats / largest, _SPANNERS[largest]
    return SpannerSize(known.length * ratio, known.head * ratio, known.thickness * ratio)


def standard_pitches(size: str) -> tuple[float, ...]:
    """The coarse pitch of a size such as ``M8`` and its fine ones; empty for a size that is not known."""
    return (COARSE[size], *FINE.get(size, ())) if size in COARSE else ()
