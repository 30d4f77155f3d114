"""Angles past half a turn: counted from all drives at 0, so that no limit is kept by a whole turn (closed forms)."""

import pytest
from small_machines import HERE, quiet

from assembly.clearance.proof.joint_search import joint_search
from assembly.clearance.proof.measure_search import measured
from assembly.kinematics.assembling import assemble
from assembly.model.reader import machine_from_text
from assembly.studies.usable.usable_range import RangeWish, find_usable_range


def hand(drawn, low, high, limits="", of_pin=""):
    """A hand on a pin, drawn by so many degrees from the x axis, and its angle from there about the pin."""
    return machine_from_text(
        f"""
format = 1
name = "Hand"
[parts.face]
fixed = true
shapes = [{{ box = [0, 0, -50], size = [4, 4, 4] }}]
[parts.hand]
shapes = [{{ box = [0, 0, 50], size = [4, 4, 4] }}]
[joints.pin]
pin = ["face", "hand"]
at = [0, 0, 0]
along = [0, 0, 1]
{of_pin}
[measures.angle]
angle = [{{ on = "face", along = [1, 0, 0] }}, {{ on = "hand", along = ["cos({drawn})", "sin({drawn})", 0] }}]
about = [0, 0, 1]
{limits}
[drives.turn]
turns = {{ pin = 1 }}
range = [{low}, {high}]
""",
        HERE,
    )


@pytest.mark.parametrize(
    ("drawn", "low", "high"), [(179.5, 0, 80), (-179.5, -80, 0), (179.5, -30, 30), (10, -400, 400)]
)
def test_an_angle_drawn_close_to_half_a_turn_is_told_as_it_is_at_the_zero_position(drawn, low, high):
    """It is the drawn angle and what the drive adds; it was told a whole turn off, and its limit so held."""
    mechanism = assemble(hand(drawn, low, high, f"least = {drawn + low - 1}\nmost = {drawn + high - 1}"))
    [entry] = measured(mechanism, joint_search(mechanism))
    assert (entry.zero, entry.least, entry.most) == pytest.approx((drawn, drawn + low, drawn + high))
    assert entry.verdict == "fails"


@pytest.mark.parametrize(("of_joint", "low", "high"), [(False, -200, 200), (True, -200, 200)])
def test_the_usable_range_ends_where_an_angle_passes_its_limit_however_often_the_posture_comes_again(
    of_joint, low, high
):
    """Between the limits and nowhere else, though a whole turn on the machine stands as it did."""
    limits = ("", f"limit = [{low}, {high}]") if of_joint else (f"least = {low}\nmost = {high}", "")
    record = find_usable_range(hand(0, -400, 400, *limits), RangeWish(cells=12), quiet).record
    ends = sorted(point[0] for stretch in record.stretches for point in stretch.points)
    assert (ends[0], ends[-1]) == pytest.approx((low, high), abs=0.1)
    assert all((low <= cell.at["turn"] <= high) == cell.usable for cell in record.cells)


def test_a_limit_that_is_open_to_one_side_is_kept_however_far_the_angle_goes_there():
    record = find_usable_range(hand(0, -400, 50, "most = 60"), RangeWish(cells=12), quiet).record
    assert all((cell.at["turn"] <= 60) == cell.usable for cell in record.cells)
