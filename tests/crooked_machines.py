"""A front end of two sides, written once with a mirror or out in full by hand on both sides (own model).

Nothing of the program is used to write it: the right side by hand is the same text with every y reversed.
"""

SIDES = {"left": 1, "right": -1}

POINTS = {
    "lower_pivot": (0, 50, 160),
    "upper_pivot": (0, 55, 270),
    "lower_ball": (6, 240, 155),
    "upper_ball": (-7, 232, 272),
    "tie_inner": (80, 60, 150),
    "tie_outer": (85, 236, 148),
}
PARTS = {
    "lower_arm": '{ name = "tube", rod = ["lower_pivot_S", "lower_ball_S"], diameter = 18 },'
    ' { name = "lug", box = [10, Y120, 170], size = [12, 20, 8] }',
    "upper_arm": '{ name = "tube", rod = ["upper_pivot_S", "upper_ball_S"], diameter = 14 }',
    "upright": '{ name = "post", rod = ["lower_ball_S", "upper_ball_S"], diameter = 20 },'
    ' { name = "arm", rod = ["lower_ball_S", "tie_outer_S"], diameter = 12 }',
    "tie_rod": '{ name = "tube", rod = ["tie_inner_S", "tie_outer_S"], diameter = 10 }',
}
JOINTS = {
    "lower_pivot": 'pin = ["frame", "lower_arm_S"]\nat = "lower_pivot_S"\nalong = [1, 0, 0]\nlimit = LIMIT',
    "upper_pivot": 'pin = ["frame", "upper_arm_S"]\nat = "upper_pivot_S"\nalong = [1, 0, 0]',
    "lower_ball": 'ball = ["lower_arm_S", "upright_S"]\nat = "lower_ball_S"\nbolt = ["lower_ball_S", "upper_ball_S"]'
    "\nmisalignment = 30",
    "upper_ball": 'ball = ["upper_arm_S", "upright_S"]\nat = "upper_ball_S"',
    "tie_inner": 'ball = ["frame", "tie_rod_S"]\nat = "tie_inner_S"',
    "tie_outer": 'ball = ["tie_rod_S", "upright_S"]\nat = "tie_outer_S"',
}
LIMITS = {"left": "[-40, 25]", "right": "[-25, 40]"}
"""Closed form: about a mirrored line the mirrored turn is the other way round."""
HEAD = 'format = 1\n[parts.frame]\nfixed = true\nshapes = [{ name = "box", box = [0, 0, 210], size = [60, 60, 200] }]\n'
TAIL = "[drives.tilt]\nturns = { lower_pivot_left = 1, lower_pivot_right = 1 }\nrange = [-12, 12]\n"


def front_end(sides=("left", "right"), tables=None, points=None):
    """The text of the machine: ``tables`` adds lines to a part's table, ``points`` replaces or adds points.

    One side alone has a mirror for the other.
    """
    tables, written = dict(tables or {}), {}
    for side in sides:
        written |= {f"{name}_{side}": (x, y * SIDES[side], z) for name, (x, y, z) in POINTS.items()}
    written |= points or {}
    text = [HEAD, "[points]", *(f"{name} = {list(at)}" for name, at in written.items())]
    for side in sides:
        for name, shapes in PARTS.items():
            drawn = shapes.replace("_S", f"_{side}").replace("Y120", str(120 * SIDES[side]))
            text += [f"[parts.{name}_{side}]", *_taken(tables, f"{name}_{side}", f"shapes = [{drawn}]")]
        for name, joint in JOINTS.items():
            text += [f"[joints.{name}_{side}]", joint.replace("_S", f"_{side}").replace("LIMIT", LIMITS[side])]
    for name, lines in tables.items():
        text += [f"[parts.{name}]", lines]
    return "\n".join([*text, *([] if len(sides) == 2 else ["[mirror]", 'left = "right"']), TAIL])


def _taken(tables, name, shapes):
    lines = tables.pop(name, "")
    return [lines] if "shapes" in lines else [shapes, lines]
