"""What the commands can do, as functions from a machine to plain values. ``import assembly`` gives the same names."""

from assembly.api.main_check import SweepResult, sweep
from assembly.api.questions import clearance_map, design_stops, load, loads, pose, usable_range

__all__ = ["SweepResult", "clearance_map", "design_stops", "load", "loads", "pose", "sweep", "usable_range"]
