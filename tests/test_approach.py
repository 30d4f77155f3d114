"""Along a direction that one body carries: no point of another passes the bound at any setting of a cell."""

import numpy as np
import pytest
from linkage_machines import GROUND, ORIGIN, X, Y, Z, machine, pin, slides, turns
from linkage_machines import slide as slide_joint
from motion_cells import CASES, Cells, random_cells
from tries import first

from assembly.kinematics.approach import cloud_of, least_along, lowest
from assembly.kinematics.assembling import assemble
from assembly.kinematics.cell_motion import bound_motion
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve

POINTS = 12


def carried(posture: Posture, start: Posture, mechanism: Mechanism, pair, points, normals) -> np.ndarray:
    """Coordinates (N, k) of points of one body along ``normals`` (N, 3) that the other carries from ``start`` on."""
    body, other = pair
    centres = mechanism.bodies.centres

    def world(at: Posture) -> np.ndarray:
        turned = np.einsum("nij,kj->nki", at.rotations[:, body], points - centres[body])
        return at.centres[:, body, None] + turned

    turn = posture.rotations[:, other] @ start.rotations[:, other].transpose(0, 2, 1)
    seen = np.einsum("nji,nkj->nki", turn, world(posture) - posture.centres[:, other, None])
    return np.einsum("nki,ni->nk", seen + start.centres[:, other, None], normals)


def falls(cells: Cells, seed: int):
    """For every pair of bodies: how far points fell along their directions at worst in each cell, and the bound."""
    rng = np.random.default_rng(seed)
    mechanism, motion, (number, inside) = cells.mechanism, cells.motion, cells.inside
    centres = mechanism.bodies.centres
    for body in range(len(centres)):
        for other in set(range(len(centres))) - {body}:
            cloud = cloud_of(centres[body] + rng.normal(scale=120, size=3) + rng.normal(scale=40, size=(POINTS, 3)))
            normals = rng.normal(size=(len(motion), 3))
            normals /= np.linalg.norm(normals, axis=1)[:, None]
            start = motion.posture.take(number)
            along = carried(inside.posture, start, mechanism, (body, other), cloud.points, normals[number]).min(axis=1)
            worst = np.full(len(motion), np.inf)
            np.minimum.at(worst, number, along)
            sure = motion.certified
            still = lowest(motion, body, cloud, normals, centres)
            bound = least_along(motion, body, other, cloud, normals, centres)
            yield (still - worst)[sure], (still - bound)[sure]


@pytest.fixture(scope="module", params=first(CASES.values(), 4), ids=CASES)
def cells(request):
    return random_cells(request.param, 5)


def test_no_point_comes_nearer_than_the_bound_at_any_setting_of_a_cell(cells):
    for fell, bound in falls(cells, 7):
        assert (fell <= bound + 1e-7).all()


def test_the_bound_is_nearly_used_up_where_cells_are_narrow(cells):
    narrow = (cells.motion.half[:, 0] < 0.3 * cells.motion.half[:, 0].max())[cells.motion.certified]
    used = np.array(
        [np.divide(fell, bound, where=bound > 1e-3, out=np.zeros(len(bound))) for fell, bound in falls(cells, 7)]
    )
    assert np.median(used.max(axis=0)[narrow]) > 0.6


def test_without_motion_the_bound_is_the_coordinate_itself():
    mechanism = assemble(machine([pin("hinge", GROUND, "flap", ORIGIN, Z)], turns(hinge=1)))
    motion = bound_motion(mechanism, solve(mechanism, [[30.0]]), np.zeros((1, 1)))
    flap, points = mechanism.bodies.body_of["flap"], np.array([(80.0, 0, 0), (0, 20, 0), (10, 5, -9)])
    # closed form: the corner (80, 0, 0) turned by 30 deg
    for measure in (
        lowest(motion, flap, cloud_of(points), -np.array([X]), mechanism.bodies.centres),
        least_along(motion, flap, 0, cloud_of(points), -np.array([X]), mechanism.bodies.centres),
    ):
        assert measure == pytest.approx(-80 * np.cos(np.radians(30)), abs=1e-6)


def test_a_bush_that_turns_between_cheeks_and_a_ram_in_its_guide_do_not_come_nearer():
    joints = [pin("pivot", GROUND, "bush", ORIGIN, Y), slide_joint("guide", GROUND, "ram", (0, 0, 50), X)]
    mechanism = assemble(machine(joints, turns(pivot=1), slides(guide=1)))
    motion = bound_motion(mechanism, solve(mechanism, [[0.0, 0.0]]), np.array([[4.0, 40.0]]))
    corners = cloud_of(np.array([(x, y, z) for x in (-30.0, 30) for y in (-10.0, 10) for z in (-15.0, 15)]))
    for part, normal in (("bush", Y), ("ram", Y), ("ram", Z)):
        body = mechanism.bodies.body_of[part]
        still = lowest(motion, body, corners, np.array([normal]), mechanism.bodies.centres)
        bound = least_along(motion, body, 0, corners, np.array([normal]), mechanism.bodies.centres)
        assert still - bound == pytest.approx(0, abs=0.1 if part == "bush" else 1e-6)
