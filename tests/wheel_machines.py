"""Small machines with wheels, whose angles have closed forms; dimensions invented or of the case that is named."""

import numpy as np
from small_machines import HERE

from assembly.kinematics.assembling import assemble
from assembly.model.reader import machine_from_text
from assembly.studies.wheels.standing import standing_at

TYRE = "tyre_diameter = 400\nsection = 40\nspin = [0, 1, 0]"
FLOOR = '[road]\nplane = { on = "ground", at = [0, 0, 0], normal = [0, 0, 1] }\n'


def read(text):
    return machine_from_text(f"format = 1\nname = 'Wheels'\n{text}", HERE)


def parts(*names, fixed="frame"):
    """Parts of one small box each, high above and one behind the other, of which one is fixed."""
    boxes = (f"shapes = [{{ box = [{50 * place}, 0, 900], size = [4, 4, 4] }}]" for place in range(len(names)))
    return "".join(
        f"[parts.{name}]\n{'fixed = true' if name == fixed else ''}\n{box}\n"
        for name, box in zip(names, boxes, strict=True)
    )


def at(machine, *settings):
    """The machine on its road at settings, each a value for every drive."""
    mechanism = assemble(machine)
    return standing_at(mechanism, np.array(settings, dtype=float).reshape(len(settings), -1))


def corner(side=1.0, inner=(-90.0, 100.0, 250.0), height=0.0, *, name="left"):
    """TC-01: arms of 350 along y, 150 apart, a tie rod 90 behind, ``height`` above the lower outer joint.

    The drive of the arm is its angle.
    """
    x, y, z = inner
    return f"""
[points]
low_in_{name} = [0, {100 * side}, 250]
low_{name} = [0, {450 * side}, 250]
up_in_{name} = [0, {100 * side}, 400]
up_{name} = [0, {450 * side}, 400]
tie_in_{name} = [{x}, {y * side}, {z}]
tie_{name} = [-90, {450 * side}, {250 + height}]
[joints]
low_in_{name} = {{ pin = ["frame", "low_arm_{name}"], at = "low_in_{name}", along = [1, 0, 0] }}
up_in_{name} = {{ pin = ["frame", "up_arm_{name}"], at = "up_in_{name}", along = [1, 0, 0] }}
low_{name} = {{ ball = ["low_arm_{name}", "upright_{name}"], at = "low_{name}" }}
up_{name} = {{ ball = ["up_arm_{name}", "upright_{name}"], at = "up_{name}" }}
tie_in_{name} = {{ ball = ["frame", "tie_{name}"], at = "tie_in_{name}" }}
tie_{name} = {{ ball = ["tie_{name}", "upright_{name}"], at = "tie_{name}" }}
{parts(*(f"{part}_{name}" for part in ("low_arm", "up_arm", "upright", "tie")))}
[wheels.wheel_{name}]
part = "upright_{name}"
centre = [0, {450 * side}, 325]
kingpin = ["low_{name}", "up_{name}"]
rim_diameter = 406
tyre_diameter = 500
section = 40
spin = [0, 1, 0]
"""


def crossed_rod(inner, height):
    """TC-01 on both sides, lifted together: the floor stays the road, as where toe is measured on a stand."""
    return read(
        f"{corner(1.0, inner, height)}{parts('frame')}{FLOOR}"
        '[mirror]\nleft = "right"\n'
        "[drives.lift]\nturns = { low_in_left = 1, low_in_right = -1 }\nrange = [-8, 12]\n"
    )


def trapezoid(arm_angle=18.434948823, low=-45.0, high=45.0):
    """Two kingpins 800 apart, 1200 ahead of a third contact, arms of 100 leaning inward, a rod between their ends."""
    b = np.radians(arm_angle)
    x, y = -100 * np.cos(b), 400 - 100 * np.sin(b)
    return read(
        f"""
[points]
king_left = [0, 400, 0]
end_left = [{x:.15g}, {y:.15g}, 300]
[mirror]
left = "right"
[joints]
king_left = {{ pin = ["frame", "upright_left"], at = [0, 400, 300], along = [0, 0, 1] }}
end_left = {{ ball = ["rod", "upright_left"], at = "end_left" }}
{parts("frame", "upright_left", "rod")}
[wheels.wheel_left]
part = "upright_left"
centre = [0, 400, 200]
kingpin = [[0, 400, 100], [0, 400, 300]]
{TYRE}
[road]
contact = {{ on = "frame", at = [-1200, 0, 0] }}
[drives.steer]
turns = {{ king_left = 1 }}
range = [{low}, {high}]
"""
    )


def hinged(caster, extra="", steer=(-30, 30)):
    """One wheel that steers about a pin that leans back, on a frame that rolls about +x over the floor."""
    lean = np.radians(caster)
    return read(
        f"""
[joints]
roll = {{ pin = ["ground", "frame"], at = [0, 0, 300], along = [1, 0, 0] }}
king = {{ pin = ["frame", "upright"], at = [0, 300, 300], along = [{-np.sin(lean):.15g}, 0, {np.cos(lean):.15g}] }}
{parts("ground", "frame", "upright", fixed="ground")}
[wheels.wheel]
part = "upright"
centre = [0, 300, 200]
{TYRE}
[road]
plane = {{ on = "ground", at = [0, 0, 0], normal = [0, 0, 1] }}
frame = "frame"
{extra}
[drives.roll]
turns = {{ roll = 1 }}
range = [-30, 30]
[drives.steer]
turns = {{ king = 1 }}
range = [{steer[0]}, {steer[1]}]
"""
    )


def parallelogram(span=400.0, arm=200.0, rear=1000.0):
    """A tilting front whose beams lean as far as the frame; see the text."""
    return read(parallelogram_text(span, arm, rear))


def parallelogram_text(span=400.0, arm=200.0, rear=1000.0):
    """A tilting front: uprights on two equal beams that turn about the frame's middle, wheels in the beams' line.

    The same wheel stands behind, on the frame.
    """
    half = span / 2
    return f"""
[points]
low = [0, 0, 200]
high = [0, 0, {200 + arm}]
low_left = [0, {half}, 200]
high_left = [0, {half}, {200 + arm}]
[mirror]
left = "right"
[joints]
low = {{ pin = ["frame", "low_beam"], at = "low", along = [1, 0, 0] }}
high = {{ pin = ["frame", "high_beam"], at = "high", along = [1, 0, 0] }}
low_left = {{ pin = ["low_beam", "upright_left"], at = "low_left", along = [1, 0, 0] }}
high_left = {{ ball = ["high_beam", "upright_left"], at = "high_left" }}
{parts("frame", "low_beam", "high_beam", "upright_left")}
[wheels.wheel_left]
part = "upright_left"
centre = "low_left"
kingpin = ["low_left", "high_left"]
{TYRE}
[wheels.rear]
part = "frame"
centre = [{0.0 - rear}, 0, 200]
{TYRE}
[drives.tilt]
turns = {{ low = 1 }}
range = [-25, 25]
"""
