"""What each number does to a measure, against central differences, and changes that bring it within its limits."""

from types import SimpleNamespace

import numpy as np
import pytest
from measure_machines import read
from scipy.optimize import brentq
from test_measure_references import corner_text

import assembly
from assembly.clearance.sensitivity.measure_place import MeasurePlace
from assembly.kinematics.assembling import assemble
from assembly.kinematics.measure_figures import measure_motion
from assembly.kinematics.solver import solve

LINKAGE = """
[dimensions]
crank = 40
ground = 100
reach = 10
top = 118
[points]
o = [0, 0, 0]
a = [0, "crank", 0]
b = [113, 79, 0]
c = ["ground", 0, 0]
[parts.frame]
fixed = true
shapes = [{ box = [0, 0, -50], size = [4, 4, 4] }]
[parts.crank]
shapes = [{ box = [0, 0, 50], size = [4, 4, 4] }]
[parts.coupler]
shapes = [{ box = [0, 0, 100], size = [4, 4, 4] }]
[parts.rocker]
shapes = [{ box = [0, 0, 150], size = [4, 4, 4] }]
[joints]
o = { pin = ["frame", "crank"], at = "o", along = [0, 0, 1] }
a = { pin = ["crank", "coupler"], at = "a", along = [0, 0, 1] }
b = { pin = ["coupler", "rocker"], at = "b", along = [0, 0, 1] }
c = { pin = ["frame", "rocker"], at = "c", along = [0, 0, 1] }
[drives.crank]
turns = { o = 1 }
range = [-60, 90]
[measures.rocker]
angle = [{ on = "ground", along = [1, 0, 0] }, { on = "rocker", line = ["c", "b"] }]
about = [0, 0, 1]
most = "top"
[measures.transmission]
angle = [{ on = "coupler", line = ["b", "a"] }, { on = "rocker", line = ["b", "c"] }]
least = 20
[measures.tail]
distance = [{ on = "coupler", at = [0, "crank + reach", 5] }, { on = "frame", line = ["o", "c"] }]
[measures.beside]
coordinate = { on = "coupler", at = [0, "crank + reach", 5] }
along = { on = "rocker", at = "b", along = [1, 2, 0] }
most = 5
[measures.slope]
level = { on = "coupler", line = ["a", [50, 70, 30]] }
"""


NUMBERS = {"crank": 40, "ground": 100, "reach": 10, "top": 118}
STEP = 0.05


def kept(mechanism, name, motion, at):
    """What a measure keeps of a limit, or comes to, at the setting ``at`` of a machine put together anew."""
    measure = mechanism.machine.measures[name]
    value = measure_motion(measure, mechanism).values(solve(mechanism, np.array([[at]])).posture)[0]
    return {"value": value, "least": value - (measure.least or 0), "most": (measure.most or 0) - value}[motion]


def test_slopes_are_those_of_machines_put_together_anew():
    """Central differences over the dimensions, at the setting that governs; through the closed loop."""
    machine = read(LINKAGE)
    record = assembly.what_helps(machine, measure="rocker", cached=False, cores=1)
    assert record.asked == ("rocker",)
    figures = {(one.names[0], one.motion): one for one in record.figures if one.kind == "measure"}
    assert {*figures} == {
        *(("rocker", "most"), ("transmission", "least"), ("tail", "value"), ("beside", "most"), ("slope", "value"))
    }
    changed = [
        [assemble(machine.with_dimensions(**{number: now + step})) for step in (STEP, -STEP)]
        for number, now in NUMBERS.items()
    ]
    for (name, motion), figure in figures.items():
        (place,) = figure.places
        slopes = {one.number: one.up for one in place.slopes}
        for number, machines in zip(NUMBERS, changed, strict=True):
            up, down = (kept(each, name, motion, place.at["crank"]) for each in machines)
            assert slopes.get(number, 0.0) == pytest.approx((up - down) / (2 * STEP), abs=2e-4), (name, motion, number)
    assert figures["rocker", "most"].verdict == "fails"


def test_a_number_that_leaves_a_measure_as_it_is_asks_nothing_of_it():
    """Of 129 numbers of the demo hardly any moves a point of a cable: three quarters of all time went there."""
    reading = SimpleNamespace(measures=read(LINKAGE).measures)
    stepped = SimpleNamespace(perturbations=SimpleNamespace(base=reading), reading=reading, before=None)
    assert MeasurePlace("rocker", "most", 0.0, np.zeros(1)).at_posture(stepped, None) == 0.0


@pytest.mark.parametrize("rod", [250])
def test_a_longer_tie_rod_turns_the_wheel_as_its_closed_form_says(rod):
    """REFERENCE_VALUES 2.12, exact: rod² = (100 - 100 cos t)² + (300 cos d ∓ 100 sin t - 300 + rod)² + (300 sin d)²."""
    text = corner_text(0, (-100, 300 - rod, 250), arm=300.0, axis=(0.0, 250.0), behind=100.0)
    text = text.replace(
        "[parts.rod]", f"[parts.rod]\nset_length = {{ from = 'rod_inner', to = 'rod_outer', is = {rod} }}"
    )
    record = assembly.what_helps(read(f"{text}least = -5\nmost = 5"), measure="toe", cached=False, cores=1)
    (figure,) = (
        one for one in record.figures if one.kind == "measure" and one.motion == ("least" if rod < 300 else "most")
    )
    place = figure.places[0]
    travel = np.radians(place.at["travel"])

    def turned(length):
        return brentq(
            lambda t: (
                (100 - 100 * np.cos(t)) ** 2
                + (300 * np.cos(travel) - 100 * np.sin(t) - 300 + rod) ** 2
                + (300 * np.sin(travel)) ** 2
                - length**2
            ),
            -0.5,
            0.5,
        )

    wanted = np.degrees(turned(rod + 0.01) - turned(rod - 0.01)) / 0.02
    slopes = {one.number: one.up for one in place.slopes}
    assert abs(slopes["rod.set_length"]) == pytest.approx(abs(wanted), rel=1e-3)


ARM = """
[dimensions]
arm = {{ value = 100, may_be = [{low}, 120] }}
[points]
tip = ["arm", 0, 0]
[parts.post]
fixed = true
shapes = [{{ box = [0, 0, -50], size = [4, 4, 4] }}]
[parts.arm]
shapes = [{{ box = [0, 0, 50], size = [4, 4, 4] }}]
[joints.hinge]
pin = ["post", "arm"]
at = [0, 0, 0]
along = [0, 0, 1]
[drives.swing]
turns = {{ hinge = 1 }}
range = [-60, 60]
[measures.gone]
distance = [{{ on = "arm", at = "tip" }}, {{ on = "post", at = "tip" }}]
most = 97
"""


def test_a_proposal_brings_a_measure_within_its_limit():
    """Closed form: the tip goes 2 · arm · sin(30°) = arm, so an arm of 97 mm is the largest that keeps 97 mm."""
    record = assembly.propose(read(ARM.format(low=80)), most=1, cores=1, cached=False)
    assert [one.kind for one in record.broken] == ["measure"]
    (proposal,) = record.proposals
    assert proposal.values[0].after == pytest.approx(97, abs=0.05)
    assert proposal.values[0].after <= 97
    assert proposal.verdict == "clear"
    assert proposal.mended[0].before == pytest.approx(-3, abs=1e-3)
    assert proposal.mended[0].after >= 0


def test_a_measure_that_no_allowed_change_mends_contradicts_its_limit():
    record = assembly.propose(read(ARM.format(low=98)), most=1, cores=1, cached=False)
    assert not record.proposals
    assert [rule.names for rule in record.contradiction.rules] == [("gone",)]
    assert record.contradiction.limits[0].value == 98
    assert np.isclose(record.contradiction.missed[0].margin, -1, atol=1e-3)
