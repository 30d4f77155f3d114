"""Mechanism files that tests read, whole and sound; broken ones are made from them one change at a time."""

from itertools import product
from pathlib import Path

TRIKE = """\
format = 1
name = "Parcel trike front end"

[dimensions]
track = 640
arm_inner = { value = 58, plus_minus = 0.5 }
tie_rod = { value = 231.4, plus_minus = 0.5 }

[points]
lower_inner_left = [0, "arm_inner", 165]
lower_front_left = [60, "arm_inner", 165]
lower_rear_left = [-60, "arm_inner", 165]
lower_outer_left = [0, "track/2 - 62", 157]
head_low = [0, 0, 90]
head_high = [-40, 0, 300]

[parts.frame]
fixed = true
meshes = [{ file = "frame_shell.stl" }]
shapes = [{ tube = ["head_low", "head_high"], diameter = 38, wall = 2 }]

[parts.lower_arm_left]
shapes = [
  { name = "front leg", rod = ["lower_front_left", "lower_outer_left"], diameter = 18 },
  { name = "bush", bearing_of = "lower_pivot_left",
    tube = ["lower_front_left", "lower_rear_left"], diameter = 22, wall = 3 },
]

[parts.upright_left]
shapes = [{ box = "lower_outer_left", size = [20, 20, 80] }]

[parts.wheel_left]
shapes = [{ ring = [0, 320, 157], axis = [0, 1, 0], diameter = 400, thickness = 44 }]

[parts.seat]
shapes = [{ box = [-200, 0, 300], size = [100, 200, 20] }]

[joints.seat_bolts]
bolted = ["frame", "seat"]

[joints.hub_left]
pin = ["upright_left", "wheel_left"]
at = [0, 320, 157]
along = [0, 1, 0]

[joints.lower_pivot_left]
pin = ["frame", "lower_arm_left"]
at = "lower_inner_left"
along = [1, 0, 0]

[joints.lower_ball_left]
ball = ["lower_arm_left", "upright_left"]
at = "lower_outer_left"
bolt = [0, 0, 1]
misalignment = 22
seat_radius = 14

[mirror]
left = "right"

[drives.tilt]
turns = { lower_pivot_left = 1, lower_pivot_right = 1 }
range = [-30, 30]

[clearance]
required = 3
pairs = [{ between = ["wheel_left", "frame"], required = 6 },
         { between = ["seat", "frame"], ignore = "bolted together" }]
"""
"""The sketch of the design, with the parts and joints that it leaves out."""

BENCH = """\
format = 1
notes = "A workbench linkage with one of everything."
facet_error = 0.1

[dimensions]
reach = 120
half = "reach / 2"
swing = { value = "half / 2", plus_minus = "half / 100" }

[points]
post = [0, 0, 0]
elbow_left = ["reach", 40, 0]
tip_left = ["reach", 40, "half"]

[parts.stand]
fixed = true
shapes = [
  { box = "post", size = [30, 30, 10], rotated = [0, 0, 45] },
  { plate = [[0, 0], [60, 0], [60, 40], [0, 40]], at = [-90, -20, 0], normal = [0, 0, 1], along = [1, 0, 0],
    thickness = 5, side = "plus", holes = [{ at = [15, 20], diameter = 8 }],
    slots = [{ from = [35, 20], to = [45, 20], width = 6 }] },
]
meshes = [{ file = "block.stl", unit = "cm", scale = 2, at = [0, 0, -50], rotated = [0, 0, 90], surface_error = 0 }]

[parts.arm_left]
points = { tip_left = ["reach", 40, 70] }
shapes = [
  { name = "bar", rod = ["post", "elbow_left", "tip_left"], diameter = 10, bend = 20,
    cut = [{ rod = [["half", 20, -20], ["half", 20, 20]], diameter = 4 }] },
  { rod_end = "elbow_left", shank = [-1, 0, 0], bolt = [0, 0, 1], size = "M8", bearing_of = ["knuckle_left"] },
]

[parts.link_left]
set_length = { from = "elbow_left", to = "tip_left", is = 75 }
shapes = [{ hexagon = ["elbow_left", "tip_left"], across_flats = 13, bore = 6 },
          { cone = ["tip_left", ["reach", 40, 100]], diameters = [12, 0] }]

[parts.slider]
shapes = [{ turned = [[0, 0], [30, 0], [30, 9], [0, 9]], at = ["reach", 0, 60], axis = [0, 0, 1],
            joined = [{ box = ["reach", 0, 90], size = [30, 10, 10] }] }]

[joints.shoulder_left]
pin = ["stand", "arm_left"]
at = "post"
along = ["post", "elbow_left"]
seat_radius = 15
rating = "reach * 10"
radial_rating = 900
axial_rating = 300

[joints.knuckle_left]
universal = ["arm_left", "link_left"]
at = "tip_left"
axes = [[1, 0, 0], [0, 1, 0]]

[joints.rail]
slide = ["stand", "slider"]
at = ["reach", 0, 60]
along = [0, 0, 1]

[mirror]
left = "right"

[drives.lift]
slides = { rail = 0.5 }
range = [0, "swing"]

[drives.fold]
turns = { shoulder_left = 1, shoulder_right = -1 }
range = [-10, 10]

[loads.hand]
forces = [{ on = "arm_left", at = "tip_left", newtons = [0, "reach", -50] }]
moments = [{ on = "link_left", newton_metres = [0, 0, "reach / 10"] }]
weights = [{ on = "slider", at = ["reach", 0, "half"], kilograms = "reach / 100" }]
down = [0, 0, -1]
gravity = 9.80665
stop = { on = "slider", against = "stand", at = ["reach", 0, 60], push = [0, 0, 1], holds = "lift" }

[clearance]
parts = { link_left = 2 }
pairs = [{ between = ["arm_left", "arm_right"], ignore = "they share the post" },
         { between = ["link_left", "arm_right"], required = 4 }]
"""
"""One of every other kind of entry."""

_QUADS = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))


def write_box(path: Path, size: tuple[float, float, float], centre: tuple[float, float, float] = (0, 0, 0)) -> None:
    """A text STL of a box, its facets counter-clockwise from outside."""
    corners = [
        [c + s * h for c, s, h in zip(centre, size, half, strict=True)] for half in product((-0.5, 0.5), repeat=3)
    ]
    lines = ["solid box"]
    for a, b, c, d in _QUADS:
        for facet in ((a, b, c), (a, c, d)):
            lines += ["facet normal 0 0 0", "outer loop"]
            lines += ["vertex " + " ".join(f"{x:.9g}" for x in corners[k]) for k in facet]
            lines += ["endloop", "endfacet"]
    path.write_text("\n".join([*lines, "endsolid box", ""]), encoding="utf-8")


def folder_with_meshes(folder: Path) -> Path:
    """``folder`` with the mesh files that both machines name."""
    write_box(folder / "frame_shell.stl", (300, 60, 120), (-150, 0, 200))
    write_box(folder / "block.stl", (2, 3, 4))
    return folder
