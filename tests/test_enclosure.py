"""A point that is said to stay inside a solid all through a cell does, whatever the solid's shape."""

import numpy as np
import plain_distances
import plain_meshes
import pytest
from motion_cells import CASES, random_cells, seen_from
from stop_attack import cut_machine, passed_at, proof_of
from tries import first

from assembly.clearance.stops import enclosure
from assembly.clearance.stops.enclosure import Enclosure
from assembly.geometry.inside import winding_number
from assembly.geometry.mesh import Mesh
from assembly.geometry.solids import difference
from assembly.kinematics.approach import cloud_of
from assembly.kinematics.travel import travel


def holed_box(size, middle, error, rng):
    """A box with a bore, a notch and a closed hollow, about a place that need not lie in what is left of it."""
    box = Mesh(*plain_meshes.cube(size))
    bore, faces = plain_meshes.cylinder(size * rng.uniform(0.05, 0.2), 2 * size, 12)
    bore = Mesh(bore + [*rng.uniform(-0.3, 0.3, 2) * size, -size], faces)
    notch = Mesh(*plain_meshes.cube(size / 2, rng.uniform(-0.6, 0.6, 3) * size))
    left = difference(box, [bore, notch])
    return Mesh(left.vertices + middle, left.faces, error)


@pytest.mark.parametrize("name", first(["double wishbones with tie rods", "open chain", "coupled wheels"], 1))
def test_point_that_is_held_is_inside_by_more_than_the_error_at_every_setting(name):
    """Oracles: winding numbers and the distance to every triangle, at settings followed inside random cells."""
    cells, rng = random_cells(CASES[name], 11), np.random.default_rng(12)
    mechanism, (number, inside), held = cells.mechanism, cells.inside, 0
    centres, parts = mechanism.bodies.centres, list(mechanism.bodies.body_of)
    for cell in np.flatnonzero(cells.motion.certified):
        pair = carrier, other = tuple(rng.choice(parts, 2, replace=False))
        body, owner = (mechanism.bodies.body_of[part] for part in pair)
        if body == owner:
            continue
        motion, point = cells.motion.take(np.array([cell])), centres[body] + rng.normal(scale=60, size=3)
        seen = seen_from(motion.posture, body, owner, point[None], centres)[0, 0] + centres[owner]
        far = travel(motion, body, owner, point[None], np.zeros(1), centres)[0]
        size = (far + 0.05) * 10 ** rng.uniform(0.2, 1.2)
        error = size * rng.choice([0.0, 0.03])
        solid = holed_box(size, seen + rng.uniform(-0.4, 0.4, 3) * size, error, rng)
        if not Enclosure(solid).holds_one(mechanism, motion, pair, cloud_of(point[None]))[0]:
            continue
        held += 1
        posture = inside.posture.take(np.flatnonzero(number == cell))
        places = seen_from(posture, body, owner, point[None], centres)[:, 0] + centres[owner]
        assert (winding_number(places, solid) > 0.9).all(), (carrier, other)
        assert (plain_distances.to_triangles(places, solid) > error).all()
    assert held >= 3


def test_point_between_the_walls_of_a_slot_is_not_inside():
    """Own model: the hull of a fork holds the slot, the fork does not."""
    cells = random_cells(CASES["open chain"], 3)
    mechanism, posture = cells.mechanism, cells.motion.posture
    carrier, other = "hand", "forearm"
    body, owner = mechanism.bodies.body_of[carrier], mechanism.bodies.body_of[other]
    point = mechanism.bodies.centres[body] + [5.0, 3.0, 2.0]
    seen = (
        seen_from(posture, body, owner, point[None], mechanism.bodies.centres)[0, 0] + mechanism.bodies.centres[owner]
    )
    block = Mesh(*plain_meshes.cube(400, seen))
    fork = difference(block, [Mesh(*plain_meshes.box((1000, 1.0, 1000), seen))])
    small = cells.motion.take(np.array([0]))
    assert Enclosure(block).holds_one(mechanism, small, (carrier, other), cloud_of(point[None])).all()
    assert not Enclosure(fork).holds_one(mechanism, small, (carrier, other), cloud_of(point[None])).any()


ATTACKED = [6, 30, 36, 42, 52, 57]
"""Machines on which each weakened bound below is seen to fail."""


@pytest.mark.parametrize(
    "seeds", first([[0, 1, 2, 12, 13, *ATTACKED], [3, 4, 5, 7, 8, 9, 10, 11]], 1), ids=["most", "more"]
)
def test_no_stop_that_is_proven_to_be_struck_can_be_passed(seeds):
    """Attack: blocks with holes, slots and grooves, tops with notches; a dense sample of the other drive."""
    proven = 0
    for seed in seeds:
        made = cut_machine(seed)
        if proof_of(*made).proven:
            assert passed_at(*made) == [], seed
            proven += 1
    assert proven >= 2


def _no_travel(motion, *_):
    return np.zeros(len(motion))


def _no_shift(*given, own=enclosure.shifts_along):
    along, shift = own(*given)
    return along, np.zeros_like(shift)


def _all_inside(_mesh, points):
    return np.ones(len(points), dtype=bool)


@pytest.mark.parametrize(
    ("name", "weaker"),
    [("travel", _no_travel), ("shifts_along", _no_shift), ("contains", _all_inside)],
)
def test_attack_sees_a_bound_that_is_too_weak(monkeypatch, name, weaker):
    monkeypatch.setattr(enclosure, name, weaker)
    assert any(proof_of(*made).proven and passed_at(*made) for made in map(cut_machine, ATTACKED))


def test_attack_sees_facets_that_are_left_out(monkeypatch):
    monkeypatch.setattr(Enclosure, "_near", lambda *_: np.zeros(0, dtype=np.int64))
    assert any(proof_of(*made).proven and passed_at(*made) for made in map(cut_machine, ATTACKED))
