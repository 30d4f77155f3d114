"""Machines with a rod that has a ball at each end, whose roll can be worked out on paper (own models)."""

from math import cos, radians, sin

ROD = """
format = 1
name = "Rod"
facet_error = 0.5

[parts.frame]
fixed = true
shapes = [{{ box = [300, 0, 0], size = [10, 10, 10] }}]

[parts.carrier]
shapes = [{{ box = [-300, 0, 0], size = [10, 10, 10] }}]

[parts.rod]
shapes = [{{ rod = [[0, -80, 0], [0, 80, 0]], square = 6 }}]

[joints.turning]
pin = ["frame", "carrier"]
at = [0, 0, 0]
along = [0, 1, 0]

[joints.near]
ball = ["rod", "{near}"]
at = [0, -100, 0]
bolt = [0, 0, 1]
misalignment = {limit}

[joints.far]
ball = ["rod", "carrier"]
at = [0, 100, 0]
bolt = [0, 0, 1]
eye = [{eye[0]}, 0, {eye[1]}]
misalignment = {limit}

[drives.twist]
turns = {{ turning = 1 }}
range = [{low}, {high}]
"""


def twisted_rod(low, high, limit=14.0, clocked=0.0, near="frame"):
    """A rod along y between two upright bolts, one of which turns about the rod's line with the drive.

    ``near`` = "carrier" turns both bolts. ``clocked``: the far end sits turned on the rod by this many degrees,
    right-handed about y.
    """
    eye = sin(radians(clocked)), cos(radians(clocked))
    return ROD.format(low=low, high=high, limit=limit, eye=eye, near=near)
