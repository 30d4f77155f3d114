"""Derivatives against central differences of machines that are read and put together anew; kinks, and torn loops."""

from pathlib import Path

import numpy as np
import pytest
from sensitivity_machines import (
    differenced,
    gap_anew,
    pair_places,
    read,
    reserve_place,
    rolled,
    setting_of,
    shifted,
    slopes_at,
)

from assembly.clearance.sensitivity.change import change_of
from assembly.clearance.sensitivity.places import MeasuredPlace, RollReserve
from assembly.kinematics.rod_roll import rods_of
from assembly.kinematics.solver import solve
from assembly.model.perturbed import Perturbations
from assembly.model.reader import read_machine

ROOT = Path(__file__).resolve().parent.parent
STARTER = ROOT / "assembly" / "starter" / "arm_and_crank.toml"
STEP = 2e-3
PAIRS = [("rod", "arm"), ("crank", "rod"), ("rod", "frame")]
LEANING_PAIRS = [
    (("tie", "frame"), {"lean": 12.0, "roll of tie": 14.0}),
    (("tie", "wheel"), {"lean": -17.0, "roll of tie": -6.0}),
    (("arm", "wheel"), {"lean": 5.0}),
    (("arm", "tie"), {"lean": 22.5, "roll of tie": 3.0}),
]

LEANING = """
format = 1
[dimensions]
arm = 120
tie = { value = 121.5, plus_minus = 0.3 }
side = 40
gap = 9
reach = 30
[points]
low_out = ["side + arm", 0, 100]
tie_in = ["side + 5", -60, 140]
tie_out = ["side + 5 + arm", -60, 140]
[parts.frame]
fixed = true
shapes = [{ name = "plate", box = ["side + 60", "-60 - reach", 140], size = [30, 10, 60] }]
[parts.arm]
shapes = [{ name = "leg", rod = [["side", 0, 100], "low_out"], diameter = 12 }]
[parts.wheel]
shapes = [
  { name = "post", rod = [["side + arm", 0, 90], ["side + arm", 0, 150]], diameter = 10, cut = [
    { rod = [["side + arm - 9", 0, 130], ["side + arm + 9", 0, 130]], diameter = 4 },
  ] },
  { name = "horn", rod = [["side + arm", 0, 140], "tie_out"], rectangle = [10, 8] },
]
[parts.tie]
set_length = { from = "tie_in", to = "tie_out", is = "tie" }
shapes = [
  { name = "tube", rod = ["tie_in", "tie_out"], diameter = 10 },
  { name = "lug", box = ["side + 45", -60, 149], size = [12, 8, 14] },
]
[joints]
pivot = { pin = ["frame", "arm"], at = ["side", 0, 100], along = [0, 1, 0] }
king = { pin = ["arm", "wheel"], at = "low_out", along = [0, 0, 1], limit = [-40, 40] }
inner = { ball = ["tie", "frame"], at = "tie_in", bolt = [0, 0, 1], misalignment = 28, seat_radius = "gap" }
outer = { ball = ["tie", "wheel"], at = "tie_out", bolt = [0, 0, 1], misalignment = "gap + 25", seat_radius = "gap" }
[drives.lean]
turns = { pivot = 1 }
range = [-25, "gap * 2.5"]
"""
"""Own model: a rod that can roll, with a lug, between a frame and a steered wheel; a length of its own; seats."""


def compared(machine, mechanism, places, figures, only):
    """The slopes of every place against differences over the numbers ``only``."""
    slopes = slopes_at(mechanism, places, only)
    parameters = [parameter for parameter in Perturbations(machine).parameters if parameter.name in only]
    assert {parameter.name for parameter in parameters} == only
    for parameter in parameters:
        wanted = differenced(machine, figures, parameter, STEP)
        found = [np.mean(one[parameter.name]) for one in slopes]
        assert found == pytest.approx(wanted, rel=2e-4, abs=2e-5), parameter.name


def test_pairs_of_the_starter_agree_with_machines_put_together_anew():
    machine = read_machine(STARTER)
    mechanism = rolled(machine)
    at = {"crank": 11.3, "head": 7.0}
    places = [place for pair in PAIRS for place in pair_places(mechanism, *pair, at)]
    only = {
        "arm",
        "lug",
        "crank",
        "height",
        "rod_top.x",
        "rod_bottom.y",
        "head_pin.x",
    }
    compared(machine, mechanism, places, [gap_anew(mechanism, place) for place in places], only)


@pytest.mark.long
def test_pairs_of_a_leaning_wheel_agree_with_machines_put_together_anew():
    """Rolls, seats that are cut away, a shape with a hole, and a drive whose range a number ends."""
    machine = read(LEANING)
    mechanism = rolled(machine)
    places = [place for pair, at in LEANING_PAIRS for place in pair_places(mechanism, *pair, at)]
    only = {"arm", "tie", "side", "gap", "reach", "tie_in.z", "tie.set_length"}
    compared(machine, mechanism, places, [gap_anew(mechanism, place) for place in places], only)


def figure_anew(mechanism, place):
    def figure(anew):
        setting = shifted(place.settings, mechanism, anew)
        return float(place.figure.values(anew, solve(anew, setting[None]).posture)[0])

    return figure


def test_joints_and_rods_agree_with_machines_put_together_anew():
    machine = read(LEANING)
    mechanism = rolled(machine)
    places = []
    for lean in (-13.0, 22.5):
        places += [reserve_place(mechanism, name, {"lean": lean}) for name in ("king", "inner", "outer")]
        ends = tuple(end.joint for end in rods_of(mechanism)[0].ends)
        places.append(MeasuredPlace(RollReserve(ends), setting_of(mechanism, {"lean": lean})))
    only = {"arm", "tie", "gap", "low_out.y", "tie_out.z", "tie.set_length"}
    compared(machine, mechanism, places, [figure_anew(mechanism, place) for place in places], only)


THIRD_CRANK = """
format = 1
[dimensions]
third = 50
apart = 120
[parts.ground]
fixed = true
shapes = [{ name = "block", box = [60, 90, 0], size = [10, 10, 10] }]
[parts.left]
shapes = [{ rod = [[0, 0, 0], [0, 50, 0]], diameter = 4 }]
[parts.right]
shapes = [{ rod = [["apart", 0, 0], ["apart", 50, 0]], diameter = 4 }]
[parts.middle]
shapes = [{ rod = [[50, 0, 0], [50, "third", 0]], diameter = 4 }]
[parts.bar]
shapes = [{ name = "bar", rod = [[0, 50, 0], ["apart", 50, 0]], diameter = 4 }]
[joints]
a = { pin = ["ground", "left"], at = [0, 0, 0], along = [0, 0, 1] }
b = { pin = ["ground", "right"], at = ["apart", 0, 0], along = [0, 0, 1] }
c = { pin = ["ground", "middle"], at = [50, 0, 0], along = [0, 0, 1] }
d = { pin = ["left", "bar"], at = [0, 50, 0], along = [0, 0, 1] }
e = { pin = ["right", "bar"], at = ["apart", 50, 0], along = [0, 0, 1] }
f = { pin = ["middle", "bar"], at = [50, "third", 0], along = [0, 0, 1] }
[drives.turn]
turns = { a = 1 }
range = [-20, 20]
"""


CORNER = """
format = 1
[dimensions]
wide = 20
high = 20
[parts.block]
fixed = true
shapes = [{ name = "block", box = [-10, 0, -10], size = [20, 200, 20] }]
[parts.bar]
shapes = [{ name = "bar", box = ["wide / 2 - 3", 0, "high / 2 - 3"], size = ["wide", 20, "high"] }]
[joints.way]
slide = ["block", "bar"]
at = [0, 0, 0]
along = [0, 1, 0]
[drives.push]
slides = { way = 1 }
range = [-5, 5]
"""


def test_two_ways_out_that_are_as_short_are_both_told():
    """Closed form: the bar stands 3 in the block both ways; what moves it out one way alone leaves the other."""
    mechanism = rolled(read(CORNER.replace('"wide / 2 - 3"', '"wide - 13"')))
    places = pair_places(mechanism, "block", "bar", {"push": 1.0})
    assert {tuple(np.abs(place.normal).round(6)) for place in places} == {(1.0, 0.0, 0.0), (0.0, 0.0, 1.0)}
    slopes = slopes_at(mechanism, places)
    assert sorted({round(one["wide"][0], 6) for one in slopes}) == [0.0, 0.5]


def test_a_number_that_would_tear_a_loop_apart_has_no_slope():
    """A third crank of another length than the two beside it: closed form, the loop then holds at no other setting."""
    mechanism = rolled(read(THIRD_CRANK))
    for slopes in slopes_at(mechanism, pair_places(mechanism, "ground", "bar", {"turn": 15.0})):
        assert np.isnan(slopes["third"]).all()
        assert np.isfinite(slopes["apart"]).all()


FLUSH = """
format = 1
[dimensions]
low = 30
high = 30
[parts.table]
fixed = true
shapes = [{ name = "top", box = [0, 0, -5], size = [200, 60, 10] }]
[parts.slab]
shapes = [
  { name = "sole", plate = [
    [-40, "low"], [40, "high"], [40, 60], [-40, 60]
  ], at = [0, 0, 0], normal = [0, -1, 0], along = [1, 0, 0], thickness = 20 },
]
[joints.way]
slide = ["table", "slab"]
at = [0, 0, 0]
along = [1, 0, 0]
[drives.push]
slides = { way = 1 }
range = [-5, 5]
"""


def test_a_face_along_a_face_gains_nothing_where_one_end_alone_is_lifted_and_loses_all_where_it_is_lowered():
    """Closed form: the gap is the lower of both ends."""
    mechanism = rolled(read(FLUSH))
    slopes = slopes_at(mechanism, pair_places(mechanism, "table", "slab", {"push": 2.0}))
    assert len(slopes) > 1
    for name in ("low", "high"):
        assert min(one[name][0] for one in slopes) == pytest.approx(0.0, abs=1e-6)
        assert max(one[name][1] for one in slopes) == pytest.approx(1.0, abs=1e-6)


def test_a_number_that_the_file_cannot_have_by_itself_says_why():
    """The arc cosine of more than 1 has no value."""
    made = read(FLUSH.replace("low = 30", 'share = 1\nlow = "30 + acos(share)"'))
    perturbations, mechanism = Perturbations(made), rolled(made)
    changes = {each.name: change_of(mechanism, perturbations, each) for each in perturbations.parameters}
    assert changes["share"].refused == "acos(1.001) has no value"
    assert changes["high"].refused == ""
