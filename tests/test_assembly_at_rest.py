"""Putting a machine together at rest: lengths that were edited, and refusals that name the cause."""

import re

import front_ends
import known_linkages as known
import numpy as np
import pytest
from linkage_machines import GROUND, ORIGIN, X, machine, move, planar, polar, rod, slide, turns, with_place
from oracles import linkages

from assembly.errors import AssemblyError, InputError
from assembly.kinematics.assembling import assemble


# closed form: the same four-bar with a coupler of 127
def test_longer_coupler_is_assembled_at_rest_and_told_part_by_part():
    drawn = np.array(linkages.four_bar(40, 120, 80, 100, 90))
    longer = np.array(linkages.four_bar(40, 127, 80, 100, 90))
    made = known.four_bar(90)
    end = polar(127, drawn[0], polar(40, 90))
    mechanism = assemble(with_place(made, "wrist", first=end))
    moved = move(mechanism, [0.0, 35.0])
    later = linkages.four_bar(40, 127, 80, 100, 125)
    assert moved.turn("coupler") + drawn[0] == pytest.approx([longer[0], later[0]], abs=1e-7)
    assert moved.turn("rocker") + drawn[1] == pytest.approx([longer[1], later[1]], abs=1e-7)
    shifts = {shift.part: shift for shift in mechanism.shifts()}
    assert set(shifts) == {"coupler", "rocker"}
    assert shifts["rocker"].turned_deg == pytest.approx(abs(longer - drawn)[1], abs=1e-7)
    assert shifts["rocker"].moved_mm == pytest.approx(2 * 40 * np.sin(np.radians(abs(longer - drawn)[1]) / 2), abs=1e-7)
    assert shifts["coupler"].turned_deg == pytest.approx(abs(longer - drawn)[0], abs=1e-7)
    assert [shift.moved_mm for shift in mechanism.shifts()] == sorted(
        (s.moved_mm for s in shifts.values()), reverse=True
    )


def test_nothing_is_told_to_have_moved_where_nothing_was_edited():
    for make in (known.four_bar, front_ends.front_end, known.tilting_parallelogram):
        assert assemble(make()).shifts() == ()


def braced(length: float):
    """Two driven arms that stand 120 apart and a rod of ``length`` between their ends."""
    ends = polar(80, 90), polar(80, 90, (120, 0, 0))
    joints = [*planar({"left": (GROUND, "left_arm", ORIGIN), "right": (GROUND, "right_arm", (120, 0))})]
    made = machine([*joints, *rod("rod", "left_arm", "right_arm", *ends)], turns(left=1), turns(right=1))
    return with_place(made, "rod_end", first=ends[0] + (length, 0, 0))


# closed form: the ends of the arms are 120 apart
@pytest.mark.parametrize("length", [115.0, 125.0])
def test_rod_that_misses_by_five_millimetres_names_its_loop_and_the_miss(length):
    with pytest.raises(AssemblyError) as told:
        assemble(braced(length))
    (fault,) = told.value.faults
    assert "cannot be put together as drawn, with all drives at 0" in fault.message
    assert "misses by 5.0" in fault.message
    named = re.search(r"the loop (.*) misses", fault.message)[1].split(" - ")
    assert sorted(named) == ["left", "right", "rod_end", "rod_start"]
    assert fault.place.startswith("joints.")
    assert fault.file == "file"
    assert "5.0" in fault.hint


# closed form: at the drawn crank angle coupler and rocker reach over their sum or their difference at most
@pytest.mark.parametrize("over", [5.0, 0.5])
def test_coupler_too_long_to_close_is_refused_with_its_miss(over):
    knee = polar(40, 90)
    apart = np.linalg.norm(knee - (100, 0, 0))
    coupler, _ = linkages.four_bar(40, 120, 80, 100, 90)
    edited = with_place(known.four_bar(90), "wrist", first=polar(apart + 80 + over, coupler, knee))
    with pytest.raises(AssemblyError, match=rf"crank_pin.* misses by {over:.1f}\d mm"):
        assemble(edited)


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda: machine(known.four_bar().joints.values()), ["crank", "coupler", "rocker"]),
        (lambda: machine([slide("guide", GROUND, "block", ORIGIN, X)]), ["block"]),
        (front_ends.double_wishbone, ["lower_arm", "upper_arm", "upright", "tie_rod"]),
        (lambda: machine(known.four_bar().joints.values(), turns(crank_pin=1), more=["loose"]), ["loose"]),
    ],
)
def test_freedom_that_nothing_sets_is_refused_with_the_parts_that_move(make, named):
    made = make()
    with pytest.raises(AssemblyError if made.drives else InputError) as told:
        assemble(made)
    for fault in told.value.faults:
        assert fault.message.startswith("nothing sets how ")
        assert all(name in fault.message for name in named)
        assert "drive" in fault.hint


def test_machine_drawn_at_a_dead_centre_is_refused_and_told_so():
    with pytest.raises(AssemblyError, match=r"dead centre: .*coupler"):
        assemble(known.parallelogram(lean=0))
