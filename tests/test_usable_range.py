"""Where every rule is kept, against machines whose border is known on paper."""

from dataclasses import replace
from math import acos, asin, degrees, hypot, radians, sin, sqrt

import numpy as np
import pytest
from front_ends import over_centre, steered_axle
from random_machines import with_solids
from small_machines import SWALLOWED, read, slider, trammel
from tries import first
from usable_machines import FACETS, over_range, table, with_range

from assembly.clearance.narrow_phase.checked_pairs import Solid
from assembly.clearance.narrow_phase.distance import CollisionModel, contained_at
from assembly.clearance.region.border import _steps
from assembly.clearance.region.close_in import PRECISION
from assembly.clearance.region.usable import grid_of, nice_step
from assembly.errors import InputError
from assembly.geometry.rotations import inverse_rigid
from assembly.geometry.shapes import rod, sphere, tube
from assembly.model.machine import ClearanceRules, Part
from assembly.record import range_table
from assembly.studies.usable.usable_range import RangeWish, checked_grid

RADIUS = 12.0
"""mm: of the circle round the table's post that the peg may not enter: both radii and 2 mm."""


def ends(record):
    """Where the usable range over one drive ends, lowest first, and the rules that end it."""
    rules = {governor.number: governor.rules for governor in record.governors}
    return [(one.points[0][0], rules[one.governor]) for one in sorted(record.stretches, key=lambda one: one.points)]


def axle(required, low=-25.0, high=25.0):
    damper = rod([(-75, 150, -100), (-75, 150, 100)], diameter=50, facet_error=FACETS)
    tie = rod([(-130, 290, 0), (-130, -290, 0)], diameter=19, facet_error=FACETS)
    made = steered_axle(130, 300)
    made = replace(made, parts={**made.parts, "damper": Part("damper", (), fixed=True)})
    made = with_solids(made, {"damper": [damper], "rod": [tie]}, ClearanceRules(required=required))
    return with_range(made, kingpin_left=(low, high))


@pytest.mark.parametrize(("required", "printed"), first([(3.0, 30.07), (0.0, 32.62), (6.0, 27.32)], 1))
def test_the_steering_ends_where_the_rod_nears_the_damper(required, printed):
    """BUILDERS_CASES TC-03a (worked example, own model): room is 130 cos d - 109.5 - required."""
    exact = degrees(acos((109.5 + required) / 130))
    assert exact == pytest.approx(printed, abs=0.005)
    record = over_range(axle(required))
    (low, low_rules), (high, high_rules) = ends(record)
    assert record.fits
    for end, rules in ((-low, low_rules), (high, high_rules)):
        assert exact - PRECISION <= end <= exact + 0.01
        (rule,) = rules
        assert {rule.a, rule.b} == {"rod", "damper"}
        assert rule.required_mm == required


def test_the_file_s_own_range_does_not_fit_where_it_passes_the_end():
    record = over_range(axle(3.0, high=31.0), 20)
    assert not record.fits
    (breach,) = record.breaches
    assert {breach.rule.a, breach.rule.b} == {"rod", "damper"}
    assert breach.at["kingpin_left"] == 31.0
    assert breach.short == pytest.approx(109.5 + 3 - 130 * np.cos(radians(31)), abs=2 * FACETS)


def test_a_rod_end_that_runs_out_ends_the_range_before_anything_touches():
    """Closed form: the rod of 100 leans by asin(s / 100)."""
    (low, rules), (high, beyond) = ends(over_range(trammel(-30.0, 20.0, misalignment=22.0)))
    exact = 100 * sin(radians(22))
    assert -exact <= low <= -exact + PRECISION
    (rule,) = rules
    assert (rule.kind, rule.joint, rule.high) == ("joint", "low_ball", 22.0)
    assert (high, beyond) == (30.0, ())


def test_the_rule_that_is_broken_first_ends_the_range_though_another_is_broken_worse_farther_out():
    """Closed form: the rod end runs out at 100 sin 22°, the sole nears the wall 0.14 mm later; at 40 that is worse."""
    wall = "[parts.wall]\nfixed = true\nshapes = [{ box = [0, 52.6, -30], size = [10, 10, 10] }]\n[joints.low_guide]"
    text = trammel(-30.0, 40.0).replace("[joints.low_guide]", wall) + "[clearance]\nrequired = 5\n"
    record = over_range(text, 10)
    (at_40,) = (cell for cell in record.cells if cell.at["push"] == 40)
    assert at_40.broken == "pair"
    _, (high, rules) = ends(record)
    exact = 100 * sin(radians(22))
    assert exact - PRECISION <= high <= exact
    assert [rule.kind for rule in rules] == ["joint"]


def test_a_loop_that_locks_ends_the_range_at_its_dead_centres():
    """BUILDERS_CASES TC-06 (own model): the rod is straight with the arm at s = -98.16 and +106.43."""
    reach = hypot(40, 300)
    exact = 300 - sqrt((reach + 100) ** 2 - 60**2), 300 - sqrt((reach - 100) ** 2 - 60**2)
    assert exact == (pytest.approx(-98.16, abs=0.01), pytest.approx(106.43, abs=0.01))
    record = over_range(with_range(over_centre(), guide=(-70.0, 80.0)))
    assert record.pairs == 0
    for (end, rules), dead, inward in zip(ends(record), exact, (1, -1), strict=True):
        assert 0 <= (end - dead) * inward <= 2 * PRECISION
        (rule,) = rules
        assert rule.kind == "loop"
        assert set(rule.loop) == {"kingpin", "guide", "rod_start", "rod_end"}


def test_what_is_cut_off_from_rest_is_not_usable():
    """The peg's circle fills the way, so that what lies beyond keeps every rule and cannot be come to."""
    record = over_range(table(at=(15.0, 0.0), x=(-10.0, 30.0), y=(-5.0, 5.0)), 24)
    assert not record.fits
    beyond = [cell for cell in record.cells if cell.at["x"] > 15 and not cell.broken]
    assert beyond
    assert not any(cell.usable for cell in beyond)
    assert record.islands == sum(cell.at["x"] <= 30 and abs(cell.at["y"]) <= 5 for cell in beyond)


def test_a_hole_in_the_usable_range_has_the_border_worked_out():
    """Closed form: a circle of 12 mm about the post."""
    record = over_range(table(y=(-25.0, 25.0)), 30)
    governors = {governor.number: governor for governor in record.governors}
    (hole,) = (stretch for stretch in record.stretches if governors[stretch.governor].rules)
    away = np.hypot(*(np.array(hole.points) - (30, 20)).T)
    assert len(away) > 20
    assert away.min() >= RADIUS - 2 * FACETS
    assert away.max() <= RADIUS + sqrt(2) * PRECISION * 1.5 / sin(radians(20))  # lines cross the circle slantwise
    ((rule,),) = {governor.rules for governor in record.governors if governor.rules}
    assert {(rule.a, rule.shape_a), (rule.b, rule.shape_b)} == {("base", "post"), ("peg", "pin")}
    other = [stretch for stretch in record.stretches if stretch is not hole]
    corners = {tuple(point) for stretch in other for point in stretch.points}
    assert {(x, y) for x in (-45.0, 45.0) for y in (-37.5, 37.5)} <= corners
    assert [stretch.line for stretch in other] == [0]
    assert hole.line == 1
    assert hole.points[0] == hole.points[-1]


def test_stops_of_one_drive_are_as_far_as_the_circle_lets_those_of_the_other():
    """Closed form: with x stopped at ±a, y ends on the circle above a; from x = 30 on, at its lowest point 20 - 12."""
    rows = [row for row in over_range(table(), 30).stops if row.drive == "x"]
    assert [row.to for row in rows if row.to in (0.0, 30.0, 45.0)] == [0.0, 30.0, 45.0]
    for row in rows:
        assert row.from_ == -row.to
        assert row.low.value == -30.0
        exact = 30.0 if row.to <= 18 else 20 - sqrt(RADIUS**2 - (30 - min(row.to, 30)) ** 2)
        assert exact - PRECISION <= row.high.value <= exact + 2 * FACETS
        assert (row.high.governor == row.low.governor) == (row.to <= 18)


def test_stops_are_drawn_in_where_the_border_dips_between_two_lines():
    """Lines at 30 and 32.5 see the circle about x = 31.25 higher than its lowest point (closed form)."""
    record = over_range(table(at=(31.25, 20.0)), 36)
    assert record.steps["x"] == 2.5
    (row,) = (row for row in record.stops if row.drive == "x" and row.to == 45)
    on_lines = 20 - sqrt(RADIUS**2 - 1.25**2)
    assert row.high.value == pytest.approx(20 - RADIUS, abs=PRECISION + 2 * FACETS)
    assert row.high.value < on_lines - 0.01


def test_where_two_rules_meet_the_border_has_a_corner():
    """Closed form: flat faces at x = 25.7 and y = 15.3 less radius and 2 mm leave a rectangle, exact to its corner."""
    walls = "".join(
        f"""
[parts.wall_{name}]
fixed = true
shapes = [{{ box = {box}, size = {size} }}]
"""
        for name, box, size in (("x", [35.7, 0, 0], [20, 200, 20]), ("y", [0, 25.3, 0], [200, 20, 20]))
    )
    record = over_range(table(at=(500.0, 0.0), x=(-20.0, 20.0), y=(-20.0, 20.0), more=walls), 20)
    points = np.array([point for stretch in record.stretches for point in stretch.points])
    corner = np.array((25.7 - 5 - 2, 15.3 - 5 - 2))
    assert np.abs(points - corner).max(axis=1).min() <= PRECISION + 2 * FACETS
    sides = {
        (rule.a, rule.b, *stretch.sides)
        for stretch in record.stretches
        for rule in record.governors[stretch.governor - 1].rules
    }
    assert sides == {("peg", "wall_x", ("x", "high")), ("peg", "wall_y", ("y", "high"))}


def test_usable_cells_that_touch_at_a_corner_have_borders_of_their_own():
    usable = np.pad(np.eye(2, dtype=bool), 1)
    shifted = [(0, usable[:-1] != usable[1:]), (1, usable[:, :-1] != usable[:, 1:])]
    edges = [(int(i), int(j), axis) for axis, changes in shifted for i, j in np.argwhere(changes)]
    after = dict(_steps(usable, {edge: k for k, edge in enumerate(edges)}))
    here, seen = 0, {0}
    while (here := after[here]) not in seen:
        seen.add(here)
    assert len(edges) == 8
    assert len(seen) == 4


def test_what_is_known_of_one_place_holds_no_farther_than_the_surfaces_are_apart():
    """A ball of 2 in the hole of a ring, and in its wall: they are 30 apart, their surfaces 18 and 8 (closed form)."""
    ring, ball = (
        CollisionModel(Solid(mesh, ("it",), (0,), (mesh,)))
        for mesh in (tube([(0, 0, -30), (0, 0, 30)], diameter=80, wall=20), sphere((0, 0, 0), 4))
    )
    places = np.tile(np.eye(4), (2, 1, 1))
    places[1, 0, 3] = 30.0
    apart = np.array((18.0, 8.0)) - 0.1
    assert contained_at(ring, ball, places, apart).tolist() == [False, True]
    assert contained_at(ball, ring, inverse_rigid(places[::-1]), apart[::-1]).tolist() == [True, False]


def test_a_part_that_others_swallow_is_not_usable():
    record = over_range(SWALLOWED, 10)
    assert not record.fits
    assert not record.governors
    assert {cell.broken for cell in record.cells} == {"pair"}


def test_pairs_that_never_move_and_are_too_near_do_not_fit():
    """The lug stands 0 mm from the sledge that it is welded to, which a rule of its own forbids."""
    pairs = 'pairs = [{ between = ["sledge", "lug"], required = 2 }]'
    record = over_range(slider(high=5.0, extra=pairs), 10)
    assert not record.breaches
    assert [{one.a, one.b} for one in record.still] == [{"sledge", "lug"}]
    assert not record.fits


def test_drives_beyond_two_and_those_that_are_held_stay_where_they_are():
    """Closed form: at y = 14 the circle begins at 30 - sqrt(12² - 6²)."""
    record = over_range(table(), 30, y=14.0)
    assert record.held == {"y": 14.0}
    assert {cell.at["y"] for cell in record.cells} == {14.0}
    (_, (high, _)) = ends(record)
    assert high == pytest.approx(30 - sqrt(RADIUS**2 - 6**2), abs=PRECISION + 2 * FACETS)
    assert record.stops == ()


def test_the_table_tells_of_every_setting_which_rule_is_broken():
    record = over_range(trammel(-30.0, 20.0, misalignment=10.0), 10)
    head, *lines = range_table(record).splitlines()
    assert head == "push_mm,usable,broken,margin_mm,part_a,part_b,joint_margin,joint"
    assert len(lines) == len(record.cells)
    for line, cell in zip(lines, record.cells, strict=True):
        lean = degrees(asin(abs(cell.at["push"]) / 100))  # closed form
        assert cell.reserve == pytest.approx(10 - lean, abs=1e-6)
        usable = "yes,," if lean <= 10 else "no,joint,"
        assert line.startswith(f"{cell.at['push']:g},{usable}")


def test_lines_pass_through_rest_and_the_ends_of_the_file_s_range():
    grid = grid_of(read(table(x=(-7.0, 31.3), y=(0.0, 20.0))), {}, 30)
    x, y = grid.lines
    assert {-10.5, -7.0, 0.0, 7.0, 31.3, 46.95} <= set(x.tolist())
    assert {0.0, 20.0, 30.0} <= set(y.tolist())
    assert grid.settings[grid.own].max(axis=0).tolist() == [31.3, 20.0]
    assert np.diff(x).max() <= nice_step((46.95 + 10.5) / 30) + 1e-9


@pytest.mark.parametrize(("width", "step"), [(3.5, 3.0), (3.0, 3.0), (0.24, 0.2), (99.0, 80.0), (1.0, 1.0)])
def test_lines_lie_at_round_numbers(width, step):
    assert nice_step(width) == pytest.approx(step)


@pytest.mark.parametrize(
    ("text", "wish", "told"),
    [
        (table(), RangeWish(held={"z": 1.0}), "there is no drive `z`; drives of this file: `x`, `y`"),
        (table(), RangeWish(held={"x": 99.0}), "drive `x` cannot be held at 99; its range in the file is -30 to 30 mm"),
        (table(), RangeWish(held={"x": 0.0, "y": 0.0}), "every drive is held"),
        (table(), RangeWish(cells=0), "there cannot be 0 steps"),
        (table(), RangeWish(cells=101), "101 steps along each drive are too many"),
    ],
)
def test_what_cannot_be_looked_at_is_told(text, wish, told):
    with pytest.raises(InputError) as caught:
        checked_grid(read(text), wish)
    assert any(told in str(fault) for fault in caught.value.faults), caught.value.faults
