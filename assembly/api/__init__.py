"""What the commands can do, as functions from a machine to plain values. ``import assembly`` gives the same names."""

from assembly.api.questions import clearance_map, design_stops, load, loads, pose, usable_range
from assembly.api.sweeping import SweepResult, sweep

__all__ = ["SweepResult", "clearance_map", "design_stops", "load", "loads", "pose", "sweep", "usable_range"]
