"""What a stop's bolt and the tab it goes through can take, after EN 1993-1-8, Table 3.4.

Stress areas and strengths of bolts are those of ISO 898-1. The tab's strength is the builder's number.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from assembly.errors import Fault, InputError
from assembly.model.fault_list import listed, shown
from assembly.model.quantities import require_positive

PARTIAL_FACTOR = 1.25
"""γM2 of EN 1993-1-8, 2.2."""

STRESS_AREA_MM2: Mapping[str, float] = MappingProxyType(
    {
        "M5": 14.2,
        "M6": 20.1,
        "M8": 36.6,
        "M10": 58.0,
        "M12": 84.3,
        "M14": 115.0,
        "M16": 157.0,
        "M20": 245.0,
        "M24": 353.0,
        "M30": 561.0,
    }
)
"""Coarse threads, ISO 898-1."""

LARGE_HOLE_FACTOR = 0.85
"""EN 1993-1-8, 3.6.1(5): M12 and M14 in holes 2 mm larger than the bolt."""

LEAST_DISTANCE = 1.2
"""EN 1993-1-8, Table 3.3: from a hole's centre to an edge, in hole diameters."""


class Grade(StrEnum):
    """Property class of a bolt (ISO 898-1)."""

    G8_8 = "8.8"
    G10_9 = "10.9"

    @property
    def tensile_mpa(self) -> float:
        """Nominal tensile strength."""
        return {Grade.G8_8: 800.0, Grade.G10_9: 1000.0}[self]

    @property
    def shear_share(self) -> float:
        """αv: share of the tensile strength where the shear plane cuts the thread."""
        return {Grade.G8_8: 0.6, Grade.G10_9: 0.5}[self]


@dataclass(frozen=True, slots=True)
class Bolt:
    """A bolt of a ``size`` such as ``M8`` (coarse thread) and a property class."""

    size: str
    grade: Grade

    def __post_init__(self) -> None:
        if self.size not in STRESS_AREA_MM2:
            raise InputError(
                Fault(f"no stress area for a bolt {shown(self.size)}", hint=f"sizes: {listed(STRESS_AREA_MM2)}")
            )

    @property
    def diameter_mm(self) -> float:
        """Nominal diameter."""
        return float(self.size.removeprefix("M"))


@dataclass(frozen=True, slots=True)
class Tab:
    """The plate that a bolt bears in; ``end`` lies where the load pushes, ``edge`` square to it."""

    thickness_mm: float
    tensile_mpa: float
    """Tensile strength of the plate."""
    hole_mm: float
    end_mm: float
    """From the hole's centre to the end."""
    edge_mm: float
    """From the hole's centre to the edge."""

    def __post_init__(self) -> None:
        require_positive(
            ("the tab's thickness", self.thickness_mm, "mm"),
            ("the tab's tensile strength", self.tensile_mpa, "MPa"),
            ("the hole's diameter", self.hole_mm, "mm"),
            ("the hole's distance from the end", self.end_mm, "mm"),
            ("the hole's distance from the edge", self.edge_mm, "mm"),
        )
        least = LEAST_DISTANCE * self.hole_mm
        for name, distance in (("end", self.end_mm), ("edge", self.edge_mm)):
            if distance < least:
                message = f"the hole's centre is {distance:g} mm from the {name} of the tab"
                raise InputError(Fault(message, hint=f"the rule holds from {LEAST_DISTANCE:g} diameters, {least:g} mm"))


def bolt_shear_n(bolt: Bolt, *, planes: int, large_hole: bool) -> float:
    """What ``bolt`` takes in shear, its thread in the shear plane: αv fub As / γM2 for each of 1 or 2 ``planes``.

    ``large_hole``: the hole is 2 mm larger than the bolt. M12 and M14 then lose 15 %; from M16 on such holes are the
    rule's own; for smaller bolts the rule says nothing and InputError is raised.
    """
    if planes not in (1, 2):
        raise InputError(Fault(f"a bolt with {planes} shear planes", hint="give 1 (one lap) or 2 (a fork)"))
    if large_hole and bolt.diameter_mm < 12:
        hint = "drill it at most 1 mm larger, or take M12 and up"
        raise InputError(Fault(f"no rule for {bolt.size} in a hole 2 mm larger", hint=hint))
    factor = LARGE_HOLE_FACTOR if large_hole and bolt.size in ("M12", "M14") else 1.0
    shear = bolt.grade.shear_share * bolt.grade.tensile_mpa * STRESS_AREA_MM2[bolt.size] / PARTIAL_FACTOR
    return planes * factor * shear


def tab_bearing_n(bolt: Bolt, tab: Tab) -> float:
    """What ``tab`` takes where ``bolt`` bears: k1 αb fu d t / γM2 for one bolt towards one end.

    αb = min(e1 / 3 d0, fub / fu, 1), k1 = min(2.8 e2 / d0 - 1.7, 2.5). Raises InputError for a hole that is too small.
    """
    if tab.hole_mm < bolt.diameter_mm:
        message = f"a hole of {tab.hole_mm:g} mm does not take a bolt {bolt.size}"
        raise InputError(Fault(message, hint=f"give a hole of {bolt.diameter_mm:g} mm or more"))
    end = min(tab.end_mm / (3 * tab.hole_mm), bolt.grade.tensile_mpa / tab.tensile_mpa, 1.0)
    edge = min(2.8 * tab.edge_mm / tab.hole_mm - 1.7, 2.5)
    return edge * end * tab.tensile_mpa * bolt.diameter_mm * tab.thickness_mm / PARTIAL_FACTOR
