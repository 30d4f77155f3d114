"""The STL files of the demo machines, made from numbers: the same bytes on every run.

    python scripts/make_demo_meshes.py            write them all beside the mechanism files (the package is needed)
    python scripts/make_demo_meshes.py --check    write nothing; exit status 1 where a file is not what it should be

Each mesh is drawn about an origin of its own, in mm, x forward, y left and z up; the mechanism file says where it
stands. Only left parts are made: the mechanism files mirror them. A mesh may hold several closed bodies that run into
each other, as cast and welded things do. ``surface_error`` of each mesh is what the mechanism files state.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from math import ceil, cos, pi, radians, sin
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Mesh, joined
from assembly.geometry.shapes import box, hexagon, plate, ring, rod, turned
from assembly.geometry.shapes.closed_surfaces import cap, lofted
from assembly.geometry.stl import stl_bytes

Floats = NDArray[np.float64]
Leg = tuple[str, float, float]
"""("line", length in mm, 0), or ("left" or "right", radius in mm, degrees)."""

MESHES = Path(__file__).resolve().parent.parent / "meshes"
GRID = 1e-4
"""mm: coordinates are rounded to this, so that one processor's last bits do not show in the file."""
ROUNDING = 2 * GRID
"""mm: no point moves farther by that rounding and by the file's single precision."""
STEP = 4.0
"""Degrees: the longest chord of a bend."""

X, Y, Z = np.eye(3)
ORIGIN = np.zeros(3)


def wheel() -> Mesh:
    """Tyre 47-305 on its rim, with 32 spokes and the shell that the brake sits in; the axle is y, outside is +y."""
    rim = [(-18, 168), (-15, 168), (-13, 157), (13, 157), (15, 168), (18, 168), (16, 153), (8, 146), (-8, 146)]
    shell = [(-22, 60), (-22, 49), (11, 49), (11, 8), (24, 8), (24, 30), (21, 36), (21, 60), (17, 60), (16, 54)]
    solids = [
        ring(ORIGIN, Y, diameter=410, thickness=47, facet_error=0.07),
        turned([*rim, (-16, 153)], ORIGIN, Y, facet_error=0.05),
        turned([*shell, (-16, 54), (-17, 60)], ORIGIN, Y, facet_error=0.03),
    ]
    for number in range(32):
        side = 1 if number % 2 else -1
        at_rim = 2 * pi * number / 32
        at_hub = at_rim + radians(52 if number % 4 < 2 else -52)
        foot = (57 * cos(at_hub), 19 * side, 57 * sin(at_hub))
        head = (149 * cos(at_rim), 4 * side, 149 * sin(at_rim))
        solids.append(rod([foot, head], diameter=2.6, facet_error=0.05))
    return joined(solids)


def drum_brake() -> Mesh:
    """Backing plate, drum with four ribs, lining and anchor; the axle is y, the wheel's middle is the origin."""
    backing = [(-27, 8), (-27, 20), (-25, 24), (-25, 44), (-23, 47), (-20, 47), (-20, 43), (-21, 41), (-21, 8)]
    drum = [(-20, 45), (8, 45), (8, 9), (5, 9), (5, 41), (-20, 41)]
    lining = [(-18, 40.5), (2, 40.5), (2, 36), (-18, 36)]
    ribs = [[(at, 44), (at, 47.5), (at + 2, 47.5), (at + 2, 44)] for at in (-16, -9, -2, 5)]
    anchor = [(-30, -6), (-14, -11), (14, -11), (30, -6), (30, 6), (-30, 6)]
    return joined(
        [
            *(turned(profile, ORIGIN, Y, facet_error=0.02) for profile in (backing, drum, lining, *ribs)),
            plate(anchor, 4, at=(0, -25, -30), normal=Y, along=X),
            *(hexagon([(x, -30, -30), (x, -26, -30)], 10) for x in (-22, 22)),
        ]
    )


def mudguard() -> Mesh:
    """A channel 2.5 thick over the tyre, from 50 degrees up in front to 12 degrees up behind; the axle is y."""
    path, inward = walk((-33.25, 196.0), 64, [("right", 37.0, 128)])
    turns = np.radians(np.linspace(168, 50, 73))
    skins = []
    for wall in (0.0, 2.5):
        y, radius = (path - wall * inward).T
        rows = np.outer(np.cos(turns), radius), np.tile(y, (len(turns), 1)), np.outer(np.sin(turns), radius)
        skins.append(np.stack(rows, axis=2))
    return sheet(*skins, error=sagitta(39.5, STEP) + sagitta(217, 118 / 72))


def cargo_tub() -> Mesh:
    """A keel that hangs between the wheels and a wide hold above them, 4 thick; the floor's middle is the origin."""
    keel: list[Leg] = [("left", 30.0, 74), ("line", 73.0, 0)]
    hold: list[Leg] = [("right", 30.0, 60), ("line", 100.0, 0), ("left", 30.0, 72), ("line", 140.0, 0)]
    path, inward = walk((70.0, 0.0), 0, [*keel, *hold])
    skins = []
    for wall in (0.0, 4.0):
        half_widths, heights = (path + wall * inward).T
        half_lengths = 240 + 0.45 * (path[:, 0] - 70) - wall
        sizes = zip(half_lengths, half_widths, heights, strict=True)
        skins.append([rounded_rectangle(length, width, 44 - wall, z) for length, width, z in sizes])
    return lofted_solid([*skins[0], *reversed(skins[1])], error=sagitta(44, 90 / 24) + sagitta(34, STEP))


def fairing() -> Mesh:
    """A bent nose, 3 thick, open behind and bulging forward; its foremost point is the origin."""
    bends: list[Leg] = [("left", 70.0, 80), ("line", 162.0, 0), ("left", 70.0, 80)]
    path, inward = walk((0.0, 0.0), 10, [("line", 60.0, 0), *bends, ("line", 60.0, 0)])
    path = path - (path[:, 0].max(), path[:, 1].mean())
    skins = []
    for wall in (0.0, 3.0):
        rows = []
        for angle in np.radians(np.linspace(-14, 14, 29)):
            row = path + (wall + 500 * (1 - cos(angle))) * inward
            rows.append(np.column_stack([row, np.full(len(row), 500 * sin(angle))]))
        skins.append(np.array(rows))
    return sheet(*skins, error=sagitta(70, STEP) + sagitta(500, 1))


def column_head() -> Mesh:
    """A cast head that bolts to a spine in front of it: the barrel leans back by 10 degrees, the flange is upright."""
    barrel = [(-62, 20), (-62, 30), (-50, 27), (50, 27), (62, 30), (62, 20)]
    web = [(20, -38), (40, -30), (40, 30), (20, 38)]
    return joined(
        [
            turned(barrel, ORIGIN, (-sin(radians(10)), 0, cos(radians(10))), facet_error=0.02),
            box((40, 0, 0), (10, 70, 70)),
            *(plate(web, 7, at=(0, y, 0), normal=-Y, along=X) for y in (-17, 17)),
            *(hexagon([(35, y, z), (30, y, z)], 13) for y in (-27, 27) for z in (-27, 27)),
        ]
    )


def splash_well() -> Mesh:
    """The stern of a boat: transom, well and foredeck; the middle of the transom's outer top edge is the origin."""
    well: list[Leg] = [("line", 32.0, 0), ("left", 60.0, 78), ("line", 60.0, 0)]
    path, upward = walk((30.0, -70.0), 0, [*well, ("right", 40.0, 78), ("line", 90.0, 0)])
    across = np.linspace(-330, 330, 12)
    skins = [
        np.array([np.column_stack([row[:, 0], np.full(len(row), y), row[:, 1]]) for y in across])
        for row in (path, path - 5 * upward)
    ]
    transom = [(-330, -420), (330, -420), (330, 70), (310, 70), (290, 0), (-290, 0), (-310, 70), (-330, 70)]
    side = [(0, -420), (400, -420), (400, 70), (0, 70)]
    return joined(
        [
            sheet(*skins, error=sagitta(65, STEP)),
            plate(transom, 35, at=ORIGIN, normal=X, along=Y, side="plus"),
            *(plate(side, 6, at=(0, y, 0), normal=-Y, along=X) for y in (-330, 330)),
        ]
    )


def cowling() -> Mesh:
    """The hood of an outboard motor as one solid, rounded all over; the middle of its lower edge is the origin."""
    path, _ = walk((128.0, 0.0), 96, [("line", 150.0, 0), ("left", 50.0, 76), ("line", 40.0, 0)])
    rings = [rounded_rectangle(1.32 * width, width, min(62, 0.9 * width), z) - (0.05 * z) * X for width, z in path]
    return lofted_solid(rings, error=sagitta(62, 90 / 24) + 1.32 * sagitta(50, STEP))


def gearcase() -> Mesh:
    """The lower end of an outboard motor: torpedo, strut, plate, skeg and what the propeller sweeps; its shaft is x."""
    torpedo = [(-150, 0), (-146, 18), (-110, 34), (-40, 40), (40, 38), (95, 24), (118, 8), (120, 0)]
    propeller = [(-178, 0), (-178, 18), (-160, 110), (-156, 110), (-152, 26), (-152, 0)]
    skeg = [(-110, -30), (60, -30), (-20, -150), (-95, -158)]
    strut = [(-80, 30), (50, 30), (40, 140), (-50, 140)]
    cover = [(-190, -60), (-60, -78), (70, -40), (120, 0), (70, 40), (-60, 78), (-190, 60)]
    return joined(
        [
            turned(torpedo, ORIGIN, X, facet_error=0.03),
            turned(propeller, ORIGIN, X, facet_error=0.05),
            plate(strut, 30, at=ORIGIN, normal=-Y, along=X),
            plate(skeg, 9, at=ORIGIN, normal=-Y, along=X),
            plate(cover, 7, at=(0, 0, 135), normal=Z, along=X),
        ]
    )


FILES: Mapping[str, Callable[[], Mesh]] = {
    "parcel_trike/wheel_left.stl": wheel,
    "parcel_trike/drum_brake_left.stl": drum_brake,
    "parcel_trike/mudguard_left.stl": mudguard,
    "parcel_trike/cargo_tub.stl": cargo_tub,
    "parcel_trike/fairing.stl": fairing,
    "parcel_trike/column_head.stl": column_head,
    "workboat/splash_well.stl": splash_well,
    "workboat/cowling.stl": cowling,
    "workboat/gearcase.stl": gearcase,
}
"""Path under meshes/, and what makes it."""


def made(file: str) -> Mesh:
    """The mesh of ``file`` as it is written: coordinates rounded, with all errors in ``surface_error``."""
    mesh = FILES[file]()
    return Mesh(np.round(mesh.vertices / GRID) * GRID, mesh.faces, mesh.surface_error + ROUNDING)


def sagitta(radius: float, step: float) -> float:
    """Greatest distance in mm between an arc of ``radius`` mm and its chord over ``step`` degrees (closed form)."""
    return radius * (1 - cos(radians(step) / 2))


def walk(start: tuple[float, float], heading: float, legs: Iterable[Leg]) -> tuple[Floats, Floats]:
    """Points (n, 2) along a path from ``start``, first towards ``heading`` degrees, and the unit normals to its left.

    Bends are drawn in chords of at most STEP degrees; a path moved along its normals is one with the same corners.
    """
    place, angle = np.array(start), radians(heading)
    places, angles = [place], [angle]
    for kind, size, degrees in legs:
        count = 1 if kind == "line" else ceil(degrees / STEP)
        turn = {"line": 0.0, "left": 1.0, "right": -1.0}[kind] * radians(degrees) / count
        chord = size if kind == "line" else 2 * size * sin(abs(turn) / 2)
        for _ in range(count):
            place = place + chord * np.array([cos(angle + turn / 2), sin(angle + turn / 2)])
            angle += turn
            places.append(place)
            angles.append(angle)
    return np.array(places), np.column_stack([-np.sin(angles), np.cos(angles)])


def rounded_rectangle(half_length: float, half_width: float, radius: float, z: float) -> Floats:
    """A ring (100, 3), counter-clockwise from above: points on four corner arcs of ``radius`` mm at height ``z``."""
    turns = np.radians(np.linspace(0, 90, 25))
    arcs = []
    for corner, (x, y) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        middle = np.array([x * (half_length - radius), y * (half_width - radius)])
        directions = np.column_stack([np.cos(turns + corner * pi / 2), np.sin(turns + corner * pi / 2)])
        arcs.append(middle + radius * directions)
    ring_ = np.concatenate(arcs)
    return np.column_stack([ring_, np.full(len(ring_), z)])


def lofted_solid(rings: Sequence[Floats], error: float) -> Mesh:
    """The solid with a skin over ``rings`` (n, 3), each counter-clockwise about the way on; the end rings close it."""
    count, first = len(rings[0]), np.arange(len(rings[0]))
    faces = [lofted(len(rings), count, closed=False), cap(first[::-1]), cap(first + (len(rings) - 1) * count)]
    return Mesh(np.concatenate(rings), np.concatenate(faces), error)


def sheet(outer: Floats, inner: Floats, error: float) -> Mesh:
    """Bent sheet metal between two grids (rows, columns, 3) of points that face each other."""
    rows, columns = outer.shape[:2]
    loops = np.concatenate([outer, inner[:, ::-1]], axis=1)
    near = np.arange(columns - 1)
    far = 2 * columns - 1 - near
    end = np.concatenate([np.stack([near, near + 1, far - 1], axis=1), np.stack([near, far - 1, far], axis=1)])
    last = (rows - 1) * 2 * columns
    faces = np.concatenate([lofted(rows, 2 * columns, closed=False), end[:, ::-1], end + last])
    mesh = Mesh(loops.reshape(-1, 3), faces, error)
    return mesh if mesh.volume > 0 else Mesh(mesh.vertices, mesh.faces[:, ::-1], error)


def main(arguments: Sequence[str]) -> int:
    """Write every file, or with ``--check`` compare them."""
    wrong = 0
    for file in FILES:
        mesh, path = made(file), MESHES / file
        state = "written"
        if "--check" in arguments:
            same = path.is_file() and path.read_bytes() == stl_bytes(mesh)
            state, wrong = ("as made", wrong) if same else ("differs", wrong + 1)
        else:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(stl_bytes(mesh))
        print(f"{file:36} {len(mesh.faces):7} triangles  surface error {mesh.surface_error:.4f} mm  {state}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
