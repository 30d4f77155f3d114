"""The main job on machines whose answers are worked out on paper, from the file to the record."""

from dataclasses import replace

import numpy as np
import pytest
from clocks import Clock
from made_records import pair
from small_machines import GATE_WITHOUT_DRIVE, LOCKING_TRAMMEL, SWALLOWED, quiet, read, slider, trammel

from assembly.api.picture_scenes import nearest_scene
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.errors import AssemblyError
from assembly.geometry.scene import Role
from assembly.record import UnreachableEntry
from assembly.studies.picture_scene import pair_scene
from assembly.studies.sweep.check import check
from assembly.studies.sweep.joint_ranges import joints_of
from assembly.studies.sweep.sweep_record import sweep_record
from assembly.studies.sweep.verdict import machine_verdict
from assembly.studies.sweep.whole_sweep import sweep_machine
from assembly.time_limit import time_limit

LINK_ALONE = LOCKING_TRAMMEL[:-2] + ', { between = ["low", "high"], ignore = "x" }]\n'


def record_of(text, **effort):
    checked = check(read(text), Effort(**effort), quiet)
    return sweep_record(checked, joints_of(checked.mechanism))


def test_bracket_of_the_least_gap_holds_the_closed_form():
    pair = record_of(slider(high=8.0)).pairs[0]
    assert pair.least_mm == pytest.approx(10 - 8, abs=1e-9)  # closed form
    assert 10 - 8 - 0.1 <= pair.proven_mm <= 10 - 8
    assert pair.at == {"push": pytest.approx(8.0)}


def test_nearest_points_and_shapes_show_the_least():
    pair = record_of(slider(high=8.0)).pairs[0]
    assert (pair.shape_a, pair.shape_b) == ("block", "nose")
    assert pair.point_a[1] == pytest.approx(10)  # face of the block
    assert pair.point_b[1] == pytest.approx(12)  # face of the nose, 8 mm nearer than drawn
    assert np.linalg.norm(np.subtract(pair.point_a, pair.point_b)) == pytest.approx(pair.least_mm)


def test_too_near_fails_though_nothing_strikes():
    record = record_of(slider(high=8.0, required=3.0))
    assert (record.verdict, record.pairs[0].verdict, record.pairs[0].overlap) == ("fails", "fails", None)
    assert record.reason == "1 of 2 pairs comes nearer than it may"
    contact = record.pairs[0].first_contacts[0]
    assert (contact.drive, contact.direction) == ("push", 1)
    assert contact.at["push"] == pytest.approx(10 - 3, abs=0.01)  # closed form
    assert 0 < record.pairs[0].region.share < 1


def test_strike_tells_depth_way_out_and_volume():
    record = record_of(slider(high=12.0, required=0.0))
    overlap = record.pairs[0].overlap
    assert record.verdict == "fails"
    assert record.pairs[0].least_mm == 0
    assert overlap.at == {"push": pytest.approx(12.0, abs=1e-3)}
    assert 2 <= overlap.depth_mm <= 2.02  # closed form: 12 - 10
    assert overlap.direction == pytest.approx((0, 1, 0), abs=0.02)
    assert overlap.volume_mm3 == pytest.approx(20 * 20 * 2, rel=1e-3)  # closed form
    assert record.pairs[0].point_a == record.pairs[0].point_b == overlap.where


def test_swallowed_part_is_never_clear():
    record = record_of(SWALLOWED)
    pair = record.pairs[0]
    assert (record.verdict, pair.verdict, pair.swallowed, pair.least_mm) == ("fails", "fails", True, 0.0)
    assert pair.overlap.volume_mm3 == pytest.approx(10**3)  # closed form: the pill's whole volume


def test_pairs_stand_in_the_order_of_their_room():
    record = record_of(slider(extra="parts = { lug = 12.5 }"))
    rooms = [pair.room_mm for pair in record.pairs]
    assert [pair.b for pair in record.pairs] == ["sledge", "lug"]
    assert rooms == sorted(rooms)
    assert rooms == pytest.approx([2 - 1, 14 - 12.5])  # closed form


def test_pair_that_is_not_checked_has_its_reason():
    record = record_of(slider(extra='pairs = [{ between = ["lug", "base"], ignore = "far above" }]'))
    assert [(pair.a, pair.b, pair.reason) for pair in record.not_checked] == [
        ("base", "lug", "the file says: far above"),
        ("sledge", "lug", "welded together by joint weld"),
    ]


def test_margin_thinner_than_the_facets_is_undecided():
    text = slider(high=8.0, required=1.999).replace(
        "box = [0, 30, 0], size = [20, 20, 20]", "sphere = [0, 30, 0], diameter = 20"
    )
    record = record_of(text)
    assert record.verdict == "undecided"
    assert "facets" in record.reason
    assert record.pairs[0].least_mm >= 1.999 > record.pairs[0].proven_mm


def test_spent_budget_is_undecided_with_its_reason():
    text = trammel() + "[clearance]\nrequired = 43\n"  # least 43.35, close enough to need several cells
    clock = Clock()
    with time_limit(1.0, clock):
        _, record = sweep_machine(read(text), Effort(), clock.at("first look", 1.2))
    assert record.verdict == "undecided"
    assert "the time limit of 1 s was reached" in record.reason
    assert record.work.stopped == "the time limit of 1 s was reached"
    pair = next(pair for pair in record.pairs if pair.verdict == "undecided")
    assert pair.proven_mm < 43 <= pair.least_mm
    assert record_of(text).verdict == "clear"


def test_place_that_cannot_be_reached_is_never_clear():
    checked = check(read(trammel()), Effort(decide_only=True), quiet)
    joints = joints_of(checked.mechanism)
    assert sweep_record(checked, joints).verdict == "clear"
    lost = (UnreachableEntry({"push": 20.0}, ("low_ball", "high_ball"), 1.25, 0.9, ""),)
    broken = replace(checked, swept=replace(checked.swept, unreachable=lost, unreachable_share=0.02))
    record = sweep_record(broken, joints)
    assert record.verdict == "fails"
    assert record.reason == "2.00 % of the range cannot be reached"
    assert record.unreachable[0].at == {"push": 20.0}
    assert "1.25 mm" in record.unreachable[0].message


def test_verdict_of_a_failing_machine_says_how_many_pairs_are_undecided():
    pairs = [pair(verdict="fails"), *(pair(verdict="undecided") for _ in range(3)), pair()]
    verdict, reason = machine_verdict(pairs, ((), ()), (), 0.0)
    assert (verdict, reason) == ("fails", "1 of 5 pairs comes nearer than it may; 3 of 5 pairs are undecided")


def test_place_that_is_only_not_proven_leaves_the_machine_undecided():
    """A range that ends at the dead centre itself: the rod lies along the low guide at 100 mm, and can be put there."""
    record = record_of(trammel(low=-1.0, high=100.0, misalignment=90.0) + LOCKING_TRAMMEL, decide_only=True)
    assert not any(place.missed for place in record.unreachable)
    assert record.unreachable
    assert all(place.near_singular for place in record.unreachable)
    assert record.verdict == "undecided"
    assert "% of the range could not be proven" in record.reason
    assert {pair.proven_mm for pair in record.pairs if pair.verdict == "undecided"} == {None}


def test_place_past_the_dead_centre_fails_the_machine_and_decides_no_pair():
    record = record_of(trammel(low=-1.0, high=100.2, misalignment=90.0) + LINK_ALONE, decide_only=True)
    assert any(place.missed for place in record.unreachable)
    assert record.verdict == "fails"
    assert "% of the range cannot be reached" in record.reason
    assert [pair.verdict for pair in record.pairs] == ["undecided"]


def test_rod_end_past_its_rating_fails_though_every_pair_is_clear():
    record = record_of(trammel(misalignment=15.0), decide_only=True)
    assert {pair.verdict for pair in record.pairs} == {"clear"}
    assert (record.verdict, record.reason) == ("fails", "past their limits: low_ball")


def test_machine_without_a_checked_pair_is_not_called_clear():
    text = slider(
        extra='pairs = [{ between = ["base", "sledge"], ignore = "x" }, { between = ["base", "lug"], ignore = "y" }]'
    )
    record = record_of(text)
    assert (record.verdict, record.reason) == ("undecided", "no pair of parts is checked")


def test_freedom_without_a_drive_is_refused():
    with pytest.raises(AssemblyError, match="gate"):
        check(read(slider(extra=GATE_WITHOUT_DRIVE)), Effort(), quiet)


def test_stages_are_told_and_timed():
    told = []
    checked = check(read(slider()), Effort(), lambda stage, done, total: told.append(stage))
    stages = ["assemble", "gather pairs", "sweep", "nearest points"]
    assert [stage for stage in dict.fromkeys(told) if stage in stages] == stages
    assert set(stages) <= checked.seconds.keys()


def test_picture_shows_the_pair_where_it_stands():
    checked = check(read(slider(high=8.0)), Effort(), quiet)
    found = checked.found[0]
    scene = pair_scene(checked.mechanism, found.result.at, ("base", "sledge"), found.witness, ("title", "pose"))
    roles = {solid.name: solid.role for solid in scene.solids}
    assert roles == {"base": Role.FIRST, "sledge": Role.SECOND, "lug": Role.QUIET}
    sledge = next(solid.mesh for solid in scene.solids if solid.name == "sledge")
    assert sledge.bounds[0, 1] == pytest.approx(12)  # closed form: 20 mm less 8
    assert scene.gap_mm == pytest.approx(2)
    assert (scene.title, scene.pose_text, scene.overlap) == ("title", "pose", None)


def test_picture_of_a_strike_shows_the_overlap_instead_of_a_gap():
    checked = check(read(slider(high=12.0)), Effort(), quiet)
    scene = nearest_scene(checked)()
    assert scene.gap is None
    assert scene.overlap.volume == pytest.approx(800, rel=1e-3)
    assert scene.overlap_label == "2.00 mm deep here"
