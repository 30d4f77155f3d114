"""Loose fits of a shaft in a hole as data: how much smaller the shaft may come out, ISO 286.

Standard tolerances and fundamental deviations are those of the tables of ISO 286-1 and ISO 286-2 for sizes up to 120
mm, written down from memory. They follow, but for the standard's own rounding, from the formulas that it gives, with D
the geometric mean of a step of sizes in mm and the results in µm (c of the tables lies up to 14 % above it):

    i = 0.45 D^(1/3) + 0.001 D;  IT6 .. IT13 = 10, 16, 25, 40, 64, 100, 160, 250 i
    c = 52 D^0.2 up to 40 mm, 95 + 0.8 D beyond;  d = 16 D^0.44;  e = 11 D^0.41;  f = 5.5 D^0.41;  g = 2.5 D^0.34

``tests/test_joint_play.py`` holds the tables against these.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

STEPS = (3.0, 6.0, 10.0, 18.0, 30.0, 50.0, 80.0, 120.0)
"""mm: sizes up to and with these belong to one step."""
GRADES: Mapping[int, tuple[int, ...]] = MappingProxyType(
    {
        6: (6, 8, 9, 11, 13, 16, 19, 22),
        7: (10, 12, 15, 18, 21, 25, 30, 35),
        8: (14, 18, 22, 27, 33, 39, 46, 54),
        9: (25, 30, 36, 43, 52, 62, 74, 87),
        10: (40, 48, 58, 70, 84, 100, 120, 140),
        11: (60, 75, 90, 110, 130, 160, 190, 220),
        12: (100, 120, 150, 180, 210, 250, 300, 350),
        13: (140, 180, 220, 270, 330, 390, 460, 540),
    }
)
"""Standard tolerances IT in µm, for each step."""
FINE_STEPS = (3.0, 6.0, 10.0, 18.0, 30.0, 40.0, 50.0, 65.0, 80.0, 100.0, 120.0)
"""mm: the steps of deviations."""
DEVIATIONS: Mapping[str, tuple[int, ...]] = MappingProxyType(
    {
        "c": (60, 70, 80, 95, 110, 120, 130, 140, 150, 170, 180),
        "d": (20, 30, 40, 50, 65, 80, 80, 100, 100, 120, 120),
        "e": (14, 20, 25, 32, 40, 50, 50, 60, 60, 72, 72),
        "f": (6, 10, 13, 16, 20, 25, 25, 30, 30, 36, 36),
        "g": (2, 4, 5, 6, 7, 9, 9, 10, 10, 12, 12),
        "h": (0,) * 11,
    }
)
"""How far in µm a shaft of this letter at least stays below the size, and a hole of it above."""
_NAMED = re.compile(r"([A-Za-z]+)(\d+)/([A-Za-z]+)(\d+)")
_MM = 1e-3


@dataclass(frozen=True, slots=True)
class Fit:
    """A loose fit by its ``name`` at a size: the ``least`` and the ``most`` that its hole is wider, mm."""

    name: str
    least: float
    most: float


def fit_of(name: str, diameter: float) -> Fit | str:
    """The fit ``name``, as in H7/f7, at ``diameter`` mm; in words why there is none."""
    letters, grades = ", ".join(DEVIATIONS), ", ".join(map(str, GRADES))
    told = _NAMED.fullmatch(name)
    if told is None:
        return "a fit is written hole / shaft, as in H7/f7"
    hole, shaft = (told[1], int(told[2])), (told[3], int(told[4]))
    if not hole[0].isupper() or not shaft[0].islower():
        return "the hole's letter stands first and is a capital, as in H7/f7"
    if hole[0].lower() not in DEVIATIONS or shaft[0] not in DEVIATIONS:
        return f"letters of fits that are always loose, and known here: {letters}, for holes as capitals"
    if hole[1] not in GRADES or shaft[1] not in GRADES:
        return f"grades known here: {grades}"
    if not 0 < diameter <= STEPS[-1]:
        return f"fits are known for diameters above 0 and up to {STEPS[-1]:g} mm"
    step, fine = bisect_left(STEPS, diameter), bisect_left(FINE_STEPS, diameter)
    apart = DEVIATIONS[hole[0].lower()][fine] + DEVIATIONS[shaft[0]][fine]
    return Fit(name, apart * _MM, (apart + GRADES[hole[1]][step] + GRADES[shaft[1]][step]) * _MM)
