"""Measures over a range against closed forms: found, proven, judged, mirrored, and refused where they say nothing."""

import numpy as np
import pytest
from measure_machines import BOX, arm, four_bar, read

import assembly
from assembly.clearance.proof.joint_search import joint_search
from assembly.clearance.proof.measure_search import BRACKET, measured
from assembly.clearance.proof.measures_at import measured_at
from assembly.errors import InputError
from assembly.kinematics.assembling import assemble
from assembly.report.text.layout import Line
from assembly.report.text.range_text import range_blocks

LEVEL_X = '{ on = "ground", along = [1, 0, 0] }'
ARM = '{ on = "arm", line = ["hinge", "tip"] }'


def found(machine):
    """The measures by name."""
    mechanism = assemble(machine)
    return {one.name: one for one in measured(mechanism, joint_search(mechanism))}


def check(one, least, most, zero=None, tolerance=1e-3):
    """What is found comes to ``least`` and ``most``, and what is proven lies beyond both by the bracket at most."""
    assert one.least == pytest.approx(least, abs=tolerance)
    assert one.most == pytest.approx(most, abs=tolerance)
    assert least - 1.1 * BRACKET <= one.proven_least <= least + 1e-6
    assert most - 1e-6 <= one.proven_most <= most + 1.1 * BRACKET
    if zero is not None:
        assert one.zero == pytest.approx(zero, abs=1e-6)


@pytest.fixture(scope="module")
def swinging():
    """An arm of 100 mm that swings from -60 to +60 degrees about z."""
    return found(
        arm(
            f"""
[measures.turn]
angle = [{LEVEL_X}, {ARM}]
about = [0, 0, 1]
least = -60
most = 60
[measures.between]
angle = [{LEVEL_X}, {ARM}]
[measures.y]
coordinate = {{ on = "arm", at = "tip" }}
along = [0, 1, 0]
[measures.gone]
distance = [{{ on = "arm", at = "tip" }}, {{ on = "post", at = "tip" }}]
most = 99
[measures.beside]
distance = [{{ on = "post", line = ["hinge", "tip"] }}, {{ on = "arm", at = "tip" }}]
[measures.before]
distance = [{{ on = "arm", at = "tip" }}, {{ on = "post", at = [20, 0, 0], normal = [1, 0, 0] }}]
[measures.slope]
level = {ARM}
[measures.against]
angle = [{ARM}, {{ on = "post", at = "hinge", normal = [0, 1, 0] }}]
[measures.length]
distance = [{{ on = "arm", at = "tip" }}, {{ on = "arm", at = "hinge" }}]
[measures.nowhere]
angle = [{LEVEL_X}, {ARM}]
about = [1, 1, 0]
[measures.apart]
distance = [{{ on = "post", at = [0, 0, 30], along = [1, 0, 0] }}, {ARM}]
"""
        )
    )


def test_angles_and_distances_of_an_arm_on_a_pin(swinging):
    """Closed form: sines and cosines of the swing."""
    sine, cosine = np.sin(np.radians(60)), np.cos(np.radians(60))
    check(swinging["turn"], -60, 60, 0)
    check(swinging["between"], 0, 60, 0)
    check(swinging["y"], -100 * sine, 100 * sine, 0)
    check(swinging["gone"], 0, 200 * np.sin(np.radians(30)), 0)
    check(swinging["beside"], 0, 100 * sine, 0)
    check(swinging["before"], 100 * cosine - 20, 80, 80)
    check(swinging["slope"], 0, 0, 0, tolerance=1e-9)
    check(swinging["against"], -60, 60, 0)


def test_limits_are_judged_by_what_is_proven(swinging):
    assert swinging["turn"].verdict == "clear"
    assert swinging["turn"].margin == pytest.approx(0, abs=1e-6)
    gone = swinging["gone"]
    assert (gone.verdict, gone.margin) == ("fails", pytest.approx(-1, abs=1e-3))
    assert abs(gone.at["swing"]) == pytest.approx(60)
    assert swinging["y"].verdict is None


def test_what_no_drive_moves_is_the_same_at_every_setting(swinging):
    length = swinging["length"]
    assert (length.zero, length.least, length.most, length.drives) == (100, 100, 100, ())


def test_an_angle_about_a_line_that_it_passes_has_no_value_and_says_where(swinging):
    """The arm points along the axis at +45 degrees: beyond it nobody knows how many turns the angle has made."""
    nowhere = swinging["nowhere"]
    assert (nowhere.least, nowhere.most, nowhere.proven_least, nowhere.proven_most) == (None,) * 4
    assert nowhere.why.startswith("it has no value near swing 45: one of its lines points along the axis")


def test_lines_that_come_to_lie_parallel_have_no_distance_there(swinging):
    """Closed form: 30 mm wherever they cross; at the zero position they are parallel."""
    apart = swinging["apart"]
    assert apart.zero is None
    assert apart.most == pytest.approx(30)
    assert apart.proven_most is None
    assert "its two lines are parallel" in apart.why


def test_terms_come_to_the_bound(swinging):
    terms, bound = swinging["y"].most_terms, swinging["y"].proven_most
    assert terms.value + terms.change + terms.rest + terms.rounding == pytest.approx(bound, abs=1e-12)
    assert terms.rest > 0


FOUR_BAR = """
[measures.rocker]
angle = [{ on = "ground", along = [1, 0, 0] }, { on = "rocker", line = ["c", "b"] }]
about = [0, 0, 1]
[measures.transmission]
angle = [{ on = "coupler", line = ["b", "a"] }, { on = "rocker", line = ["b", "c"] }]
[measures.crank]
angle = [{ on = "ground", along = [1, 0, 0] }, { on = "crank", line = ["o", "a"] }]
about = [0, 0, 1]
"""


def test_a_crank_that_turns_all_round_swings_its_rocker_between_its_limits():
    """REFERENCE_VALUES 1.1 and 1.2 (closed form); the crank's own angle counts past half a turn."""
    measures = found(four_bar(FOUR_BAR))
    check(measures["rocker"], 54.900368, 128.682187)
    check(measures["transmission"], 26.384330, 86.416678, tolerance=2e-3)
    check(measures["crank"], -90, 270, 90)
    assert found(four_bar(FOUR_BAR, -1, 1, start=40.0))["rocker"].zero == pytest.approx(57.324880, abs=1e-6)


def slider_crank(r, rod, offset, start, measures, low, high):
    x, y = r * np.cos(np.radians(start)), r * np.sin(np.radians(start))
    block = x + np.sqrt(rod**2 - (y - offset) ** 2)
    box = "size = [4, 4, 4]"
    return read(
        f"""
[points]
a = [{x:.17g}, {y:.17g}, 0]
b = [{block:.17g}, {offset}, 0]
[parts.frame]
fixed = true
shapes = [{{ box = [0, 0, -50], {box} }}]
[parts.crank]
shapes = [{{ box = [0, 0, 50], {box} }}]
[parts.rod]
shapes = [{{ box = [0, 0, 100], {box} }}]
[parts.block]
shapes = [{{ box = [0, 0, 150], {box} }}]
[joints]
o = {{ pin = ["frame", "crank"], at = [0, 0, 0], along = [0, 0, 1] }}
a = {{ pin = ["crank", "rod"], at = "a", along = [0, 0, 1] }}
b = {{ pin = ["rod", "block"], at = "b", along = [0, 0, 1] }}
guide = {{ slide = ["frame", "block"], at = "b", along = [1, 0, 0] }}
[drives.crank]
turns = {{ o = 1 }}
range = [{low}, {high}]
[measures.place]
coordinate = {{ on = "block", at = "b" }}
along = [1, 0, 0]
[measures.rod]
angle = [{LEVEL_X}, {{ on = "rod", line = ["b", "a"] }}]
"""
    )


def test_the_block_of_a_slider_crank_goes_between_its_dead_centres():
    """REFERENCE_VALUES 1.3 (offset, at 60 degrees) and 1.4 (in line: x = 250 at 0, 150 at 180)."""
    at_60 = found(slider_crank(40, 120, -20, 60, "", -1, 1))
    assert at_60["place"].zero == pytest.approx(126.838005, abs=1e-6)
    assert at_60["rod"].zero == pytest.approx(152.913072, abs=1e-6)
    check(found(slider_crank(50, 200, 0, 90, "", -90, 90))["place"], 150, 250, 193.649167)


def test_shafts_joined_by_a_universal_joint():
    """REFERENCE_VALUES 1.5: joint angle 30 degrees; 45 in is 49.106605 out, and the other way round 40.893395."""
    box = "size = [4, 4, 4]"
    out = "[0.8660254037844387, 0.5, 0]"
    across = "[-0.5, 0.8660254037844387, 0]"
    measures = found(
        read(
            f"""
[parts.frame]
fixed = true
shapes = [{{ box = [0, 0, -50], {box} }}]
[parts.input]
shapes = [{{ box = [-50, 0, 0], {box} }}]
[parts.output]
shapes = [{{ box = [50, 30, 0], {box} }}]
[joints]
in = {{ pin = ["frame", "input"], at = [-50, 0, 0], along = [1, 0, 0] }}
out = {{ pin = ["frame", "output"], at = [0, 0, 0], along = {out} }}
cross = {{ universal = ["input", "output"], at = [0, 0, 0], axes = [[0, 0, 1], {across}] }}
[drives.turn]
turns = {{ in = 1 }}
range = [-45, 45]
[measures.out]
angle = [{{ on = "ground", along = [0, 0, 1] }}, {{ on = "output", along = [0, 0, 1] }}]
about = {out}
"""
        )
    )
    check(measures["out"], -40.893395, 40.893395, 0)


def test_a_level_reads_how_a_leaning_plate_lies():
    """Closed form: the plate leans by the swing; a line at 45 degrees across it rises by asin(sin(30) / sqrt(2))."""
    measures = found(
        arm(
            """
[measures.plate]
level = { on = "arm", plane = ["hinge", "tip", [0, 50, 0]] }
[measures.line]
level = { on = "arm", line = [[0, 0, 0], [50, 50, 0]] }
[measures.protractor]
angle = [{ on = "ground", along = [0, 1, 0] }, { on = "arm", line = [[0, 0, 0], [50, 50, 0]] }]
about = [1, 0, 0]
""",
            -30,
            30,
            "[1, 0, 0]",
        )
    )
    check(measures["plate"], 0, 30, 0)
    rise = np.degrees(np.arcsin(0.5 / np.sqrt(2)))
    check(measures["line"], -rise, rise, 0)
    check(measures["protractor"], -30, 30, 0)


def test_an_angle_about_an_axis_is_followed_over_whole_turns():
    turned = found(arm(f"[measures.turn]\nangle = [{LEVEL_X}, {ARM}]\nabout = [0, 0, 1]\nmost = 500", -540, 540))
    check(turned["turn"], -540, 540, 0)
    assert (turned["turn"].verdict, turned["turn"].margin) == ("fails", pytest.approx(-40, abs=1e-3))


SIDES = """
[mirror]
left = "right"
[points]
hub_left = [0, 100, 0]
rim_left = [100, 100, 0]
{extra}
[parts.post]
fixed = true
shapes = [{{ box = [0, 0, -50], size = [4, 4, 4] }}]
[parts.arm_left]
shapes = [{{ box = [100, 100, 0], size = [4, 4, 4] }}]
[joints.hinge_left]
pin = ["post", "arm_left"]
at = "hub_left"
along = [0, 0, 1]
[drives.swing]
turns = {{ hinge_left = 1, hinge_right = 1 }}
range = [-20, 30]
[measures.turn_left]
angle = [{{ on = "ground", along = [1, 0, 0] }}, {{ on = "arm_left", line = ["hub_left", "rim_left"] }}]
about = [0, 0, 1]
least = -25
most = 35
[measures.out_left]
coordinate = {{ on = "arm_left", at = "rim_left" }}
along = [0, 1, 0]
"""


def test_the_twin_of_a_measure_reads_the_other_side():
    """About a mirrored line an angle turns the other way, as a pin's does; a coordinate along one stays what it is."""
    measures = found(read(SIDES.format(extra="")))
    right = measures["turn_right"]
    check(right, -20, 30, 0)
    assert (right.limit_low, right.limit_high) == (-35, 25)
    assert right.verdict == "fails"
    assert right.of[1] == "line hub_right–rim_right of arm_right"
    check(measures["out_left"], 100 - 100 * np.sin(np.radians(20)), 150, 100)
    check(measures["out_right"], 50, 100 + 100 * np.sin(np.radians(20)), 100)


def test_the_twin_is_read_with_the_points_of_its_side():
    measures = found(read(SIDES.format(extra="rim_right = [100, -130, 0]")))
    assert measures["out_left"].zero == 100
    assert measures["out_right"].zero == 130
    assert measures["turn_right"].zero == pytest.approx(-np.degrees(np.arctan2(30, 100)))


def test_a_part_that_rolls_is_not_measured_as_if_it_were_held():
    """A rod on two balls rolls about its own line: a point beside the line has no place of its own."""
    box = "size = [4, 4, 4]"
    machine = read(
        f"""
[points]
a = [0, 0, 0]
b = [100, 0, 0]
[parts.frame]
fixed = true
shapes = [{{ box = [0, 0, -50], {box} }}]
[parts.crank]
shapes = [{{ box = [0, 30, 0], {box} }}]
[parts.lever]
shapes = [{{ box = [100, 30, 0], {box} }}]
[parts.rod]
shapes = [{{ box = [50, 0, 0], {box} }}]
[joints]
p = {{ pin = ["frame", "crank"], at = [0, 60, 0], along = [0, 0, 1] }}
q = {{ pin = ["frame", "lever"], at = [100, 60, 0], along = [0, 0, 1] }}
a = {{ ball = ["crank", "rod"], at = "a" }}
b = {{ ball = ["lever", "rod"], at = "b" }}
[drives.swing]
turns = {{ p = 1 }}
range = [-10, 10]
[measures.beside]
coordinate = {{ on = "rod", at = [50, 10, 0] }}
along = [0, 0, 1]
most = 20
[measures.along]
coordinate = {{ on = "rod", at = "b" }}
along = [0, 1, 0]
most = 20
"""
    )
    measures = found(machine)
    assert measures["along"].verdict == "clear"
    assert measures["beside"].verdict == "undecided"
    assert measures["beside"].why.startswith("rod can roll about its own line")


def test_what_is_proven_less_closely_than_the_table_says_is_told():
    """Closed form: an arm that turns nearly twice round folds onto a line; so sharp a least is between two cells."""
    line = '{ on = "ground", along = [0.9, 0.234, 0] }'
    fold = found(arm(f"[measures.fold]\nangle = [{line}, {ARM}]", -359.0, 347.0))["fold"]
    assert fold.proven_least == 0.0
    assert fold.least > BRACKET
    assert fold.why == "what is found and what is proven could not be brought close enough together"


LIFTED_ROD = f"""
[parts.frame]
fixed = true
shapes = [{{ box = [0, 300, 0], {BOX} }}]
[parts.lift]
shapes = [{{ box = [0, 300, 100], {BOX} }}]
[parts.slider]
shapes = [{{ box = [200, 300, 0], {BOX} }}]
[parts.rod]
shapes = [{{ box = [100, 0, 0], {BOX} }}]
[joints]
up = {{ slide = ["frame", "lift"], at = [0, 300, 0], along = [0, 0, 1] }}
level = {{ slide = ["lift", "slider"], at = [0, 300, 0], along = [1, 0, 0] }}
near = {{ ball = ["frame", "rod"], at = [0, 0, 0] }}
far = {{ ball = ["slider", "rod"], at = [200, 0, 0] }}
[drives.lifting]
slides = {{ up = 1 }}
range = [0, 100]
[measures.lug]
coordinate = {{ on = "rod", at = [100, 0, 40] }}
along = [1, 0, 0]
most = 103
[measures.middle]
coordinate = {{ on = "rod", at = [100, 0, 0] }}
along = [1, 0, 0]
most = 103
"""


def test_a_roll_that_a_measure_notes_only_away_from_the_zero_position_is_noted():
    """Of a level rod a lug's level coordinate is the same at every roll; of one that rises by 30 degrees it is not.

    Closed form: the rod of 200 mm rises by asin(100 / 200), so its middle comes to 100 cos 30° = 86.6 mm, and a lug
    40 mm beside it to anything from 66.6 mm to 106.6 mm, past the 103 mm that it may be.
    """
    machine = read(LIFTED_ROD)
    mechanism = assemble(machine)
    over_all = found(machine)
    assert {name: one.verdict for name, one in over_all.items()} == {"lug": "undecided", "middle": "clear"}
    assert over_all["lug"].why.startswith("rod can roll about its own line")
    at = {height: [one.verdict for one in measured_at(mechanism, (height,))] for height in (0.0, 100.0)}
    assert at == {0.0: ["clear", "clear"], 100.0: ["undecided", "clear"]}


def test_a_usable_range_is_undecided_where_a_roll_bears_on_a_limit():
    """It once was told as usable: the lug was looked at in one turn of the rod alone."""
    usable = assembly.usable_range(read(LIFTED_ROD), cells=4, cores=1)
    assert (usable.fits, usable.undecided) == (False, True)
    assert [(one.a, one.verdict) for one in usable.unsettled] == [("measure lug", "undecided")]
    told = " ".join(block.text for block in range_blocks(usable, "") if isinstance(block, Line))
    assert "UNDECIDED, and in no figure below: measure lug: rod can roll about its own line" in told


REFUSED = {
    'angle = [{ on = "hand", line = ["hinge", "tip"] }, LEVEL]': "unknown part `hand`",
    'angle = [{ on = "arm", line = ["hinge", "tap"] }, LEVEL]': "unknown point `tap`; the nearest of the",
    'angle = [{ on = "arm", line = ["hinge"] }, LEVEL]': "1 entry in this list; at least 2 are needed",
    'angle = [{ on = "arm", line = ["tip", "tip"] }, LEVEL]': "both points of this line are the same place",
    'angle = [{ on = "arm", at = "hinge" }, LEVEL]': "a point stands where a line, plane or direction is needed",
    'angle = [{ on = "arm" }, LEVEL]': "alone says no point, line or plane",
    'angle = [{ on = "arm", at = "tip", line = ["hinge", "tip"] }, LEVEL]': "the keys `at`, `line` together say no",
    "angle = [ARM, LEVEL]\nleast = 10\nmost = 5": "least 10 is more than most 5",
    'angle = [ARM, LEVEL]\nunit = "mm"': 'an angle is not told in mm; write `unit = "degrees"`',
    "angle = [ARM, LEVEL]\nmost = 500": "500 degrees is more than any such angle; give up to 180",
    "angle = [ARM]": "1 entry in this list; at least 2 are needed",
    'angle = [ARM, LEVEL]\nabout = "z"': "the text `z` stands where a direction is needed",
    "angel = [ARM, LEVEL]": "no kind of measure among the keys `angel`; the nearest is `angle`",
    "angle = [ARM, LEVEL]\nlevel = ARM": "two kinds of measure in one table",
    "distance = [ARM, LEVEL]": "a direction stands where a point, line or plane is needed",
    'distance = [ARM, { on = "post", at = "tip", normal = [0, 0, 1] }]': "a line and a plane have no distance",
    'distance = [{ on = "arm", at = "tip" }, { on = "post", plane = ["tip", "hinge", "tip"] }]': "lie on one line",
    'coordinate = { on = "arm", at = "tip" }': "`along` is missing",
    'level = { on = "arm", at = "tip" }': "a point stands where a line, plane or direction is needed",
    "level = 3": "`3` stands where a table is needed",
}


@pytest.mark.parametrize("written", REFUSED)
def test_what_says_nothing_is_refused_in_one_line(written):
    text = written.replace("ARM", ARM).replace("LEVEL", LEVEL_X)
    with pytest.raises(InputError) as error:
        arm(f"[measures.wrong]\n{text}")
    assert len(error.value.faults) == 1
    told = str(error.value.faults[0])
    assert REFUSED[written] in told
    assert told.startswith(("machine.toml:21: measures.wrong", "machine.toml:2")), "the line of the measure"
