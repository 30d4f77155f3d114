"""Weights: volumes and centres against closed forms, lean moments and turning over against worked-out values."""

import json
from dataclasses import replace
from math import asin, atan, cos, degrees, pi, radians, sin

import pytest
from small_machines import read
from wheel_machines import parallelogram_text
from wheel_machines import read as read_wheels

import assembly
from assembly.cli import main
from assembly.errors import InputError, ShapeError
from assembly.geometry.mass_properties import volume_and_centre
from assembly.geometry.mesh import Mesh, joined
from assembly.geometry.shapes import boxes, rods, rounds
from assembly.history import compare
from assembly.report.text.compare_text import compare_blocks
from assembly.report.text.layout import Line
from assembly.report.text.sweep_text import sweep_blocks
from assembly.report.text.weights_text import weights_blocks

POST = """
format = 1
name = "Post"
[parts.frame]
fixed = true
shapes = [{ box = [0, 0, 50], size = [40, 200, 100] }, { box = [0, 0, 90], size = [20, 20, 100] }]
[parts.arm]
shapes = [{ box = [0, 0, 600], size = [100, 100, 100] }]
[joints]
pivot = { pin = ["frame", "arm"], at = [0, 0, 0], along = [1, 0, 0] }
[drives.tilt]
turns = { pivot = 1 }
range = [-40, 40]
"""
"""A frame of two boxes that run into each other, and an arm of 1 dm³ whose middle is 600 above the pin."""
LEANING = """
[weights]
[weights.parts]
frame = { mass = 1e-6 }
arm = { mass = 100 }
[weights.lean]
drive = "tilt"
line = [[0, 0, 0], [1, 0, 0]]
corners = [{ speed = 5, radius = 6 }]
[weights.contact]
left = [[100, 300, 0], [-100, 300, 0]]
"""
BY_THE_FRAME = """
[weights]
[weights.parts]
frame = { mass = 100, at = [0, 0, 600] }
arm = { mass = 1e-6 }
[weights.lean]
drive = "tilt"
line = [[0, 0, 0], [1, 0, 0]]
frame = true
[weights.contact]
left = [[100, 300, 0], [-100, 300, 0]]
"""


def test_a_solid_of_two_boxes_counts_what_they_share_once():
    """Closed form: 40 × 200 × 100 from 0 to 100, and 20 × 20 from 100 to 140, seen from x = 5."""
    low = boxes.box([5, 0, 50], [40, 200, 100])
    high = boxes.box([5, 0, 90], [20, 20, 100])
    volume, centre = volume_and_centre(joined([low, high]))
    first, second = 40 * 200 * 100, 20 * 20 * 40
    assert volume == pytest.approx(first + second, rel=1e-9)
    assert centre == pytest.approx([5, 0, (first * 50 + second * 120) / (first + second)], abs=1e-6)


def test_a_tube_in_a_tube_counts_once():
    """Closed form, facets aside: a tube of 30 by 3, and another in half of its wall that sticks out."""
    outer = rods.tube([[0, 0, 0], [100, 0, 0]], diameter=30, wall=3, facet_error=0.005)
    sleeve = rods.tube([[50, 0, 0], [150, 0, 0]], diameter=30, wall=3, facet_error=0.005)
    volume, centre = volume_and_centre(joined([outer, sleeve]))
    assert volume == pytest.approx(pi * (15**2 - 12**2) * 150, rel=2e-3)
    assert centre == pytest.approx([75, 0, 0], abs=0.05)


def test_a_cone_has_its_centre_at_a_quarter():
    """Closed form: a cone of radius 20 and height 80, as its frustum to 0.01 of the tip."""
    cone = rounds.cone([[0, 0, 0], [0, 0, 80]], (40, 0.01), facet_error=0.005)
    volume, centre = volume_and_centre(cone)
    assert volume == pytest.approx(pi * 20**2 * 80 / 3, rel=2e-3)
    assert centre == pytest.approx([0, 0, 20], abs=0.02)


def test_a_surface_that_is_inside_out_or_open_has_no_mass():
    box = boxes.box([0, 0, 0], [10, 10, 10])
    with pytest.raises(ShapeError):
        volume_and_centre(Mesh(box.vertices, box.faces[:, ::-1]))
    with pytest.raises(ShapeError):
        volume_and_centre(Mesh(box.vertices, box.faces[:-1]))


def test_masses_by_material_density_and_statement():
    """Closed form: the frame has 816 000 mm³ of steel, 6.4056 kg; 1 dm³ of arm at 2 kg/dm³; 12 kg at z = 900."""
    text = POST + (
        '[weights]\nmaterial = "steel"\n[weights.parts]\narm = { density = 2, source = "weighed" }\n'
        '[weights.carried]\nload = { on = "arm", mass = 12, at = [0, 0, 900] }\n'
    )
    record = assembly.weights(read(text))
    told = {one.carried or one.part: one for one in record.parts}
    assert told["frame"].mass_kg == pytest.approx(7.85 * 0.816)
    assert (told["arm"].mass_kg, told["arm"].source) == (pytest.approx(2.0), "weighed")
    assert record.mass_kg == pytest.approx(7.85 * 0.816 + 14)
    frame = (800_000 * 50 + 16_000 * 120) / 816_000
    middle = (6.4056 * frame + 2 * 600 + 12 * 900) / 20.4056
    assert record.centre == pytest.approx((0, 0, middle), abs=1e-4)
    assert [one.mass_kg for one in record.parts] == sorted((one.mass_kg for one in record.parts), reverse=True)
    assert record.unknown == ()


@pytest.mark.parametrize(
    ("text", "turns_over", "least"),
    [
        (LEANING, degrees(asin(300 / 600)), 300 - 600 * sin(radians(40))),
        (BY_THE_FRAME, degrees(atan(300 / 600)), 300 * cos(radians(40)) - 600 * sin(radians(40))),
    ],
    ids=["what the drive moves", "the frame"],
)
def test_lean_moments_and_where_it_turns_over(text, turns_over, least):
    """Published example: m g h sin of 100 kg at 0.6 m is 102.209, 201.313, 294.300 N·m at 10, 20, 30 degrees.

    Closed form: its centre is over a line that stands still 300 aside, 600 below, at asin(300/600) = 30 degrees; over
    one that leans with it at atan(300/600).
    """
    record = assembly.weights(read(POST + text))
    moments = {one.at: one.moment_nm for one in record.lean.moments}
    assert [moments[at] for at in (10, 20, 30)] == pytest.approx([102.209, 201.313, 294.300], abs=5e-4)
    assert [moments[-at] for at in (10, 20, 30)] == pytest.approx([102.209, 201.313, 294.300], abs=5e-4)
    assert record.lean.height_mm == pytest.approx(600.0, abs=1e-4)
    (line,) = record.contacts
    assert (line.inside_mm, line.height_mm, line.sideways) == pytest.approx((300, 600, 0.5), abs=1e-4)
    (over,) = line.over_at
    assert abs(over) == pytest.approx(turns_over, abs=1e-5)
    assert line.least_mm == pytest.approx(least, abs=1e-4)


def test_a_bend_is_balanced_at_the_lean_of_its_speed():
    """Published example: atan(v²/gR) is 23.0127 degrees at 5 m/s in a bend of 6 m."""
    (bend,) = assembly.weights(read(POST + LEANING)).lean.bends
    assert bend.lean_deg == pytest.approx(23.0127, abs=5e-5)
    assert bend.lean_deg == pytest.approx(degrees(atan(25 / (9.81 * 6))))


def test_the_centre_goes_where_the_arm_takes_it():
    """Closed form: 600 sin and cos of 40 degrees."""
    spans = {one.axis: one for one in assembly.weights(read(POST + LEANING)).spans}
    assert (spans["y"].least, spans["y"].most) == pytest.approx((-385.673, 385.673), abs=1e-2)
    assert (spans["z"].least, spans["z"].most) == pytest.approx((459.627, 600.0), abs=1e-2)
    assert spans["y"].at_least == {"tilt": 40.0}


STOP = """
[stops.end]
drive = "tilt"
side = "high"
parts = ["arm", "frame"]
at = [0, -60, 120]
along = [0, 0, 1]
pad = { diameter = 20 }
load = { mass = 100LOAD }
"""


def test_a_load_without_a_height_takes_that_of_the_weights():
    def height(load, weights=BY_THE_FRAME):
        return read(POST + STOP.replace("LOAD", load) + weights).stops["end"].load.height

    assert height(", height = 450") == 450.0
    assert height("") == pytest.approx(600.0, abs=1e-4)
    for weights in ("", BY_THE_FRAME.replace("[weights.lean]", "[weights.leans]").split("[weights.leans]")[0]):
        with pytest.raises(InputError, match=r"stops\.end\.load: `mass` needs a `height`"):
            height("", weights)


def test_a_twin_weighs_what_its_original_does_on_the_other_side():
    text = POST.replace(
        "[parts.arm]",
        '[mirror]\nleft = "right"\n[parts.bag_left]\n'
        "shapes = [{ box = [0, 80, 20], size = [10, 20, 30] }]\n[parts.arm]",
    )
    text = text.replace("[joints]", '[joints]\nsewn_left = { bolted = ["frame", "bag_left"] }')
    text += '[weights]\nmaterial = "steel"\n[weights.parts]\nbag_left = { material = "lead" }\n'
    told = {one.part: one for one in assembly.weights(read(text)).parts}
    assert told["bag_right"].mass_kg == told["bag_left"].mass_kg == pytest.approx(11.3 * 0.006)
    assert told["bag_right"].centre == pytest.approx((0, -80, 20))


FAULTS = [
    ('material = "stele"', "the density of `stele` is not known here; known are `steel`"),
    ("[weights.parts]\nframe = { mass = 1, density = 2 }", "a weight is one of `material`, `density` and `mass`"),
    ("[weights.parts]\nfrome = { mass = 1 }", "unknown part `frome`; the nearest of the parts is `frame`"),
    ("[weights.parts]\nframe = { mass = -1 }", "-1 kg is not above 0"),
    ('[weights.lean]\ndrive = "tilt"\nline = [[0, 0, 0], [0, 0, 0]]', "its two points are the same place"),
    ('[weights.lean]\ndrive = "tolt"\nline = [[0, 0, 0], [1, 0, 0]]', "unknown drive `tolt`"),
    ("[weights.contact]\nleft = [[0, 0, 0]]", "a contact line leads through two points"),
    ("[weights.contact]\nleft = [[0, 0, 0], [0, 0, 0]]", "its two points are the same place"),
    ('[weights.carried]\nload = { on = "nobody", mass = 1, at = [0, 0, 0] }', "unknown part `nobody`"),
    ("mass = 3", "weights has no key `mass`"),
]


@pytest.mark.parametrize(("table", "told"), FAULTS, ids=[told[:32] for _, told in FAULTS])
def test_a_faulty_weight_is_told_in_one_line(table, told):
    with pytest.raises(InputError) as caught:
        read(f"{POST}[weights]\n{table}\n")
    assert told in str(caught.value)
    assert all(fault.line for fault in caught.value.faults)


@pytest.fixture
def said(tmp_path, capsys):
    def asked(text, *arguments):
        path = tmp_path / "post.toml"
        path.write_text(text, encoding="utf-8")
        status = main(["weights", str(path), *arguments])
        out, err = capsys.readouterr()
        return status, " ".join(out.split()), err

    return asked


def test_one_screen_says_what_it_weighs_and_how_it_leans(said):
    status, told, _ = said(POST + LEANING)
    assert status == 0
    for text in (
        "100.00 kg in all, its centre at [0.0, 0.0, 600.0] mm with all drives at 0",
        "y: rightmost −385.7 at tilt +40°; leftmost 385.7 at tilt −40°",
        "102.2 at +10°; 201.3 at +20°; 294.3 at +30°",
        "at 5 m/s in a bend of 6 m it is balanced at 23.01° of lean",
        "left: 300.0 mm inside with all drives at 0, 600.0 mm above it, so it turns over at 0.50 g across it",
        "TURNS OVER at −30°",
        "have someone competent check",
    ):
        assert text in told, text


def test_a_part_without_a_mass_is_named_and_leaves_it_undecided(said):
    status, told, _ = said(POST + "[weights.parts]\narm = { mass = 100 }\n")
    assert status == 3
    assert told.startswith("UNDECIDED: 100.00 kg in all")
    assert "Not in it, for the file says neither material nor mass: frame" in told
    status, told, _ = said(POST + "[weights.parts]\narm = { mass = 100 }\n", "--json")
    assert json.loads(told)["unknown"] == ["frame"]


def test_a_file_that_says_nothing_of_weights_is_told_how(said):
    status, _, told = said(POST)
    assert status == 2
    assert "the file says nothing of weights; write [weights] into it" in told


def test_a_sweep_and_its_comparison_know_the_weights():
    machine = read(POST + '[weights]\nmaterial = "steel"\n')
    swept = assembly.sweep(machine, effort=assembly.Effort(decide_only=True)).record
    assert swept.weight.parts == {"frame": pytest.approx(6.4056), "arm": pytest.approx(7.85)}
    told = [getattr(block, "text", "") for block in sweep_blocks(swept)]
    assert any(text.startswith("Weights: 14.26 kg in all, its centre at [0.0, 0.0, 353.5] mm") for text in told)
    heavier = replace(swept, weight=replace(swept.weight, mass_kg=15.0, parts={**swept.weight.parts, "arm": 8.6}))
    found = compare(swept, heavier, shrank_mm=0.5, told=("before", "now"))
    told = [getattr(block, "text", "") for block in compare_blocks(found)]
    assert "weight of all together: 14.26 kg → 15.00 kg" in told
    assert "weight of arm: 7.85 kg → 8.60 kg" in told


def test_it_turns_over_about_the_lines_between_its_wheels_contacts():
    """Closed form: leaned by 25 degrees the centre goes (300 + 180) sin 25 aside of where the tyres touch.

    They touch 400 apart and 1000 ahead of the rear; the centre lies 400 behind the front, so 120 mm from either line
    across, times cos(atan(200 / 1000)).
    """
    weights = "[weights.carried]\nload = { on = 'frame', mass = 100, at = [-400, 0, 500] }\n"
    record = assembly.weights(read_wheels(parallelogram_text() + weights))
    found = {one.line: one for one in record.on_road}
    share, aside = cos(atan(0.2)), 480 * sin(radians(25))
    assert set(found) == {"wheel_left – wheel_right", "wheel_left – rear", "rear – wheel_right"}
    for line, tilt in (("wheel_left – rear", 25), ("rear – wheel_right", -25)):
        one = found[line]
        assert (one.inside_mm, one.height_mm) == pytest.approx((120 * share, 500), abs=1e-6)
        assert one.least_mm == pytest.approx((120 - aside) * share, abs=1e-6)
        assert abs(one.at["tilt"]) == abs(tilt)
    assert found["wheel_left – wheel_right"].least_mm == pytest.approx(400, abs=1e-6)
    blocks = weights_blocks(record, "swingroom weights front.toml")
    told = "\n".join(block.text for block in blocks if isinstance(block, Line))
    assert "117.7 mm inside with all drives at 0, 500.0 mm above the road; least −81.2" in told
    assert "TURNS OVER" in told
