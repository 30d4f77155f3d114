"""Machines whose dimensions have tolerances, with worst cases in closed form."""

from small_machines import HERE

from assembly.model.reader import machine_from_text

RAIL = """
[joints.rail]
slide = ["bed", "stack"]
at = [0, 0, 0]
along = [0, 1, 0]
[drives.push]
slides = { rail = 1 }
range = [-5, 5]
"""


def read(text):
    return machine_from_text(f"format = 1\nname = 'Tolerances'\n{text}", HERE)


def stack_text(housing, parts, required=0.0):
    """A gap of a ``housing`` less ``parts``, each (value, plus or minus), along x; nothing but y moves."""
    names = [f"part_{number}" for number in range(len(parts))]
    lines = [
        f"{name} = {{ value = {value}, plus_minus = {off} }}" for name, (value, off) in zip(names, parts, strict=True)
    ]
    sum_ = " + ".join(names)
    return f"""
[dimensions]
housing = {{ value = {housing[0]}, plus_minus = {housing[1]} }}
{chr(10).join(lines)}
[parts.bed]
fixed = true
shapes = [{{ box = ["housing + 5", 0, 0], size = [10, 60, 60] }}]
[parts.stack]
shapes = [{{ box = ["({sum_}) / 2", 0, 0], size = ["{sum_}", 20, 20] }}]
{RAIL}
[clearance]
required = {required}
"""


def arm_text(pivot='"reach"', dimension="reach = { value = 100, plus_minus = 0.5 }", wall=170):
    """An arm of 50 mm from a pivot at x = ``pivot``, its end 20 mm from a wall in the zero position."""
    return f"""
[dimensions]
{dimension}
[points]
hinge = [{pivot}, 0, 0]
[parts.base]
fixed = true
shapes = [{{ box = [{wall + 5}, 0, 0], size = [10, 400, 40] }}]
[parts.arm]
shapes = [{{ box = [{pivot[:-1]} + 25", 0, 0], size = [50, 10, 10] }}]
[joints.hinge]
pin = ["base", "arm"]
at = "hinge"
along = [0, 0, 1]
[drives.swing]
turns = {{ hinge = 1 }}
range = [-10, 10]
"""


def rod_text(across=0.2, along=0.0):
    """A crank of 40 mm drives a rocker by a rod of 100 mm with ball ends; the rocker swings towards a wall above it.

    ``across``: tolerance of where the rod takes hold of the rocker, square to the rod; ``along``: of the rod's length.
    """
    return f"""
[dimensions]
side = {{ value = 40, plus_minus = {across} }}
length = {{ value = 100.1249219725, plus_minus = {along} }}
[points]
o = [0, 0, 0]
a = [0, 40, 0]
b = [100, "side", 5]
c = [100, 0, 0]
[parts.base]
fixed = true
shapes = [{{ name = "wall", box = [170, 20, 30], size = [20, 200, 20] }}]
[parts.crank]
shapes = [{{ box = [0, 20, -20], size = [6, 40, 6] }}]
[parts.rod]
set_length = {{ from = "a", to = "b", is = "length" }}
shapes = [{{ rod = ["a", "b"], diameter = 6 }}]
[parts.rocker]
shapes = [{{ box = [100, 40, 30], size = [20, 80, 10] }}]
[joints.o]
pin = ["base", "crank"]
at = "o"
along = [0, 0, 1]
[joints.a]
ball = ["crank", "rod"]
at = "a"
seat_radius = 8
[joints.b]
ball = ["rod", "rocker"]
at = "b"
seat_radius = 8
[joints.c]
pin = ["base", "rocker"]
at = "c"
along = [0, 0, 1]
[drives.crank]
turns = {{ o = 1 }}
range = [-20, 20]
"""


PEG = """
[dimensions]
place = { value = 50, plus_minus = 1 }
[parts.plate]
fixed = true
shapes = [
  { name = "plate", box = [50, 0, -5], size = [80, 80, 10] },
  { name = "peg", box = [59, 0, 2], size = [1, 1, 4] },
]
[parts.arm]
shapes = [{ name = "arm", box = [50, 0, 10], size = [60, 60, 10] }]
[joints.pivot]
pin = ["plate", "arm"]
at = ["place", 0, 0]
along = [0, 0, 1]
seat_radius = 10.5
[drives.turn]
turns = { pivot = 1 }
range = [-1, 1]
"""
"""A peg 1 mm below the arm, in the seat of the pivot as drawn and out of it where the pivot is drilled 1 mm away."""


FOUR_BAR = """
[dimensions]
crank = {{ value = 40, plus_minus = {off} }}
coupler = {{ value = 120, plus_minus = {off} }}
rocker = {{ value = 80, plus_minus = {off} }}
ground = {{ value = 100, plus_minus = {off} }}
[points]
o = [0, 0, 0]
a = [0, "crank", 0]
b = [118.84, 77.76, 0]
c = ["ground", 0, 0]
[parts.frame]
fixed = true
shapes = [{{ box = [0, 0, -50], size = [4, 4, 4] }}]
[parts.crank]
shapes = [{{ box = [0, 0, 50], size = [4, 4, 4] }}]
[parts.coupler]
set_length = {{ from = "a", to = "b", is = "coupler" }}
shapes = [{{ box = [0, 0, 100], size = [4, 4, 4] }}]
[parts.rocker]
set_length = {{ from = "c", to = "b", is = "rocker" }}
shapes = [{{ box = [100, 0, 150], size = [4, 4, 4] }}]
[joints.o]
pin = ["frame", "crank"]
at = "o"
along = [0, 0, 1]
[joints.a]
pin = ["crank", "coupler"]
at = "a"
along = [0, 0, 1]
[joints.b]
pin = ["coupler", "rocker"]
at = "b"
along = [0, 0, 1]
[joints.c]
pin = ["frame", "rocker"]
at = "c"
along = [0, 0, 1]
[drives.crank]
turns = {{ o = 1 }}
range = [{low}, {high}]
[measures.rocker]
angle = [{{ on = "frame", along = [1, 0, 0] }}, {{ on = "rocker", along = [1, 0, 0] }}]
about = {{ on = "frame", along = [0, 0, 1] }}
"""


def four_bar_text(off=0.05, low=-10, high=10):
    """Crank 40, coupler 120, rocker 80, ground 100 (REFERENCE: Freudenstein); crank square to the ground as drawn."""
    return FOUR_BAR.format(off=off, low=low, high=high)
