"""Swingroom: finds out whether any part of a linkage strikes another, anywhere in its range of motion.

The names below are loaded when they are first asked for: numerical libraries take longer to load than most commands.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from assembly.api import SweepResult as SweepResult
    from assembly.api import clearance_map as clearance_map
    from assembly.api import design_stops as design_stops
    from assembly.api import load as load
    from assembly.api import loads as loads
    from assembly.api import pose as pose
    from assembly.api import sweep as sweep
    from assembly.api import usable_range as usable_range
    from assembly.clearance.narrow_phase.pair_result import Effort as Effort
    from assembly.errors import AssemblyError as AssemblyError
    from assembly.errors import CutShortError as CutShortError
    from assembly.errors import Fault as Fault
    from assembly.errors import InputError as InputError
    from assembly.errors import OutputError as OutputError
    from assembly.errors import PictureError as PictureError
    from assembly.errors import ShapeError as ShapeError
    from assembly.errors import SwingroomError as SwingroomError
    from assembly.model.machine import Machine as Machine

_API = "assembly.api"
_ERRORS = "assembly.errors"
_HOME = {
    "AssemblyError": _ERRORS,
    "CutShortError": _ERRORS,
    "Effort": "assembly.clearance.narrow_phase.pair_result",
    "Fault": _ERRORS,
    "InputError": _ERRORS,
    "Machine": "assembly.model.machine",
    "OutputError": _ERRORS,
    "PictureError": _ERRORS,
    "ShapeError": _ERRORS,
    "SweepResult": _API,
    "SwingroomError": _ERRORS,
    "clearance_map": _API,
    "design_stops": _API,
    "load": _API,
    "loads": _API,
    "pose": _API,
    "sweep": _API,
    "usable_range": _API,
}
"""The module of each public name."""

__all__ = tuple(_HOME)


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'assembly' has no attribute {name!r}; it has {', '.join(_HOME)}")
    value = getattr(import_module(_HOME[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOME})
