"""What the play of joints lets go by hand: rims, bars and parts, against closed forms and builders' numbers."""

import json
from dataclasses import replace
from math import asin, degrees, hypot, radians, sin

import numpy as np
import pytest
from hand_machines import steered, steered_text
from test_play_bounds import LINK
from tolerance_machines import read

import assembly
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.cli import main
from assembly.errors import InputError
from assembly.kinematics import by_hand
from assembly.kinematics.assembling import assemble
from assembly.kinematics.by_hand import ByHand
from assembly.kinematics.loose_rows import loose_rows
from assembly.record import DimensionEntry
from assembly.report.text.spread_text import spread_blocks
from assembly.report.text.sweep_screen import sweep_screen
from assembly.report.text.sweep_text import not_counted, sweep_blocks
from assembly.report.text.terminal import plain_text

FREE_PLAY = 6.35 / radians(7)
"""mm: the lever at which 6.35 mm in a linkage are 7° at the wheel (builders' figures for free play)."""


def rims(record):
    return {one.place: one for one in record.rims}


def test_five_millimetres_at_the_rim_are_an_arm_end_that_is_loose_by_what_is_left_of_them():
    """A builder's case: 5 mm at a rim of 190 are 1.508°; so at an arm of 100 they are 2.632 mm. Closed form."""
    turned = asin(5 / 190)
    assert degrees(turned) == pytest.approx(1.508, abs=1e-3)
    record = assembly.play(steered(arm_end=f"play = {{ radial = {100 * sin(turned)} }}"))
    front = rims(record)["front"]
    assert front.goes_mm == pytest.approx(5.0, rel=1e-4)
    assert front.most_of == "arm_end"
    assert 5.0 <= front.at_most_mm < 6.0
    assert rims(record)["top"].goes_mm == pytest.approx(0, abs=1e-6)
    assert rims(record)["top"].most_of == ""


def test_where_the_rim_is_measured_may_be_said():
    """The tyre's edge at 250 then moves 6.58 mm."""
    machine = steered(arm_end=f"play = {{ radial = {100 * sin(asin(5 / 190))} }}")
    assert rims(assembly.play(machine, radius=250))["front"].goes_mm == pytest.approx(6.58, abs=2e-3)


def test_seven_degrees_at_the_bars_are_a_quarter_inch_in_the_linkage():
    """Closed form: 6.35 mm at a lever of 51.98 mm; half of it in each end of the rod is the same."""
    for given in ({"arm_end": 6.35}, {"arm_end": 3.175, "bar_joint": 3.175}):
        plays = {joint: f"play = {{ radial = {size} }}" for joint, size in given.items()}
        (drive,) = assembly.play(steered(arm=FREE_PLAY, lever=FREE_PLAY, **plays)).by_drives
        assert (drive.drive, drive.unit, drive.held) == ("steer", "deg", ("knuckle",))
        assert drive.goes == pytest.approx(7.0, rel=1e-4)


def test_a_kingpin_that_leans_and_gives_shakes_the_rim_at_the_top():
    """Closed form: 0.4 mm across and 1° in all: at the top of a rim of 190 mm these add up along the axle."""
    record = assembly.play(steered(kingpin="play = { radial = 0.4, angle = 1 }"))
    assert rims(record)["top"].goes_mm == pytest.approx(0.4 + 190 * 2 * sin(radians(0.5)), rel=1e-4)
    assert rims(record)["top"].most_of == "kingpin"


def test_drives_go_freely_where_nothing_holds_them_and_not_at_all_without_play_on_the_way():
    loose_kingpin = steered(kingpin="play = { axial = 1 }")
    (held,) = assembly.play(loose_kingpin).by_drives
    assert held.goes == pytest.approx(0, abs=1e-6)
    (free,) = assembly.play(loose_kingpin, held=["frame"]).by_drives
    assert free.goes is None


def test_a_wheel_that_stands_still_is_not_shaken():
    """The rear wheel of a frame that does not move is neither told nor held."""
    rear = '[wheels.rear]\npart = "frame"\ncentre = [-900, 0, 0]\nspin = [0, 1, 0]\ntyre_diameter = 500\nsection = 40'
    record = assembly.play(steered(kingpin="play = { axial = 1 }", extra=rear))
    assert {one.wheel for one in record.rims} == {"front"}
    assert record.by_drives[0].held == ("knuckle",)


def hand(machine):
    mechanism = assemble(machine)
    return mechanism, ByHand(mechanism, loose_rows(mechanism), mechanism.home)


def test_play_that_counts_from_where_it_is_drawn_goes_one_way():
    """A link on a pin that is 25.4 mm longer than it, all of it on one side."""
    mechanism, shaken = hand(read(LINK.format(slack=25.4)))
    body = mechanism.bodies.body_of["link"]
    up = shaken.point(body, np.zeros(3), np.array([0.0, 0.0, 1.0]))
    assert shaken.farthest(up) == pytest.approx(25.4)
    assert shaken.farthest(-up) == pytest.approx(0, abs=1e-9)


TWO_PINS = """
[parts.post]
fixed = true
shapes = [{{ box = [0, 0, -40], size = [9, 9, 9] }}]
[parts.door]
shapes = [{{ box = [100, 0, 50], size = [200, 5, 90] }}]
{joints}
[drives.swing]
turns = {{ low = 1 }}
range = [-20, 20]
"""
HINGE = '[joints.{name}]\npin = ["post", "door"]\nat = [0, 0, {z}]\nalong = [0, 0, 1]\nplay = {{ {play} }}\n'


def test_two_hinges_hold_a_door_better_than_the_looser_one():
    """Closed form: 0.1 mm either way in two hinges 100 mm apart lean the door by 0.2/100, whatever each leans."""
    places, play = (("low", 0), ("high", 100)), "radial = 0.2, angle = 10"
    joints = "".join(HINGE.format(name=name, z=z, play=play) for name, z in places)
    mechanism, shaken = hand(read(TWO_PINS.format(joints=joints)))
    corner = np.array([200.0, 0.0, 0.0])
    down = shaken.point(mechanism.bodies.body_of["door"], corner, np.array([0.0, 0.0, 1.0]))
    assert shaken.farthest(down) == pytest.approx(0.2 / 100 * 200, rel=1e-4)


def test_round_play_is_not_square():
    """Closed form: a ball of 0.1 goes 0.1 in every direction, not by its components' sum."""
    mechanism, shaken = hand(steered(kingpin="play = { radial = 0.2 }", arm_end="play = { radial = 0.2 }"))
    body, pivot = mechanism.bodies.body_of["knuckle"], np.zeros(3)
    for angle in (0.0, 0.3, 0.8, 1.2):
        way = np.array([np.cos(angle), np.sin(angle), 0.0])
        assert shaken.farthest(shaken.point(body, pivot, way)) == pytest.approx(0.1, rel=1e-4)


def test_without_its_planes_round_play_would_be_square(monkeypatch):
    monkeypatch.setattr(by_hand, "_broken", lambda one, unknowns: iter(()))
    mechanism, shaken = hand(steered(kingpin="play = { radial = 0.2 }"))
    body, way = mechanism.bodies.body_of["knuckle"], np.array([1.0, 1.0, 0.0]) / np.sqrt(2)
    assert shaken.farthest(shaken.point(body, np.zeros(3), way)) > 0.11


def test_parts_are_told_farthest_first_with_the_joint_that_gives_most():
    record = assembly.play(steered(kingpin="play = { radial = 0.4 }", bar_joint="play = { radial = 0.1 }"))
    goes = [one.goes_mm for one in record.parts]
    assert goes == sorted(goes, reverse=True)
    assert {one.part: one.most_of for one in record.parts}["knuckle"] == "kingpin"
    assert all(one.goes_mm <= one.at_most_mm for one in record.parts)
    assert "bars" not in {one.part for one in record.parts}


def test_at_another_setting_it_is_told_for_there():
    machine = steered(arm_end="play = { radial = 0.5 }")
    assert assembly.play(machine, {"steer": 8}).at == {"steer": 8.0}
    with pytest.raises(InputError):
        assembly.play(machine, {"steer": 80})


def test_one_screen_tells_it(tmp_path, capsys):
    file = tmp_path / "wheel.toml"
    file.write_text(steered_text(arm_end="play = { radial = 2.632 }"))
    assert main(["play", str(file)]) == 0
    told = capsys.readouterr().out
    assert "The rim of front goes 5.00 mm at its front, 190 mm out" in told
    assert "hold the bars, shake front at the front of its rim: more than 5.00 mm" in " ".join(told.split())
    assert len(told.splitlines()) < 50
    assert main(["play", str(file), "--json", "--hold", "rod", "--radius", "250"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert (record["kind"], record["rims"][0]["radius_mm"], record["by_drives"][0]["held"]) == ("play", 250, ["rod"])


@pytest.mark.parametrize(
    ("given", "words", "told"),
    [({}, [], "no joint of the file has play"), ({"kingpin": "play = { axial = 1 }"}, ["--hold", "rood"], "`rood`")],
)
def test_what_cannot_be_told_is_one_line(given, words, told, tmp_path, capsys):
    file = tmp_path / "wheel.toml"
    file.write_text(steered_text(**given))
    assert main(["play", str(file), *words]) == 2
    error = capsys.readouterr().err
    assert told in error
    assert len(error.strip().splitlines()) == 1


def test_machines_that_are_shaken_go_no_farther_than_is_bounded():
    """Every end of the rod's play, put together anew, against what is proven of the rim."""
    machine = steered(arm_end="play = { radial = 1 }", kingpin="play = { radial = 0.4 }")
    front = rims(assembly.play(machine))["front"]
    random, found = np.random.default_rng(5), []
    for _ in range(40):
        joints = dict(machine.joints)
        for name, flat in (("arm_end", 1.0), ("kingpin", 0.0)):
            off = random.standard_normal(3) * (1, 1, flat)
            size = machine.joints[name].play.radial
            joints[name] = replace(joints[name], at_second=tuple(joints[name].at_second + size * off / hypot(*off)))
        made = assemble(replace(machine, joints=joints))
        world = made.world_from_rest(made.home, "knuckle")[0]
        found.append(float((world @ (190, -60, 0, 1))[1] + 60))
    assert max(found) - min(found) <= front.at_most_mm
    assert max(found) - min(found) == pytest.approx(front.goes_mm, rel=0.12)


def test_play_takes_of_the_limits_of_joints_and_spread_tells_it():
    """A kingpin that leans by 1° either way may be found turned by as much; it turns by 10 of its 15°."""
    machine = steered(kingpin="play = { angle = 2 }\nlimit = [-15, 15]")
    record = assembly.spread(machine, machines=0, cores=1, cached=False)
    pin = next(one for one in record.figures if one.names == ("kingpin",))
    assert pin.nominal == pytest.approx(5, abs=0.01)
    assert 5 - 1.5 < pin.proven <= 5 - 1
    assert record.play[0].angle == 2
    told = plain_text(spread_blocks(record, "swingroom spread wheel.toml"))
    assert "Play of joints, from end to end" in told
    assert "play of joints (give joints" not in told


def test_a_sweep_says_that_it_counts_neither_tolerances_nor_play():
    """A file that states them must not read as if they were in the verdict."""
    quick = Effort(decide_only=True)
    plain, loose = (
        assembly.sweep(steered(**given), effort=quick, cached=False).record
        for given in ({}, {"arm_end": "play = { radial = 0.2 }"})
    )
    assert (plain.loose, loose.loose) == ((), ("arm_end",))
    assert list(not_counted(plain)) == []
    (line,) = not_counted(loose)
    assert line.text == "Not counted here: the play of 1 joint; `swingroom spread` counts what they take."
    assert line in list(sweep_blocks(loose))
    assert line in list(sweep_screen(loose))
    dimensions = {"arm": DimensionEntry(100.0, 0.5, ""), "exact": DimensionEntry(5.0, 0.0, "")}
    (line,) = not_counted(replace(loose, dimensions=dimensions))
    assert line.text.startswith("Not counted here: 1 tolerance and the play of 1 joint;")
