"""Pieces of cut solids that are thinner than the facets are true: none is left out without a word."""

from math import cos, pi, sin

import numpy as np
import pytest
from plain_distances import to_triangles
from plain_meshes import cube
from tries import first

from assembly.errors import InputError, ShapeError
from assembly.geometry.lost_pieces import cut_soundly
from assembly.geometry.mesh import Mesh
from assembly.geometry.shapes import box, cone, ring, rod, sphere, tube
from assembly.geometry.solids import difference
from assembly.model.reader import machine_from_text

RADIUS = 20.0
BAR = rod([(0, 0, 0), (100, 0, 0)], diameter=2 * RADIUS)
FACETS = (len(BAR.faces) + 4) // 4
HALF_STEP = pi / FACETS
PLATE = box((0, 0, 0), (60, 40, 10))


def slot(lip, turn, length=40):
    """A tool ``length`` mm long that takes from the bar all but a lip of height ``lip`` at the angle ``turn``."""
    up = np.array([0.0, cos(turn), sin(turn)])
    vertices = cube(1)[0] * (length, 200, 200) + (50, 0, 0)
    frame = np.array([[1.0, 0, 0], up, [0, -up[2], up[1]]])
    return Mesh(vertices @ frame + (RADIUS - lip - 100) * up, cube(1)[1])


def test_the_bar_is_drawn_with_as_many_facets_as_taken():
    """Closed form: a polygon of n sides within a circle sags by r(1 - cos(π/n))."""
    assert BAR.surface_error == pytest.approx(RADIUS * (1 - cos(HALF_STEP)))


@pytest.mark.parametrize("share", [0.1, 0.5, 0.95])
def test_a_lip_that_vanishes_in_the_middle_of_a_facet_is_refused(share):
    """Closed form: a lip lower than the sag lies wholly beyond the facet, which is at r cos(π/n): 20 mm are lost."""
    lip = share * BAR.surface_error
    plain = difference(BAR, [slot(lip, HALF_STEP)])
    ends = plain.vertices[:, 0]
    assert not ((ends > 30 + 1e-6) & (ends < 70 - 1e-6)).any()
    assert plain.surface_error < 0.1, "the plain cut says nothing of a lip that reaches 20 mm from its facets"
    with pytest.raises(
        ShapeError, match=r"leave a piece near \(50, .*too thin for the facets, which are true to 0\.019"
    ):
        cut_soundly(BAR, [slot(lip, HALF_STEP)])


@pytest.mark.parametrize(("lip", "turn"), [(0.005, 0.0), (0.05, HALF_STEP), (0.5, 0.3), (-0.5, HALF_STEP)])
def test_a_lip_that_the_facets_show_and_one_that_is_cut_through_are_left_as_they_are(lip, turn):
    kept = cut_soundly(BAR, [slot(lip, turn)])
    assert kept.surface_error == difference(BAR, [slot(lip, turn)]).surface_error


def test_the_error_is_widened_where_what_is_lost_is_small():
    """Closed form: in a slot 0.3 mm long the lip's middle is 0.15 mm from either side; the lip is the true solid's."""
    tool = slot(0.01, HALF_STEP, length=0.3)
    tip = (50.0, RADIUS * cos(HALF_STEP), RADIUS * sin(HALF_STEP))
    far = float(to_triangles(np.array([tip]), difference(BAR, [tool])).max())
    assert far == pytest.approx(0.15, abs=0.002)
    assert difference(BAR, [tool]).surface_error < far <= cut_soundly(BAR, [tool]).surface_error <= 0.5


def true_wall(radius, off):
    """Points of the bar's round that a bore of that radius, ``off`` mm aside, leaves, and the edges where they cross.

    Closed form: two circles cross at y = (d² + r² - q²)/2d.
    """
    angle = np.linspace(-pi, pi, 360)
    y, z = RADIUS * np.cos(angle), RADIUS * np.sin(angle)
    crossing = (off**2 + RADIUS**2 - radius**2) / (2 * off)
    if abs(crossing) < RADIUS:
        edge = np.sqrt(RADIUS**2 - crossing**2)
        y, z = np.append(y, [crossing, crossing]), np.append(z, [edge, -edge])
    left = np.hypot(y - off, z) >= radius - 1e-9
    return np.column_stack([np.full(left.sum(), 50.0), y[left], z[left]])


@pytest.mark.parametrize("radius", [10.0, 19.0, 19.9])
@pytest.mark.parametrize("poke", first([-0.005, 0.002, -0.05, -0.002, 0.01], 2))
def test_a_bore_that_runs_along_the_round_is_true_to_what_is_told(radius, poke):
    """A wall of -poke mm, or a slit where the bore breaks through: the rounds run along each other, nearly tangent."""
    off = RADIUS - radius + poke
    turned = (0, -sin(HALF_STEP / 2), cos(HALF_STEP / 2))
    bore = rod([(-5, off, 0), (105, off, 0)], diameter=2 * radius, up=turned, facet_error=0.1)
    left = cut_soundly(BAR, [bore])
    assert to_triangles(true_wall(radius, off), left).max() <= left.surface_error + 1e-9


@pytest.mark.parametrize("depth", first([0.1, 0.02, 0.005], 2))
@pytest.mark.parametrize("lean", [0.0, 0.5])
def test_two_rounds_that_hardly_cross_are_true_to_what_is_told(depth, lean):
    """Closed form: a tool across the bar, its axis beside it: (q cos t, off + q sin t, ±√(r² - y²)) where |y| < r."""
    off = 2 * RADIUS - depth
    turned = (cos(lean * HALF_STEP), sin(lean * HALF_STEP), 0)
    tool = rod([(50, off, -50), (50, off, 50)], diameter=2 * RADIUS, up=turned, facet_error=0.005)
    reach = np.sqrt(2 * depth / RADIUS)
    angle = np.linspace(-reach, reach, 201)
    x, y = 50 + RADIUS * np.sin(angle), off - RADIUS * np.cos(angle)
    x, y = x[y < RADIUS], y[y < RADIUS]
    z = np.sqrt(RADIUS**2 - y**2)
    edge = np.concatenate([np.column_stack([x, y, z]), np.column_stack([x, y, -z])])
    left = cut_soundly(BAR, [tool])
    assert to_triangles(edge, left).max() <= left.surface_error + 1e-9


def test_the_reader_names_the_shape_and_what_to_do(tmp_path):
    up = [0.0, -sin(HALF_STEP), cos(HALF_STEP)]
    low = -100 + RADIUS * cos(HALF_STEP) + 0.005
    text = (
        'format = 1\nname = "bar"\n[parts.bar]\nfixed = true\nshapes = [\n'
        f'{{ name = "lip", rod = [[0, 0, 0], [100, 0, 0]], diameter = 40, up = {up},\n'
        f"cut = [{{ box = [50, 0, {low}], size = [40, 200, 200] }}] }},\n]\n"
    )
    with pytest.raises(
        InputError, match=r"shapes\[0\].*leave a piece near .*; cut deeper.*smaller facet_error"
    ) as told:
        machine_from_text(text, tmp_path)
    assert len(told.value.faults) == 1
    finer = machine_from_text(text.replace("format = 1", "format = 1\nfacet_error = 0.001"), tmp_path)
    assert finer.parts["bar"].shapes[0].mesh.surface_error < 0.5


@pytest.mark.parametrize("made", first([
    lambda: (PLATE, [rod([(x, 0, -20), (x, 0, 20)], diameter=9) for x in (-20, 0, 20)]),
    lambda: (PLATE, [rod([(0, 0, -5), (0, 0, 5)], diameter=9)]),
    lambda: (PLATE, [rod([(0, -30, 0.995), (0, 30, 0.995)], diameter=8)]),
    lambda: (tube([(0, 0, 0), (200, 0, 0)], diameter=40, wall=3),
             [rod([(x, 0, -30), (x, 0, 0)], diameter=9) for x in range(20, 200, 20)]),
    lambda: (tube([(0, 0, 0), (200, 0, 0)], diameter=40, wall=3), [rod([(-5, 0, 0), (205, 0, 0)], diameter=34)]),
    lambda: (rod([(0, 0, 0), (100, 0, 0), (100, 100, 0)], diameter=30, bend=60),
             [rod([(-5, 0, 0), (60, 0, 0)], diameter=24)]),
    lambda: (ring((0, 0, 0), (1, 0, 0), diameter=200, thickness=30), [rod([(0, 0, 0), (0, 0, 300)], diameter=8)]),
    lambda: (BAR, [rod([(50, 0, -30), (50, 0, 30)], diameter=40)]),
    lambda: (PLATE, [cone([(0, 0, -6), (0, 0, 0)], [8, 8]), cone([(0, 0, 0), (0, 0, 6)], [8, 20])]),
    lambda: (sphere((0, 0, 0), 40), [rod([(-5, 0, -30), (-5, 0, 30)], diameter=10)]),
], 5), ids=["bores", "flush bore", "wall of 0.005 mm under a bore", "nine holes in a tube", "tube bored again",
        "bent rod bored", "valve hole", "equal bars crossing", "drill and countersink end to end",
        "ball drilled"])  # fmt: skip
def test_ordinary_cuts_are_neither_refused_nor_widened(made):
    body, tools = made()
    plain, sound = difference(body, tools), cut_soundly(body, tools)
    assert sound.surface_error == plain.surface_error
    assert np.array_equal(sound.vertices, plain.vertices)


def test_random_sawn_and_drilled_rods_are_neither_refused_nor_widened():
    rng = np.random.default_rng(5)
    for _ in range(20):
        r, error = rng.uniform(5, 30), rng.choice([0.005, 0.02, 0.1])
        bar = rod([(-80, 0, 0), (80, 0, 0)], diameter=2 * r, facet_error=error)
        q, lean = rng.uniform(0.2, 0.9) * r, rng.uniform(-40, 40)
        off = rng.uniform(-0.9, 0.9) * (r - q)
        drill = rod([(-lean, off, -90), (lean, off, 90)], diameter=2 * q, facet_error=error)
        assert cut_soundly(bar, [drill]).surface_error == difference(bar, [drill]).surface_error
