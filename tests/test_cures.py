"""What would cure a failing pair: swept again here as it would be drawn, and not told where it spoils another."""

from math import hypot
from pathlib import Path

from small_machines import quiet, read

from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.geometry.shapes import ROD_END_SIZES
from assembly.model.reader import machine_from_text
from assembly.studies.sweep.check import check
from assembly.studies.sweep.whole_sweep import cures

CASES = Path(__file__).resolve().parent / "cases"
ARM = """
format = 1
name = "Arm and peg"
facet_error = 0.2

[parts.post]
fixed = true
shapes = [
  {{ name = "pivot", rod = [[0, 0, -30], [0, 0, 30]], diameter = 20, bearing_of = "hinge" }},
  {{ name = "peg", rod = [[80, 60, {low}], [80, 60, {high}]], diameter = 8 }},
  {more}
]

[parts.arm]
shapes = [
  {{ name = "eye", tube = [[0, 0, -20], [0, 0, 20]], diameter = 30, wall = 4.9, bearing_of = "hinge" }},
  {{ name = "bar", box = [60, 0, 0], size = [100, 12, 12] }},
  {{ name = "horn", box = [100, 0, {horn}], size = [14, 14, 20] }},
]

[joints.hinge]
pin = ["post", "arm"]
at = [0, 0, 0]
along = [0, 0, 1]

[drives.turn]
turns = {{ hinge = 1 }}
range = [0, 60]

[clearance]
required = 2
"""


def cure_of(text):
    checked = check(read(text), Effort(), quiet)
    found = dict(cures(checked.swept.groups, checked.pairs, checked.found))
    return found.get(("post", "arm"))


def verdict(text):
    return check(read(text), Effort(strikes_shown=False), quiet).found[0].result.verdict


def arm(low=13.0, high=40.0, horn=12.0, more=""):
    """A horn on an arm, from 2 to 22 mm up, swings through a peg whose foot is at ``low``."""
    return ARM.format(low=low, high=high, horn=horn, more=more)


def test_the_peg_is_drawn_up_by_the_overlap_and_the_clearance():
    """Closed form: the horn's top is at 22, so the peg's foot must go to 24: 11 mm up, and no setting needs more."""
    assert verdict(arm()) is Verdict.FAILS
    cure = cure_of(arm())
    assert (cure.part, cure.shape, cure.direction) == ("post", "peg", (0, 0, 1))  # never along the horn's own circle
    assert 11 <= cure.shift_mm <= 12
    assert verdict(arm(low=13 + cure.shift_mm, high=40 + cure.shift_mm)) is Verdict.CLEAR
    assert verdict(arm(low=13 + 10.9, high=40 + 10.9)) is Verdict.FAILS


def test_a_shift_that_strikes_elsewhere_is_not_told():
    """The peg cannot go up into a roof that swings with the arm's own part."""
    roof = '{ name = "fence", rod = [[80, 60, 60], [80, 60, 62]], diameter = 3 },'
    machine = (
        arm()
        + """
[parts.roof]
fixed = true
shapes = [{ name = "roof", box = [80, 60, 45], size = [60, 60, 4] }]
"""
    )
    before = cure_of(arm(more=roof))
    assert before.shape
    cure = cure_of(machine)
    assert cure is None or (cure.part, cure.direction) != ("post", (0, 0, 1))


def test_a_shape_that_would_come_off_its_part_is_not_moved():
    """The peg hangs in a thin shelf at 24.1 to 24.4: 11 mm up its foot would be above it. So the horn goes down."""
    shelf = '{ name = "shelf", box = [80, 60, 24.25], size = [20, 20, 0.3] },'
    cure = cure_of(arm(high=27, more=shelf))
    assert (cure.part, cure.shape, cure.direction) == ("arm", "horn", (0, 0, -1))


BALL = """
format = 1
name = "Rod end on a bolt"
facet_error = 0.2

[parts.post]
fixed = true
shapes = [{{ name = "bolt", rod = [[0, 0, -30], [0, 0, 30]], diameter = 8 }}]

[parts.arm]
shapes = [{{ name = "rod end", rod_end = [0, 0, 0], shank = [1, 0, 0], bolt = [0, 0, 1], size = "M8" }}]

[joints.ball]
{kind} = ["post", "arm"]
at = [0, 0, 0]
{along}
{seat}

[drives.turn]
turns = {{ ball = 1 }}
range = [-30, 30]

[clearance]
required = 1
"""


def test_joined_parts_that_overlap_are_given_the_seat_that_holds_what_they_share():
    """Closed form: bolt and ball share a ring of radius 4 and half the ball's width, so 7.2 mm hold it."""
    text = BALL.format(kind="pin", along="along = [0, 0, 1]", seat="")
    cure = cure_of(text)
    assert (cure.joint, cure.clear) == ("ball", True)
    assert cure.seat_mm >= hypot(4, ROD_END_SIZES["M8"].ball_width / 2)
    assert cure.ball == ("arm", "rod end ball")
    left = read(BALL.format(kind="pin", along="along = [0, 0, 1]", seat='seat_radius = "bearing"'))
    assert left.joints["ball"].seat == cure.seat_mm
    swept = BALL.format(kind="pin", along="along = [0, 0, 1]", seat=f"seat_radius = {cure.seat_mm}")
    assert verdict(swept) is Verdict.CLEAR
    small = BALL.format(kind="pin", along="along = [0, 0, 1]", seat=f"seat_radius = {hypot(4, 6) - 0.3}")
    assert verdict(small) is Verdict.FAILS


PIVOT = """
format = 1
name = "Bush on a pin"
facet_error = 0.2

[parts.post]
fixed = true
shapes = [
  {{ name = "pin", rod = [[0, 0, -40], [0, 0, 40]], diameter = 12{seat} }},
  {{ name = "foot", box = [0, 0, -45], size = [40, 40, 10] }},
]

[parts.arm]
shapes = [
  {{ name = "bush", tube = [[0, 0, -30], [0, 0, 30]], diameter = 20, wall = 4{seat} }},
  {{ name = "bar", box = [60, 0, 0], size = [100, 12, 12] }},
]

[joints.pivot]
pin = ["post", "arm"]
at = [0, 0, 0]
along = [0, 0, 1]

[drives.turn]
turns = {{ pivot = 1 }}
range = [-30, 30]

[clearance]
required = 1
"""


def test_a_bush_and_its_pin_are_named_as_the_bearing():
    """A ball of 30 mm would be needed to hold the whole bush; its two round shapes are named instead."""
    cure = cure_of(PIVOT.format(seat=""))
    assert cure.joint
    assert cure.bearing == {"post": ("pin",), "arm": ("bush",)}
    assert verdict(PIVOT.format(seat=', bearing_of = "pivot"')) is Verdict.CLEAR


def test_a_pair_that_a_roll_moves_is_given_no_shifted_shape_whatever_the_number_of_drives():
    """Its settings have a column for the roll, which a shape's shift was worked out at as if it were a drive's."""
    text = (CASES / "rolling_rod_with_lug.toml").read_text(encoding="utf-8")
    gate = (
        "[parts.gate]\nshapes = [{ box = [9000, 0, 0], size = [10, 10, 10] }]\n[joints.gate_pin]\n"
        'pin = ["ground", "gate"]\nat = [9000, 0, 0]\nalong = [0, 0, 1]\n'
        "[drives.gate]\nturns = { gate_pin = 1 }\nrange = [-5, 5]\n"
    )
    checked = check(machine_from_text(text + gate, CASES), Effort(), quiet)
    rolled = [one.result for one in checked.found if one.result.rolls and one.result.verdict is Verdict.FAILS]
    assert rolled
    told = dict(cures(checked.swept.groups, checked.pairs, checked.found))
    assert not any((one.pair.a, one.pair.b) in told for one in rolled)
