"""Maps: measured at the middle of each cell, proven in the whole of it, marked where nothing can be reached."""

import csv
from dataclasses import replace
from io import StringIO
from unittest import mock

import numpy as np
import pytest
from random_machines import random_machine
from small_machines import SWALLOWED, quiet, read, slider, trammel
from tries import first

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.distance import CollisionModel, contained, nearest
from assembly.clearance.proof import pair_search as search
from assembly.errors import InputError
from assembly.kinematics.assembling import assemble
from assembly.kinematics.solver import follow
from assembly.kinematics.travel import Displacement, displacement
from assembly.record import map_table
from assembly.studies.map_study import MapWish, lattice_of, map_clearance

ROUNDING = 1e-6

BALLS = """
format = 1
name = "Ball past a ball"
facet_error = 0.01
[parts.base]
fixed = true
shapes = [{ name = "post", sphere = [200, 0, 0], diameter = 10 }]
[parts.arm]
shapes = [{ name = "tip", sphere = [212, 0, 0], diameter = 10 }]
[joints.hinge]
pin = ["base", "arm"]
at = [0, 0, 0]
along = [0, 0, 1]
[drives.swing]
turns = { hinge = 1 }
range = [-15, 15]
"""
FACETS = 2 * 0.01
"""mm: how far both surfaces of the balls may stand off the true ones."""

TABLE = """
format = 1
name = "Cross table"
[parts.bed]
fixed = true
shapes = [{ name = "block", box = [0, 0, 0], size = [20, 20, 20] }]
[parts.saddle]
shapes = [{ name = "saddle", box = [0, 0, 200], size = [10, 10, 10] }]
[parts.head]
shapes = [{ name = "tool", box = [60, 30, 0], size = [10, 10, 10] },
          { name = "weight", box = [300, 300, 0], size = [10, 10, 10] }]
[joints.long]
slide = ["bed", "saddle"]
at = [0, 0, 200]
along = [-1, 0, 0]
[joints.cross]
slide = ["saddle", "head"]
at = [0, 0, 100]
along = [0, -1, 0]
[joints.quill]
slide = ["bed", "spindle"]
at = [0, 0, 300]
along = [0, 0, 1]
[parts.spindle]
shapes = [{ name = "spindle", box = [0, 0, 300], size = [10, 10, 10] }]
[drives.x]
slides = { long = 1 }
range = [-20, 60]
[drives.y]
slides = { cross = 1 }
range = [-10, 40]
[drives.lift]
slides = { quill = 1 }
range = [-10, 10]
[clearance]
required = 6
parts = { spindle = 30 }
"""


def tool_gap(x, y):
    """Between the block and the tool: two boxes that keep their directions (closed form)."""
    return np.hypot(np.maximum(60 - x - 15, 0), np.maximum(30 - y - 15, 0))


def mapped(text, cores=1, **wish):
    return map_clearance(read(text) if isinstance(text, str) else text, MapWish(**wish), quiet, cores)


def ball_gap(degrees):
    """REFERENCE 5.14: bodies of radius 5 at 200 and 212 mm from one hinge (closed form: law of cosines)."""
    return np.sqrt(212**2 + 200**2 - 2 * 212 * 200 * np.cos(np.radians(degrees))) - 10


def test_five_degree_cells_read_4_99_mm_and_prove_no_more_than_the_2_mm_that_are_true():
    field = mapped(BALLS, steps={"swing": 5.0}).field
    assert field.settings[:, 0] == pytest.approx([-12.5, -7.5, -2.5, 2.5, 7.5, 12.5])
    assert field.found[0].min() == pytest.approx(4.990357, abs=FACETS)  # the published 5 degree reading
    assert field.proven[0].min() <= 2.0


@pytest.mark.parametrize("cells", [1, 6, 45])
def test_balls_are_measured_at_centres_and_bounded_in_cells_by_the_closed_form(cells):
    field = mapped(BALLS, cells=cells).field
    centres, half = field.settings[:, 0], 15 / cells
    assert field.found[0] - ball_gap(centres) == pytest.approx(FACETS / 2, abs=FACETS / 2 + ROUNDING)
    least = ball_gap(np.clip(0.0, centres - half, centres + half))  # the gap grows with the angle
    assert (field.proven[0] <= least).all()
    travel_left = 212 * np.radians(half / 9)  # in a third of a third the tip goes no farther
    assert (field.proven[0] >= np.minimum(least, 0.9 * field.found[0]) - travel_left - 0.6).all()


def test_two_slides_map_the_gap_of_two_boxes():
    made = mapped(TABLE, pair=("bed", "head"), cells=9)
    x, y, lift = made.field.settings.T
    assert len(x) == 81
    assert (lift == 0).all()
    assert made.lattice.held == {"lift": 0.0}
    assert made.field.found[0] == pytest.approx(tool_gap(x, y), abs=ROUNDING)
    assert made.field.found[1] == pytest.approx(tool_gap(x, y) - 6, abs=ROUNDING)
    least = tool_gap(x + made.lattice.half[0], y + made.lattice.half[1])
    assert (made.field.proven[0] <= least).all()
    assert (made.field.proven[0] >= least - 1.5 - 0.1 * made.field.found[0]).all()


def test_of_all_pairs_the_least_and_the_least_room_may_belong_to_different_pairs():
    made = mapped(TABLE, cells=5, held={"x": -20.0})
    record = made.record
    assert record.counts == {"y": 5, "lift": 5}
    assert record.held == {"x": -20.0}
    assert record.required_mm is None
    for cell in record.cells:
        to_spindle = np.hypot(10, 300 - 200 - 10 + cell.at["lift"])  # of the saddle, 20 mm ahead; closed form
        gap = tool_gap(-20.0, cell.at["y"])
        assert (cell.a, cell.b) == (("bed", "head") if gap < to_spindle else ("saddle", "spindle"))
        assert cell.least_mm == pytest.approx(min(gap, to_spindle))
        assert cell.room_mm == pytest.approx(min(gap - 6, to_spindle - 30))
        assert cell.proven_room_mm <= cell.room_mm


def true_distances(machine, settings):
    """Distances (pairs, N) mm of all moving pairs at settings that are each followed from rest; nan out of reach."""
    mechanism = assemble(machine)
    pairs = gather_pairs(machine, mechanism.bodies)
    moving = [pair for pair in pairs.checked if not pair.rigidly_coupled]
    collision_models = {exclusion: CollisionModel(solid) for exclusion, solid in pairs.solids.items()}
    found, errors = np.full((len(moving), len(settings)), np.nan), np.zeros((len(moving), 1))
    for start in range(0, len(settings), 512):
        stack = settings[start : start + 512]
        solved = follow(mechanism, mechanism.at_rest, np.zeros(len(stack), dtype=np.intp), stack)
        for k, pair in enumerate(moving):
            a, b = collision_models[pair.trim_a], collision_models[pair.trim_b]
            errors[k] = a.solid.mesh.surface_error + b.solid.mesh.surface_error
            places = (mechanism.world_from_rest(solved.posture, part) for part in (pair.a, pair.b))
            for row, (place_a, place_b) in enumerate(zip(*places, strict=True)):
                if solved.reached[row]:
                    inside = contained(a, b, place_a, place_b)
                    found[k, start + row] = 0.0 if inside else nearest(a, b, place_a, place_b).distance
    return found, errors


def too_high(machine, made, count, seed=0):
    """How many of ``count`` random settings are nearer than their cell's bound, and how many cells bound anything."""
    drives = list(machine.drives.values())
    low, high = np.array([drive.low for drive in drives]), np.array([drive.high for drive in drives])
    held = np.array([name in made.lattice.held for name in machine.drives])
    settings = np.random.default_rng(seed).uniform(low, high, size=(count, len(drives)))
    settings[:, held] = made.field.settings[0, held]
    counts = np.array(made.lattice.counts)
    steps = np.where(held, 0, np.minimum((settings - low) / (high - low) * counts, counts - 1)).astype(int)
    proven = made.field.proven[0, np.ravel_multi_index(tuple(steps.T), made.lattice.counts)]
    distances, errors = true_distances(machine, settings)
    with np.errstate(invalid="ignore"):
        broken = (distances - errors < proven - ROUNDING) & (proven > 0)
    lost = np.isnan(distances).all(axis=0) & ~np.isnan(proven)
    return int(broken.sum() + lost.sum()), int((made.field.proven[0] > 0).sum())


def apart_at_rest(seed, share=0.6):
    """The random machine of ``seed`` without the pairs that touch as drawn, such as parts at their joints."""
    machine = random_machine(seed, share)
    mechanism = assemble(machine)
    pairs = [pair for pair in gather_pairs(machine, mechanism.bodies).checked if not pair.rigidly_coupled]
    distances, _ = true_distances(machine, np.zeros((1, len(machine.drives))))
    gaps = zip(pairs, distances[:, 0], strict=True)
    touching = {frozenset((pair.a, pair.b)): "they touch" for pair, gap in gaps if gap <= 0}
    assert len(touching) < len(pairs)
    return replace(machine, clearance=replace(machine.clearance, ignored=touching))


@pytest.mark.parametrize("seed", first([0, 2, 3, 4, 6, 7], 2))
def test_no_setting_of_a_random_machine_is_nearer_than_its_cell_proves(seed):
    machine = apart_at_rest(seed)
    made = mapped(machine, cells=6)
    broken, bounded = too_high(machine, made, 150)
    assert broken == 0
    assert bounded > 0


@pytest.mark.parametrize("seed", first([0, 3, 5, 7], 2))
def test_the_least_of_all_pairs_is_that_of_measuring_every_pair(seed):
    machine = apart_at_rest(seed)
    made = mapped(machine, cells=4)
    distances, _ = true_distances(machine, made.field.settings)
    reached = made.field.reached
    assert reached.any()
    assert made.field.found[0, reached] == pytest.approx(distances[:, reached].min(axis=0), abs=ROUNDING)
    assert np.isinf(made.field.found[0, ~reached]).all()


def test_far_pairs_are_bounded_without_a_second_measurement():
    text = slider(low=-2.0, high=4.0).replace("[0, 30, 0]", "[0, 130, 0]").replace("[0, 35, 20]", "[0, 135, 20]")
    made = mapped(text, cells=2)
    least = 110 - made.field.settings[:, 0] - 1.5  # closed form, at the upper end of each cell
    assert made.field.found[0] == pytest.approx(least + 1.5)
    assert (made.field.proven[0] <= least).all()
    assert (made.field.proven[0] >= 0.9 * made.field.found[0]).all()
    assert made.queries <= 4


SLED = """
format = 1
name = "Sled on a bench"

[parts.bench]
fixed = true
shapes = [{ name = "top", box = [0, 0, 0], size = [200, 40, 10] }]

[parts.sled]
shapes = [{ name = "runner", box = [0, 0, 17], size = [20, 20, 10] }]

[joints.way]
slide = ["bench", "sled"]
at = [0, 0, 5]
along = [1, 0, 0]

[drives.go]
slides = { way = 1 }
range = [-50, 50]
"""


def test_what_slides_along_its_gap_keeps_it_all_through_a_cell():
    """Closed form: 17 - 5 - 5 = 7 mm at every setting; less what the sled goes in a cell it would be far less."""
    made = mapped(SLED, cells=3)
    assert made.field.found[0] == pytest.approx(7)
    assert made.field.proven[0] == pytest.approx(7, abs=1e-4)
    assert (made.field.proven[0] <= 7).all()


def test_half_the_travel_is_found_to_be_too_little():
    machine = read(slider(high=8.0))

    def halved(*given):
        whole = displacement(*given)
        return Displacement(0.5 * whole.motion, 0.5 * whole.residual)

    with mock.patch.object(search, "displacement", halved):
        made = mapped(machine, cells=4)
    assert too_high(machine, made, 300)[0] > 0
    assert too_high(machine, mapped(machine, cells=4), 300)[0] == 0


def test_cells_out_of_reach_are_marked_and_one_is_told_with_its_loop():
    made = mapped(trammel(low=-110.0, high=10.0), cells=12)
    record = made.record
    for cell in record.cells:
        assert cell.reached == (abs(cell.at["push"]) < 100)  # closed form: the rod is 100 mm long
        assert (cell.least_mm is None) == (not cell.reached)
        assert (cell.proven_mm is None) == (abs(cell.at["push"]) + 5 >= 100)  # nothing is proven up to the dead centre
    assert record.unreached == 1
    assert record.fails
    assert record.proven_mm is None
    assert record.lost.at == {"push": -105.0}
    assert set(record.lost.loop) == {"low_guide", "high_guide", "low_ball", "high_ball"}
    assert record.lost.miss_mm > 1


def test_a_part_inside_another_is_no_clearance():
    made = mapped(SWALLOWED, cells=5)
    assert (made.field.found[0] == 0).all()
    assert (made.field.proven[0] <= 0).all()
    assert made.record.fails


def test_a_part_that_is_inside_between_two_measured_strikes_is_no_clearance():
    text = SWALLOWED.replace("[0, 0, 0], size = [10, 10, 10]", "[0, 0, 80], size = [4, 4, 4]")
    made = mapped(text.replace("[-10, 10]", "[-150, 10]"), steps={"level": 20.0})
    height = 80 + made.field.settings[:, 0]
    gap = np.maximum(np.abs(height) - 52, 0)  # closed form; the surfaces themselves meet nowhere on this lattice
    assert (np.abs(height) < 48).sum() > 2
    assert made.field.found[0] == pytest.approx(gap, abs=ROUNDING)
    assert (made.field.proven[0] <= gap).all()


def test_pairs_that_never_move_stay_out_of_a_map_of_all_and_can_be_chosen():
    text = slider(extra='pairs = [{ between = ["sledge", "lug"], required = 5 }]')
    record = mapped(text, cells=3).record
    assert (record.pairs, record.still_pairs) == (2, 1)
    assert [(one.a, one.b, one.distance_mm, one.required_mm) for one in record.still] == [("sledge", "lug", 0.0, 5.0)]
    assert record.fails
    assert mapped(text, pair=("lug", "sledge"), cells=3).record.least.least_mm == 0.0


def test_the_same_map_whatever_the_cores():
    one, two = (mapped(apart_at_rest(3), cores=cores, cells=6).field for cores in (1, 2))
    for name in ("found", "owner", "proven"):
        assert np.array_equal(getattr(one, name), getattr(two, name), equal_nan=True)


def test_the_default_is_31_by_31_and_steps_are_never_exceeded():
    table = read(TABLE)
    assert lattice_of(table, MapWish()).counts == (31, 31, 1)
    assert lattice_of(read(BALLS), MapWish()).counts == (121,)
    lattice = lattice_of(table, MapWish(steps={"x": 15.0}, held={"y": 3.0}))
    assert lattice.counts == (6, 1, 31)
    assert 2 * lattice.half[0] <= 15.0
    assert lattice.half[1] == 0


@pytest.mark.parametrize(
    ("wish", "told"),
    [
        ({"pair": ("bd", "head")}, "there is no part `bd`; the nearest of the parts is `bed`"),
        ({"pair": ("bed", "hed")}, "the nearest of the parts is `head`"),
        ({"pair": ("bed", "bed")}, "`bed` is named twice; name two different parts"),
        ({"held": {"lft": 1.0}}, "there is no drive `lft`; the nearest of the drives is `lift`"),
        ({"held": {"lift": 11.0}}, "cannot be held at 11; its range in the file is -10 to 10 mm"),
        ({"held": {"lift": float("nan")}}, "cannot be held at nan"),
        ({"held": {"x": 0.0, "y": 0.0, "lift": 0.0}}, "every drive is held at a setting; leave one or two"),
        ({"steps": {"x": 0.0}}, "a step of 0 along `x` cannot be; give a width above 0"),
        ({"steps": {"lift": 2.0}}, "a step along `lift` means nothing; it is held at 0"),
        ({"steps": {"z": 2.0}}, "there is no drive `z`"),
        ({"cells": 0}, "a map cannot have 0 steps along a drive"),
        ({"cells": 101}, "a map of 101 × 101 steps has more than 10000 squares; use fewer or wider steps"),
    ],
)
def test_wishes_that_cannot_be_are_told(wish, told):
    with pytest.raises(InputError) as caught:
        mapped(TABLE, **wish)
    assert told in str(caught.value)


def test_a_pair_that_is_not_checked_is_told_with_its_reason():
    with pytest.raises(InputError, match=r"`sledge` and `lug` are not checked .*; welded together by joint weld"):
        mapped(slider(), pair=("lug", "sledge"))


def test_a_machine_without_drives_or_without_moving_pairs_is_told():
    still = read(slider())
    with pytest.raises(InputError, match="has no drives to map it over"):
        mapped(replace(still, drives={}))
    alone = replace(still, clearance=replace(still.clearance, ignored={frozenset(("base", "lug")): "far"}))
    rules = replace(alone.clearance, ignored={**alone.clearance.ignored, frozenset(("base", "sledge")): "far"})
    with pytest.raises(InputError, match="no pair of parts moves"):
        mapped(replace(alone, clearance=rules))


def test_the_table_gives_every_cell_back():
    record = mapped(TABLE, cells=4).record
    first, *rest = record.cells
    odd = replace(first, a='left, "long" arm', b="bar")
    lost = replace(rest[0], reached=False, least_mm=None, proven_mm=None, a="", b="", room_mm=None, proven_room_mm=None)
    record = replace(record, cells=(odd, lost, *rest[1:]))
    lines = list(csv.DictReader(StringIO(map_table(record))))
    assert list(lines[0]) == [
        *("x_mm", "y_mm", "lift_mm"),
        *("least_mm", "proven_mm", "part_a", "part_b", "reached", "margin_mm", "proven_margin_mm"),
    ]
    assert len(lines) == len(record.cells) == 16
    assert lines[0]["part_a"] == 'left, "long" arm'
    assert (lines[1]["reached"], lines[1]["least_mm"], lines[1]["proven_mm"]) == ("no", "", "")
    for line, cell in zip(lines, record.cells, strict=True):
        assert [float(line[f"{name}_mm"]) for name in record.drives] == pytest.approx(list(cell.at.values()))
        assert (line["part_a"], line["part_b"]) == (cell.a, cell.b)
        if cell.reached:
            margins = (("margin_mm", cell.room_mm), ("proven_margin_mm", cell.proven_room_mm))
            for key, exact in (("least_mm", cell.least_mm), ("proven_mm", cell.proven_mm), *margins):
                assert 0 <= exact - float(line[key]) + 1e-7 <= 1.01e-4  # never rounded up


def test_of_equal_lengths_the_one_nearest_to_rest_is_the_least():
    record = mapped(slider(low=-5.0, high=25.0), cells=15).record
    at = [cell.at["push"] for cell in record.cells if cell.least_mm == 0]
    assert len(at) > 3
    assert record.least.at["push"] == min(at)
    assert record.least is record.failing[0]
