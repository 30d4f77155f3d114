"""Machines with rods that are screwed together: a lever pushed by a rod square to it, as in TC-05 (own models)."""

from math import hypot, sqrt

LEVER = """
format = 1
name = "Lever"
facet_error = 0.5
[dimensions]
length = LENGTH
[points]
near = [ARM, 0, 0]
far = [ARM, "length", 0]
[parts.frame]
fixed = true
shapes = [{ box = [-60, 0, 0], size = [6, 6, 6] }]
[parts.lever]
shapes = [{ box = ["ARM / 2", 0, 0], size = [6, 6, 6] }]
[parts.rod]
set_length = { from = "far", to = "near", is = "length" }
shapes = [{ box = [ARM, "length / 2", 0], size = [6, 10, 6] }]
[parts.bar]
shapes = [{ box = [ARM, "length + 40", 0], size = [6, 6, 6] }]
[joints]
pivot = { pin = ["frame", "lever"], at = [0, 0, 0], along = [0, 0, 1], limit = [-40, 40] }
near = { ball = ["rod", "lever"], at = "near" }
far = { ball = ["rod", "bar"], at = "far" }
guide = { slide = ["frame", "bar"], at = "far", along = [0, 1, 0] }
[drives.push]
slides = { guide = 1 }
range = [-4, 4]
"""


def rod_table(first="", second="", tube=240.0, rules=(), part="rod", more=""):
    """``[rods.rod]`` with what its ends say beside their joints."""
    named = ", ".join(f'"{rule}"' if isinstance(rule, str) else rule[0] for rule in rules)
    return f"""
[rods.rod]
part = "{part}"
tube_length = {tube}
rules = [{named}]
{more}
ends = [
  {{ joint = "near", {first} }},
  {{ joint = "far", {second} }},
]
"""


def lever(table, length=300.0, arm=80.0):
    """The lever's file with the table of its rod."""
    return LEVER.replace("LENGTH", str(length)).replace("ARM", str(arm)) + table


M8 = 'size = "M8", hand = "right"'
M8_LEFT = 'size = "M8", hand = "left"'

RACK = """
format = 1
name = "Rack"
facet_error = 0.5
[mirror]
left = "right"
[dimensions]
reach = 250
[points]
king_left = [0, 400, 200]
arm_left = [-100, 400, 200]
inner_left = [-100, "400 - reach", 200]
[parts.frame]
fixed = true
shapes = [{ box = [300, 0, 200], size = [6, 6, 6] }]
[parts.rack]
shapes = [{ box = [-300, 0, 200], size = [6, 6, 6] }]
[parts.upright_left]
shapes = [{ box = [0, 400, 200], size = [6, 6, 6] }]
[parts.rod_left]
set_length = { from = "inner_left", to = "arm_left", is = "reach" }
shapes = [{ box = [-100, 300, 200], size = [6, 10, 6] }]
[joints]
slide = { slide = ["frame", "rack"], at = [-300, 0, 200], along = [0, 1, 0] }
king_left = { pin = ["frame", "upright_left"], at = "king_left", along = [0, 0, 1] }
inner_left = { ball = ["rack", "rod_left"], at = "inner_left" }
arm_left = { ball = ["rod_left", "upright_left"], at = "arm_left" }
[rods.rod_left]
part = "rod_left"
tube_length = 200
ends = [
  { joint = "inner_left", size = "M8", hand = "right" },
  { joint = "arm_left", size = "M8", hand = "left" },
]
[wheels.wheel_left]
part = "upright_left"
centre = "king_left"
spin = [0, 1, 0]
tyre_diameter = 400
section = 40
rim_diameter = 305
[road]
contact = { on = "frame", at = [-1000, 0, 0] }
[drives.rack]
slides = { slide = 1 }
range = [-3, 3]
"""
"""Two uprights steered by a rack over rods of 250, on arms of 100 (own model)."""


def longer(toe_mm):
    """How much longer both rods are for a total toe in mm across 305: so far is the arm's end from the inner joint."""
    sine = toe_mm / 2 / 305
    return hypot(100 - 100 * sqrt(1 - sine**2), 250 + 100 * sine) - 250
