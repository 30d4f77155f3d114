"""Sizes and places that tell of a wrong unit."""

import numpy as np
import pytest
from plain_meshes import cube

from assembly.geometry.mesh import Mesh
from assembly.geometry.sizes import size_findings

POINTS = np.array([[0.0, 0, 0], [600, 0, 0], [300, 200, 100]])


def meshes(**edges):
    return {name: Mesh(*cube(edge)) for name, edge in edges.items()}


def test_a_cube_of_20_among_points_600_apart_is_taken_and_one_of_20_thousandths_refused():
    """TC-07a, worked example, own model: never clear without a question."""
    assert size_findings(meshes(bracket=20), POINTS) == []
    (doubt,) = size_findings(meshes(bracket=0.02), POINTS)
    assert (doubt.name, doubt.fault) == ("bracket", True)
    assert "smaller than the span of the points" in doubt.message
    assert "is the file in metres?" in doubt.message
    (doubt,) = size_findings(meshes(bracket=20_000), POINTS)
    assert doubt.fault
    span, points = 20_000 * 3**0.5, (600**2 + 200**2 + 100**2) ** 0.5
    assert f"{span / points:.4g} times larger than the span of the points" in doubt.message


def test_a_part_1000_times_smaller_than_its_neighbours_is_named_and_the_neighbours_are_not():
    doubts = size_findings(meshes(arm=200, upright=150, bush=0.18, rod=230), POINTS)
    assert [(doubt.name, doubt.fault) for doubt in doubts] == [("bush", True)]
    assert "1111 times smaller than the rest" in doubts[0].message


def test_a_part_1000_times_larger_is_named_without_points_too():
    doubts = size_findings(meshes(arm=200, upright=180, bush=200_000, rod=230))
    assert [(doubt.name, doubt.fault) for doubt in doubts] == [("bush", True)]
    assert "1000 times larger than the rest" in doubts[0].message


def test_points_tell_which_of_two_parts_is_the_odd_one_out():
    doubts = size_findings(meshes(frame=500, bolt=0.05), POINTS)
    assert [doubt.name for doubt in doubts] == ["bolt"]
    assert {doubt.name for doubt in size_findings(meshes(frame=500, bolt=0.05))} == {"frame", "bolt"}


@pytest.mark.parametrize(("factor", "unit"), [(25.4, "inches"), (10, "centimetres"), (24.2, "inches"), (10.4, "cent")])
def test_a_size_off_by_a_unit_is_a_question_only(factor, unit):
    (doubt,) = size_findings(meshes(arm=254, upright=254, rod=254, wheel=254 / factor), POINTS)
    assert (doubt.name, doubt.fault) == ("wheel", False)
    assert f"is the file in {unit}" in doubt.message


def test_other_sizes_are_not_remarked_on():
    assert size_findings(meshes(arm=254, upright=120, rod=400, pin=16, shim=4), POINTS) == []
    assert size_findings({}, POINTS) == []
    assert size_findings(meshes(arm=254)) == []


def test_a_stated_unit_turns_a_fault_into_a_note_and_silences_the_question():
    odd = meshes(arm=254, upright=254, rod=254, tiny=0.254, wheel=25.4)
    assert {(doubt.name, doubt.fault) for doubt in size_findings(odd, POINTS)} == {("tiny", True), ("wheel", False)}
    stated = size_findings(odd, POINTS, stated={"tiny", "wheel"})
    assert [(doubt.name, doubt.fault) for doubt in stated] == [("tiny", False)]


def test_a_part_far_away_is_told_with_its_distance():
    far = {**meshes(arm=200, upright=180, rod=150), "bracket": Mesh(*cube(100, (0, 0, -15_050)))}
    (doubt,) = size_findings(far, POINTS)
    assert (doubt.name, doubt.fault) == ("bracket", False)
    assert "lies 1.5e+04 mm away" in doubt.message
    assert [doubt.name for doubt in size_findings(far)] == ["bracket"]
    near = {**meshes(arm=200, upright=180, rod=150), "bracket": Mesh(*cube(100, (0, 0, -5_000)))}
    assert size_findings(near, POINTS) == []


def test_ten_metres_are_far_for_a_machine_of_any_size():
    parts = {**meshes(arm=200, upright=180, rod=150), "bracket": Mesh(*cube(100, (0, 0, -12_050)))}
    assert [doubt.name for doubt in size_findings(parts, POINTS * 3)] == ["bracket"]
    assert size_findings({**parts, "bracket": Mesh(*cube(100, (0, 0, -9_050)))}, POINTS * 3) == []


def test_an_empty_mesh_is_passed_over():
    assert size_findings({**meshes(arm=200), "nothing": Mesh(np.empty((0, 3)), np.empty((0, 3)))}, POINTS) == []
