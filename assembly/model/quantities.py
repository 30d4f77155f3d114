"""Numbers that a builder gives for forces and stops: what is no usable number is refused, all faults at once."""

from __future__ import annotations

from math import isfinite

from assembly.errors import Fault, InputError

GRAVITY = 9.81
"""m/s², the figure of workshop tables; the standard one is 9.80665 (ISO 80000-3), .03 % less."""

Vector = tuple[float, float, float]

Quantity = tuple[str, float, str]
"""Name, value and unit, such as ``("pad thickness", 10.0, "mm")``."""


def require_positive(*quantities: Quantity) -> None:
    """Raise InputError with one fault for each value that is not a finite number above zero."""
    faults = [
        Fault(f"{name} is {_told(value, unit)}", hint=f"give {name} in {unit or 'plain numbers'}, more than 0")
        for name, value, unit in quantities
        if not (isfinite(value) and value > 0)
    ]
    if faults:
        raise InputError(*faults)


def require_between(name: str, value: float, unit: str, low: float, high: float) -> None:
    """Raise InputError where ``value`` is no number from ``low`` to ``high``, both allowed."""
    if not low <= value <= high:
        hint = f"give {name} from {low:g} to {high:g} {unit}".rstrip()
        raise InputError(Fault(f"{name} is {_told(value, unit)}", hint=hint))


def _told(value: float, unit: str) -> str:
    return f"{value:g} {unit}".rstrip()
