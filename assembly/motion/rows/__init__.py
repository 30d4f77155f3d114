"""Families of equations: what joints and drives demand, each with value, slopes and bounds on what those leave out."""

from assembly.motion.rows.base import Posture, Rates, Reach, Rows, Slopes
from assembly.motion.rows.held_roll import HeldRoll
from assembly.motion.rows.offset import Offset
from assembly.motion.rows.same_point import SamePoint
from assembly.motion.rows.square import Square
from assembly.motion.rows.turn import Turn

__all__ = [
    "HeldRoll",
    "Offset",
    "Posture",
    "Rates",
    "Reach",
    "Rows",
    "SamePoint",
    "Slopes",
    "Square",
    "Turn",
]
