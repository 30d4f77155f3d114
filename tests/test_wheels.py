"""Wheels against closed forms and worked-out tables: toe, camber, kingpins, steering, and the road under tyres."""

import numpy as np
import pytest
from wheel_machines import (
    FLOOR,
    TYRE,
    at,
    crossed_rod,
    hinged,
    parallelogram,
    parallelogram_text,
    parts,
    read,
    trapezoid,
)

import assembly
from assembly.api import swept_figures
from assembly.clearance.proof.joint_search import joint_search
from assembly.clearance.proof.measure_search import Asked, bracketed_figures
from assembly.clearance.proof.wheel_search import KIND, figures_measured, limits_measured
from assembly.errors import TimeLimitError
from assembly.kinematics.assembling import assemble
from assembly.kinematics.wheel_figures import wheel_figures, wheel_motion
from assembly.studies.wheels.standing import lowest_entries, turning_entries
from assembly.time_limit import time_limit

TRAVEL = (-40, -20, 0, 20, 40, 60)
ROD_TOE = {
    "A": ((-90, 20, 174), 60.0, (8.273, 4.073, 0, -3.997, -7.966, -11.957)),
    "B": ((-90, 20, 174), 31.4, (6.602, 3.235, 0, -3.136, -6.204, -9.233)),
    "C": ((-90, 20, 174), 0.0, (4.762, 2.312, 0, -2.195, -4.290, -6.298)),
    "D": ((-90, 100, 250), 0.0, (0, 0, 0, 0, 0, 0)),
    "E": ((-90, 20, 250), 0.0, (0.273, 0.068, 0, 0.068, 0.273, 0.620)),
}
"""Worked example, by hand: a tie rod that the arms cross, toe in degrees of each wheel over travel in mm."""
ACROSS_RIM = {"A": -168.2, "B": -130.3, "C": -89.1, "D": 0.0, "E": 8.79}
"""The same, of both wheels in mm across a rim of 406 mm at the last travel; E by closed form, 2 x 406 x sin(0.620)."""


@pytest.mark.parametrize("case", ROD_TOE)
def test_a_tie_rod_that_the_arms_cross_turns_both_wheels_over_travel(case):
    inner, height, expected = ROD_TOE[case]
    lifts = [[np.degrees(np.arcsin(travel / 350))] for travel in TRAVEL]
    found = at(crossed_rod(inner, height), *lifts)
    for side in ("left", "right"):
        assert found.values[f"wheel_{side} toe"] == pytest.approx(expected, abs=6e-4)
    both = found.values["wheel_left and wheel_right total toe"]
    assert both == pytest.approx(2 * np.array(expected), abs=1.2e-3)
    assert found.values["wheel_left and wheel_right steered"] == pytest.approx(np.zeros(6), abs=1e-9)
    assert found.values["wheel_left camber"] == pytest.approx(np.zeros(6), abs=1e-9)
    across = found.values["wheel_left and wheel_right total toe mm"][-1]
    assert across == pytest.approx(ACROSS_RIM[case], abs=0.06)


def test_an_error_of_height_matters_ten_times_more_than_one_sideways():
    """The same by its formula, the inner joint 3.2 low, 10 or 3.2 high, or 10 outboard: toe at -40, +40 and +60 mm."""
    lifts = [[np.degrees(np.arcsin(travel / 350))] for travel in (-40, 40, 60)]
    for inner, expected in (
        ((-90, 100, 246.8), (0.234, -0.234, -0.355)),
        ((-90, 100, 260), (-0.734, 0.731, 1.105)),
        ((-90, 100, 253.2), (-0.234, 0.234, 0.354)),
        ((-90, 110, 250), (-0.043, -0.043, -0.099)),
    ):
        assert at(crossed_rod(inner, 0.0), *lifts).values["wheel_left toe"] == pytest.approx(expected, abs=6e-4)


@pytest.mark.parametrize(
    ("caster", "roll", "steer", "ground", "elevation"),
    [
        (15, 0, 20, 19.370055, -5.078546),
        (0, -25, 20, 21.880233, -23.398962),
        (15, -25, 20, 22.084142, -28.513045),
        (15, 25, 20, 20.384548, 18.475776),
    ],
)
def test_steer_and_camber_of_a_leaning_wheel(caster, roll, steer, ground, elevation):
    """tan D = cos L sin d / (cos d cos p + sin L sin d sin p), as the literature on single-track machines has it."""
    found = at(hinged(caster), [roll, steer])
    assert found.values["wheel steer"] == pytest.approx([ground], abs=1e-6)
    assert found.values["wheel toe"] == pytest.approx([-ground], abs=1e-6)
    assert found.values["wheel camber"] == pytest.approx([-elevation], abs=1e-6)
    assert found.values["lean"] == pytest.approx([roll], abs=1e-9)


def test_a_kingpin_by_two_points():
    """Closed form, left wheel: atan(15/150), atan(30/150); the line meets the road in (19, 258, 0)."""
    machine = read(
        f"{parts('frame', 'lid')}{FLOOR}{LID}[mirror]\nleft = 'right'\n"
        f"[wheels.left]\npart = 'frame'\ncentre = [30, 300, 200]\n{TYRE}\n"
        "kingpin = [[5, 230, 140], [-10, 200, 290]]\n"
    )
    found = at(machine, [0])
    for name in ("left", "right"):
        assert found.values[f"{name} caster"] == pytest.approx([5.710593], abs=1e-6)
        assert found.values[f"{name} inclination"] == pytest.approx([11.309932], abs=1e-6)
        assert found.values[f"{name} trail"] == pytest.approx([19 - 30], abs=1e-9)
        assert found.values[f"{name} scrub radius"] == pytest.approx([300 - 258], abs=1e-9)


LID = '[joints]\nlid = { pin = ["frame", "lid"], at = [0, 0, 900], along = [1, 0, 0] }\n'
LID += "[drives.lid]\nturns = { lid = 1 }\nrange = [-5, 5]\n"
IDEAL = (4.72573, 8.96620, 12.80788, 16.32526, 19.58166, 22.63074, 25.51837, 28.28431)
TRAPEZOID = (4.84631, 9.39693, 13.65970, 17.63197, 21.30268, 24.65367, 27.66073, 30.29466)


def test_inner_and_outer_wheel_against_the_ideal():
    """A trapezoid whose arms point at the middle of the rear, w/l = 800/1200; derived, and 2.1 to 2.3 of the ideal."""
    inner = np.arange(5, 45, 5.0)
    left = at(trapezoid(), *inner[:, None])
    assert left.values["wheel_right steer"] == pytest.approx(TRAPEZOID, abs=6e-6)
    error = np.subtract(TRAPEZOID, IDEAL)
    assert left.values["wheel_left and wheel_right outer error"] == pytest.approx(error, abs=2e-5)
    right = at(trapezoid(), *-np.array(TRAPEZOID)[:, None])
    assert right.values["wheel_left and wheel_right outer error"] == pytest.approx(error, abs=2e-4)
    one = next(turning_entries(left))
    assert (one.inner, one.outer, one.outer_ideal) == pytest.approx((5, TRAPEZOID[0], IDEAL[0]), abs=1e-5)


@pytest.mark.parametrize(("angle", "inner", "outer"), [(25.0, 30.0, 22.77875), (0.0, 20.0, 20.0)])
def test_arms_of_other_angles(angle, inner, outer):
    """Derived: at 25 degrees the error at 30 is +0.14801; parallel arms turn both wheels alike."""
    found = at(trapezoid(angle), [inner])
    assert found.values["wheel_right steer"] == pytest.approx([outer], abs=1e-5)
    assert found.values["wheel_left and wheel_right steered"] == pytest.approx([(inner + outer) / 2], abs=1e-5)


def test_the_turning_circle_of_ideal_wheels():
    """Closed form, w 800, l 1200, inner 30: outer front 3118.579 from the centre; arms at 25 degrees are near ideal."""
    found = at(trapezoid(25.0), [30.0])
    one = next(turning_entries(found))
    centre = 1200 * (1 / np.tan(np.radians(30)) + 1 / np.tan(np.radians(22.77875))) / 2
    assert one.circle_mm == pytest.approx(2 * np.hypot(1200, centre + 400), abs=0.01)
    assert one.circle_mm == pytest.approx(2 * 3118.579, rel=0.01)


def test_a_parallelogram_front_leans_as_far_as_its_beams():
    """Closed form: wheels in line with their beams' ends touch where the tyres are lowest, so the road is parallel."""
    found = at(parallelogram(), [0], [25], [-25])
    assert found.values["lean"] == pytest.approx([0, -25, 25], abs=1e-6)
    assert found.values["wheel_left camber"] == pytest.approx([0, 25, -25], abs=1e-6)
    assert found.values["wheel_left and wheel_right track"] == pytest.approx([400] * 3, abs=1e-6)
    # the planes of the wheels stand 400 cos 25 apart, square to them
    spin, frames = found.stance.spin("wheel_left").value[1], found.stance.frames
    left, right = (frames.point(*_centre(found, name)).value for name in ("wheel_left", "wheel_right"))
    assert (left - right)[1] @ spin == pytest.approx(362.523115, abs=1e-6)
    for name in ("wheel_left toe", "wheel_right toe", "wheel_left and wheel_right steered"):
        assert found.values[name] == pytest.approx([0, 0, 0], abs=1e-6)


def _centre(found, name):
    one = found.stance.layout.wheels[name]
    return one.body, np.array(one.wheel.centre)


def touching(machine, *settings):
    """Least height over the road of points all over each tyre, straight from the surface of a torus."""
    found = at(machine, *settings)
    stance, rows = found.stance, range(len(settings))
    u, v = (grid.ravel() for grid in np.meshgrid(np.linspace(0, 2 * np.pi, 721), np.linspace(0, 2 * np.pi, 61)))
    heights = {}
    for name, one in stance.layout.wheels.items():
        ring, crown = one.wheel.ring, one.wheel.crown
        for row in rows:
            a = stance.spin(name).value[row]
            e = np.cross(a, [1.0, 0, 0]) / np.linalg.norm(np.cross(a, [1.0, 0, 0]))
            out = np.outer(np.cos(u), e) + np.outer(np.sin(u), np.cross(a, e))
            points = ring * out + crown * (np.cos(v)[:, None] * out + np.outer(np.sin(v), a))
            points = points + stance.frames.point(*_centre(found, name)).value[row]
            over = points @ stance.road.normal.value[row] - stance.road.height.value[row]
            heights.setdefault(name, []).append(float(over.min()))
    return heights


def test_no_point_of_any_tyre_lies_below_the_road_and_each_touches_it():
    """Brute force over the surface of every tyre, leaned and steered: 0 but for the grid's own coarseness."""
    for lowest in touching(parallelogram(span=500.0, rear=700.0), [0], [25], [-13]).values():
        assert all(-1e-9 <= one <= 0.03 for one in lowest)


def test_limits_over_the_range_and_at_a_setting_are_judged():
    """Closed form: camber, lean and inclination go as far as the beams, 25 degrees either way; steer stays 0."""
    limits = "limits = { camber = [-24, 26], steer = [-1, 2], inclination = { least = -9, at = { tilt = 10 } } }"
    text = parallelogram_text().replace('"high_left"]\ntyre', f'"high_left"]\n{limits}\ntyre')
    mechanism = assemble(read(f"{text}[road]\nlimits = {{ lean = [-26, 26] }}\n"))
    found = {one.name: one for one in limits_measured(mechanism, joint_search(mechanism))}
    one = found["wheel_left camber"]
    assert (one.verdict, one.margin) == ("fails", pytest.approx(-1, abs=1e-4))
    assert (one.least, one.most) == pytest.approx((-25, 25), abs=1e-4)
    assert one.proven_least <= -25 + 1e-5
    assert one.proven_most >= 25 - 1e-5
    assert found["lean"].verdict == "clear"
    at_ten = found["wheel_left inclination at tilt 10"]
    assert (at_ten.verdict, at_ten.margin) == ("fails", pytest.approx(-1, abs=1e-5))
    # in the mirror left becomes right, but in stays in
    right = found["wheel_right steer"]
    assert (right.verdict, right.limit_low, right.limit_high) == ("clear", -2, 1)
    assert (found["wheel_right camber"].limit_low, found["wheel_right camber"].limit_high) == (-24, 26)


def test_figures_that_there_is_no_time_for_are_undecided_with_the_limit_as_their_reason():
    """The time was over where their cells were to be made: a sweep ended without any result."""
    limits = "limits = { camber = [-80, 80], inclination = { least = -80, at = { tilt = 10 } } }"
    mechanism = assemble(read(parallelogram_text().replace('"high_left"]\ntyre', f'"high_left"]\n{limits}\ntyre')))
    search, seconds = joint_search(mechanism), iter([0.0])
    with time_limit(1.0, clock=lambda: next(seconds, 5.0)):
        found = figures_measured(mechanism, search)
    limited = [one for one in found if None not in (one.limit_low, one.limit_high) or " at " in one.name]
    assert limited
    assert {one.verdict for one in limited} == {"undecided"}
    assert all("time limit" in one.why for one in limited)
    assert "time limit" in search.stopped


def test_a_sweep_that_ends_in_the_tables_of_wheels_has_its_record(monkeypatch):
    def late(*_):
        raise TimeLimitError.after(1.0)

    monkeypatch.setattr(swept_figures, "wheel_tables", late)
    record = assembly.sweep(read(parallelogram_text()), effort=assembly.Effort(decide_only=True)).record
    assert record.wheels is None
    assert record.verdict in ("clear", "undecided", "fails")


def test_bounds_over_the_range_hold_at_settings_that_were_not_looked_at():
    """Crossed rods on both sides: every figure at 41 settings lies between what is proven of it."""
    machine = crossed_rod((-90, 20, 174), 60.0)
    mechanism = assemble(machine)
    found = figures_measured(mechanism, joint_search(mechanism))
    tried = at(machine, *np.linspace(-8, 12, 41)[:, None])
    assert len(found) == len(tried.values)
    for one in found:
        values = tried.values[one.name]
        assert one.proven_least - 1e-9 <= values.min(), one.name
        assert values.max() <= one.proven_most + 1e-9, one.name
        assert one.least - one.proven_least < 0.1, one.name


def test_a_wheel_that_swivels_past_half_a_turn_is_held_by_no_narrower_bound():
    """Closed form: steered from 0 to 185 degrees it points to 180 and, just beyond, to -180, then to -175 degrees."""
    mechanism = assemble(hinged(0, steer=(0, 185)))
    steer = [one for one in wheel_figures(mechanism) if one.name == "wheel steer"]
    every = [(Asked(one.name, KIND, (), one.unit), wheel_motion(mechanism, one)) for one in steer]
    (one,) = bracketed_figures(mechanism, joint_search(mechanism), every, 60)
    assert one.proven_least <= -180
    assert one.proven_most >= 180


def test_a_wheel_ahead_of_a_pair_is_no_rear_of_it():
    """Two wheels behind and one ahead: an ideal for steering is of wheels that steer ahead of another."""
    turned = parallelogram_text(rear=-1000.0)
    named = {one.name for one in wheel_figures(assemble(read(turned)))}
    assert "wheel_left and wheel_right track" in named
    assert not {name for name in named if name.endswith(("wheelbase", "outer error"))}


def test_the_lowest_point_of_every_part_over_the_road():
    """Closed form: beams stay parallel to the road, and their axes come down as the tyres lean.

    What lies in the room of a tyre that a part carries, here at z 10, is the tyre's own.
    """
    text = parallelogram_text()
    frame = text.index("shapes", text.index("[parts.frame]"))
    boxes = "{ box = [-1000, 0, 10], size = [4, 4, 4] }, { box = [-1000, 0, 100], size = [4, 4, 4] }"
    machine = read(f"{text[:frame]}shapes = [{boxes}]{text[text.index(chr(10), frame) :]}")
    low = {one.part: one for one in lowest_entries(at(machine, [-25], [0]))}
    cosine, sine = np.cos(np.radians(25)), np.sin(np.radians(25))
    assert low["low_beam"].height_mm == pytest.approx(698 + 20 + 180 * cosine, abs=1e-6)
    assert low["low_beam"].at == {"tilt": -25}
    assert low["frame"].height_mm == pytest.approx(20 + 180 * cosine - 102 * cosine - 2 * sine, abs=1e-6)
