"""Mechanism files of gates: two arms that both stand still, 120 mm apart, and a rod between their ends (own models)."""

from pathlib import Path

from assembly.model.reader import machine_from_text

HERE = Path(__file__).resolve().parent
GATE = """
[points]
foot_NAME = [0, SIDE, 0]
far_NAME = [120, SIDE, 0]
top_NAME = [0, SIDE, 80]
end_NAME = [120, SIDE, 80]

[parts.near_NAME]
shapes = [{ rod = ["foot_NAME", "top_NAME"], diameter = 8 }]

[parts.far_NAME]
shapes = [{ rod = ["far_NAME", "end_NAME"], diameter = 8 }]

[parts.rod_NAME]
EDIT
shapes = [{ rod = ["top_NAME", "end_NAME"], diameter = 8 }]

[joints.foot_NAME]
pin = ["frame", "near_NAME"]
at = "foot_NAME"
along = [0, 1, 0]

[joints.far_NAME]
pin = ["frame", "far_NAME"]
at = "far_NAME"
along = [0, 1, 0]

[joints.top_NAME]
ball = ["near_NAME", "rod_NAME"]
at = "top_NAME"

[joints.end_NAME]
ball = ["rod_NAME", "far_NAME"]
at = "end_NAME"

[drives.near_NAME]
turns = { foot_NAME = 1 }
range = [-5, 5]

[drives.far_NAME]
turns = { far_NAME = 1 }
range = [-5, 5]
"""


def gates(**edits):
    """One gate for each name, side by side; its value is what stands in its rod's table, such as a ``set_length``."""
    text = ["format = 1", "[parts.frame]", "fixed = true", "shapes = [{ box = [60, 0, -20], size = [200, 200, 10] }]"]
    points, others = [], []
    for number, (name, edit) in enumerate(edits.items()):
        gate = GATE.replace("NAME", name).replace("SIDE", str(60 * number)).replace("EDIT", edit)
        own_points, rest = gate.strip().split("\n\n", 1)
        points += own_points.splitlines()[1:]
        others.append(rest)
    return "\n".join([*text, "[points]", *points, *others, ""])


def length(name, mm, more=""):
    """The line that sets the length of a gate's rod."""
    return f'set_length = {{ from = "top_{name}", to = "end_{name}", is = {mm}{more} }}'


def read(text):
    """The machine that ``text`` describes."""
    return machine_from_text(text, HERE)
