"""What each number does to figures of wheels, against central differences of machines put together anew."""

import numpy as np
import pytest
from small_machines import quiet
from wheel_machines import FLOOR, parallelogram_text, parts, read

import assembly
from assembly.errors import InputError
from assembly.kinematics.assembling import assemble
from assembly.kinematics.solver import solve
from assembly.kinematics.wheel_figures import wheel_figures, wheel_motion
from assembly.studies.sensitivity import SweptFigures, sensitivities
from assembly.studies.sweep.whole_sweep import sweep_machine

CORNER = f"""
[dimensions]
reach = 450
low = 250
tie = {{ value = 240, may_be = [230, 260] }}
tyre = 500
most = 0.5
[points]
low_in = [0, 100, "low"]
low_out = [5, "reach", "low"]
up_in = [0, 100, 400]
up_out = [-12, "reach - 15", 400]
tie_in = [-90, 100, "tie"]
tie_out = [-95, "reach", "low + 10"]
[joints]
low_in = {{ pin = ["frame", "low_arm"], at = "low_in", along = [1, 0, 0] }}
up_in = {{ pin = ["frame", "up_arm"], at = "up_in", along = [1, 0, 0] }}
low_out = {{ ball = ["low_arm", "upright"], at = "low_out" }}
up_out = {{ ball = ["up_arm", "upright"], at = "up_out" }}
tie_in = {{ ball = ["frame", "tie"], at = "tie_in" }}
tie_out = {{ ball = ["tie", "upright"], at = "tie_out" }}
{parts("frame", "low_arm", "up_arm", "upright", "tie")}
[wheels.wheel]
part = "upright"
centre = [0, "reach + 20", 325]
kingpin = ["low_out", "up_out"]
rim_diameter = "tyre - 100"
tyre_diameter = "tyre"
section = 40
spin = [0, 1, 0]
[wheels.wheel.limits]
toe = {{ least = -2, most = "most", at = {{ lift = 6 }} }}
LIMITS
{FLOOR}[drives.lift]
turns = {{ low_in = 1 }}
range = [-4, 6]
"""
"""A 3D double-arm corner of our own, whose kingpin leans both ways, over a floor."""
LIMITS = """trail = [-300, 300]
inclination = { least = 0, at = { lift = 2 } }
scrub_radius = { least = -300, at = { lift = -4 } }
camber = { most = 3, at = { lift = -4 } }
toe_mm = { most = 400, at = { lift = 5 } }
caster = { most = 90, at = { lift = 5 } }
"""
STEP = 0.02


@pytest.fixture(scope="module")
def helped():
    machine = read(CORNER.replace("LIMITS", LIMITS))
    return machine, assembly.what_helps(machine, measure="wheel steer", cores=1, cached=False)


def kept(mechanism, names, motion, at):
    """What a figure of wheels keeps of its limit, or comes to, in a machine put together anew."""
    name = names[0].partition(" at ")[0]
    figure = next(one for one in wheel_figures(mechanism) if one.name == name)
    row = [at[drive] for drive in mechanism.machine.drives]
    value = wheel_motion(mechanism, figure).values(solve(mechanism, np.array([row])).posture)[0]
    top = mechanism.machine.dimensions["most"].value if name == "wheel toe" else 0.0
    return top - value if motion == "most" else value


def test_slopes_of_wheels_are_those_of_machines_put_together_anew(helped):
    """Central differences over every dimension, through the closed loops and over what only wheels are drawn by."""
    machine, record = helped
    figures = [one for one in record.figures if one.kind == "measure"]
    assert {one.names[0] for one in figures} == {
        *("wheel toe at lift 6", "wheel camber at lift -4", "wheel caster at lift 5", "wheel inclination at lift 2"),
        *("wheel trail", "wheel scrub radius at lift -4", "wheel toe mm at lift 5", "wheel steer"),
    }
    assert record.asked == ("wheel steer",)
    numbers = {name: one.value for name, one in machine.dimensions.items()}
    made = {
        number: [assemble(machine.with_dimensions(**{number: now + step})) for step in (STEP, -STEP)]
        for number, now in numbers.items()
    }
    moved = set()
    for figure in figures:
        (place,) = figure.places
        slopes = {one.number: one.up for one in place.slopes}
        for number, machines in made.items():
            up, down = (kept(each, figure.names, figure.motion, place.at) for each in machines)
            expected = (up - down) / (2 * STEP)
            assert slopes.get(number, 0.0) == pytest.approx(expected, rel=1e-4, abs=1e-5), (figure.names, number)
            moved |= {number} if expected else set()
    assert moved == set(numbers)


def test_slopes_over_the_road_under_three_tyres_are_those_of_machines_put_together_anew():
    """Central differences: camber, lean and track of a tilting front at its governing settings."""
    limits = "[road]\nlimits = { lean = [-24, 30], track = [0, 500], total_toe = [-1, 1] }\n"
    text = f"[dimensions]\nhalf = 200\n{parallelogram_text()}{limits}".replace("200.0, 200]", '"half", 200]')
    text = text.replace("range = [-25, 25]", "range = [-9, 7]").replace(
        'centre = "low_left"', 'centre = [0, "half", 180]'
    )
    machine = read(text)
    checked, record = sweep_machine(machine, assembly.Effort(cores=1, decide_only=True), quiet, advise=False)
    told = record.joints, record.rods, record.measures
    figures = SweptFigures(checked.mechanism, checked.pairs, (), *told, checked.effort, {})
    made = [assemble(machine.with_dimensions(half=200 + step)) for step in (STEP, -STEP)]
    found = [one for one in sensitivities(figures, quiet)[1] if one.kind == "measure" and one.places]
    assert len(found) >= 4
    for figure in found:
        (place,) = figure.places
        name = figure.names[0]
        up, down = (
            wheel_motion(each, next(one for one in wheel_figures(each) if one.name == name)).values(
                solve(each, np.array([[place.at["tilt"]]])).posture
            )[0]
            for each in made
        )
        sign = -1 if figure.motion == "most" else 1
        slopes = {one.number: one.up for one in place.slopes}
        assert slopes.get("half", 0.0) == pytest.approx(sign * (up - down) / (2 * STEP), rel=1e-4, abs=1e-6), name


def test_a_proposal_brings_toe_within_its_limit():
    """The smallest change of the tie rod's height that keeps toe at -1: there a machine put together anew has it."""
    text = CORNER.replace("LIMITS", "").replace("least = -2", "least = -1")
    record = assembly.propose(read(text), most=1, cores=1, cached=False)
    assert [(one.kind, one.names) for one in record.broken] == [("measure", ("wheel toe at lift 6",))]
    (proposal,) = record.proposals
    assert proposal.verdict == "clear"
    changed = assemble(read(text).with_dimensions(tie=proposal.values[0].after))
    assert -1 <= kept(changed, ("wheel toe",), "least", {"lift": 6}) <= -0.97


def test_a_figure_of_wheels_that_there_is_not_is_refused(helped):
    with pytest.raises(InputError, match="there is no measure `wheel tow`"):
        assembly.what_helps(helped[0], measure="wheel tow", cores=1)
