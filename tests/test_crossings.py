"""Surfaces that run through themselves, and sheets without thickness: refused with a place, touches let be."""

import itertools
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from plain_meshes import ball, box, cube, prism, signed_volume, together, volume

from assembly import load
from assembly.errors import InputError
from assembly.geometry import meshcheck, self_union, solids
from assembly.geometry.crossings import meetings
from assembly.geometry.inside import winding_number
from assembly.geometry.mesh import Mesh, joined
from assembly.geometry.meshcheck import checked_mesh
from assembly.geometry.stl import parse_stl, stl_bytes

CASES = Path(__file__).parent / "cases" / "files"
WITHOUT_THICKNESS = "facets of a sheet or wire without thickness"
THROUGH_ITSELF = "runs through itself: two of its faces cross at"


def refusal_of(solid):
    with pytest.raises(InputError) as refusal:
        checked_mesh(*solid, "arm.stl")
    return str(refusal.value)


def sheet(*corners):
    """Four corners drawn from both sides with the same diagonal."""
    front = [(0, 1, 2), (0, 2, 3)]
    return np.array(corners, dtype=float), np.array(front + [facet[::-1] for facet in front])


@pytest.mark.parametrize(("case", "told"), [("fin", f"has 2 {WITHOUT_THICKNESS}"), ("bow", THROUGH_ITSELF)])
def test_a_machine_with_such_a_file_is_refused_by_name(case, told):
    """The fin was taken out as a repair and a box that goes 17 mm through it was CLEAR."""
    with pytest.raises(InputError) as refusal:
        load(CASES / f"{case}.toml")
    assert f"`{case}.stl`: {told}" in str(refusal.value)


def test_a_fin_that_single_precision_leaves_without_thickness_is_refused():
    """Half of 1e-7 mm is below a step of single precision at 5 mm, 4.8e-7 mm: both sheets come to lie on each other."""
    fin = box((30, 10, 1e-7), (25, 0, 5))
    data = stl_bytes(Mesh(*together(cube(20), fin)))
    corners = parse_stl(data, "arm.stl").reshape(-1, 3)
    assert WITHOUT_THICKNESS in refusal_of((corners, np.arange(len(corners)).reshape(-1, 3)))


@pytest.mark.parametrize(
    "extra",
    [
        sheet((50, 0, 0), (60, 0, 0), (60, 9, 0), (50, 9, 0)),
        sheet((5, -5, 0), (30, -5, 0), (30, 5, 0), (5, 5, 0)),
        sheet((-30, -30, 0), (30, -30, 0), (30, 30, 0), (-30, 30, 0)),
        sheet((10, -10, 10), (40, -10, 10), (40, 10, 10), (10, 10, 10)),
        (np.array([(10.0, 10, 10), (40, 10, 10)]), np.array([(0, 0, 1), (0, 1, 1)])),
        (np.array([(0.0, 0, 0), (40, 0, 0)]), np.array([(0, 0, 1)])),
    ],
    ids=["apart", "half inside", "round the cube", "level with a side", "wire", "wire from inside"],
)
def test_what_sticks_out_without_thickness_is_refused(extra):
    assert WITHOUT_THICKNESS in refusal_of(together(cube(20), extra))


def test_a_sheet_within_the_solid_is_nothing_and_goes():
    within = sheet((-5, -5, 1), (5, -5, 1), (5, 5, 1), (-5, 5, 1))
    mesh, findings = checked_mesh(*together(cube(20), within), "arm.stl")
    assert mesh.volume == pytest.approx(8000)
    assert [finding.message for finding in findings] == ["removed facets: 4 there twice or lying back to back"]


def bent_band(corners, width, thick):
    """A band of a square section (y across) along a way in the plane y = 0, closed at its ends; sides may cross."""
    corners = np.asarray(corners, dtype=float)
    ahead = np.gradient(corners, axis=0)
    ahead /= np.linalg.norm(ahead, axis=1, keepdims=True)
    aside = np.column_stack([-ahead[:, 2], ahead[:, 1], ahead[:, 0]]) * thick / 2
    across = np.array([0, width / 2, 0])
    rings = np.stack([corners - aside - across, corners + aside - across, corners + aside + across,
                      corners - aside + across], axis=1)  # fmt: skip
    n = len(corners)
    faces = [(0, 2, 1), (0, 3, 2), (4 * n - 4, 4 * n - 3, 4 * n - 2), (4 * n - 4, 4 * n - 2, 4 * n - 1)]
    for i, k in itertools.product(range(n - 1), range(4)):
        a, b = 4 * i + k, 4 * i + (k + 1) % 4
        faces += [(a, b, b + 4), (a, b + 4, a + 4)]
    return rings.reshape(-1, 3), np.array(faces)


LOOP = [(-30, 0, 0), (-15, 0, 0), (0, 0, 0), (15, 0, 0), (30, 0, 0), (30, 0, 30), (0, 0, 30), (0, 0, 15), (0, 0, 0),
        (0, 0, -15), (0, 0, -30)]  # fmt: skip
"""A way that comes back across its own beginning, at (0, 0, 0)."""


def place_in(told):
    return [float(value) for value in told.partition(" at (")[2].partition(")")[0].split(",")]


@pytest.mark.parametrize("turned", [0.0, 0.7])
def test_a_band_that_runs_through_itself_is_united_and_it_is_said(turned):
    """Closed form: the two runs have a block of 4 × 6 × 4 mm in common, which the drawn shell counts twice."""
    vertices, faces = bent_band(LOOP, 6, 4)
    turn = np.array([[np.cos(turned), -np.sin(turned), 0], [np.sin(turned), np.cos(turned), 0], [0, 0, 1]])
    mesh, findings = checked_mesh(vertices @ turn.T, faces, "arm.stl")
    drawn = abs(signed_volume((vertices, faces)))
    assert mesh.volume == pytest.approx(drawn - 4 * 6 * 4, abs=1e-6)
    assert volume(mesh) == pytest.approx(mesh.volume)
    told = findings[-1]
    assert (told.kind, len(findings)) == ("repaired", 2)  # this band was inside out as well
    assert "united with itself, which was proven: volume 3834.1014" in told.message
    assert "became 3738.1014 mm³" in told.message
    assert np.linalg.norm(place_in(told.message)) <= np.linalg.norm((2, 3, 2)) + 1e-6
    assert mesh.surface_error == pytest.approx(self_union.STEP)
    inside = winding_number(np.array([(0, 0, 0), (0, 0, 20), (20, 0, 0), (15, 0, 15)]) @ turn.T, mesh)
    assert np.rint(inside).tolist() == [1, 1, 1, 0]


def test_rings_that_show_in_the_drawn_facets_alone_are_not_forgotten(monkeypatch):
    """Cutting and uniting draws facets anew; a round taken for flats would make clearances too large."""
    drawn = len(bent_band(LOOP, 6, 4)[1])
    estimates = {True: SimpleNamespace(largest=0.05), False: SimpleNamespace(largest=0.02)}
    monkeypatch.setattr(meshcheck, "estimated_surface_error", lambda mesh: estimates[len(mesh.faces) == drawn])
    mesh, _ = checked_mesh(*bent_band(LOOP, 6, 4), "arm.stl")
    assert mesh.surface_error == pytest.approx(0.05 - 0.02 + self_union.STEP)


def test_a_band_that_comes_by_three_times_is_refused_at_the_place():
    """Where it goes round a point three times nobody can say what was meant."""
    thrice = [*LOOP, (0, 0, -45), (-60, 0, -45), (-60, 0, 1), (-40, 0, 1), (0, 0, 1), (60, 0, 1)]
    told = refusal_of(bent_band(thrice, 6, 4))
    assert THROUGH_ITSELF in told
    assert np.linalg.norm(place_in(told)) < 70


def facets_less(mesh):
    return Mesh(mesh.vertices, mesh.faces[:-1])


def a_wall_moved(mesh):
    return Mesh(np.where(mesh.vertices == mesh.vertices.max(), mesh.vertices + 0.001, mesh.vertices), mesh.faces)


def with_a_block_beside(mesh):
    return joined([mesh, Mesh(*box((4, 4, 4), (60, 0, 0)))])


def with_a_block_cut_out(mesh):
    hollow = box((1, 1, 1), (20, 0, 0))
    return joined([mesh, Mesh(hollow[0], hollow[1][:, ::-1])])


def a_run_lost(mesh):
    return solids.intersection(mesh, Mesh(*box((200, 200, 60), (0, 0, 10))))


@pytest.mark.parametrize("damage", [facets_less, a_wall_moved, with_a_block_beside, with_a_block_cut_out, a_run_lost])
def test_what_the_library_makes_wrong_of_it_is_not_taken(monkeypatch, damage):
    whole = solids.union
    monkeypatch.setattr(self_union, "union", lambda pieces: damage(whole(pieces)))
    assert THROUGH_ITSELF in refusal_of(bent_band(LOOP, 6, 4))


def test_a_shell_of_too_many_facets_to_prove_it_is_refused(monkeypatch):
    monkeypatch.setattr(self_union, "MOST_FACETS", 80)
    assert THROUGH_ITSELF in refusal_of(bent_band(LOOP, 6, 4))


def test_a_shell_pushed_through_its_other_side_is_refused():
    """One corner of a ball of 10 mm drawn 3 mm out at the far side: every facet is still paired with its neighbours."""
    vertices, faces = ball(10, 2)
    vertices[0] = (-13, 0, 0)
    assert THROUGH_ITSELF in refusal_of((vertices, faces))


def gapped_ring(gap):
    """A ring of a square section, cut through at one place with a slit of ``gap`` mm, its outline drawn by hand."""
    outline = [(-gap / 2, -5), (-gap / 2, -10), (-10, -10), (-10, 10), (10, 10), (10, -10), (gap / 2, -10),
               (gap / 2, -5), (5, -5), (5, 5), (-5, 5), (-5, -5)]  # fmt: skip
    n = len(outline)
    flat = np.array(outline)
    vertices = np.concatenate([np.column_stack([flat, np.full(n, z)]) for z in (0.0, 8.0)])
    cap = [(0, 1, 2), (0, 2, 11), (11, 2, 3), (11, 3, 10), (10, 3, 4), (10, 4, 9), (9, 4, 5), (9, 5, 8), (8, 5, 6),
           (8, 6, 7)]  # fmt: skip
    faces = [*cap, *((c + n, b + n, a + n) for a, b, c in cap)]
    for i in range(n):
        j = (i + 1) % n
        faces += [(j, i, i + n), (j, i + n, j + n)]
    return vertices, np.array(faces)


@pytest.mark.parametrize("gap", [1.0, 2e-7, -2e-7])
def test_a_slit_that_rounding_closes_is_a_touch_and_passes(gap):
    """Closed form: the ring's section of 20² less 10² mm, less the slit, times 8 mm."""
    solid = gapped_ring(gap)
    mesh, _ = checked_mesh(*solid, "arm.stl")
    assert mesh.volume == pytest.approx(abs(signed_volume(solid))) == pytest.approx((300 - 5 * gap) * 8)


def test_a_slit_whose_sides_run_into_each_other_is_closed():
    """Closed form: a ring of 20² less 10² mm without a slit, 8 mm high."""
    mesh, findings = checked_mesh(*gapped_ring(-0.01), "arm.stl")
    assert mesh.volume == pytest.approx(300 * 8, abs=1e-6)
    assert findings[-1].message.endswith("counted twice, became 2400 mm³")


def test_bodies_that_run_into_each_other_are_no_fault():
    star = prism([(10, 0), (2, 2), (0, 10), (-2, 2), (-10, 0), (-2, -2), (0, -10), (2, -2)], 5)
    assert checked_mesh(*together(cube(15), star), "arm.stl")[1] == []


def _pierces(start, end, facet):
    """Whether a segment meets a triangle in one inner point of both, in exact fractions."""

    def volume(a, b, c, d):
        u, v, w = ([q - p for p, q in zip(a, other, strict=True)] for other in (b, c, d))
        return (u[0] * (v[1] * w[2] - v[2] * w[1]) - u[1] * (v[0] * w[2] - v[2] * w[0])
                + u[2] * (v[0] * w[1] - v[1] * w[0]))  # fmt: skip

    if volume(start, *facet) * volume(end, *facet) >= 0:
        return False
    sides = [volume(start, end, facet[k], facet[(k + 1) % 3]) for k in range(3)]
    return all(side > 0 for side in sides) or all(side < 0 for side in sides)


def test_facets_that_cross_are_found_as_by_exact_fractions_pair_by_pair():
    vertices = np.random.default_rng(5).uniform(-5, 5, (40, 3)).repeat(3, axis=0)
    vertices += np.random.default_rng(6).uniform(-4, 4, vertices.shape)
    faces = np.arange(120).reshape(-1, 3)
    exact = [[tuple(map(Fraction, point)) for point in facet] for facet in vertices[faces].tolist()]
    crossing = {
        (i, j)
        for i, j in itertools.combinations(range(40), 2)
        if any(
            _pierces(one[k], one[k - 1], other)
            for one, other in ((exact[i], exact[j]), (exact[j], exact[i]))
            for k in range(3)
        )
    }
    found = meetings(vertices, faces)
    assert len(crossing) > 10
    assert set(map(tuple, found.pairs.tolist())) == crossing
    assert (found.depths > 0).all()
