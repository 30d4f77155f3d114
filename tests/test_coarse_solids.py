"""Coarse parts for a view that moves: fewer triangles, and no farther from the part than is said."""

import numpy as np
import trimesh
from small_machines import read

from assembly.geometry import solids
from assembly.studies.moving.moving_study import coarse_solids

ROUND = """
format = 1
name = "Round things"
facet_error = 0.001
[parts.base]
fixed = true
shapes = [{ name = "ball", sphere = [0, 0, 0], diameter = 30 }, { name = "box", box = [40, 0, 0], size = [9, 9, 9] }]
"""


def test_few_triangles_are_left_alone():
    machine = read(ROUND)
    made = coarse_solids(machine, wanted=10**6)
    assert made.within_mm == 0
    np.testing.assert_array_equal(made.meshes["base"].faces, machine.parts["base"].mesh.faces)


def test_many_become_fewer_and_stay_near():
    machine = read(ROUND)
    full = machine.parts["base"].mesh
    made = coarse_solids(machine, wanted=len(full.faces) // 4)
    coarse = made.meshes["base"]
    assert len(coarse.faces) <= len(full.faces) // 4
    _, far, _ = trimesh.proximity.closest_point(trimesh.Trimesh(coarse.vertices, coarse.faces), full.vertices)
    assert 0 < far.max() <= made.within_mm
    assert made.within_mm <= 1.6


def test_a_solid_is_made_ready_once_however_coarse_it_must_be(monkeypatch):
    """Two shapes of one shell each, tried at five tolerances."""
    made, shell = [], solids._shell
    monkeypatch.setattr(solids, "_shell", lambda mesh: made.append(mesh) or shell(mesh))
    assert coarse_solids(read(ROUND), wanted=1).within_mm == 1.6
    assert len(made) == 2
