"""Small machines whose least clearance over the range is known on paper: the bracket holds it, as narrow as asked.

Sources: REFERENCE_VALUES 1 and 5 (closed forms) and BUILDERS_CASES (worked examples, own models), as named.
"""

from dataclasses import replace

import numpy as np
import plain_meshes
import pytest
from front_ends import over_centre, steered_axle
from known_linkages import four_bar, sarrus
from linkage_machines import GROUND, ORIGIN, X, Y, Z, about, machine, pin, polar, slide, slides, turns
from random_machines import only, with_solids
from tries import first

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.distance import CollisionModel, nearest
from assembly.clearance.narrow_phase.overlap import overlap_at
from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.proof.sweep import sweep_pairs
from assembly.geometry.mesh import Mesh
from assembly.geometry.shapes import Hole, box, plate, ring, rod, sphere
from assembly.kinematics.assembling import assemble
from assembly.kinematics.solver import solve
from assembly.model.machine import ClearanceRules, Machine

FINE = 0.005
"""mm: facet error of round solids, so that their surface error is small beside the brackets."""
OFF_GRID = 3.7123
"""Where along its slide a solid passes another: nowhere near a round number."""


def ranged(made: Machine, solids, required=0.0, **ranges) -> Machine:
    """``made`` with solids and the ranges of its drives."""
    drives = {name: replace(made.drives[name], low=low, high=high) for name, (low, high) in ranges.items()}
    return with_solids(replace(made, drives=drives), solids, ClearanceRules(required=required))


def run(made: Machine, **effort):
    mechanism = assemble(made)
    pairs = gather_pairs(made, mechanism.bodies)
    return sweep_pairs(mechanism, pairs, Effort(**effort), lambda *_: None)


def found(result, a, b):
    return next(pair for pair in result.pairs if {pair.pair.a, pair.pair.b} == {a, b})


def assert_bracketed(pair, exact, *, errors, bracket_mm=0.1, share=0.02):
    """The exact value lies between what was proven and what was found, to the surface errors, in a narrow bracket."""
    assert pair.proven <= exact + 1e-9
    assert exact <= pair.least + errors
    assert pair.least - pair.proven <= max(bracket_mm, share * pair.least, 2 * errors) + 1e-5


def on_slide(still: Mesh, passing: Mesh, along) -> Machine:
    """``passing`` drawn OFF_GRID before its place, on a slide on which it goes through its place."""
    along = np.asarray(along, dtype=float) / np.linalg.norm(along)
    made = machine([slide("guide", GROUND, "slider", ORIGIN, along)], slides(guide=1))
    start = Mesh(passing.vertices - OFF_GRID * along, passing.faces, passing.surface_error)
    return ranged(made, {GROUND: [still], "slider": [start]}, guide=(-9.0, 20.0))


def on_pin(still: Mesh, turning: Mesh, axis=Z, reach=(-33.0, 41.0)) -> Machine:
    made = machine([pin("hub", GROUND, "arm", ORIGIN, axis)], turns(hub=1))
    return ranged(made, {GROUND: [still], "arm": [turning]}, hub=reach)


def turned_box(size, at, axis, degrees):
    vertices, faces = plain_meshes.box(size)
    return Mesh(vertices @ about(axis, degrees).T + at, faces)


CYLINDER_10 = rod([(0, 0, -50), (0, 0, 50)], diameter=20, facet_error=FINE)
CONVEX = {
    # Two convex solids: along any slide square to their nearest direction they come no nearer (closed form).
    "5.1 balls": (
        sphere(ORIGIN, 24, facet_error=0.01),
        sphere((30, 40, 0), 18, facet_error=0.01),
        (4, -3, 0),
        np.hypot(30, 40) - 12 - 9,
    ),
    "5.2 rods on crossed segments": (
        rod([(0, 0, 0), (100, 0, 0)], diameter=12, facet_error=FINE),
        rod([(20, 30, 40), (80, -30, 40)], diameter=8, facet_error=FINE),
        (1, 0, 0),
        40 - 6 - 4,
    ),
    "5.6 corner to face": (
        box(ORIGIN, (40, 20, 10)),
        turned_box((20, 20, 10), (60, 0, 0), Z, 45),
        (0, 1, 0),
        60 - 20 - 10 * np.sqrt(2),
    ),
    "5.6 edge to edge": (
        turned_box((60, 20, 20), ORIGIN, X, 45),
        turned_box((20, 60, 20), (0, 0, 40), Y, 45),
        (1, 1, 0),
        40 - 20 * np.sqrt(2),
    ),
    "5.7 parallel rods": (
        CYLINDER_10,
        rod([(25, 0, -50), (25, 0, 50)], diameter=16, facet_error=FINE),
        (0, 1, 0),
        25 - 10 - 8,
    ),
    "5.8 skew rods": (
        CYLINDER_10,
        rod([(30, -60, -35), (30, 60, 35)], diameter=16, facet_error=FINE),
        (0, 1, 0),
        30 - 10 - 8,
    ),
    "5.9 rim to ball": (
        rod([(0, 0, -20), (0, 0, 20)], diameter=20, facet_error=FINE),
        sphere((20, 0, 30), 10, facet_error=0.01),
        (0, 1, 0),
        np.sqrt(10**2 + 10**2) - 5,
    ),
    "5.10 tilted ring over a floor": (
        box((0, 0, -5), (400, 400, 10)),
        ring((0, 0, 50), (np.sin(np.radians(30)), 0, np.cos(np.radians(30))), diameter=92, thickness=12),
        (0, 1, 0),
        50 - 40 * np.sin(np.radians(30)) - 6,
    ),
}


@pytest.mark.parametrize("name", first(CONVEX, 5))
def test_solids_that_pass_come_as_near_as_their_distance_formula_says(name):
    still, passing, along, exact = CONVEX[name]
    pair = run(on_slide(still, passing, along)).pairs[0]
    assert_bracketed(pair, exact, errors=still.surface_error + passing.surface_error)


@pytest.mark.parametrize("centre", first([((30, 0, 20),), ((70, 10, 5),), ((0, 0, 25),), ((40, 0, 15),)], 2))
def test_a_turning_ring_keeps_its_distance_of_a_ball(centre):
    """REFERENCE_VALUES 5.11: √((ρ - R)² + z²) - r - r_ball."""
    tyre = ring(ORIGIN, Z, diameter=92, thickness=12, facet_error=0.02)
    ball = sphere(centre, 10, facet_error=0.02)
    exact = np.hypot(np.hypot(*centre[:2]) - 40, centre[2]) - 6 - 5
    assert_bracketed(run(on_pin(ball, tyre)).pairs[0], exact, errors=tyre.surface_error + ball.surface_error)


def test_a_pin_that_turns_in_its_bore_keeps_the_gap():
    """REFERENCE_VALUES 5.13: facets of a bore stand into the gap."""
    corners = [(-20, -20), (20, -20), (20, 20), (-20, 20)]
    hole = Hole(np.zeros(2), 16.2)
    bore = plate(corners, 10, at=ORIGIN, normal=Z, along=X, holes=[hole], facet_error=FINE)
    shaft = rod([(0, 0, -20), (0, 0, 20)], diameter=16, facet_error=FINE)
    assert_bracketed(run(on_pin(bore, shaft)).pairs[0], 0.1, errors=bore.surface_error + shaft.surface_error)


def test_a_body_that_passes_another_between_grid_poses():
    """REFERENCE_VALUES 5.14: 212 - 200 - 5 - 5; poses each 5° see 4.99 mm."""
    still = sphere(polar(200, 22.5), 10, facet_error=0.004)
    passing = sphere(polar(212, 0), 10, facet_error=0.004)
    pair = run(on_pin(still, passing, reach=(-60.0, 60.0))).pairs[0]
    assert_bracketed(pair, 2.0, errors=still.surface_error + passing.surface_error)
    assert pair.at[0] == pytest.approx(22.5, abs=0.2)


@pytest.mark.parametrize(("limit", "crank"), first([(54.900368, 24.146848), (128.682187, 231.317813)], 1))
def test_the_rocker_of_a_four_bar_turns_back_at_its_limits(limit, crank):
    """REFERENCE_VALUES 1.2: a post 10° past the limit, on the circle of the rocker's tip, stays a chord away."""
    past = limit + (-10 if limit < 90 else 10)
    tip = four_bar(90).joints["wrist"].at_first
    post = polar(80, past, (100, 0))
    balls = {GROUND: [sphere(post, 4, facet_error=0.002)], "rocker": [sphere(tip, 4, facet_error=0.002)]}
    pair = found(run(ranged(four_bar(90), balls, crank_pin=(-90.0, 270.0))), GROUND, "rocker")
    assert_bracketed(pair, 2 * 80 * np.sin(np.radians(5)) - 4, errors=0.004)
    assert (pair.at[0] + 90) % 360 == pytest.approx(crank, abs=3.0)


def test_sarrus_plate_stays_parallel_and_as_high_as_the_formula():
    """REFERENCE_VALUES 1.11: h = 2 L sin φ between flat faces; least at the end of the range."""
    made, height = sarrus(45), 2 * 50 * np.sin(np.radians(45))
    plates = {GROUND: [box((0, 0, -2), (60, 60, 4))], "plate": [box((0, 0, height + 2), (60, 60, 4))]}
    pair = found(run(ranged(made, plates, front_1=(-15.0, 15.0))), GROUND, "plate")
    assert_bracketed(pair, 2 * 50 * np.sin(np.radians(30)), errors=1e-6)
    assert pair.least == pytest.approx(50.0, abs=1e-6)


def axle(low, high, required):
    damper = rod([(-75, 150, -100), (-75, 150, 100)], diameter=50, facet_error=FINE)
    tie = rod([(-130, 290, 0), (-130, -290, 0)], diameter=19, facet_error=FINE)
    return ranged(steered_axle(130, 300), {GROUND: [damper], "rod": [tie]}, required, kingpin_left=(low, high))


@pytest.mark.parametrize("turn", [0, 10, 20, 25, 30])
def test_a_tie_rod_nears_the_damper_as_worked_out(turn):
    """TC-03a: 130 cos d - 109.5."""
    made = axle(-35.0, 35.0, 0.0)
    mechanism = assemble(made)
    solids = gather_pairs(made, mechanism.bodies).solids
    collision_models = {exclusion.part: CollisionModel(solid) for exclusion, solid in solids.items()}
    posture = solve(mechanism, np.array([[float(turn)]])).posture
    places = [mechanism.world_from_rest(posture, part)[0] for part in (GROUND, "rod")]
    distance = nearest(collision_models[GROUND], collision_models["rod"], *places).distance
    assert distance == pytest.approx(130 * np.cos(np.radians(turn)) - 109.5, abs=2 * FINE)


def test_the_steered_axle_is_clear_to_its_stop_and_strikes_at_the_angle_worked_out():
    """TC-03a: contact at acos(109.5/130) = 32.62; 3 mm are left at 30.07."""
    contact = np.degrees(np.arccos(109.5 / 130))
    strikes = found(run(axle(-35.0, 35.0, 0.0)), GROUND, "rod")
    assert strikes.verdict is Verdict.FAILS
    ways = {contact.direction: abs(contact.at[0]) for contact in strikes.first_contacts}
    assert ways == {1: pytest.approx(contact, abs=0.02), -1: pytest.approx(contact, abs=0.02)}
    stop = np.degrees(np.arccos(112.5 / 130))
    kept = found(run(axle(-30.0, 30.0, 3.0)), GROUND, "rod")
    assert kept.verdict is Verdict.CLEAR
    assert_bracketed(kept, 130 * np.cos(np.radians(30)) - 109.5, errors=2 * FINE)
    assert found(run(axle(0.0, stop + 0.05, 3.0)), GROUND, "rod").verdict is Verdict.FAILS


def test_a_range_past_both_dead_centres_tells_where_they_lie():
    """TC-06: the rod is straight with the arm at s = -98.16 and +106.43."""
    arm = {"arm": [box((-60, 0, 0), (40, 4, 4))], GROUND: [box((0, 300, 0), (4, 4, 4))]}
    result = run(only(ranged(over_centre(), arm, guide=(-100.0, 108.0)), ("arm", GROUND)), decide_only=True)
    places = np.array([next(iter(place.at.values())) for place in result.unreachable])
    reach = np.hypot(40, 300)
    low, high = 300 - np.sqrt((reach + 100) ** 2 - 60**2), 300 - np.sqrt((reach - 100) ** 2 - 60**2)
    assert (low, high) == (pytest.approx(-98.16, abs=0.01), pytest.approx(106.43, abs=0.01))
    smallest = 208 / 81
    assert places[places < 0].max() == pytest.approx(low, abs=smallest)
    assert places[places > 0].min() == pytest.approx(high, abs=smallest)
    past = (low + 100 + 108 - high) / 208
    assert past <= result.unreachable_share <= past + 2 / 81


def test_a_rod_over_a_square_tube_is_pushed_out_the_shorter_way():
    """C02: clear 2.00 at rest; lowered by 31.8 it must go up 29.80 or down 24.30."""
    tube = box((0, 0, (251.9 + 290) / 2), (200, 38.1, 38.1))
    across = rod([(0, -150, 300), (0, 150, 300)], diameter=16, facet_error=FINE)
    made = machine([slide("lift", GROUND, "tie_rod", (0, 0, 300), Z)], slides(lift=1))
    solids = {GROUND: [tube], "tie_rod": [across]}
    assert_bracketed(run(ranged(made, solids, lift=(0.0, 5.0))).pairs[0], 2.0, errors=FINE)
    lowered = ranged(made, solids, lift=(-31.8, 5.0))
    assert run(lowered, decide_only=True).pairs[0].verdict is Verdict.FAILS
    mechanism = assemble(lowered)
    collision_models = [CollisionModel(solid) for solid in gather_pairs(lowered, mechanism.bodies).solids.values()]
    place = mechanism.world_from_rest(solve(mechanism, np.array([[-31.8]])).posture, "tie_rod")[0]
    overlap = overlap_at(collision_models[0], collision_models[1], np.eye(4), place, (-31.8,))
    assert overlap.depth == pytest.approx(24.30, abs=0.02)
    assert overlap.direction[2] == pytest.approx(-1, abs=0.01)


def test_a_raised_track_rod_gains_what_it_is_raised():
    """C03: axes 24.0 apart, radii 8 and 12.7: 3.30; raised by 7.0: 10.30."""
    wishbone = rod([(0, -100, 0), (0, 100, 0)], diameter=25.4, facet_error=FINE)
    track = rod([(0, -100, 24), (0, 100, 24)], diameter=16, facet_error=FINE)
    made = machine([slide("lift", GROUND, "track_rod", (0, 0, 24), Z)], slides(lift=1))
    for low, exact in ((0.0, 3.30), (7.0, 10.30)):
        moved = Mesh(track.vertices + (0, 0, low), track.faces, track.surface_error)
        solids = {GROUND: [wishbone], "track_rod": [moved]}
        assert_bracketed(run(ranged(made, solids, lift=(0.0, 7.0))).pairs[0], exact, errors=2 * FINE)


@pytest.mark.parametrize(("radius", "clear"), first([(9.5, True), (11.1, False)], 1))
def test_a_bigger_rod_end_does_not_turn_in_its_fork(radius, clear):
    """C13: fork web 10.5 from the pin axis."""
    web = box((-12.5, 0, 0), (4, 40, 40))
    head = rod([(0, 0, -5), (0, 0, 5)], diameter=2 * radius, facet_error=FINE)
    pair = run(on_pin(web, head)).pairs[0]
    assert pair.verdict is (Verdict.CLEAR if clear else Verdict.FAILS)
    if clear:
        assert_bracketed(pair, 1.0, errors=FINE)
    else:
        assert pair.overlap.depth == pytest.approx(0.6, abs=0.02)


@pytest.mark.parametrize(("crank", "exact"), first([(170, 10.0), (152, 28.0)], 1))
def test_a_heel_passes_the_cross_bar(crank, exact):
    """C21: heel circle of crank + 95 about the crank axis, the bar's surface 275 away, over a whole turn."""
    heel = sphere(polar(crank + 95 - 8, 131.7), 16, facet_error=0.01)
    bar = box((275 + 10, 0, 0), (20, 60, 300))
    assert_bracketed(run(on_pin(bar, heel, reach=(-180.0, 180.0))).pairs[0], exact, errors=heel.surface_error)


def test_a_contact_within_a_twentieth_of_a_degree_is_found():
    """Two square corners that point at each other and overlap by e meet while they are less than e apart sideways."""
    angle, reach, overlap = 23.4567, 300.0, 0.13
    side = 4.0
    corner = side / np.sqrt(2)
    still = turned_box((side, side, 3), polar(reach - overlap + corner, angle), Z, angle + 45)
    passing = turned_box((side, side, 3), (reach - corner, 0, 0), Z, 45)
    pair = run(on_pin(still, passing, reach=(-60.0, 60.0))).pairs[0]
    assert np.degrees(overlap / reach) < 0.025
    assert pair.verdict is Verdict.FAILS
    assert pair.least == 0
    assert pair.at[0] == pytest.approx(angle, abs=0.026)
