"""The colours of maps: one scale for the page, pixels and lines, by the margin that is left of a required clearance.

The steps are our own choice. What fails is vermilion and hatched; from there on the more margin, the darker: every two
neighbours differ in luminance by a contrast of 1.25 or more, so that no colour sight is needed to tell them apart.
"""

from __future__ import annotations

from bisect import bisect_right
from itertools import pairwise

from assembly.report.render.palette import Colour
from assembly.report.text.words import short

STEPS_MM = (0.0, 1.0, 2.0, 4.0, 8.0, 16.0)
"""Margins at which the colour changes; below the first it fails."""
STEP_COLOURS: tuple[Colour, ...] = (
    (200, 72, 10),
    (255, 244, 190),
    (244, 208, 96),
    (150, 192, 150),
    (96, 160, 168),
    (62, 122, 156),
    (34, 80, 124),
)
"""Of what fails, then of each step."""
FAILS = "nearer than required"


def step_at(margin_mm: float, least_mm: float) -> int:
    """Number of the step: 0 where it fails, more the more margin there is."""
    return bisect_right(STEPS_MM, margin_mm) if least_mm else 0


def step_words() -> list[str]:
    """What each step stands for, the failing one first."""
    spans = pairwise((*STEPS_MM, None))
    told = (f"{short(low or 0.0)}{f' to {short(high)}' if high else ' or more'} mm margin" for low, high in spans)
    return [FAILS, *told]


def css_colours() -> str:
    """The scale as the page's style sheet has it."""
    told = "".join(f" --step-{step}: #{bytes(colour).hex()};" for step, colour in enumerate(STEP_COLOURS))
    return f":root {{{told} }}"
