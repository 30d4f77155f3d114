"""Colours of the picture, distinguished with any kind of colour sight.

The eight colours are those of M. Okabe and K. Ito, "Color Universal Design: how to make figures and
presentations that are friendly to colorblind people" (2002, revised 2008).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from assembly.geometry.scene import Role

Colour = tuple[int, int, int]
"""Red, green, blue, each 0 to 255."""

BLACK: Colour = (0, 0, 0)
ORANGE: Colour = (230, 159, 0)
SKY_BLUE: Colour = (86, 180, 233)
BLUISH_GREEN: Colour = (0, 158, 115)
YELLOW: Colour = (240, 228, 66)
BLUE: Colour = (0, 114, 178)
VERMILION: Colour = (213, 94, 0)
REDDISH_PURPLE: Colour = (204, 121, 167)

WHITE: Colour = (255, 255, 255)
LIGHT_GREY: Colour = (226, 228, 230)
MIDDLE_GREY: Colour = (138, 142, 146)
DARK_GREY: Colour = (70, 74, 78)

INK: Colour = (23, 33, 43)
SOFT: Colour = (82, 93, 102)
RULE: Colour = (200, 196, 182)
SHEET: Colour = (252, 251, 247)
BAD: Colour = (163, 35, 27)
GOOD: Colour = (23, 96, 58)
OPEN: Colour = (122, 78, 0)
"""Those of the page (``colours.css``), so that picture and page look like one house; a test holds the two together."""
VERDICTS: Mapping[str, Colour] = MappingProxyType({"fails": BAD, "clear": GOOD, "undecided": OPEN, "holds": GOOD})
"""The ground of a verdict's word, on which white letters have at least 7 times its contrast."""


@dataclass(frozen=True, slots=True)
class Paint:
    """How one kind of solid is drawn: its faces, its edges, and which way its cut faces are hatched."""

    fill: Colour
    line: Colour
    hatch: int
    """+1 lines rising to the right, -1 falling to the right, 0 none."""
    shade: float
    """Share of its colour that a face keeps when it is turned away from the light."""


PAINTS = {
    Role.FIRST: Paint(SKY_BLUE, (10, 50, 80), 1, 0.62),
    Role.SECOND: Paint(YELLOW, (80, 72, 0), -1, 0.66),
    Role.QUIET: Paint(LIGHT_GREY, MIDDLE_GREY, 0, 0.8),
}
OVERLAP = Paint(VERMILION, (90, 30, 0), 0, 0.7)
GAP = BLACK

_LIGHTER = 0.3
"""How far the colours of parts are taken towards white, so that light and lines show on them."""


def tints(fixed: Sequence[bool]) -> list[Paint]:
    """A paint for each part: grey for what is ``fixed``, else one of six colours in turn.

    Vermilion, the colour of an overlap, is not among them.
    """
    colours = [_tint(colour) for colour in (SKY_BLUE, YELLOW, BLUISH_GREEN, ORANGE, REDDISH_PURPLE, BLUE)]
    turns = np.cumsum([not one for one in fixed]) - 1
    return [PAINTS[Role.QUIET] if one else colours[turn % len(colours)] for one, turn in zip(fixed, turns, strict=True)]


def _tint(colour: Colour) -> Paint:
    red, green, blue = (round(value + _LIGHTER * (255 - value)) for value in colour)
    line_red, line_green, line_blue = (round(0.35 * value) for value in colour)
    return Paint((red, green, blue), (line_red, line_green, line_blue), 0, 0.62)
