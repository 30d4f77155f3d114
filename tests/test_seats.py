"""Seats of joints that the file leaves to the program: how large they are, what is reported, and what still strikes."""

from dataclasses import replace
from math import hypot

import numpy as np
import pytest
from plain_distances import to_triangles
from small_machines import HERE, quiet, read

from assembly.clearance.narrow_phase.checked_pairs import Exclusion, without_exclusion
from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.errors import InputError
from assembly.geometry.shapes import ROD_END_SIZES, box, sphere
from assembly.geometry.solids import union
from assembly.model.machine import FindingKind, Part, Shape
from assembly.studies.sweep.check import check

JOINED = """
format = 1
name = "Rod end on a bolt"

[dimensions]
{dimensions}

[parts.post_left]
fixed = true
shapes = [
  {{ name = "bolt", rod = [[0, 50, -30], [0, 50, 30]], diameter = 8 }},
  {lug}
]

[parts.arm_left]
shapes = [{ball}]

[joints.eye_left]
pin = ["post_left", "arm_left"]
at = [0, {at}, 0]
along = [0, 0, 1]
seat_radius = {seat}

[drives.turn]
turns = {{ eye_left = 1 {both} }}
range = [-2, 2]
{mirror}

[clearance]
required = {required}
"""
ROD_END = '{ name = "end", rod_end = [0, 50, 0], shank = [1, 0, 0], bolt = [0, 0, 1], size = "M8" }'
SPHERE = '{ name = "knob", sphere = [0, 50, 0], diameter = 16 }, { rod = [[6, 50, 0], [60, 50, 0]], diameter = 5 }'
CUT = 0.05
"""mm that the facets of the cut-out ball may lack."""


MIRROR = {"mirror": '[mirror]\nleft = "right"', "both": ", eye_right = 1"}


def joined(ball=ROD_END, seat='"bearing"', lug="", at=50, dimensions="", required=1, mirror="", both=""):
    given = {"ball": ball, "seat": seat, "lug": lug, "at": at, "dimensions": dimensions, "required": required}
    return read(JOINED.format(**given, mirror=mirror, both=both))


def pair_of(machine):
    return next(
        one.result
        for one in check(machine, Effort(strikes_shown=False), quiet).found
        if one.result.pair.a == "post_left"
    )


def lug(far):
    """A knob 1 mm thick of the post, whose farthest point is ``far`` mm from the middle of the ball."""
    return f'{{ name = "knob", sphere = [0, {50 + far - 0.5}, 0], diameter = 1 }},'


# closed form: the rim of a bored ball's flat face is hypot(width, face diameter)/2 from its middle, a sphere's radius
@pytest.mark.parametrize(
    ("ball", "reach"),
    [
        (ROD_END, hypot(ROD_END_SIZES["M8"].ball_width, ROD_END_SIZES["M8"].ball_face) / 2),
        (ROD_END.replace("M8", "M16"), hypot(ROD_END_SIZES["M16"].ball_width, ROD_END_SIZES["M16"].ball_face) / 2),
        (SPHERE, 8.0),
    ],
)
def test_a_seat_that_is_left_to_the_program_holds_the_ball_and_no_more(ball, reach):
    machine = joined(ball, **MIRROR)
    for side in ("left", "right"):
        assert reach + CUT <= machine.joints[f"eye_{side}"].seat <= reach + CUT + 0.02 + 0.01 + 1e-9


def test_the_radius_that_is_taken_is_told():
    machine = joined(**MIRROR)
    notes = {found.about: found for found in machine.findings if found.about.startswith("joints.")}
    assert notes["joints.eye_left"].message == "its seat is 8.01 mm, which holds end ball of arm_left"
    assert notes["joints.eye_left"].kind is FindingKind.NOTE
    assert notes["joints.eye_left"].line is not None
    assert notes["joints.eye_right"].message == "its seat is 8.01 mm, which holds end ball of arm_right"


def test_what_lies_in_the_seat_is_left_out_and_what_stands_out_of_it_strikes():
    """The knob stands in the eye, whose hole has a radius of 6.5 mm; the seat ends at 8.01 mm."""
    inside = pair_of(joined(lug=lug(far=7.9)))
    assert (inside.verdict, inside.pair.seat) == (Verdict.CLEAR, "left out as seat: 8.01 mm round eye_left")
    assert pair_of(joined(lug=lug(far=8.1), required=0.05)).verdict is Verdict.FAILS


def test_where_no_ball_is_drawn_the_word_is_a_fault_that_says_what_to_write():
    with pytest.raises(
        InputError, match=r"joints\.eye_left\.seat_radius.*no ball of `post_left` or `arm_left`"
    ) as caught:
        joined(at=50.01, **MIRROR)
    assert "write the radius in mm; or `bearing` where a rod_end or a sphere" in str(caught.value)
    assert len(caught.value.faults) == 1
    with pytest.raises(InputError, match="a list of 2 stands where a seat is needed; write the radius in mm"):
        joined(seat="[8, 9]")


def test_a_dimension_of_that_name_is_what_the_word_means():
    assert joined(dimensions="bearing = 9").joints["eye_left"].seat == 9


def test_the_guide_tells_the_radius_of_every_rod_end():
    guide = (HERE.parent / "README.md").read_text(encoding="utf-8")
    row = next(line for line in guide.splitlines() if line.startswith('| `"bearing"`, mm |'))
    told = [float(cell) for cell in row.strip("| ").split("|")[1:]]
    assert told == [joined(ROD_END.replace("M8", size)).joints["eye_left"].seat for size in ROD_END_SIZES]


def test_a_knob_that_may_stand_out_of_its_seat_is_not_lost():
    """Closed form: the knob is drawn with a radius of 11.9 mm and true to 0.2, so a skin of 0.1 mm may be left."""
    knob = union([sphere((0, 0, 0), 23.8, facet_error=0.2), box((30, 0, 0), (50, 8, 8))])
    part = Part("arm", (Shape("arm", replace(knob, surface_error=0.2)),))
    left = without_exclusion(part, Exclusion("arm", balls=(((0.0, 0.0, 0.0), 12.0),))).mesh
    assert left.vertices[:, 0].min() > 9
    assert to_triangles(np.array([[-12.05, 0, 0]]), left)[0] <= left.surface_error
