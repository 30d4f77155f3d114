"""What measures come to in two runs, in words."""

from __future__ import annotations

from assembly.record import MeasureChange, MeasureValues
from assembly.report.text.words import figure, unit_sign


def measure_changed(one: MeasureChange) -> str:
    """What a measure came to, and comes to now."""
    sign = unit_sign(one.unit)
    if one.before is None or one.now is None:
        side, when = (one.now, "new") if one.now else (one.before, "gone")
        return f"{one.name}: {when}, {_values(side, sign)}" if side else one.name
    return f"{one.name}: {_values(one.before, sign)}, now {_values(one.now, sign)}"


def _values(side: MeasureValues, sign: str) -> str:
    zero = "no value with all drives at 0" if side.zero is None else f"{figure(side.zero)}{sign} with all drives at 0"
    if side.least is None or side.most is None:
        return zero
    return f"{figure(side.least)} to {figure(side.most)}{sign} ({zero})"
