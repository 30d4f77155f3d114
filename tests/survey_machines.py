"""Machines that were measured in the shop: an arm before an anchor, of which the readings have a closed form."""

import numpy as np
from small_machines import HERE

from assembly.model.reader import machine_from_text

SETTINGS = (-50.0, -25.0, 0.0, 30.0, 55.0)
TRUE = {"arm": 102.4, "anchor.x": 149.1, "anchor.y": 31.7}
"""What the machine in the shop has; its file says 100, 150 and 30."""
TEXT = """format = 1
name = "Measured arm"
[dimensions]
arm = { value = 100, may_differ = 5 }
out = 150
[points]
hinge = [0, 0, 0]
tip = ["arm", 0, 0]
anchor = { at = ["out", 30, 0], may_differ = [4, 4, 0] }
[parts.post]
fixed = true
shapes = [{ name = "post", box = [0, 0, -50], size = [4, 4, 4] }]
[parts.arm]
shapes = [{ name = "end", box = ["arm", 0, 0], size = [4, 4, 4] }]
[joints.hinge]
pin = ["post", "arm"]
at = "hinge"
along = [0, 0, 1]
[drives.swing]
turns = { hinge = 1 }
range = [-60, 60]
"""


def arm_text(measured):
    return TEXT + measured


def read(text):
    return machine_from_text(text, HERE)


def tip_to_anchor(arm, x, y, settings):
    """Closed form: mm from the arm's end to the anchor at ``settings`` in degrees."""
    turned = np.radians(settings)
    return np.hypot(x - arm * np.cos(turned), y - arm * np.sin(turned))


def tape(name, reading, swing=0.0, error=0.5, ends=("arm", "tip", "post", "anchor")):
    """The table of one reading by a tape, between two points of parts."""
    part, point, other, end = ends
    return (
        f"[measured.{name}]\n"
        f'distance = [{{ on = "{part}", at = "{point}" }}, {{ on = "{other}", at = "{end}" }}]\n'
        f"reading = {reading:.6f}\nplus_minus = {error}\nat = {{ swing = {swing:g} }}\n"
    )


def readings_of(arm, x, y, noise=(), settings=SETTINGS, error=0.5):
    """Readings from the arm's end to the anchor of a machine with these numbers, each so much off."""
    values = tip_to_anchor(arm, x, y, np.array(settings)) + (np.array(noise) if len(noise) else 0.0)
    return "".join(
        tape(f"at_{k}", value, swing, error) for k, (value, swing) in enumerate(zip(values, settings, strict=True))
    )
