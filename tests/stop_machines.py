"""Machines with stops whose answers can be worked out on paper (BUILDERS_CASES TC-03, C08, C22 and own models)."""

from math import cos, radians, sin

BEAM_AXLE = """
format = 1
name = "Beam axle"
facet_error = 0.002

[points]
kingpin_left = [0, 300, 0]
kingpin_right = [0, -300, 0]
rod_left = [-130, 300, 0]
rod_right = [-130, -300, 0]

[parts.axle]
fixed = true
shapes = [
  { name = "beam", rod = [[0, -260, -60], [0, 260, -60]], diameter = 30 },
]

[parts.damper]
fixed = true
shapes = [{ name = "body", rod = [[-75, 150, -80], [-75, 150, 80]], diameter = 50 }]

[parts.knuckle_left]
shapes = [
  { name = "arm", rod = [[0, 300, 20], [-130, 300, 20]], diameter = 14 },
  { name = "stop pin", rod = [[0, 255, -20], [0, 255, 20]], diameter = 12 },
]

[parts.knuckle_right]
shapes = [{ name = "arm", rod = [[0, -300, 20], [-130, -300, 20]], diameter = 14 }]

[parts.tie_rod]
shapes = [{ name = "rod", rod = ["rod_left", "rod_right"], diameter = 19 }]

[joints]
pin_left = { pin = ["axle", "knuckle_left"], at = "kingpin_left", along = [0, 0, 1] }
pin_right = { pin = ["axle", "knuckle_right"], at = "kingpin_right", along = [0, 0, 1] }
ball_left = { ball = ["tie_rod", "knuckle_left"], at = "rod_left" }
ball_right = { ball = ["tie_rod", "knuckle_right"], at = "rod_right" }

[drives.steer]
turns = { pin_left = 1 }
range = [-35, 35]
beyond = [-40, 40]

[clearance]
pairs = [
  { between = ["tie_rod", "knuckle_left"], ignore = "jointed" },
  { between = ["tie_rod", "knuckle_right"], ignore = "jointed" },
]
"""
"""TC-03a: kingpins at y = ±300, arms 130 straight back, rod of radius 9.5, damper of radius 25 at x = -75."""

LEVER = 45.0
PIN = 6.0
STANDS_OFF = 60.0


def beam_axle(margin="clearance = 3.0, joints = 0", side="high", extra="", square_at=30.0):
    """The beam axle with an M8 bolt that stands along the way of the pin at lever 45 when turned by ``square_at``."""
    turn = radians(square_at if side == "high" else -square_at)
    way = 1 if side == "high" else -1
    pin = (LEVER * sin(turn), 300 - LEVER * cos(turn))
    along = (-way * cos(turn), -way * sin(turn))
    foot = (pin[0] - STANDS_OFF * along[0], pin[1] - STANDS_OFF * along[1])
    return f"""{BEAM_AXLE}
[stops.lock]
drive = "steer"
side = "{side}"
parts = ["knuckle_left", "axle"]
at = [{foot[0]}, {foot[1]}, 0]
along = [{along[0]}, {along[1]}, 0]
bolt = {{ diameter = 8, pitch = 1.25 }}
margin = {{ {margin} }}
{extra}
"""


def bolt_height(steer, square_at=30.0):
    """How far the bolt of ``beam_axle`` must stand out to be struck at ``steer`` degrees (closed form)."""
    from math import asin, hypot

    turn, at = radians(square_at), radians(steer)
    pin = (LEVER * (sin(at) - sin(turn)), LEVER * (cos(turn) - cos(at)))
    along = pin[0] * cos(turn) + pin[1] * sin(turn)
    assert hypot(*pin) < 4 and asin(1) > 0
    return STANDS_OFF - along - PIN
