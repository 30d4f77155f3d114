"""The stated surface error against dense samples: of the true surface, seen from the facets, and the other way round.

True surfaces are written down here once more, as closed forms; distances to triangles are taken to every triangle.
"""

from dataclasses import dataclass

import numpy as np
import pytest
from plain_distances import to_triangles
from tries import first

from assembly.geometry.shapes import Hole, Slot, cone, hexagon, plate, ring, rod, rod_end, sphere, tube, turned

ROUNDING = 1e-9
ORIGIN = np.array([12.0, -7.0, 30.0])
FRAME = np.linalg.qr(np.random.default_rng(7).normal(size=(3, 3)))[0]
FRAME *= np.linalg.det(FRAME)  # columns are x, y, z of the shape's own drawing


def placed(points):
    return ORIGIN + np.asarray(points, dtype=float) @ FRAME.T


def drawn(points):
    return (points - ORIGIN) @ FRAME


def on_triangles(mesh, count, rng):
    """Random points of the facets, as many on small facets as on large ones, and the middles of all edges."""
    corners = mesh.vertices[mesh.faces[rng.integers(0, len(mesh.faces), count)]]
    weights = rng.dirichlet((1, 1, 1), count)
    edges = [(mesh.vertices[mesh.faces[:, k]] + mesh.vertices[mesh.faces[:, k - 1]]) / 2 for k in range(3)]
    return np.concatenate([np.einsum("nk,nkj->nj", weights, corners), *edges])


def segment_distance(points, start, end):
    start, end = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    t = np.clip((points - start) @ (end - start) / ((end - start) @ (end - start)), 0, 1)
    return np.linalg.norm(points - start - t[:, None] * (end - start), axis=1)


@dataclass
class Profile:
    """A solid turned about x: edges of (x, radius), and arcs (x and radius of the centre, radius, from, to)."""

    edges: list
    arcs: tuple = ()

    def samples(self, rng, count=600):
        pieces = []
        for start, end in self.edges:
            t = np.concatenate([[0, 1], rng.random(count // len(self.edges))])[:, None]
            pieces.append((1 - t) * start + t * np.array(end))
        for x, r, radius, low, high in self.arcs:
            angle = rng.uniform(low, high, count)
            pieces.append(np.column_stack([x + radius * np.sin(angle), r + radius * np.cos(angle)]))
        x, radius = np.concatenate(pieces).T
        turn = rng.uniform(0, 2 * np.pi, len(x))
        return np.column_stack([x, radius * np.cos(turn), radius * np.sin(turn)])

    def distance(self, points):
        flat = np.column_stack([points[:, 0], np.hypot(points[:, 1], points[:, 2])])
        found = [segment_distance(flat, *edge) for edge in self.edges]
        for x, r, radius, low, high in self.arcs:
            angle = np.arctan2(flat[:, 0] - x, flat[:, 1] - r)
            away = np.abs(np.hypot(flat[:, 0] - x, flat[:, 1] - r) - radius)
            found.append(np.where((angle >= low) & (angle <= high), away, np.inf))
        return np.min(found, axis=0)


def closed_edges(corners):
    """Edges round ``corners`` of (x, radius) without those on the axis."""
    pairs = zip(corners, [*corners[1:], corners[0]], strict=True)
    return [(start, end) for start, end in pairs if start[1] > 0 or end[1] > 0]


@dataclass
class Bent:
    """A section along x from 0 to ``leg``, an arc of ``radius`` by ``angle`` towards y, and ``leg`` on from there.

    ``outlines``: (height z, outward) functions of a parameter in [0, 1) -> (u, v), u to the inside of the bend.
    """

    leg: float
    radius: float
    angle: float
    outlines: list
    in_section: object  # distance to the section's edge in its own plane, of (u, v)

    @property
    def length(self):
        return 2 * self.leg + self.radius * self.angle

    def points(self):
        """The three points that the shape is made from."""
        reach = self.leg + self.radius * np.tan(self.angle / 2)
        way = np.array([np.cos(self.angle), np.sin(self.angle), 0])
        return placed([(0, 0, 0), (reach, 0, 0), (reach, 0, 0) + reach * way])

    def at(self, along, u, v):
        arc = np.clip((along - self.leg) / self.radius, 0, self.angle)
        tangent = np.column_stack([np.cos(arc), np.sin(arc), np.zeros_like(arc)])
        inward = np.column_stack([-np.sin(arc), np.cos(arc), np.zeros_like(arc)])
        start = np.array([self.leg, self.radius, 0]) - self.radius * inward
        straight = along - self.leg - self.radius * arc
        return start + straight[:, None] * tangent + u[:, None] * inward + v[:, None] * np.array([0, 0, 1])

    def samples(self, rng, count=600):
        bend = rng.uniform(self.leg, self.length - self.leg, count)
        along = np.concatenate([bend, rng.uniform(0, self.length, count // 3), [0, self.length]])
        pieces = [self.at(along, *outline(rng.random(len(along))).T) for outline in self.outlines]
        return np.concatenate(pieces)

    def distance(self, points):
        """To the nearest point of the surface in the plane square to the line, or along the line to its ends."""
        x, y, z = points.T
        to_centre = np.array([x - self.leg, y - self.radius])
        arc = np.arctan2(to_centre[0], -to_centre[1]) % (2 * np.pi)
        back = to_centre[0] * np.cos(self.angle) + to_centre[1] * np.sin(self.angle)
        across = to_centre[1] * np.cos(self.angle) - to_centre[0] * np.sin(self.angle) + self.radius
        here = self.in_section(self.radius - np.hypot(*to_centre), z)
        found = [np.where(arc <= self.angle, np.abs(here), np.inf)]
        for along, u in ((x, y), (self.leg - back, across)):
            here = self.in_section(u, z)
            surface = np.minimum(np.abs(here), np.where(here <= 0, np.abs(along), np.inf))
            found.append(np.where((along >= -ROUNDING) & (along <= self.leg), surface, np.inf))
        return np.min(found, axis=0)


def circle(radius):
    return lambda t: radius * np.column_stack([np.cos(2 * np.pi * t), np.sin(2 * np.pi * t)])


def rectangle(width, height):
    corners = np.array([(1, 1), (-1, 1), (-1, -1), (1, -1), (1, 1)]) * (width / 2, height / 2)
    return lambda t: np.column_stack([np.interp(4 * t, np.arange(5), corners[:, k]) for k in range(2)])


def in_rectangle(width, height):
    def distance(u, v):
        over = np.column_stack([np.abs(u) - width / 2, np.abs(v) - height / 2])
        return np.linalg.norm(np.maximum(over, 0), axis=1) + np.minimum(over.max(axis=1), 0)

    return distance


def x_axis(length):
    return placed([(0, 0, 0), (length, 0, 0)])


X, Y = FRAME[:, 0], FRAME[:, 1]
SPOOL = [(0, 0), (0, 12), (4, 12), (4, 5), (20, 5), (20, 12), (24, 12), (24, 0)]
BALL_RADIUS = np.hypot(12, 10.4) / 2  # REFERENCE_VALUES 3, M8
TURNED = {
    "rod": (
        lambda e: rod(x_axis(40), diameter=20, facet_error=e),
        Profile(closed_edges([(0, 0), (0, 10), (40, 10), (40, 0)])),
    ),
    "tube": (
        lambda e: tube(x_axis(40), diameter=20, wall=3, facet_error=e),
        Profile(closed_edges([(0, 7), (0, 10), (40, 10), (40, 7)])),
    ),
    "cone": (lambda e: cone(x_axis(30), (20, 0), facet_error=e), Profile(closed_edges([(0, 0), (0, 10), (30, 0)]))),
    "frustum": (
        lambda e: cone(x_axis(30), (20, 14), facet_error=e),
        Profile(closed_edges([(0, 0), (0, 10), (30, 7), (30, 0)])),
    ),
    "turned": (lambda e: turned(SPOOL, ORIGIN, X, facet_error=e), Profile(closed_edges(SPOOL))),
    "sphere": (lambda e: sphere(ORIGIN, 24, facet_error=e), Profile([], ((0, 0, 12, -np.pi / 2, np.pi / 2),))),
    "ring": (
        lambda e: ring(ORIGIN, X, diameter=60, thickness=12, facet_error=e),
        Profile([], ((0, 24, 6, -np.pi, np.pi),)),
    ),
    "eye": (
        lambda e: rod_end(ORIGIN, Y, X, "M8", facet_error=e).eye,
        Profile(closed_edges([(-4.5, s := np.sqrt(BALL_RADIUS**2 - 4.5**2)), (-4.5, 12), (4.5, 12), (4.5, s)])),
    ),
    "ball": (
        lambda e: rod_end(ORIGIN, Y, X, "M8", facet_error=e).ball,
        Profile(
            [((6, 5.2), (6, 4)), ((6, 4), (-6, 4)), ((-6, 4), (-6, 5.2))],
            ((0, 0, BALL_RADIUS, -np.arcsin(6 / BALL_RADIUS), np.arcsin(6 / BALL_RADIUS)),),
        ),
    ),
}
BENDS = {
    "rod": (
        lambda bent, e: rod(bent.points(), diameter=12, bend=bent.radius, facet_error=e),
        [circle(6)],
        lambda u, v: np.hypot(u, v) - 6,
    ),
    "tube": (
        lambda bent, e: tube(bent.points(), diameter=12, wall=2, bend=bent.radius, facet_error=e),
        [circle(6), circle(4)],
        lambda u, v: np.abs(np.hypot(u, v) - 5) - 1,
    ),
    "flat bar": (
        lambda bent, e: rod(bent.points(), rectangle=(10, 4), up=FRAME[:, 2], bend=bent.radius, facet_error=e),
        [rectangle(10, 4)],
        in_rectangle(10, 4),
    ),
    "flat bar the easy way": (
        lambda bent, e: rod(bent.points(), rectangle=(20, 4), up=Y, bend=bent.radius, facet_error=e),
        [rectangle(4, 20)],
        in_rectangle(4, 20),
    ),
    "square tube": (
        lambda bent, e: tube(bent.points(), square=10, wall=2, up=FRAME[:, 2], bend=bent.radius, facet_error=e),
        [rectangle(10, 10), rectangle(6, 6)],
        lambda u, v: np.maximum(in_rectangle(10, 10)(u, v), -in_rectangle(6, 6)(u, v)),
    ),
}


def assert_bounds(mesh, true, rng, tightness):
    """No sample of either surface is farther from the other than stated, and the worst is near to it."""
    from_true = to_triangles(placed(true.samples(rng)), mesh).max()
    from_facets = true.distance(drawn(on_triangles(mesh, 4000, rng))).max()
    assert from_true <= mesh.surface_error + ROUNDING
    assert from_facets <= mesh.surface_error + ROUNDING
    assert max(from_true, from_facets) >= tightness * mesh.surface_error


@pytest.mark.parametrize("wanted", first([1.0, 0.1], 1))
@pytest.mark.parametrize("name", TURNED)
def test_solids_round_an_axis_keep_within_their_stated_error(name, wanted):
    make, true = TURNED[name]
    mesh = make(wanted)
    assert 0 < mesh.surface_error <= wanted
    assert_bounds(mesh, true, np.random.default_rng(1), 0.9 if name in ("rod", "tube", "turned", "eye") else 0.7)


@pytest.mark.parametrize(("angle", "wanted"), first([(150, 0.6), (40, 0.15)], 1))
@pytest.mark.parametrize("name", BENDS)
def test_bent_rods_and_tubes_keep_within_their_stated_error(name, angle, wanted):
    make, outlines, in_section = BENDS[name]
    true = Bent(15, 18, np.radians(angle), outlines, in_section)
    mesh = make(true, wanted)
    assert 0 < mesh.surface_error <= wanted
    assert_bounds(mesh, true, np.random.default_rng(2), 0.6)


def test_holes_and_slots_keep_within_their_stated_error():
    outline = [(-40, -20), (40, -20), (40, 20), (-40, 20)]
    mesh = plate(
        outline,
        6,
        at=ORIGIN,
        normal=FRAME[:, 2],
        along=X,
        holes=[Hole((-20, 0), 22)],
        slots=[Slot((10, -4), (25, 6), 10)],
        facet_error=0.1,
    )
    walls = [
        lambda p: np.abs(np.hypot(p[:, 0] + 20, p[:, 1]) - 11),
        lambda p: np.abs(segment_distance(p, (10, -4), (25, 6)) - 5),
    ]
    rng = np.random.default_rng(3)
    angles, heights = rng.uniform(0, 2 * np.pi, 800), rng.choice([-3, 3, 0.5], 800)
    hole = np.column_stack([-20 + 11 * np.cos(angles), 11 * np.sin(angles), heights])
    run = np.array([15, 10]) / np.hypot(15, 10)
    far = np.cos(angles) * run[0] + np.sin(angles) * run[1] > 0
    ends = np.where(far[:, None], (25, 6), (10, -4)) + 5 * np.column_stack([np.cos(angles), np.sin(angles)])
    true = placed(np.concatenate([hole, np.column_stack([ends, heights])]))
    worst = to_triangles(true, mesh).max()
    assert 0.9 * mesh.surface_error <= worst <= mesh.surface_error + ROUNDING <= 0.1 + ROUNDING

    flat = drawn(on_triangles(mesh, 4000, rng))
    edge = np.minimum(20 - np.abs(flat[:, 1]), 40 - np.abs(flat[:, 0]))
    hollow = (np.hypot(flat[:, 0] + 20, flat[:, 1]) < 11) | (segment_distance(flat[:, :2], (10, -4), (25, 6)) < 5)
    face = np.where(hollow, np.inf, np.abs(np.abs(flat[:, 2]) - 3))
    away = np.min([*(wall(flat[:, :2]) for wall in walls), np.abs(edge), face], axis=0)
    assert 0.9 * mesh.surface_error <= away.max() <= mesh.surface_error + ROUNDING


def test_bore_of_a_nut_sags_as_stated():
    nut = hexagon(x_axis(8), 13, bore=8, facet_error=0.05)
    angles = np.linspace(0, 2 * np.pi, 1000)
    true = placed(np.column_stack([np.full(1000, 4.0), 4 * np.cos(angles), 4 * np.sin(angles)]))
    worst = to_triangles(true, nut).max()
    assert 0.9 * nut.surface_error <= worst <= nut.surface_error + ROUNDING <= 0.05 + ROUNDING


def test_straight_cylinder_states_the_chord_sagitta_exactly():
    # Closed form r (1 - cos(pi / n)), REFERENCE_VALUES 5.12.
    mesh = rod(x_axis(40), diameter=20, facet_error=0.0482)
    count = len(mesh.vertices) // 2
    assert count == 32
    assert mesh.surface_error == pytest.approx(0.048153, abs=5e-7)


@pytest.mark.parametrize("wanted", [2.0, 0.3, 0.02, 0.008])
def test_sphere_of_any_size_meets_the_wanted_error(wanted):
    for diameter in (1, 3, 10, 24, 37):
        assert sphere((0, 0, 0), diameter, facet_error=wanted).surface_error <= wanted


def test_a_line_that_bends_out_of_its_plane_keeps_its_section_on_the_true_surface():
    # The second bend's own arc, written down from its two legs: along y, then up along z.
    pipe = rod([(0, 0, 0), (60, 0, 0), (60, 60, 0), (60, 60, 60)], diameter=10, bend=20, facet_error=0.1)
    second = pipe.vertices[(pipe.vertices[:, 1] > 40 + 1e-9) & (pipe.vertices[:, 2] < 20 - 1e-9)]
    x, y, z = second.T
    assert np.hypot(np.hypot(y - 40, z - 20) - 20, x - 60) == pytest.approx(5, abs=1e-9)
    assert len(second) > 50
    angles = np.linspace(0, 2 * np.pi, 60)
    for turn in np.linspace(0, np.pi / 2, 15):
        inward = np.array([0, -np.sin(turn), np.cos(turn)])
        middle = np.array([60, 40, 20]) - 20 * inward
        true = middle + 5 * (np.outer(np.cos(angles), inward) + np.outer(np.sin(angles), (1, 0, 0)))
        assert to_triangles(true, pipe).max() <= pipe.surface_error + ROUNDING
