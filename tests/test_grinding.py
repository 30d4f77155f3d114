"""What must go from either part of a pair: closed forms, nothing that must go stays, and broken bounds are caught."""

from dataclasses import replace

import numpy as np
import pytest
from grinding_machines import BALL, ROLLER, must_go_from_post
from small_machines import quiet, read
from tries import first

import assembly
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.removal.covering_balls import UnsettledError
from assembly.clearance.removal.removed import (
    FLATTENED,
    LEAST_GROWTH,
    ShapeRemoval,
    removals,
    spare,
    with_removed,
)
from assembly.clearance.removal.setting_cells import SettingCells
from assembly.geometry.inside import contains
from assembly.geometry.mesh import joined
from assembly.geometry.shapes import box
from assembly.studies.grinding import SweptPairs, _against, ground
from assembly.studies.sweep.check import check


def roller(required=3.0, old="", new=""):
    assert old in ROLLER
    return ROLLER.replace("REQUIRED", str(required)).replace(old, new)


def swept(text):
    checked = check(read(text), Effort(decide_only=True, strikes_shown=False), quiet)
    found = SweptPairs(checked.swept.groups, checked.pairs, [one.result for one in checked.found])
    return found, checked.pairs.checked[0]


def ground_parts(text, wanted=3.0):
    found, pair = swept(text)
    return {one.entry.part: one for one in ground(found, pair, wanted, quiet)}


@pytest.fixture(scope="module")
def post():
    return ground_parts(BALL)


@pytest.fixture(scope="module")
def bed():
    return ground_parts(roller())


@pytest.mark.parametrize("part", first(["bed", "roller"], 1))
def test_a_plane_passed_by_a_cylinder_loses_what_is_missing(bed, part):
    """Closed form: r + w - height of the axis = 5 + 3 - 6 = 2 mm, of the drum as of the slab."""
    entry = bed[part].entry
    (place,) = entry.places
    assert 2.0 <= place.depth_mm <= 2.0 + place.added.whole_mm + 0.05
    assert place.added.whole_mm < 0.65
    assert entry.advised
    assert entry.verdict == "clear"
    assert entry.proven_mm >= 3.0


def test_of_a_tube_is_told_what_wall_stays_and_where(bed):
    """Closed form: the wall is 3 mm, so 3 less the depth stays under the drum's lowest line."""
    (place,) = bed["roller"].entry.places
    assert place.wall_mm == pytest.approx(3.0 - place.depth_mm, abs=0.1)
    assert place.outwards == pytest.approx((0, 0, -1), abs=0.15)
    assert place.at == pytest.approx((0, 0, 1), abs=1.0)
    assert (place.nearest, place.through) == ("joint guide", False)
    assert bed["roller"].entry.weakens
    assert not bed["bed"].entry.weakens


def test_the_patch_on_a_plane_has_the_size_of_what_passes_it(bed):
    """Closed form: the half chord of a circle of 8 at a depth of 2 is sqrt(64 - 36), on either side of 6 mm of way."""
    (place,) = bed["bed"].entry.places
    assert 2 * 28**0.5 + 6 <= place.length_mm <= 2 * 28**0.5 + 6 + 2
    assert place.width_mm == pytest.approx(12.0, abs=0.01)


@pytest.mark.parametrize("part", first(["frame", "arm"], 1))
def test_a_cylinder_passed_by_a_ball_loses_what_is_missing(post, part):
    """Closed form: radii of ball and post, and the clearance, less the distance of their middles: 6 + 5 + 3 - 12."""
    entry = post[part].entry
    (place,) = entry.places
    assert 2.0 <= place.depth_mm <= 2.0 + place.added.whole_mm + 0.05
    assert entry.advised
    assert entry.proven_mm >= 3.0


def test_nothing_that_must_go_stays_and_little_else_goes(post):
    """Points of the post: what the ball comes within 3 mm of (closed form) goes, what it keeps well off stays."""
    kept, gone = post["frame"].kept, post["frame"].gone
    points = np.random.default_rng(5).uniform([46.9, -5, -8], [51, 5, 8], (6000, 3))
    points = points[np.linalg.norm(points[:, :2] - (52, 0), axis=1) < 4.97]
    off = must_go_from_post(points)
    added = post["frame"].entry.places[0].added.whole_mm
    assert (off < 3).sum() > 100
    assert not contains(kept, points[off < 3]).any()
    assert not contains(gone, points[off > 3 + 2 * added]).any()
    assert contains(kept, points[off > 3 + 2 * added]).all()


def test_without_the_bound_on_motion_the_sweep_refuses(monkeypatch):
    """Ridges stay between the settings that were looked at: whoever leaves out how far parts move is found out."""
    placed = SettingCells._placed
    monkeypatch.setattr(
        SettingCells, "_placed", lambda self, ids: replace(found := placed(self, ids), travel=0 * found.travel)
    )
    made = ground_parts(roller())
    assert not made["bed"].entry.advised
    assert made["bed"].entry.against.startswith("the sweep does not prove it")


def test_what_goes_right_through_a_wall_is_said():
    """Closed form: for 4 mm 3 must go, which is all of a wall of 2.5."""
    made = ground_parts(roller(4, "wall = 3", "wall = 2.5"), 4.0)
    (place,) = made["roller"].entry.places
    assert place.through
    assert place.depth_mm == pytest.approx(2.5, abs=0.1)


@pytest.mark.parametrize("wanted", [0.0, 0.2, 3.0])
def test_the_other_part_is_never_looked_at_too_finely(wanted):
    """What is added makes the growth 0.6 mm at least, and 0.05 mm where more is wanted anyway."""
    assert spare(wanted, 0.05) == pytest.approx(max(LEAST_GROWTH - wanted - 0.05 - FLATTENED, 0.05))
    assert wanted + 0.05 + FLATTENED + spare(wanted, 0.05) >= 0.6 - 1e-12


def test_a_bearing_is_not_ground():
    text = roller(
        3, "wall = 3 }", 'wall = 3, bearing_of = "guide" }, { name = "lug", box = [0, 0, 20], size = [2, 2, 2] }'
    )
    text += "[parts.wall]\nfixed = true\nshapes = [{ box = [0, 0, -3], size = [24, 12, 6] }]\n"
    machine = read(text)
    checked = check(machine, Effort(decide_only=True, strikes_shown=False), quiet)
    pair = next(one for one in checked.pairs.checked if {one.a, one.b} == {"roller", "wall"})
    found = SweptPairs(checked.swept.groups, checked.pairs, [one.result for one in checked.found])
    made = {one.entry.part: one.entry for one in ground(found, pair, 3.0, quiet)}
    assert (made["roller"].advised, made["roller"].against) == (False, "drum is the bearing of joint guide")


def test_where_the_motion_is_not_settled_nothing_is_cut(monkeypatch):
    found, pair = swept(roller())
    monkeypatch.setattr(
        "assembly.clearance.removal.setting_cells.SettingCells.may_be_cut", lambda _, rows: 0 * rows > 0
    )
    placed = SettingCells._placed
    monkeypatch.setattr(
        SettingCells, "_placed", lambda self, ids: replace(one := placed(self, ids), travel=np.inf + one.travel)
    )
    with pytest.raises(UnsettledError, match="cut too finely"):
        removals(found.groups, found.pairs, pair, "bed", 3.0)
    entries = [one.entry for one in ground(found, pair, 3.0, quiet)]
    assert [one.places for one in entries] == [(), ()]
    assert not any(one.advised for one in entries)


def test_the_api_asks_for_the_worst_pair_and_nothing_where_all_keep():
    found = assembly.grind(read(roller(0.5)), cached=False)
    assert (found.record.verdict, found.record.pair, found.gone) == ("clear", None, {})
    kept = assembly.grind(read(roller(0.5)), ("bed", "roller"), clearance=0.9, cached=False).record
    assert (kept.verdict, kept.reason, kept.parts) == ("clear", "the two are proven to keep it as they are", ())
    with pytest.raises(assembly.InputError, match=r"the file requires 0\.5 mm of `bed` and `roller`"):
        assembly.grind(read(roller(0.5)), ("bed", "roller"), clearance=0.2, cached=False)


FOOT = """
[parts.foot]
shapes = [{ name = "lug", box = [0, 8, -0.75], size = [4, 4, 1.5] }]
[joints.weld]
welded = ["bed", "foot"]
"""
LATCH = """
[parts.latch]
shapes = [{ name = "pawl", box = [0, 60, -40], size = [4, 4, 4] }]
[joints.hinge]
pin = ["bed", "latch"]
at = [0, 0, -0.5]
along = [0, 1, 0]
[drives.click]
turns = { hinge = 1 }
range = [-1, 1]
"""


def against(text, kept):
    """What speaks against leaving ``kept`` of the shapes of the bed, by name, before anything is swept."""
    machine = read(text)
    whole = {shape.name: shape.mesh for shape in machine.parts["bed"].shapes}
    cut = tuple(
        ShapeRemoval(name, whole[name], joined(()), np.array([]), own, 0, 0, 0, 0) for name, own in kept.items()
    )
    return _against(machine, with_removed(machine, "bed", cut), "bed", cut)


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (FOOT, "bed would come off foot"),
        (LATCH, "joint hinge would lose what bears it: nothing is then nearer to it than 1.50 mm"),
        ("", ""),
    ],
    ids=["foot", "latch", "neither"],
)
def test_a_joint_keeps_what_bears_it(more, told):
    """Closed form: 2 mm off the slab are 1.5 from a pin 0.5 below its face, and more than the 1.5 that a foot holds."""
    assert against(roller() + more, {"slab": box((0, 0, -4), (24, 12, 4))}) == told
    assert against(roller() + more, {"slab": box((0, 0, -3.2), (24, 12, 5.6))}) == ""


def test_a_shape_that_goes_whole_is_told_though_it_touched_another_that_is_cut():
    skin = '}, { name = "skin", box = [0, 0, 0.25], size = [4, 4, 0.5] }]\n[parts.roller]'
    text = roller().replace("}]\n[parts.roller]", skin).replace(" }]\n[parts.roller]", skin)
    kept = {"slab": box((0, 0, -4), (24, 12, 4)), "skin": joined(())}
    assert against(text, kept) == "nothing would be left of skin"
