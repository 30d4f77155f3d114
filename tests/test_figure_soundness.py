"""No setting takes a measure, a cable or a figure of wheels out of what is proven of it, and no hose comes nearer.

The short version of ``scripts/soundness.py --figures``; violations are looked for by ``figure_attack`` and
``hose_attack``, and that they do find them is seen by breaking the bounds.
"""

from dataclasses import replace

import hose_attack
import numpy as np
import pytest
from figure_attack import Watched, attack
from known_linkages import rod_between_cranks
from linkage_machines import GROUND, ORIGIN, machine, pin, turns, vector
from random_figures import POINT
from small_machines import HERE
from tries import first
from watched_sweep import from_rest
from wheel_machines import trapezoid

from assembly.clearance.proof import hose_band
from assembly.clearance.proof.joint_search import joint_search
from assembly.clearance.proof.measure_search import rolling_doubt
from assembly.clearance.proof.wheel_search import limits_measured
from assembly.kinematics import figures, solver
from assembly.kinematics.assembling import assemble
from assembly.kinematics.cell_motion import bound_motion
from assembly.kinematics.measure_figures import measure_motion
from assembly.kinematics.solver import solve
from assembly.kinematics.stance import stance_at
from assembly.model.cable import Cable, CableRun, CableSystem, Splitter
from assembly.model.cable_measures import cable_measures, end_name
from assembly.model.feature import Feature
from assembly.model.measure import Measure, MeasureKind, Path
from assembly.model.reader import machine_from_text
from assembly.model.wheel import FigureLimit, Road, Wheel, Wheels, WheelWord

STILL = """
format = 1
name = "Still"
[parts.frame]
fixed = true
shapes = [{ box = [0, 0, -300], size = [4, 4, 4] }]
[parts.wall]
fixed = true
shapes = [{ box = [0, 105, 0], size = [10, 10, 10] }]
[parts.arm]
shapes = [{ box = [0, 0, 300], size = [4, 4, 4] }]
[joints.pin]
pin = ["frame", "arm"]
at = [0, 0, 300]
along = [0, 0, 1]
[drives.turn]
turns = { pin = 1 }
range = [-5, 5]
[cables.hose]
runs = [
  { outer = 200, diameter = 8, through = [{ on = "frame", at = [-80, 0, 0] }, { on = "frame", at = [80, 0, 0] }] },
]
"""
QUICK = {"count": 16, "share": 0.25, "some": 8}


@pytest.mark.parametrize("seed", first([0, 6, 12, 3, 4, 7, 10, 14], 3))
def test_no_setting_of_a_random_machine_passes_what_is_told_of_its_figures(seed):
    report = attack(seed, **QUICK)
    assert [str(violation) for violation in report.violations] == []
    assert report.bounded > 0


def test_bounds_that_leave_out_a_tenth_of_the_motion_are_seen(monkeypatch):
    def less(motion, rest, whole=figures.over_cells):
        made = whole(motion, rest)
        return replace(made, shift_rate=0.9 * made.shift_rate, turn_rate=0.9 * made.turn_rate)

    monkeypatch.setattr(figures, "over_cells", less)
    assert attack(0, **QUICK).violations


@pytest.mark.parametrize("seed", first([27, 1, 4, 5, 9], 1))
def test_no_hose_of_just_its_length_comes_nearer_than_what_is_told(seed):
    violations, settings, told = hose_attack.attack(seed, 40)
    assert [str(violation) for violation in violations] == []
    assert settings > 20
    assert told > 0


def test_a_hose_band_that_is_told_too_short_is_seen(monkeypatch):
    monkeypatch.setattr(
        hose_band.HoseBand, "_clearance", lambda *own, clear=hose_band.HoseBand._clearance: clear(*own) + 3
    )
    assert hose_attack.attack(27, 20)[0]


# Faults that the attack found.


def on_a_bar(x_of_rear):
    """Three tyres on a bar that rolls, the two in front 600 apart, the third between them and so far ahead."""
    made = machine([pin("roll", GROUND, "bar", ORIGIN, (1, 0, 0))], turns(roll=1))
    centres = {"left": (0, 300, -200), "right": (0, -300, -200), "rear": (x_of_rear, 0, -200)}
    wheels = {name: Wheel(name, "bar", vector(at), (0.0, 1.0, 0.0), 300, 40) for name, at in centres.items()}
    return replace(made, running=Wheels(wheels, Road(rests_on=tuple(wheels), frame=GROUND)))


def road_normal(made, *settings):
    mechanism = assemble(made)
    return stance_at(mechanism, solve(mechanism, np.array(settings, dtype=float)[:, None]).posture).z.value


def test_a_plane_that_lies_over_the_wheels_is_no_road():
    """A setting of a random machine at which one that lay upside down was told as the road."""
    watched = Watched(5, 0.5)
    solved = from_rest(watched.mechanism, np.array([[11.158137, -13.231861, -0.001915]]))
    stance = stance_at(watched.mechanism, solved.posture)
    up = stance.frame(np.array((0.0, 0.0, 1.0))).value
    assert np.isnan(stance.z.value).all() or np.sum(stance.z.value * up) > 0


def test_wheels_that_a_line_passes_through_have_no_road_that_is_sure():
    """The hub of the rear one lies on the line through both others'."""
    assert np.isfinite(road_normal(on_a_bar(-600), 0)).all()
    assert np.isnan(road_normal(on_a_bar(-100), 0)).all()


def test_a_path_whose_arcs_do_not_fit_is_told_as_it_comes_out_and_within_its_bounds():
    """Arcs of 200, a turn of 120 degrees, straights of 50: 100 - 400 tan(60) + 400 pi / 3, below 0 (closed form)."""
    made = machine([pin("pin", GROUND, "arm", ORIGIN)], turns(pin=1))
    points = [
        Feature(part, POINT, at, None)
        for part, at in ((GROUND, (50.0, 0.0, 0.0)), (GROUND, ORIGIN), ("arm", (25.0, 25 * np.sqrt(3), 0.0)))
    ]
    system = CableSystem(
        {name: Cable(name, (CableRun(tuple(points), 200.0),)) for name in "ab"},
        {"beam": Splitter("beam", ("a", "b"), (9.0, 9.0), travel=5.0)},
    )
    made = replace(
        made, measures=cable_measures(system), drives={"pin": replace(made.drives["pin"], low=-5.0, high=5.0)}
    )
    mechanism = assemble(made)
    cell = bound_motion(mechanism, mechanism.at_rest, np.array([[0.5]]))
    for name, zero in (
        ("a inner", 100 - 400 * np.sqrt(3) + 400 * np.pi / 3),
        (end_name(system.splitters["beam"], "a"), 9.0),
    ):
        motion = measure_motion(made.measures[name], mechanism)
        values = motion.values(mechanism.home)
        span = motion.span(cell, values)
        assert values == pytest.approx(zero)
        assert span.low < values < span.high


def test_a_hose_that_is_held_by_what_stands_still_is_told_of_what_stands_still():
    """Its ends and a box are all fixed, so no drive moves anything of it; 200 long between points 160 apart: the
    ellipsoid is 60 thick (closed form), and the box begins 100 beside it.
    """
    made = machine_from_text(STILL, HERE)
    mechanism = assemble(made)
    [run] = made.cables.cables["hose"].runs
    near = {entry.part: entry for entry in hose_band.hose_near(mechanism, joint_search(mechanism), run)}
    assert 0 < near["wall"].proven <= near["wall"].least <= 100 - 60 - 4
    assert near["wall"].verdict == "clear"


OUTER = 24.653670032850002
"""REFERENCE_VALUES 2.3 (closed form, to all digits): the outer wheel of the trapezoid where the inner one is at 30."""


@pytest.mark.parametrize(("residual", "narrowest", "widest"), [(1e-9, 0.0, 1e-9), (1e-3, 3e-7, 1e-5)])
def test_what_is_told_at_one_setting_leaves_open_what_the_solver_misses(residual, narrowest, widest, monkeypatch):
    monkeypatch.setattr(solver, "RESIDUAL", residual)
    made = trapezoid()
    limit = FigureLimit(WheelWord.STEER, 24.6, None, {"steer": 30.0})
    wheels = {**made.running.wheels, "wheel_right": replace(made.running.wheels["wheel_right"], limits=(limit,))}
    mechanism = assemble(replace(made, running=replace(made.running, wheels=wheels)))
    [entry] = limits_measured(mechanism, joint_search(mechanism))
    assert entry.verdict == "clear"
    assert entry.proven_least <= OUTER <= entry.proven_most
    assert narrowest < entry.proven_most - entry.proven_least < widest


def test_a_cable_on_a_rod_that_rolls_is_not_proven_though_its_hose_is_long_enough_at_most_rolls():
    """The point stands off the rod's line: at some rolls the way is longer than the hose, which hid that at others."""
    made = rod_between_cranks()
    points = Feature(GROUND, POINT, (0.0, 0.0, 200.0), None), Feature("rod", POINT, (120.0, 40.0, 60.0), None)
    mechanism = assemble(made)
    span = [measure_motion(Measure("way", MeasureKind.PATH, points, paths=(Path((0, 1)),)), mechanism)]
    known = span[0].values(mechanism.home)[0]
    held = Measure("hose", MeasureKind.PATH, points, paths=(Path((0, 1), at_least=float(known + 1000)),))
    assert rolling_doubt(mechanism, measure_motion(held, mechanism), mechanism.home)
    on_line = Feature("rod", POINT, made.joints["rod_start"].at_second, None)
    at_the_ball = Measure("ball", MeasureKind.PATH, (points[0], on_line), paths=(Path((0, 1)),))
    assert not rolling_doubt(mechanism, measure_motion(at_the_ball, mechanism), mechanism.home)
