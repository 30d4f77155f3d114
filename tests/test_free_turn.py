"""Loose parts in any orientation: a shape with ``free_turn`` takes all the room of every turn about its line."""

from math import pi, sqrt

import numpy as np
import pytest
from small_machines import HERE
from tolerance_attack import attack, bounds_of, swept

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.distance import CollisionModel, nearest
from assembly.errors import InputError
from assembly.geometry import shapes
from assembly.geometry.inside import contains
from assembly.geometry.mesh import Mesh
from assembly.geometry.rotations import rotation_from_vector, unit
from assembly.kinematics.assembling import assemble
from assembly.model.reader import machine_from_text

TEXT = """
format = 1
name = "Nut"
[dimensions]
flats = {{ value = 13, plus_minus = 0.4 }}
[points]
low = [0, 0, 0]
high = [0, 0, 6.8]
[parts.frame]
fixed = true
shapes = [{{ name = "nut", {shape} }}]
[parts.arm]
shapes = [{{ name = "plate", box = [15, 0, 0], size = [10, 40, 30] }}]
[joints.rail]
slide = ["frame", "arm"]
at = [15, 0, 0]
along = [0, 1, 0]
[drives.push]
slides = {{ rail = 1 }}
range = [-3, 3]
"""
NUT = 'hexagon = ["low", "high"], across_flats = "flats", bore = 8'


def read(shape):
    return machine_from_text(TEXT.format(shape=shape), HERE)


def gap(machine):
    """The distance found as drawn, and by how much facets may be off."""
    mechanism = assemble(machine)
    pairs = gather_pairs(machine, mechanism.bodies)
    (pair,) = pairs.checked
    one, other = (pairs.solids[trim] for trim in (pair.trim_a, pair.trim_b))
    found = nearest(CollisionModel(one), CollisionModel(other), np.eye(4), np.eye(4)).distance
    return found, one.mesh.surface_error + other.mesh.surface_error


def test_a_nut_is_checked_by_its_corners_and_not_by_the_flat_that_is_drawn():
    """Closed form: as drawn a flat is 13/2 from the line, a corner 13/√3 = 1.1547 · 13/2; the plate stands at 10."""
    assert gap(read(NUT))[0] == pytest.approx(10 - 13 / 2)
    found, error = gap(read(f"{NUT}, free_turn = true"))
    assert 10 - 13 / sqrt(3) - error <= found <= 10 - 13 / sqrt(3) + error
    proven = bounds_of(swept(read(f"{NUT}, free_turn = true")))["frame", "arm"]
    worst = 10 - 13.4 / sqrt(3)
    assert worst - 0.1 <= proven <= worst + 1e-6


def test_no_turn_of_the_nut_comes_nearer_than_is_proven():
    free, turned = read(f"{NUT}, free_turn = true"), read(NUT)
    proven = bounds_of(swept(free))["frame", "arm"]
    nut = turned.parts["frame"].shapes[0].mesh
    for angle in np.linspace(0, pi / 3, 25):
        corners = nut.vertices @ rotation_from_vector(np.array([0.0, 0.0, angle])).T
        assert 10 - corners[:, 0].max() >= proven
    assert attack(free, swept(free), 3, 1) >= 0


def test_the_bore_stays_open():
    mesh = read(f"{NUT}, free_turn = true").parts["frame"].shapes[0].mesh
    radii = np.hypot(mesh.vertices[:, 0], mesh.vertices[:, 1])
    assert radii.min() == pytest.approx(4)
    assert mesh.vertices[:, 2].min() == pytest.approx(0)
    assert mesh.vertices[:, 2].max() == pytest.approx(6.8)


def test_a_bar_that_may_roll_takes_its_diagonal():
    found, error = gap(read('rod = ["low", "high"], square = 8, free_turn = true'))
    assert found == pytest.approx(10 - 4 * sqrt(2), abs=error)
    assert gap(read('rod = ["low", "high"], square = 8'))[0] == pytest.approx(6)


def test_a_box_turns_about_a_line_that_is_given():
    """Closed form: a corner at (3, 2) from a line at x = -2 is sqrt(5² + 2²) from it."""
    shape = "box = [0, 0, 0], size = [6, 4, 5], free_turn_about = [[-2, 0, 0], [-2, 0, 1]]"
    found, error = gap(read(shape))
    assert found == pytest.approx(12 - sqrt(29), abs=error)


def test_every_turn_of_a_lopsided_solid_lies_inside():
    """Points of a solid, turned at random, against the one that is to hold them all."""
    random = np.random.default_rng(4)
    solid = shapes.rod([[0, 0, 0], [12, 0, 9]], rectangle=[6, 3])
    at, along = np.array([1.0, -2.0, 0.5]), unit([0.3, 0.1, 1.0])
    held = shapes.at_every_turn(solid, at, along, facet_error=0.02)
    share = random.dirichlet(np.ones(len(solid.vertices)), 1500)
    share[: len(solid.vertices)] = np.eye(len(solid.vertices))
    turns = rotation_from_vector(random.uniform(0, 2 * pi, (len(share), 1)) * along)
    points = np.einsum("nij,nj->ni", turns, share @ solid.vertices - at) + at
    away = held.vertices - at
    heights = (away @ along)[:, None] * along
    radial = away - heights
    outwards = radial / np.maximum(np.linalg.norm(radial, axis=1, keepdims=True), 1e-9)
    grown = Mesh(at + heights * (1 + 1e-6) + radial + held.surface_error * outwards, held.faces)
    assert contains(grown, points).all()


@pytest.mark.parametrize(
    ("shape", "told"),
    [
        ("box = [0, 0, 0], size = [4, 4, 4], free_turn = true", "no one line of its own"),
        ('sphere = "low", diameter = 4, free_turn = true', "no one line of its own"),
        ('rod = ["low", "high", [9, 9, 9]], square = 4, bend = 2, free_turn = true', "no one line of its own"),
        ('box = [0, 0, 0], size = [4, 4, 4], free_turn_about = ["low", "low"]', "no one line of its own"),
        ('box = [0, 0, 0], size = [4, 4, 4], free_turn_about = ["low", "hihg"]', "unknown point"),
        (f"box = [0, 0, 0], size = [4, 4, 4], cut = [{{ {NUT}, free_turn = true }}]", "does not turn by itself"),
    ],
)
def test_what_has_no_line_to_turn_about_is_told(shape, told):
    with pytest.raises(InputError) as caught:
        read(shape)
    assert [told in fault.message for fault in caught.value.faults] == [True]
    assert caught.value.faults[0].hint
