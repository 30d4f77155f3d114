"""Machines with stops whose answers can be worked out on paper (BUILDERS_CASES TC-03, C08, C22 and own models)."""

from math import cos, radians, sin

from assembly.studies.stops import stop_design

BEAM_AXLE = """
format = 1
name = "Beam axle"
facet_error = 0.004

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
    turn, at = radians(square_at), radians(steer)
    pin = (LEVER * (sin(at) - sin(turn)), LEVER * (cos(turn) - cos(at)))
    along = pin[0] * cos(turn) + pin[1] * sin(turn)
    return STANDS_OFF - along - PIN


RACK = """
format = 1
name = "Rack"
facet_error = 0.004

[parts.frame]
fixed = true
shapes = [{{ name = "end plate", box = [0, -110, 0], size = [40, 10, 40] }}]

[parts.post]
fixed = true
shapes = [{{ name = "post", rod = [[{x}, {y}, 30], [{x}, {y}, 50]], diameter = 10 }}]

[parts.rack]
shapes = [{{ name = "bar", box = [0, 0, 0], size = [14, 60, 14] }}]

[parts.arm]
shapes = [{{ name = "arm", rod = [[150, 0, 40], [25, 0, 40]], diameter = 10 }}]

[parts.shoe]
shapes = [{{ name = "shoe", box = [25, 0, 70], size = [8, 8, 8] }}]

[joints]
guide = {{ slide = ["frame", "rack"], at = [0, 0, 0], along = [0, -1, 0] }}
arm_pin = {{ pin = ["frame", "arm"], at = [150, 0, 40], along = [0, 0, 1] }}
yoke = {{ pin = ["arm", "shoe"], at = [25, 0, 40], along = [0, 0, 1] }}
cross = {{ slide = ["rack", "shoe"], at = [25, 0, 0], along = [1, 0, 0] }}

[drives.rack]
slides = {{ guide = 1 }}
range = [-75, 75]

[clearance]
pairs = [{{ between = ["frame", "rack"], ignore = "the rack runs in it" }}]

[stops.spacer]
drive = "rack"
side = "high"
parts = ["rack", "frame"]
at = [0, -105, 0]
along = [0, 1, 0]
pad = {{ diameter = 12 }}
margin = {{ joints = 0 }}
{extra}
"""
"""TC-03b: an arm of 125 driven by a straight slide of 75 each way, which the end plate ends."""

FIRST_CONTACT = 31.0


def rack(extra=""):
    """The rack with a post that the arm touches when it has turned by ``FIRST_CONTACT`` degrees."""
    turn = radians(FIRST_CONTACT)
    x, y = 150 - 90 * cos(turn) + 10 * sin(turn), -90 * sin(turn) - 10 * cos(turn)
    return RACK.format(x=x, y=y, extra=extra)


SPRING = """
format = 1
name = "Rear axle"
facet_error = 0.004

[parts.shell]
fixed = true
shapes = [{ name = "shell", box = [0, 0, 450], size = [300, 120, 10] }]

[parts.axle]
shapes = [{ name = "axle", rod = [[0, -50, 200], [0, 50, 200]], diameter = 20 }]

[parts.tyre]
shapes = [{ name = "tyre", ring = [0, 0, 200], axis = [0, 1, 0], diameter = 400, thickness = 40 }]

[joints]
leg = { slide = ["shell", "axle"], at = [0, 0, 200], along = [0, 0, 1] }
hub = { welded = ["axle", "tyre"] }

[drives.bump]
slides = { leg = 1 }
range = [0, 60]

[stops.strip]
drive = "bump"
side = "high"
parts = ["axle", "shell"]
carrier = "axle"
at = [0, 45, 400]
along = [0, 0, 1]
pad = { square = 10 }
margin = { clearance = 8, joints = 0 }
"""
"""C22: 45 mm between tyre and shell, 60 mm of spring; a strip 8 mm above the tyre shall touch first."""


def two_stops(extra=""):
    """The beam axle with a soft bolt below the hard one, on the same lever, that acts 3.175 mm before it (C08)."""
    text = beam_axle(extra=extra)
    hard = text[text.index("[stops.lock]") :]
    soft = hard.replace("[stops.lock]", "[stops.soft]").replace(", 0]\nalong", ", -12]\nalong")
    return f'{text}\n{soft}ahead_of = {{ stop = "lock", by = 3.175 }}\n'


def both_stops(**options):
    """The beam axle with a bolt for each lock."""
    other = beam_axle(side="low", **options)
    return beam_axle(**options) + other[other.index("[stops.lock]") :].replace("[stops.lock]", "[stops.lock_right]")


TABLE = """
format = 1
name = "Table"

[parts.base]
fixed = true
shapes = [{ name = "base", box = [0, 0, -20], size = [200, 200, 20] }]

[parts.column]
shapes = [{ name = "column", box = [0, 0, 10], size = [20, 20, 30] }]

[parts.top]
shapes = [{ name = "top", box = [0, 0, 60], size = [TOP, TOP, 10] }]

[joints]
lift = { slide = ["base", "column"], at = [0, 0, 0], along = [0, 0, -1] }
turn = { pin = ["column", "top"], at = [0, 0, 40], along = [0, 0, 1] }

[drives.down]
slides = { lift = 1 }
range = [0, 30]

[drives.turn]
turns = { turn = 1 }
range = [-45, 45]

[clearance]
pairs = [
  { between = ["column", "top"], ignore = "jointed" },
  { between = ["base", "column"], ignore = "it runs in it" },
]

[stops.rest]
drive = "down"
side = "high"
parts = ["top", "base"]
at = [70, 0, -10]
along = [0, 0, 1]
pad = { diameter = 10 }
margin = { joints = 0, clearance = 40 }
"""


def table(top=160.0):
    """A square top of ``top`` mm comes down on a pad 70 mm from its axis, whatever its turn, if it is large enough.

    Rest: 65 mm from base to top; 40 are asked for, so 25 mm of way are left and the pad is 40 high.
    """
    return TABLE.replace("TOP", str(top))


GATE = """
format = 1
name = "Gate"

[parts.post]
fixed = true
shapes = [{ name = "post", box = [0, -60, 0], size = [200, 20, 20] }]

[parts.gate]
shapes = [{ name = "leaf", box = [60, 0, 0], size = [100, 10, 40] }]

[joints]
hinge = { pin = ["post", "gate"], at = [0, 0, 0], along = [0, 0, 1] }

[drives.swing]
turns = { hinge = 1 }
range = [-15, 15]

[stops.buffer]
drive = "swing"
side = "low"
parts = ["gate", "post"]
at = [90, -50, 0]
along = [0, 1, 0]
pad = { square = 6, modulus = 40 }
margin = { joints = 0 }
"""
"""A leaf 10 mm thick comes down on a pad 6 mm wide, 90 mm from the hinge, and lies askew on its edge."""


WINGS = """
format = 1
name = "Wings"

[mirror]
left = "right"

[parts.body]
fixed = true
shapes = [
  { name = "body", box = [0, 0, 0], size = [20, 30, 20] },
  { name = "roof", box = [0, 0, 60], size = [20, 240, 8] },
]

[parts.block]
fixed = true
shapes = [{ name = "block", box = [0, 118, 35], size = [10, 4, 10] }]

[parts.wing_left]
shapes = [{ name = "bar", box = [0, 70, 0], size = [10, 100, 10] }]

[joints]
hinge_left = { pin = ["body", "wing_left"], at = [0, 20, 0], along = [1, 0, 0] }

[drives.lean]
turns = { hinge_left = 1, hinge_right = 1 }
range = [-20, 20]

[clearance]
required = 2

[stops.end_left]
drive = "lean"
side = "high"
parts = ["wing_left", "body"]
at = [0, 90, 56]
along = [0, 0, -1]
pad = { diameter = 6 }
margin = { joints = 0 }
"""
"""Two wings that swing up under a roof; a block above the left one's tip leaves it less than the right one."""


def table_beside_a_post():
    """The table with a post on its base under which only a corner of the top passes, between the turns looked at.

    The corner reaches 113 mm; the post stands 111.5 mm out, up to z = 40, so that near turn 5.6 the top, which hangs at
    z = 55, may come down by 14 mm and keep 1 mm. Elsewhere the file's range of 30 mm is free.
    """
    turn = radians(45 + 5.6)
    x, y = 111.5 * cos(turn), 111.5 * sin(turn)
    text = table(160).replace("clearance = 40", "clearance = 0").replace("[clearance]", "[clearance]\nrequired = 1")
    post = f"""
[parts.post]
fixed = true
shapes = [{{ name = "post", rod = [[{x}, {y}, -10], [{x}, {y}, 40]], diameter = 4 }}]

[parts.column]"""
    text = text.replace("pairs = [", 'pairs = [\n  { between = ["base", "post"], ignore = "welded" },')
    return text.replace("\n[parts.column]", post)


def designed_stops(machine, progress, cores=1, heights=None):
    """Every stop of ``machine`` as it is first designed, unproven and not corrected."""
    with stop_design._designer(machine, progress, cores, heights) as designer:
        return designer.designed()
