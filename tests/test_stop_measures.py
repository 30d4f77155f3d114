"""A stop design keeps the limits of measures: they end ways like joints' limits, and its proof holds them."""

from math import asin, cos, degrees, radians, sin, tan
from pathlib import Path

import pytest
from wheel_machines import parallelogram_text, read

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.stops.known_ends import WayAsked, WayKeys
from assembly.clearance.stops.stop_ways import margins_of
from assembly.kinematics.assembling import assemble
from assembly.model.reader import machine_from_text
from assembly.model.stop_solids import without_stops
from assembly.report.text.stop_text import stop_blocks
from assembly.report.text.terminal import plain_text
from assembly.studies.stops.stop_design import settle_stops

HERE = Path(__file__).resolve().parent

ARM = """
format = 1
name = "Arm on a pad"
[parts.post]
fixed = true
shapes = [{ name = "post", box = [0, 0, -50], size = [20, 20, 20] }]
[parts.arm]
shapes = [{ name = "bar", box = [60, 0, 0], size = [80, 6, 6] }]
[joints.hinge]
pin = ["post", "arm"]
at = [0, 0, 0]
along = [0, 0, -1]
[drives.swing]
turns = { hinge = 1 }
range = [-60, 50]
[stops.rest]
drive = "swing"
side = "high"
parts = ["arm", "post"]
at = [60, -130, 0]
along = [0, 1, 0]
pad = { diameter = 8 }
margin = { joints = 0 }
[measures.tip]
coordinate = { on = "arm", at = [100, 0, 0] }
along = [0, 1, 0]
"""
"""An arm of 100 mm that swings down, by a, onto a pad: its tip comes down by 100 sin a, its lower face at x by
x tan a + 3 / cos a (closed forms)."""


def settled(limits, height=""):
    text = f"{ARM}{limits}\n".replace("pad =", f"{height}\npad =")
    return settle_stops(machine_from_text(text, HERE), Effort(cores=1, decide_only=True), lambda *_: None)


def test_limit_of_a_measure_sets_where_a_stop_acts():
    """The tip may go down by 50 mm, so the arm to 30 degrees; there the pad's far edge, at x = 64, is struck first."""
    found = settled("least = -50")
    (stop,) = found.record.stops
    assert (stop.acts.dictated_by.cause, stop.acts.dictated_by.names) == ("measure", ("tip",))
    assert 29.9 < stop.acts.setting <= 30.0
    turn = radians(stop.acts.setting)
    assert stop.to_make_mm == pytest.approx(130 - 64 * tan(turn) - 3 / cos(turn), abs=0.02)
    assert found.record.verdict == "clear"
    (tip,) = found.record.proof.measures
    assert (tip.verdict, tip.limit_low) == ("clear", -50.0)
    assert -50.0 - 1e-6 <= tip.proven_least <= -50 + 0.3


def test_stated_height_that_lets_a_measure_pass_its_limit_is_no_stop():
    found = settled("least = -50", "height = 60")
    assert found.record.verdict == "fails"
    assert "too late" in found.record.stops[0].faults[0]


def test_limit_that_is_passed_where_no_stop_is_fails_the_proof():
    """Upwards no stop ends the range: at -60 degrees the tip is 100 sin 60 = 86.60 mm up, where 80 are allowed."""
    found = settled("most = 80")
    record = found.record
    assert (record.verdict, record.reason) == ("fails", "measures beyond their limits before the stops act: tip")
    (tip,) = record.proof.measures
    assert tip.most == pytest.approx(100 * sin(radians(60)), abs=1e-6)
    assert not record.heights_to_write
    told = " ".join(plain_text(stop_blocks(record)).split())
    assert "tip is 86.61 mm at swing −60°, 6.61 mm more than the 80 mm that it may be" in told
    assert "let a stop act before tip reaches its limit" in told


def test_limit_of_a_measure_within_the_stopped_range_is_proven_there_alone():
    """Over the file's range downwards the tip would pass -70, at 44.4 degrees; a stop that acts before keeps it."""
    found = settled("least = -70\nmost = 90")
    assert found.record.verdict == "clear"
    assert found.record.proof.drives["swing"].to <= degrees(asin(0.7)) + 1e-9


def test_what_is_known_of_ways_depends_on_the_limits_of_measures():
    def key(limits):
        machine = without_stops(machine_from_text(ARM + limits, HERE)).widened
        mechanism = assemble(machine)
        stop = machine_from_text(ARM, HERE).stops["rest"]
        pairs = gather_pairs(machine, mechanism.bodies).moving
        return WayKeys(mechanism, pairs).of(WayAsked(0, 60.0, (0.0,), margins_of(stop)))

    assert key("least = -50") == key("least = -50")
    assert len({key(limits) for limits in ("", "least = -50", "least = -51", "most = 51")}) == 4


def test_limit_of_a_wheel_is_held_as_a_measure_is():
    """Closed form: wheels on equal beams lean as far as the frame; 24 degrees are allowed, only one side has a stop."""
    text = parallelogram_text().replace('"high_left"]\ntyre', '"high_left"]\nlimits = { camber = [-24, 24] }\ntyre')
    pad = "at = [50, -360, 840]\nalong = [0, 1, 0]\npad = { diameter = 12 }\nmargin = { joints = 0 }\n"
    stop = f'[stops.rest]\ndrive = "tilt"\nside = "high"\nparts = ["low_beam", "frame"]\n{pad}'
    apart = '[clearance]\npairs = [{ between = ["upright_left", "upright_right"], ignore = "drawn in one place" }]\n'
    found = settle_stops(read(text + apart + stop), Effort(cores=1, decide_only=True), lambda *_: None).record
    assert (found.stops[0].acts.dictated_by.cause, found.stops[0].acts.dictated_by.names[0][:5]) == ("measure", "wheel")
    assert found.stops[0].acts.at_most == pytest.approx(24.0, abs=0.05)
    assert found.verdict == "fails"
    assert all(word in found.reason for word in ("beyond their limits", "wheel_left camber", "wheel_right camber"))
    (left,) = (one for one in found.proof.measures if one.name == "wheel_left camber")
    assert max(abs(left.least), abs(left.most)) == pytest.approx(25.0, abs=1e-4)
