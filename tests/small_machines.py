"""Mechanism files small enough to sweep in a moment, with answers that can be worked out on paper (own models)."""

from pathlib import Path

from assembly.model.reader import machine_from_text

HERE = Path(__file__).resolve().parent


def slider(low=-5.0, high=8.0, required=1.0, extra=""):
    """A block 20 mm wide slides towards a fixed one; the gap is 10 mm less the setting. A lug is welded on top."""
    return f"""
format = 1
name = "Slider"

[parts.base]
fixed = true
shapes = [{{ name = "block", box = [0, 0, 0], size = [20, 20, 20] }}]

[parts.sledge]
shapes = [{{ name = "nose", box = [0, 30, 0], size = [20, 20, 20] }}]

[parts.lug]
shapes = [{{ name = "ear", box = [0, 35, 20], size = [6, 6, 20] }}]

[joints.guide]
slide = ["base", "sledge"]
at = [0, 30, 0]
along = [0, -1, 0]

[joints.weld]
welded = ["sledge", "lug"]

[drives.push]
slides = {{ guide = 1 }}
range = [{low}, {high}]

[clearance]
required = {required}
{extra}
"""


TRAMMEL = """
format = 1
name = "Trammel"
facet_error = 0.5

[parts.frame]
fixed = true
shapes = [{ box = [300, 0, 0], size = [10, 10, 10] }]

[parts.low]
shapes = [{ name = "sole", box = [0, 0, -30], size = [10, 10, 10] }]

[parts.high]
shapes = [{ name = "head", box = [0, 0, 130], size = [10, 10, 10] }]

[parts.link]
shapes = [{ name = "bar", rod = [[0, 0, 20], [0, 0, 80]], square = 6 }]

[joints.low_guide]
slide = ["frame", "low"]
at = [0, 0, 0]
along = [0, 1, 0]

[joints.high_guide]
slide = ["frame", "high"]
at = [0, 0, 100]
along = [0, 0, 1]

[joints.low_ball]
ball = ["link", "low"]
at = [0, 0, 0]
bolt = [0, 1, 0]
misalignment = RATING

[joints.high_ball]
ball = ["link", "high"]
at = [0, 0, 100]

[drives.push]
slides = { low_guide = 1 }
range = RANGE
"""


def trammel(low=-30.0, high=20.0, misalignment=22.0):
    """A rod of 100 mm between two carriages that slide square to each other: it leans by asin(setting / 100)."""
    return TRAMMEL.replace("RATING", str(misalignment)).replace("RANGE", f"[{low}, {high}]")


APART = ("low", "link"), ("high", "link"), ("frame", "low"), ("frame", "high")
LOCKING_TRAMMEL = "[clearance]\npairs = ["
LOCKING_TRAMMEL += ", ".join(f'{{ between = {list(both)}, ignore = "x" }}' for both in APART) + "]\n"
"""Two pairs are left, one that moves and one that also turns: where a machine locks, each undecided one is measured."""

SPINDLE = """
format = 1
name = "Spindle"
facet_error = 0.5

[parts.frame]
fixed = true
shapes = [{ box = [0, 0, -40], size = [10, 10, 10] }]

[parts.wheel]
shapes = [{ box = [0, 0, 20], size = [10, 10, 10] }]

[joints.axle]
cylindrical = ["frame", "wheel"]
at = [0, 0, 0]
along = [0, 0, 1]

[drives.spin]
turns = { axle = 2.5 }
range = [-100, 100]

[drives.lift]
slides = { axle = 1 }
range = [0, 12]
"""

SWALLOWED = """
format = 1
name = "Swallowed"

[parts.tank]
fixed = true
shapes = [{ name = "block", box = [0, 0, 0], size = [100, 100, 100] }]

[parts.float]
shapes = [{ name = "pill", box = [0, 0, 0], size = [10, 10, 10] }]

[joints.guide]
slide = ["tank", "float"]
at = [0, 0, 0]
along = [0, 0, 1]

[drives.level]
slides = { guide = 1 }
range = [-10, 10]
"""

GATE_WITHOUT_DRIVE = """
[parts.gate]
shapes = [{ box = [0, 0, 60], size = [10, 10, 10] }]

[joints.rail]
slide = ["base", "gate"]
at = [0, 0, 60]
along = [1, 0, 0]
"""
"""To be added to the slider: nothing sets where the gate stands."""


def read(text):
    """The machine that ``text`` describes."""
    return machine_from_text(text, HERE)


def quiet(_stage, _done, _total):
    """Progress that nobody looks at."""
