"""Machines with rods that are screwed together: a lever pushed by a rod square to it, as in TC-05 (own models)."""

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
