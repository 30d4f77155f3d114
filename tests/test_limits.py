"""Limits of pins and slides as the file states them."""

import pytest
from mechanism_files import TRIKE, folder_with_meshes
from small_machines import SPINDLE, read, slider

from assembly.errors import InputError
from assembly.model.reader import machine_from_text


def test_slide_and_pin_slide_keep_their_limits_in_their_own_units():
    assert read(slider().replace("along = [0, -1, 0]", "along = [0, -1, 0]\nlimit = [-6, 9]")).joints[
        "guide"
    ].travel_limit == (-6, 9)
    text = SPINDLE.replace("along = [0, 0, 1]", "along = [0, 0, 1]\nturn_limit = [-300, 300]\ntravel_limit = [0, 12]")
    axle = read(text).joints["axle"]
    assert (axle.turn_limit, axle.travel_limit) == ((-300, 300), (0, 12))


def test_limits_of_turning_change_sides_with_the_mirror(tmp_path):
    """An arm that may rise by 40 on the left turns by +40 about forward; its twin on the right rises by -40."""
    text = TRIKE.replace("along = [1, 0, 0]", "along = [1, 0, 0]\nlimit = [-35, 40]", 1)
    joints = machine_from_text(text, folder_with_meshes(tmp_path)).joints
    assert joints["lower_pivot_left"].turn_limit == (-35, 40)
    assert joints["lower_pivot_right"].turn_limit == (-40, 35)


def test_joint_without_limits_has_none():
    axle = read(SPINDLE).joints["axle"]
    assert (axle.turn_limit, axle.travel_limit) == (None, None)


@pytest.mark.parametrize("limit", ["[5, 9]", "[-9, -5]", "[9, -9]", "[0, 0]"])
def test_limit_that_leaves_out_rest_or_is_empty_is_refused(limit):
    with pytest.raises(InputError, match="limit"):
        read(slider().replace("along = [0, -1, 0]", f"along = [0, -1, 0]\nlimit = {limit}"))
