"""Machines that are measured: small linkages whose angles and distances have closed forms."""

import numpy as np
from small_machines import HERE

from assembly.model.reader import machine_from_text

BOX = "size = [4, 4, 4]"


FOUR_BAR = """
[points]
o = [0, 0, 0]
a = [{a0:.17g}, {a1:.17g}, 0]
b = [{b0:.17g}, {b1:.17g}, 0]
c = [{ground}, 0, 0]
[parts.frame]
fixed = true
shapes = [{{ box = [0, 0, -50], size = [4, 4, 4] }}]
[parts.crank]
shapes = [{{ box = [0, 0, 50], size = [4, 4, 4] }}]
[parts.coupler]
shapes = [{{ box = [0, 0, 100], size = [4, 4, 4] }}]
[parts.rocker]
shapes = [{{ box = [0, 0, 150], size = [4, 4, 4] }}]
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
{measures}
"""


def four_bar(measures, low=-180.0, high=180.0, crank=40.0, coupler=120.0, rocker=80.0, ground=100.0, start=90.0):
    """A planar four-bar in the plane z = 0, the crank drawn at ``start`` degrees, in the open branch."""
    a = crank * np.array([np.cos(np.radians(start)), np.sin(np.radians(start))])
    d = np.hypot(*(a - [ground, 0]))
    # the angle at the rocker's ground pin, by the law of cosines; the coupler's end lies on the left of a - ground pin
    inner = np.arccos((rocker**2 + d**2 - coupler**2) / (2 * rocker * d))
    toward = np.arctan2(a[1], a[0] - ground) - inner
    b = np.array([ground, 0]) + rocker * np.array([np.cos(toward), np.sin(toward)])
    return read(
        FOUR_BAR.format(a0=a[0], a1=a[1], b0=b[0], b1=b[1], ground=ground, low=low, high=high, measures=measures)
    )


def read(text):
    return machine_from_text(f"format = 1\nname = 'Measured'\n{text}", HERE)


def arm(measures, low=-60.0, high=60.0, along="[0, 0, 1]"):
    """One arm from the origin to x = 100 on a pin ``along``."""
    return read(arm_text(measures, low, high, along))


def arm_text(measures, low=-60.0, high=60.0, along="[0, 0, 1]"):
    return f"""
[dimensions]
arm = 100
[points]
hinge = [0, 0, 0]
tip = [100, 0, 0]
[parts.post]
fixed = true
shapes = [{{ box = [0, 0, -50], {BOX} }}]
[parts.arm]
shapes = [{{ box = [100, 0, 0], {BOX} }}]
[joints.hinge]
pin = ["post", "arm"]
at = "hinge"
along = {along}
[drives.swing]
turns = {{ hinge = 1 }}
range = [{low}, {high}]
{measures}
"""
