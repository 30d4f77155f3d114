"""A dimension that the builder is willing to change: to which values, and how its line of the file then reads."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor

SLACK = 1e-9
"""mm or as the number is: values that differ by less are one."""
_VALUE = re.compile(r"(\bvalue\s*=\s*)[-+]?[0-9][0-9_]*(?:\.[0-9_]+)?(?:[eE][-+]?[0-9]+)?")


@dataclass(frozen=True, slots=True)
class Allowed:
    """What a dimension may be changed to: any value between two limits, one a whole number of steps away, or a size.

    ``value`` is today's, in mm, degrees or as the number is. ``weight``: what 1 of change costs against other
    dimensions; None where the file does not say.
    """

    name: str
    value: float
    low: float
    high: float
    step: float | None = None
    sizes: tuple[float, ...] = ()
    weight: float | None = None


def value_list(values: Sequence[float]) -> str:
    """Values as a list would have them."""
    return ", ".join(f"{value:g}" for value in values)


def steps_between(allowed: Allowed, value: float) -> tuple[int, int]:
    """How many steps downwards and upwards a value may take within its limits, at most."""
    step = allowed.step or 1.0
    return ceil((allowed.low - value) / step - SLACK), floor((allowed.high - value) / step + SLACK)


def line_with(allowed: Allowed, text: str, value: float) -> str:
    """The line of the file that holds a marked dimension, with another ``value``, and all else as it is.

    Where the line has more than that, as in a table of tables, the dimension's own entry is written anew.
    """
    written, count = _VALUE.subn(rf"\g<1>{value:.10g}", text)
    if count == 1 and text.startswith((allowed.name, f'"{allowed.name}"', f"'{allowed.name}'", "value")):
        return written
    limits = (
        f"sizes = [{value_list(allowed.sizes)}]" if allowed.sizes else f"may_be = [{allowed.low:g}, {allowed.high:g}]"
    )
    step = "" if allowed.step is None else f", step = {allowed.step:g}"
    weight = "" if allowed.weight is None else f", weight = {allowed.weight:g}"
    return f"{allowed.name} = {{ value = {value:.10g}, {limits}{step}{weight} }}"
