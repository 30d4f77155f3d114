"""Small scenes for the tests of the pictures, from solids made by hand."""

import numpy as np
import plain_meshes

from assembly.geometry.mesh import Mesh
from assembly.geometry.scene import Role, Scene, SceneSolid

WIDE, HIGH = 640, 360


def box(size, centre=(0, 0, 0)):
    return Mesh(*plain_meshes.box(size, centre))


def ball(radius, centre=(0, 0, 0), splits=4):
    return Mesh(*plain_meshes.ball(radius, splits, centre))


def rod(radius, length, sides=64, centre=(0, 0, 0)):
    """Along z, its middle at ``centre``."""
    vertices, faces = plain_meshes.cylinder(radius, length, sides)
    return Mesh(vertices - (0, 0, length / 2) + np.asarray(centre, dtype=float), faces)


def tube(inner, outer, length, sides=64):
    """A rod with an open bore, along z, its middle at the origin."""
    turn = 2 * np.pi * np.arange(sides) / sides
    ring = np.stack([np.cos(turn), np.sin(turn), np.zeros(sides)], axis=1)
    rise = np.array([0, 0, length / 2])
    around = [outer * ring - rise, outer * ring + rise, inner * ring + rise, inner * ring - rise]
    k = np.arange(sides)
    faces = []
    for one in range(4):
        a, b = one * sides + k, one * sides + (k + 1) % sides
        c, d = (one + 1) % 4 * sides + k, (one + 1) % 4 * sides + (k + 1) % sides
        faces += [np.stack([a, b, d], axis=1), np.stack([a, d, c], axis=1)]
    return Mesh(np.concatenate(around), np.concatenate(faces))


def gap_scene(gap=20.0, names=("arm", "rod end"), extra=(), title="arm and rod end", pose="tilt 12.0°"):
    """Two boxes one above the other, ``gap`` mm apart, and a bystander."""
    solids = (
        SceneSolid(names[0], box((60, 60, 30), (0, 0, -15)), Role.FIRST),
        SceneSolid(names[1], box((60, 60, 30), (0, 0, gap + 15)), Role.SECOND),
        SceneSolid("frame", box((20, 200, 20), (-120, 0, 0)), Role.QUIET),
        *extra,
    )
    return Scene(title, pose, solids, (np.array([0.0, 0.0, 0.0]), np.array([0.0, 0.0, gap])), gap)


def overlap_scene():
    """A bar that dips 4 mm into the top of a block; their common room is a box buried in both."""
    solids = (
        SceneSolid("block", box((120, 80, 40), (0, 0, -20)), Role.FIRST),
        SceneSolid("bar", box((160, 12, 20), (0, 0, 6)), Role.SECOND),
    )
    return Scene(
        "bar strikes block", "at rest", solids, overlap=box((120, 12, 4), (0, 0, -2)), overlap_label="strikes: 4.0 mm"
    )


def coloured(image, fill):
    """Pixels (h, w) that show ``fill`` in any light from half to full."""
    pixels = np.asarray(image.convert("RGB"), dtype=float)
    fill = np.array(fill, dtype=float)
    light = pixels @ fill / (fill @ fill)
    return (np.abs(pixels - light[..., None] * fill).max(axis=-1) < 10) & (light > 0.5) & (light < 1.1)


def black(image):
    return np.asarray(image.convert("L")) < 60
