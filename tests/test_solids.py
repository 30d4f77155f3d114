"""Exact unions, cuts and overlaps against closed forms; bad input never becomes an empty solid in silence."""

import math

import numpy as np
import pytest
from plain_meshes import ball, box, cube, cylinder, edge_uses, inward, signed_volume, together, volume

from assembly.errors import ShapeError
from assembly.geometry.mesh import Mesh
from assembly.geometry.solids import difference, intersection, union


def mesh(solid, error=0.0):
    return Mesh(*solid, error)


def is_closed(solid):
    return set(edge_uses(solid.faces).values()) == {2}


def test_boxes_that_overlap_share_one_box_and_fill_the_rest():
    first, second = mesh(box((20, 30, 40))), mesh(box((20, 30, 40), (15, 20, 10)))
    shared = 5 * 10 * 30  # closed form
    assert intersection(first, second).volume == pytest.approx(shared, abs=1e-9)
    assert union([first, second]).volume == pytest.approx(2 * 24000 - shared, abs=1e-9)
    assert difference(first, [second]).volume == pytest.approx(24000 - shared, abs=1e-9)


def test_an_overlap_of_a_millionth_of_a_millimetre_is_found():
    shared = intersection(mesh(cube(20)), mesh(cube(20, (20 - 1e-6, 0, 0))))
    assert shared.volume == pytest.approx(400e-6, rel=1e-6)


def test_two_balls_share_a_lens():
    """Closed form: two spheres of radius R, centres d apart, share π(4R + d)(2R − d)²/12."""
    R, d = 20.0, 22.0
    lens = intersection(mesh(ball(R, 5)), mesh(ball(R, 5, (d, 0, 0))))
    assert lens.volume == pytest.approx(math.pi * (4 * R + d) * (2 * R - d) ** 2 / 12, rel=0.005)
    assert is_closed(lens)


def test_a_ball_cut_from_a_box_leaves_the_box_without_the_faceted_ball():
    sphere = ball(8, 4)
    left = difference(mesh(cube(20)), [mesh(sphere)])
    assert left.volume == pytest.approx(8000 - signed_volume(sphere), abs=1e-8)
    assert signed_volume(sphere) == pytest.approx(4 / 3 * math.pi * 8**3, rel=0.01)


def test_a_rod_through_a_square_tube_claims_its_own_section_times_the_width():
    """C02, worked example, own model: rod r = 8 lowered by 31.8 runs inside the 38.1 square, 251.9 to 290."""
    sides, length, width = 64, 200.0, 38.1
    vertices, faces = cylinder(8, length, sides)
    along_y = np.column_stack([vertices[:, 0], vertices[:, 2] - length / 2, -vertices[:, 1]])
    tube = mesh(box((400, width, width), (0, 0, 290 - width / 2)))
    for lowered, shared in ((0.0, 0.0), (31.8, sides / 2 * 8**2 * math.sin(2 * math.pi / sides) * width)):
        rod = Mesh(along_y + np.array([0, 0, 300 - lowered]), faces)
        assert rod.volume > 0
        assert volume(intersection(rod, tube)) == pytest.approx(shared, abs=1e-7)


def test_a_swallowed_cube_overlaps_with_its_whole_volume():
    """TC-07d, worked example, own model."""
    assert intersection(mesh(cube(40)), mesh(cube(10))).volume == pytest.approx(1000, abs=1e-9)


def test_shells_that_run_into_each_other_count_once():
    part = mesh(together(cube(10), cube(10, (5, 0, 0)), cube(10, (100, 0, 0))))
    assert part.volume == pytest.approx(3000)
    assert volume(part) == pytest.approx(2500, abs=1e-9)
    assert union([part]).volume == pytest.approx(2500, abs=1e-9)
    assert intersection(part, mesh(box((300, 4, 4)))).volume == pytest.approx((15 + 10) * 16, abs=1e-9)
    assert difference(part, [mesh(box((300, 4, 4)))]).volume == pytest.approx(2500 - 25 * 16, abs=1e-9)


def test_a_tool_of_shells_that_run_into_each_other_cuts_once():
    tool = mesh(together(cube(4), cube(4, (2, 0, 0))))
    assert difference(mesh(cube(20)), [tool]).volume == pytest.approx(8000 - 6 * 16, abs=1e-9)


def test_hollows_stay_empty_and_bodies_inside_them_solid():
    hollow = together(cube(40), inward(cube(20)))
    assert volume(mesh(hollow)) == pytest.approx(64000 - 8000, abs=1e-9)
    assert volume(mesh(together(hollow, cube(4)))) == pytest.approx(64000 - 8000 + 64, abs=1e-9)
    assert len(intersection(mesh(hollow), mesh(cube(10))).faces) == 0


def test_hollow_bodies_nest():
    nest = together(cube(40), inward(cube(30)), cube(20), inward(cube(10)))
    assert volume(mesh(nest)) == pytest.approx(64000 - 27000 + 8000 - 1000, abs=1e-9)


def test_a_hollow_of_one_body_is_filled_by_another_that_runs_through_it():
    part = mesh(together(cube(40), inward(cube(20)), box((100, 10, 10))))
    assert volume(part) == pytest.approx(64000 - 8000 + 100 * 100 - 20 * 100, abs=1e-9)


def test_results_are_closed_and_outward():
    cut = difference(mesh(cube(20)), [mesh(ball(8, 3, (10, 3, 1))), mesh(cube(3, (-10, 0, 0)))])
    assert is_closed(cut)
    assert cut.volume > 0


def test_a_union_carries_the_largest_surface_error():
    assert union([mesh(cube(20), 0.3)]).surface_error == 0.3
    assert union([mesh(cube(20), 0.1), mesh(cube(20, (9, 8, 7)), 0.2)]).surface_error == 0.2


def test_the_same_input_gives_the_same_bytes():
    def made():
        return difference(mesh(ball(20, 4)), [mesh(ball(12, 4, (15, 1, 2))), mesh(cylinder(5, 50, 48))])

    first, second = made(), made()
    assert first.vertices.tobytes() == second.vertices.tobytes()
    assert first.faces.tobytes() == second.faces.tobytes()


def test_solids_apart_share_nothing_and_the_empty_solid_can_be_used():
    nothing = intersection(mesh(cube(2)), mesh(cube(2, (9, 0, 0))))
    assert nothing.faces.shape == (0, 3)
    assert volume(nothing) == 0
    assert union([mesh(cube(2)), nothing]).volume == pytest.approx(8)
    assert difference(mesh(cube(2)), []).volume == pytest.approx(8)
    assert len(difference(mesh(cube(2)), [mesh(cube(4))]).faces) == 0
    assert len(union([]).faces) == 0


def _with_nan(solid):
    solid[0][3, 1] = np.nan
    return solid


def _with_turned_facet(solid):
    solid[1][4] = solid[1][4, ::-1]
    return solid


@pytest.mark.parametrize(
    ("broken", "reason"),
    [
        ((cube(20)[0], cube(20)[1][1:]), "not closed"),
        (_with_turned_facet(cube(20)), "do not agree"),
        (_with_nan(cube(20)), "not a finite number"),
        ((cube(20)[0], cube(20)[1] + 1), "does not exist"),
        ((cube(20)[0], cube(20)[1] - 1), "does not exist"),
        (inward(cube(20)), "inside out"),
        (together(cube(20), inward(cube(6, (50, 0, 0)))), "inside out"),
    ],
    ids=["open", "turned facet", "nan", "index too high", "index below zero", "inside out", "one body inside out"],
)
@pytest.mark.parametrize("use", [volume, lambda bad: union([mesh(cube(4)), bad]), lambda bad: difference(bad, []),
                                 lambda bad: difference(mesh(cube(4)), [bad]),
                                 lambda bad: intersection(mesh(cube(4)), bad)],
                         ids=["volume", "union", "difference", "tool", "intersection"])  # fmt: skip
def test_what_encloses_no_volume_is_refused(broken, reason, use):
    with pytest.raises(ShapeError, match=reason):
        use(Mesh(*broken))
