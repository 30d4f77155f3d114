"""A wheel on a kingpin that is steered by a rod from an arm at the bars, with play in closed form."""

from small_machines import HERE

from assembly.model.reader import machine_from_text

STEERED = """
format = 1
name = "Steered wheel"
[points]
pivot = [0, 0, 0]
tip = [0, {arm}, 0]
bar_end = [200, {lever}, 0]
column = [200, 0, 0]
[parts.frame]
fixed = true
shapes = [{{ box = [100, 0, -300], size = [20, 20, 20] }}]
[parts.knuckle]
shapes = [{{ name = "arm", rod = ["pivot", "tip"], diameter = 8 }}]
[parts.rod]
shapes = [{{ rod = ["tip", "bar_end"], diameter = 8 }}]
[parts.bars]
shapes = [{{ rod = ["column", "bar_end"], diameter = 8 }}]
[joints.kingpin]
pin = ["frame", "knuckle"]
at = "pivot"
along = [0, 0, 1]
{kingpin}
[joints.arm_end]
ball = ["knuckle", "rod"]
at = "tip"
seat_radius = 9
{arm_end}
[joints.bar_end]
ball = ["rod", "bars"]
at = "bar_end"
seat_radius = 9
{bar_joint}
[joints.column]
pin = ["frame", "bars"]
at = "column"
along = [0, 0, 1]
[drives.steer]
turns = {{ column = 1 }}
range = [-10, 10]
[wheels.front]
part = "knuckle"
centre = [0, -60, 0]
spin = [0, 1, 0]
tyre_diameter = 500
section = 40
rim_diameter = 380
[road]
plane = {{ on = "ground", at = [0, 0, -250], normal = [0, 0, 1] }}
{extra}
"""


def steered_text(arm=100, lever=100, kingpin="", arm_end="", bar_joint="", extra=""):
    """``arm``: from the kingpin to the rod, ``lever``: from the column to it, mm; the rest lines of its joints."""
    return STEERED.format(arm=arm, lever=lever, kingpin=kingpin, arm_end=arm_end, bar_joint=bar_joint, extra=extra)


def steered(**given):
    return machine_from_text(steered_text(**given), HERE)
