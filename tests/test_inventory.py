"""What a file holds, counted by hand."""

import pytest
from small_machines import GATE_WITHOUT_DRIVE, read, slider, trammel

from assembly.studies.inventory import inventory


def test_parts_are_listed_with_their_figures():
    parts = {part.part: part for part in inventory(read(slider())).parts}
    assert list(parts) == ["base", "sledge", "lug"]
    assert (parts["base"].fixed, parts["base"].triangles, parts["base"].size_mm) == (True, 12, (20, 20, 20))
    assert parts["sledge"].moves_with == ("lug",)
    assert [(shape.name, shape.triangles) for shape in parts["lug"].shapes] == [("ear", 12)]
    assert parts["lug"].surface_error_mm == 0


def test_loop_is_named_and_closes():
    listed = inventory(read(trammel()))
    (loop,) = listed.loops
    assert sorted(loop.joints) == ["high_ball", "high_guide", "low_ball", "low_guide"]
    assert loop.miss_mm == pytest.approx(0, abs=1e-9)
    missed = {joint.name for joint in listed.joints if joint.miss_mm is not None}
    assert missed >= {"low_guide", "high_guide", "low_ball", "high_ball"}


def test_freedoms_are_counted_by_rank():
    listed = inventory(read(trammel()))
    # three bodies have 18 freedoms, two slides hold 5 each and two balls 3 each: 2, of which one is the rod's roll
    assert (listed.mobility.freedoms, listed.mobility.counted) == (2, 18 - 5 - 5 - 3 - 3)
    assert [freedom.parts for freedom in listed.freedoms] == [("link",)]


def test_machine_that_cannot_be_swept_is_listed_with_the_reason():
    listed = inventory(read(slider(extra=GATE_WITHOUT_DRIVE)))
    assert "gate" in listed.faults[0]
    assert [(freedom.parts, freedom.held) for freedom in listed.freedoms] == [(("gate",), "not held")]
    assert len(listed.parts) == 4


def test_loop_that_does_not_close_is_listed_with_the_reason():
    points = "points = { foot = [0, 0, 0], top = [0, 0, 100] }"
    text = trammel().replace(
        "[parts.link]", f"[parts.link]\n{points}\nset_length = {{ from = 'foot', to = 'top', is = 90 }}"
    )
    text = text.replace('ball = ["link", "high"]\nat = [0, 0, 100]', 'ball = ["link", "high"]\nat = "top"')
    text = text.replace("[parts.frame]", "[points]\nfoot = [0, 0, 0]\ntop = [0, 0, 100]\n\n[parts.frame]")
    text = text.replace("along = [0, 0, 1]", "along = [1, 0, 0]")
    listed = inventory(read(text))
    assert "misses by 10.00 mm" in listed.faults[0]
    # closed form: 100 mm between the carriages' ends, 90 mm of rod
    assert listed.loops[0].miss_mm == pytest.approx(10, abs=1e-3)
    (ball,) = (joint for joint in listed.joints if joint.name == "high_ball")
    assert ball.miss_mm == pytest.approx(10, abs=1e-3)
