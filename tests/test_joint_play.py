"""The play of joints as a file states it, and the loose fits of ISO 286 that it may come from."""

from math import asin, atan2, cos, degrees, hypot, radians, sin, sqrt

import pytest
from small_machines import HERE

from assembly.errors import InputError
from assembly.model.fits import DEVIATIONS, FINE_STEPS, GRADES, STEPS, fit_of
from assembly.model.joint_play import JointPlay
from assembly.model.play_reader import leaning
from assembly.model.reader import machine_from_text

TEXT = """
format = 1
name = "Loose"
[dimensions]
slack = 0.3
[parts.base_left]
fixed = true
shapes = [{{ box = [0, 0, 0], size = [9, 9, 9] }}]
[parts.arm_left]
shapes = [{{ box = [40, 0, 0], size = [9, 9, 9] }}]
[joints.hinge_left]
{kind} = ["base_left", "arm_left"]
at = [20, 5, 0]
{line}
play = {{ {play} }}
{drive}
[mirror]
left = "right"
"""
LINES = {"pin": "along = [0, 0, 1]", "slide": "along = [0, 0, 1]", "cylindrical": "along = [0, 0, 1]"}
DRIVE = "[drives.swing]\nturns = { hinge_left = 1, hinge_right = 1 }\nrange = [-5, 5]"


def read(play, kind="pin"):
    drive = DRIVE if kind in ("pin", "cylindrical") else ""
    line = "axes = [[1, 0, 0], [0, 1, 0]]" if kind == "universal" else LINES.get(kind, "")
    return machine_from_text(TEXT.format(kind=kind, line=line, play=play, drive=drive), HERE)


def test_play_is_told_from_end_to_end_and_counts_half_of_that_either_way():
    machine = read('radial = 0.1, axial = "slack + 0.1", angle = 1')
    assert machine.joints["hinge_left"].play == JointPlay(0.05, (-0.2, 0.2), 0.5)
    assert machine.joints["hinge_right"].play == JointPlay(0.05, (-0.2, 0.2), 0.5)


def test_play_along_may_count_from_where_the_joint_is_drawn():
    assert read("axial = [0, 25.4]").joints["hinge_right"].play.axial == (0.0, 25.4)


def test_that_it_is_not_in_a_plain_sweep_is_said():
    notes = [one.message for one in read("radial = 0.1").findings]
    assert any("`hinge_left`, `hinge_right` have play" in one and "sweep --spread" in one for one in notes)
    assert not any("play" in one.message for one in read("radial = 0").findings)


@pytest.mark.parametrize(
    ("kind", "play", "told"),
    [
        ("pin", "radial = -0.1", "play of -0.1 is negative"),
        ("pin", "axial = [2, -1]", "the play from 2 to -1 is negative"),
        ("pin", "axial = [1, 2]", "does not contain 0"),
        ("pin", "angle = 40", "40 degrees is no play of a joint"),
        ("welded", "radial = 0.1", "parts that are welded have no play"),
        ("bolted", "radial = 0.1", "parts that are bolted have no play"),
        ("ball", "axial = 0.1", "a ball joint has no axial play of its own"),
        ("slide", "axial = 0.1", "a slide joint has no axial play of its own"),
        ("universal", "angle = 0.1", "a universal joint has no angle play of its own"),
        ("pin", 'fit = "H7/f7"', "needs a size"),
        ("pin", 'fit = "H7/f7", diameter = 12', "how far the pin may lean in its bearing is not given"),
        ("pin", 'fit = "H7/k6", diameter = 12, width = 20', "is no loose fit"),
        ("pin", 'fit = "f7/H7", diameter = 12, width = 20', "is no loose fit"),
        ("pin", 'fit = "H5/f7", diameter = 12, width = 20', "is no loose fit"),
        ("pin", 'fit = "H7/f7", diameter = 121, width = 20', "is no loose fit"),
        ("pin", 'fit = "loose", diameter = 12, width = 20', "is no loose fit"),
        ("pin", 'fit = "H7/f7", diameter = 12, width = 20, radial = 1', "beside a fit"),
        ("pin", 'fit = "H7/f7", diameter = 12, width = 20, angle = 1', "the width says nothing here"),
        ("ball", 'fit = "H7/f7", diameter = 12, width = 20', "the width says nothing here"),
        ("pin", "width = 20", "says nothing without a fit"),
        ("pin", "wobble = 20", "wobble"),
    ],
)
def test_what_is_no_play_is_told_in_one_line(kind, play, told):
    with pytest.raises(InputError) as caught:
        read(play, kind)
    (fault,) = caught.value.faults
    assert told in fault.message
    assert fault.hint


@pytest.mark.parametrize(
    ("name", "diameter", "least", "most"),
    [
        # worked out from the tables of ISO 286-2, µm: H7/h6 and H7/g6 of 8 and 10 mm are 0-24 and 5-29
        ("H7/h6", 8, 0, 24),
        ("H7/h6", 10, 0, 24),
        ("H7/g6", 8, 5, 29),
        ("H7/f7", 12, 16, 16 + 18 + 18),
        ("H8/e8", 20, 40, 40 + 33 + 33),
        ("H11/c11", 20, 110, 110 + 130 + 130),
        ("H11/c11", 40, 120, 120 + 160 + 160),
        ("H11/c11", 40.01, 130, 130 + 160 + 160),
        ("F8/h9", 30, 20, 20 + 33 + 52),
    ],
)
def test_loose_fits_are_those_of_the_standard(name, diameter, least, most):
    found = fit_of(name, diameter)
    assert (found.least, found.most) == pytest.approx((least / 1000, most / 1000))


FROM = (1.0, *STEPS)
FACTORS = {6: 10, 7: 16, 8: 25, 9: 40, 10: 64, 11: 100, 12: 160, 13: 250}
CURVES = {"d": (16, 0.44), "e": (11, 0.41), "f": (5.5, 0.41), "g": (2.5, 0.34)}


def test_the_tables_follow_from_the_formulas_of_the_standard():
    """Closed form: i = 0.45 D^(1/3) + 0.001 D. Below 6 mm the standard rounds by more."""
    for step, (low, high) in enumerate(zip(FROM, STEPS, strict=False)):
        middle = sqrt(low * high)
        unit = 0.45 * middle ** (1 / 3) + 0.001 * middle
        for grade, row in GRADES.items():
            assert 0.975 < row[step] / (FACTORS[grade] * unit) < (1.16 if high <= 6 else 1.05)
        fine = FINE_STEPS.index(high)
        for letter, (factor, power) in CURVES.items():
            assert DEVIATIONS[letter][fine] == pytest.approx(factor * middle**power, abs=1.2)
    for fine, (low, high) in enumerate(zip((1.0, *FINE_STEPS), FINE_STEPS, strict=False)):
        middle = sqrt(low * high)
        told = 52 * middle**0.2 if middle <= 40 else 95 + 0.8 * middle
        assert 0.98 < DEVIATIONS["c"][fine] / told < 1.14


def test_a_fit_and_the_width_of_its_bearing_give_all_of_the_play():
    """Closed form: a shaft 0.052 mm thinner touches both rims of 20 mm where 20 sin θ + 12 cos θ = 12.052."""
    play = read('fit = "H7/f7", diameter = 12, width = 20, axial = 0.5').joints["hinge_left"].play
    assert (play.radial, play.axial, play.fit) == (pytest.approx(0.026), (-0.25, 0.25), "H7/f7")
    angle = radians(play.angle)
    assert 20 * sin(angle) + 12 * cos(angle) == pytest.approx(12.052, abs=1e-12)
    assert 0 < play.angle < 0.16
    assert leaning(0.052, 12, 20) == pytest.approx(degrees(asin(12.052 / hypot(12, 20))) - degrees(atan2(12, 20)))


def test_a_fit_in_a_bearing_that_is_next_to_nothing_is_refused():
    with pytest.raises(InputError) as caught:
        read('fit = "H11/c11", diameter = 20, width = 0.5')
    assert "is no play of a joint" in caught.value.faults[0].message
