"""Families of equations: what joints and drives demand, each with value, slopes and bounds on what those leave out."""

from assembly.kinematics.rows.base import Posture, Rates, Reach, Rows, Slopes
from assembly.kinematics.rows.held_roll import HeldRoll
from assembly.kinematics.rows.offset import Offset
from assembly.kinematics.rows.same_point import SamePoint
from assembly.kinematics.rows.square import Square
from assembly.kinematics.rows.turn import Turn

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
