"""Swingroom: finds out whether any part of a linkage strikes another, anywhere in its range of motion.

The names below are loaded when they are first asked for: numerical libraries take longer to load than most commands.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from assembly.api.cabling import cables as cables
    from assembly.api.checking import checks as checks
    from assembly.api.grinding import GrindResult as GrindResult
    from assembly.api.grinding import grind as grind
    from assembly.api.loading import load as load
    from assembly.api.main_check import SweepResult as SweepResult
    from assembly.api.main_check import sweep as sweep
    from assembly.api.measuring import measures as measures
    from assembly.api.playing import play as play
    from assembly.api.proposals.proposing import propose as propose
    from assembly.api.questions import clearance_map as clearance_map
    from assembly.api.questions import design_stops as design_stops
    from assembly.api.questions import loads as loads
    from assembly.api.questions import pose as pose
    from assembly.api.questions import usable_range as usable_range
    from assembly.api.rods import rods as rods
    from assembly.api.spreading import spread as spread
    from assembly.api.surveying import fit_measured as fit_measured
    from assembly.api.variants.run import variants as variants
    from assembly.api.weighing import weights as weights
    from assembly.api.what_helps import what_helps as what_helps
    from assembly.api.wheels import wheels as wheels
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

_MAIN_CHECK, _QUESTIONS = "assembly.api.main_check", "assembly.api.questions"
_ERRORS = "assembly.errors"
_HOME = {
    "AssemblyError": _ERRORS,
    "CutShortError": _ERRORS,
    "Effort": "assembly.clearance.narrow_phase.pair_result",
    "Fault": _ERRORS,
    "GrindResult": "assembly.api.grinding",
    "InputError": _ERRORS,
    "Machine": "assembly.model.machine",
    "OutputError": _ERRORS,
    "PictureError": _ERRORS,
    "ShapeError": _ERRORS,
    "SweepResult": _MAIN_CHECK,
    "SwingroomError": _ERRORS,
    "cables": "assembly.api.cabling",
    "checks": "assembly.api.checking",
    "clearance_map": _QUESTIONS,
    "design_stops": _QUESTIONS,
    "fit_measured": "assembly.api.surveying",
    "grind": "assembly.api.grinding",
    "load": "assembly.api.loading",
    "loads": _QUESTIONS,
    "measures": "assembly.api.measuring",
    "play": "assembly.api.playing",
    "pose": _QUESTIONS,
    "propose": "assembly.api.proposals.proposing",
    "rods": "assembly.api.rods",
    "spread": "assembly.api.spreading",
    "sweep": _MAIN_CHECK,
    "usable_range": _QUESTIONS,
    "variants": "assembly.api.variants.run",
    "weights": "assembly.api.weighing",
    "what_helps": "assembly.api.what_helps",
    "wheels": "assembly.api.wheels",
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
