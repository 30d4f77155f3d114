"""One setting, against closed forms."""

from math import asin, degrees

import pytest
from small_machines import SWALLOWED, read, slider, trammel

from assembly.errors import AssemblyError, InputError
from assembly.studies.look import look


def test_distance_at_a_setting_is_the_closed_form():
    looked = look(read(slider()), {"push": 3.0})
    seen = looked.record.pairs[0]
    assert (seen.a, seen.b) == ("base", "sledge")
    assert seen.distance_mm == pytest.approx(10 - 3)
    assert (seen.shape_a, seen.shape_b) == ("block", "nose")
    assert seen.verdict == "clear"


def test_drives_that_are_not_named_stay_at_rest():
    assert look(read(slider()), {}).record.pairs[0].distance_mm == pytest.approx(10)


def test_strike_at_a_setting_has_its_depth():
    seen = look(read(slider(high=12.0)), {"push": 11.5}).seen[0]
    assert seen.entry.verdict == "fails"
    assert seen.entry.overlap.depth_mm == pytest.approx(1.5, abs=0.02)  # closed form
    assert seen.room == pytest.approx(-1.5 - 1, abs=0.02)


def test_part_inside_another_fails_at_any_setting():
    seen = look(read(SWALLOWED), {"level": 5.0}).record.pairs[0]
    assert (seen.verdict, seen.distance_mm) == ("fails", 0.0)
    assert seen.overlap.volume_mm3 == pytest.approx(1000)


def test_nearer_than_required_fails():
    assert look(read(slider(required=4.0)), {"push": 7.0}).record.pairs[0].verdict == "fails"


def test_margin_that_the_facets_could_hide_is_undecided():
    text = slider(required=7.0).replace("box = [0, 30, 0], size = [20, 20, 20]", "sphere = [0, 30, 0], diameter = 20")
    seen = look(read(text), {"push": 3.0}).record.pairs[0]
    assert 7.0 <= seen.distance_mm < 7.0 + seen.surface_error_mm
    assert seen.verdict == "undecided"


def test_places_tell_how_far_each_part_went_and_how_it_turned():
    places = {place.part: place for place in look(read(trammel()), {"push": -30.0}).record.places}
    assert places["frame"].fixed
    assert places["frame"].moved_mm == (0, 0, 0)
    assert places["low"].moved_mm == pytest.approx((0, -30, 0))
    sink = 100 * (1 - (1 - 0.3**2) ** 0.5)  # closed form: the rod's upper end comes down
    assert places["high"].moved_mm == pytest.approx((0, 0, -sink))
    assert places["link"].turned_deg == pytest.approx(degrees(asin(0.3)))
    assert [abs(value) for value in places["link"].about] == pytest.approx([1, 0, 0])
    assert places["link"].middle == pytest.approx((0, -15, (100 - sink) / 2))


@pytest.mark.parametrize(
    ("settings", "told"),
    [
        ({"psh": 1.0}, "there is no drive `psh`; the nearest of the drives is `push`"),
        ({"tilt": 1.0}, "there is no drive `tilt`; drives of this file: `push`"),
        ({"push": 8.1}, "drive `push` cannot be set to 8.1; its range in the file is -5 to 8 mm"),
        ({"push": float("nan")}, "cannot be set to nan"),
        ({"push": float("inf")}, "cannot be set to inf"),
    ],
)
def test_wrong_setting_is_refused_with_what_would_be_valid(settings, told):
    with pytest.raises(InputError) as caught:
        look(read(slider()), settings)
    assert told in str(caught.value)


def test_all_wrong_settings_are_told_at_once():
    with pytest.raises(InputError) as caught:
        look(read(slider()), {"a": 1.0, "push": 99.0})
    assert len(caught.value.faults) == 2


def test_setting_that_cannot_be_assembled_says_which_loop_misses():
    with pytest.raises(
        AssemblyError, match=r"cannot be put together at push 104: the loop .*low_ball.* misses by 4\.\d+ mm"
    ):
        look(read(trammel(high=104.0)), {"push": 104.0})
