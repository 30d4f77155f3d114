"""Stops fitted to what runs out first, against worked figures on paper."""

from dataclasses import replace
from functools import cache
from math import asin, cos, degrees, radians, sin, tan
from pathlib import Path

import pytest
from stop_machines import (
    FIRST_CONTACT,
    GATE,
    LEVER,
    SPRING,
    WINGS,
    beam_axle,
    bolt_height,
    designed_stops,
    rack,
    table,
    two_stops,
)
from tries import first

from assembly.clearance.region.run_out import Cause
from assembly.errors import InputError
from assembly.model.reader import machine_from_text
from assembly.model.travel_stop import RangeEnd
from assembly.studies.stops.stop_record import stops_record

HERE = Path(__file__).resolve().parent


@cache
def designed(text, **heights):
    return designed_stops(machine_from_text(text, HERE), lambda *_: None, heights=heights)


def contact(clear):
    """Turn in degrees at which ``clear`` mm are left between rod and damper of the beam axle (closed form)."""
    from math import acos

    return degrees(acos((109.5 + clear) / 130))


@pytest.mark.parametrize(
    ("margin", "expected"),
    first(
        [
            ("clearance = 3.0, joints = 0", 30.07),
            ("clearance = 6.0, joints = 0", 27.32),
            ("clearance = 3.0, joints = 0, play = 0.5", 29.57),
        ],
        1,
    ),
)
def test_stop_setting_leaves_what_is_asked(margin, expected):
    """BUILDERS_CASES TC-03a."""
    found = designed(beam_axle(margin))
    design = found.designs["lock"]
    assert design.ways[0].acts == pytest.approx(expected, abs=0.01)
    assert design.recommended == pytest.approx(bolt_height(design.ways[0].acts), abs=0.005)
    assert design.ways[0].ends.names == ("damper", "tie_rod")


def test_first_contact_is_named_both_ways():
    """BUILDERS_CASES TC-03a: contact at 32.62, and it is no stop."""
    found = designed(beam_axle())
    for one, sign in zip(found.directions, (-1, 1), strict=True):
        assert one.free[0].names == ("damper", "tie_rod")
        assert one.free[0].at[0] == pytest.approx(sign * contact(0.0), abs=0.005)
    assert [one.stops for one in found.directions] == [(), ("lock",)]


def test_one_turn_of_the_bolt_in_degrees():
    """BUILDERS_CASES TC-03a: M8 at lever 45."""
    design = designed(beam_axle()).designs["lock"]
    assert design.per_turn == pytest.approx(degrees(1.25 / LEVER), abs=0.005) == pytest.approx(1.59, abs=0.005)
    assert design.lever_mm == pytest.approx(LEVER, abs=0.05)


def test_clearance_lost_per_degree():
    """BUILDERS_CASES TC-03a: 1.13 mm near 30 degrees."""
    design = designed(beam_axle()).designs["lock"]
    assert design.ways[0].ends.pace == pytest.approx(130 * sin(radians(30.07)) * radians(1), abs=0.003)


def test_joint_that_runs_out_first_dictates_the_stop():
    """Closed form: 2 degrees before the pin's limit of 20."""
    pin = "along = [0, 0, 1] }\npin_right"
    text = beam_axle("joints = 2").replace(pin, f"along = [0, 0, 1], limit = [-20, 20]{pin[17:]}")
    found = designed(text)
    way = found.designs["lock"].ways[0]
    assert (way.ends.cause, way.ends.names) == (Cause.JOINT, ("pin_left",))
    assert way.acts == pytest.approx(18.0, abs=0.005)
    assert way.free.at[0] == pytest.approx(20.0, abs=0.005)


def test_given_bolt_length_says_its_angle():
    design = designed(beam_axle(), lock=55.0).designs["lock"]
    assert bolt_height(design.ways[0].acts) == pytest.approx(55.0, abs=0.005)
    assert not design.faults


def test_bolt_that_is_too_short_acts_too_late():
    design = designed(beam_axle(), lock=53.0).designs["lock"]
    # Closed form: the pin may be as much smaller as its facets' error says, and is struck later by that over the lever.
    error = machine_from_text(beam_axle(), HERE).parts["knuckle_left"].shapes[1].mesh.surface_error
    acts = design.ways[0].acts
    most = contact(3.0) - degrees(error / (LEVER * cos(radians(acts - 30))))
    assert 0.001 < error < 0.004
    late = f"at every setting it acts {acts - most:.2f} deg too late: at {acts:.2f} deg, the latest is {most:.2f} deg"
    assert design.faults == (late,)
    assert design.recommended == pytest.approx(bolt_height(contact(3.0)), abs=0.01)


def test_spacer_on_a_slide():
    """BUILDERS_CASES TC-03b: contact at 31.00; spacer 10.62 needed; one of 6.65 acts at 33.15, two at 29.58."""
    found = designed(rack())
    assert degrees(asin(found.directions[1].free[0].at[0] / 125)) == pytest.approx(FIRST_CONTACT, abs=0.01)
    more = found.designs["spacer"].recommended - (75 - 125 * sin(radians(FIRST_CONTACT)))
    assert 0 < more < 0.1, "a hair more, so that it can be proven"
    one = designed(rack(), spacer=6.65).designs["spacer"]
    assert degrees(asin(one.ways[0].acts / 125)) == pytest.approx(33.15, abs=0.005)
    assert "too late" in one.faults[0]
    two = designed(rack("step = 6.65")).designs["spacer"]
    assert two.recommended == pytest.approx(13.3)
    assert degrees(asin(two.ways[0].acts / 125)) == pytest.approx(29.58, abs=0.005)
    given_away = FIRST_CONTACT - degrees(asin(two.ways[0].acts / 125))
    assert given_away == pytest.approx(1.42, abs=0.005)


def test_soft_stop_acts_before_the_hard_one():
    """BUILDERS_CASES C08: 3.175 mm at lever 110 are 1.654 degrees; here at lever 45."""
    found = designed(two_stops())
    soft, hard = (found.designs[name].ways[0].acts for name in ("soft", "lock"))
    assert hard - soft == pytest.approx(degrees(asin(3.175 / LEVER)), abs=0.01)


def test_strip_touches_before_the_tyre():
    """BUILDERS_CASES C22: the strip strikes at a travel of 37.0, the tyre never nearer than 8.0."""
    design = designed(SPRING).designs["strip"]
    assert design.ways[0].acts == pytest.approx(37.0, abs=0.01)
    assert design.recommended == pytest.approx(8.0, abs=0.01)
    assert design.ways[0].ends.names == ("shell", "tyre")


def test_stops_of_both_sides_are_separate_answers():
    """Own model: bolts of unequal length on the two sides act at unequal turns (closed form)."""
    other = beam_axle(side="low")
    text = beam_axle("joints = 0") + other[other.index("[stops.lock]") :].replace("[stops.lock]", "[stops.other]")
    found = designed(text, lock=55.0, other=57.0)
    high, low = (found.designs[name].ways[0].acts for name in ("lock", "other"))
    assert bolt_height(high) == pytest.approx(55.0, abs=0.005)
    assert bolt_height(-low) == pytest.approx(57.0, abs=0.005)


def test_range_of_the_file_ends_a_stop_that_nothing_else_ends():
    text = beam_axle().replace("range = [-35, 35]", "range = [-35, 20]")
    design = designed(text).designs["lock"]
    assert design.reaches_range
    assert design.ways[0].acts == pytest.approx(20.0, abs=0.005)
    assert design.recommended == pytest.approx(bolt_height(20.0, 30.0), abs=0.3)


def test_elastic_pad_gives_and_the_stop_comes_sooner_by_it():
    """Closed form: force from moment over lever (virtual work), give = force / stiffness, overshoot = give / lever."""
    extra = "load = { moment = 20, factor = 2 }"
    bolt, pad = "bolt = { diameter = 8, pitch = 1.25 }", "pad = { diameter = 8, modulus = 60 }"
    text = beam_axle(extra=extra).replace(bolt, pad)
    design = designed(text).designs["lock"]
    force = 2 * 20e3 / design.lever_mm
    area, shape = 3.14159265 / 4 * 64, 8 / (4 * design.height)
    stiffness = 60 * (1 + 2 * shape**2) * area / design.height
    assert design.pressing.force_n == pytest.approx(force, rel=1e-3)
    assert design.pressing.give_mm == pytest.approx(force / stiffness, rel=1e-3)
    assert design.yields.give == pytest.approx(degrees(force / stiffness / design.lever_mm), rel=1e-3)
    assert design.ways[0].acts + design.yields.give == pytest.approx(contact(3.0), abs=0.02)


def moved(stop, by):
    return replace(stop, at=tuple(a + by * b for a, b in zip(stop.at, stop.along, strict=True)))


@pytest.mark.parametrize(
    ("edit", "fault"),
    [
        ({"at": (0.0, 0.0, 200.0), "along": (0.0, 0.0, 1.0)}, "nothing of knuckle_left ever reaches its line"),
        ({"side": RangeEnd.LOW}, "it acts in the wrong direction: towards the low end knuckle_left leaves its line"),
        ({"at": (0.0, 255.0, 0.0)}, "its foot stands in knuckle_left with all drives at 0"),
        ({"height": 80.0}, "it is touched with all drives at 0"),
    ],
)
def test_what_is_no_stop_is_said(edit, fault):
    machine = machine_from_text(beam_axle(), HERE)
    machine = replace(machine, stops={"lock": replace(machine.stops["lock"], **edit)})
    design = designed_stops(machine, lambda *_: None).designs["lock"]
    assert design.faults[0].startswith(fault)


def test_pad_whose_gap_grows_acts_in_the_wrong_direction():
    """The pin comes nearer to a bolt that stands across its way only on the other side."""
    machine = machine_from_text(beam_axle(), HERE)
    stop = replace(machine.stops["lock"], at=(60.0, 256.0, 0.0), along=(-1.0, 0.0, 0.0), side=RangeEnd.LOW)
    machine = replace(machine, drives={"steer": replace(machine.drives["steer"], low=-4.0, beyond=(-4.0, 40.0))})
    design = designed_stops(replace(machine, stops={"lock": stop}), lambda *_: None).designs["lock"]
    assert design.faults[0].startswith("it acts in the wrong direction: towards the low end its gap grows from")


def test_pad_of_negative_height_is_refused():
    machine = machine_from_text(beam_axle(), HERE)
    machine = replace(machine, stops={"lock": moved(machine.stops["lock"], 54.5)})
    design = designed_stops(machine, lambda *_: None).designs["lock"]
    assert design.faults[0].startswith("its height would be negative")


def test_height_of_an_unknown_stop():
    with pytest.raises(InputError, match="there is no stop `look`; the nearest of the stops is `lock`"):
        designed(beam_axle(), look=3.0)
    with pytest.raises(InputError, match="give more than 0 mm"):
        designed(beam_axle(), lock=-3.0)


def test_cosine_of_the_square_setting_is_not_used_by_accident():
    """The bolt's line lies along the pin's way at 30 degrees, so there its height changes by the lever itself."""
    pace = bolt_height(29.5) - bolt_height(30.5)
    assert pace == pytest.approx(LEVER * radians(1) * cos(0), rel=1e-4)


def test_leaf_that_comes_down_askew():
    """Closed form: turned by 15 degrees, the leaf's face leaves cos 15 on the outer edge of the pad at x = 93."""
    design = designed(GATE).designs["buffer"]
    assert design.contact.unsquare_deg == pytest.approx(15.0, abs=0.02)
    face = -93 * tan(radians(15)) - 5 / cos(radians(15))
    assert design.recommended == pytest.approx(50 + face, abs=0.01)
    assert design.contact.approach == pytest.approx(radians(1) * 93 / cos(radians(15)), abs=0.03)


def test_stop_that_comes_after_the_first_contact_does_not_act_first():
    found = designed(beam_axle("joints = 0"), lock=bolt_height(33.0))
    record = stops_record(found, None)
    assert record.directions[1].first_stop is None
    assert set(record.directions[1].missed.names) == {"damper", "tie_rod"}
    sure = stops_record(designed(beam_axle("joints = 0"), lock=bolt_height(32.0)), None)
    assert sure.directions[1].first_stop == "lock"
    assert sure.directions[1].missed is None


def test_fall_onto_an_elastic_pad():
    """Energy balance (closed form): k x²/2 = m g h (cos 10 - cos 15) + P x, P the weight's own push on the pad."""
    load = "load = { mass = 10, height = 300, fall_from = -10 }"
    design = designed(GATE + load).designs["buffer"]
    press, lean = design.pressing, radians(design.ways[0].acts)
    energy = 10 * 9.81 * 300 * (cos(radians(10)) - cos(lean))
    push = 10 * 9.81 * 300 * sin(-lean) * radians(1) / design.contact.approach
    stiffness = press.force_n / press.give_mm
    assert press.energy_j == pytest.approx(energy / 1e3, rel=1e-6)
    assert stiffness * press.give_mm**2 / 2 == pytest.approx(energy + push * press.give_mm, rel=1e-6)
    shape = 6 / (4 * design.height)
    assert stiffness == pytest.approx(40 * (1 + 2 * shape**2) * 36 / design.height, rel=1e-6)


def test_stop_that_is_struck_on_its_flank_is_none():
    """Own model: the leaf comes down from the side on a pad that lies along it, on its foot first."""
    text = GATE.replace("at = [90, -50, 0]\nalong = [0, 1, 0]", "at = [100, -12, 0]\nalong = [-1, 0, 0]")
    design = designed(text + "height = 20\n").designs["buffer"]
    assert design.faults[0].startswith("at every setting its flank is struck at -")
    assert design.faults[0].endswith("20.00 mm below its end")


def test_what_a_pad_takes_and_gives_is_that_of_the_way_that_presses_it_hardest():
    """A top that leans by the other drive presses askew: force = 100 N / cos of its lean (virtual work)."""
    text = table().replace("at = [0, 0, 40], along = [0, 0, 1]", "at = [0, 0, 40], along = [0, 1, 0]")
    text = text.replace("range = [-45, 45]", "range = [-5, 10]").replace("clearance = 40", "clearance = 0")
    text = text.replace("pad = { diameter = 10 }", "pad = { diameter = 10, modulus = 5000 }")
    design = designed(text + "load = { force = 100 }\n").designs["rest"]
    assert design.pressing.force_n == pytest.approx(100 / cos(radians(10)), rel=1e-3)
    assert design.contact.approach == pytest.approx(cos(radians(5)), rel=1e-3), "another way governs"
    assert design.yields.give == pytest.approx(design.pressing.give_mm / cos(radians(10)), rel=1e-3)


def pressed_buffer(modulus, load):
    return stops_record(designed(GATE.replace("modulus = 40", f"modulus = {modulus}") + load), None)


def test_fasteners_that_are_too_weak_fail_the_design():
    """EN 1993-1-8: an M5 8.8 takes 0.6 · 800 · 14.2 / 1.25 = 5 453 N in shear (REFERENCE_VALUES 7.8)."""
    load = "load = {{ moment = {} }}\nfasteners = {{ size = 'M5', grade = '8.8' }}\n"
    strong = pressed_buffer(40000, load.format(400))
    assert strong.stops[0].held.least_n == pytest.approx(0.6 * 800 * 14.2 / 1.25)
    assert not strong.stops[0].press.weak
    weak = pressed_buffer(40000, load.format(700))
    assert weak.stops[0].press.weak
    assert (weak.verdict, weak.reason) == ("fails", "fasteners too weak: buffer")


def test_pad_that_is_squeezed_too_far_is_told():
    shares = [pressed_buffer(40, f"load = {{ moment = {moment} }}\n").stops[0].press for moment in (15, 45)]
    assert [one.strained for one in shares] == [False, True]
    assert shares[0].strain < 0.25 < shares[1].strain


MIRRORED = """
[mirror]
left = "right"

[stops.end_left]
drive = "DRIVE"
side = "high"
parts = ["wing_left", "body"]
at = [5, 40, 0]
along = [0, 0, 1]
pad = { diameter = 5 }
"""


@pytest.mark.parametrize(
    ("drive", "side"),
    [
        ("turns = { hinge_left = 1, hinge_right = 1 }", RangeEnd.LOW),
        ("turns = { hinge_left = 1, hinge_right = -1 }", RangeEnd.HIGH),
        ("slides = { rail_left = 1, rail_right = 1 }", RangeEnd.HIGH),
        ("slides = { rail_left = 2, rail_right = -2 }", RangeEnd.LOW),
    ],
)
def test_twin_of_a_stop_takes_the_end_its_drive_comes_to_in_the_mirror(drive, side):
    """A mirrored turn goes the other way round about the mirrored line, a mirrored slide the same way along it."""
    text = f"""
format = 1
parts.body = {{ fixed = true, shapes = [{{ box = [0, 0, 0], size = [10, 10, 10] }}] }}
parts.wing_left = {{ shapes = [{{ box = [0, 40, 20], size = [10, 10, 10] }}] }}
parts.skid_left = {{ shapes = [{{ box = [0, 80, 20], size = [10, 10, 10] }}] }}
joints.hinge_left = {{ pin = ["body", "wing_left"], at = [0, 20, 0], along = [1, 0, 0] }}
joints.rail_left = {{ slide = ["body", "skid_left"], at = [0, 20, 0], along = [1, 0, 0] }}
[drives.move]
{drive}
range = [-5, 5]
{MIRRORED.replace("DRIVE", "move")}"""
    stops = machine_from_text(text, HERE).stops
    assert stops["end_right"].side is side
    assert stops["end_right"].at == (5.0, -40.0, 0.0)
    assert (stops["end_right"].striker, stops["end_right"].twin_of) == ("wing_right", "end_left")


def test_stop_and_its_twin_take_the_larger_of_their_heights():
    """The block ends the left wing's way alone; the file holds one height for both stops."""
    found = designed(WINGS)
    left, right = found.designs["end_left"], found.designs["end_right"]
    assert set(left.ways[0].ends.names) == {"block", "wing_left"}
    assert right.ways[0].ends.names != left.ways[0].ends.names
    assert left.to_make == right.to_make
    assert left.ways[0].acts == pytest.approx(-right.ways[0].acts, abs=0.01)
    assert left.ways[0].acts <= left.ways[0].at_most < -right.ways[0].at_most
    assert not left.faults


def test_drive_that_is_another_in_the_mirror_needs_its_stops_written_out():
    """The drive turns the left pin alone, so the mirror takes it to no setting of its own."""
    with pytest.raises(InputError, match=r"`steer` is not the same drive in the mirror.*; write `look` out"):
        machine_from_text(beam_axle() + '\n[mirror]\nlock = "look"\nleft = "right"\n', HERE)
