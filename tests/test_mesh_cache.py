"""Meshes made lately are given again for the same bits and for no others."""

from dataclasses import replace
from pathlib import Path

import pytest
from small_machines import quiet, slider

from assembly.clearance.narrow_phase import checked_pairs
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.geometry.mesh_cache import MeshCache, mesh_digest
from assembly.geometry.shapes import box
from assembly.model.reader import machine_from_text
from assembly.studies.sweep.check import check

CUBE = box((0, 0, 0), (10, 10, 10))
BYTES = CUBE.vertices.nbytes + CUBE.faces.nbytes


def refuse():
    raise AssertionError("made again")


def test_what_is_known_is_not_made_again_and_the_least_recently_used_goes():
    cache = MeshCache(2 * BYTES)
    first = cache.made(b"first", lambda: replace(CUBE))
    cache.made(b"second", lambda: replace(CUBE))
    assert cache.made(b"first", refuse) is first
    cache.made(b"third", lambda: replace(CUBE))
    assert cache.made(b"first", refuse) is first
    with pytest.raises(AssertionError, match="made again"):
        cache.made(b"second", refuse)


def test_what_is_larger_than_the_cache_is_given_and_not_kept():
    cache = MeshCache(BYTES - 1)
    assert cache.made(b"first", lambda: CUBE) is CUBE
    with pytest.raises(AssertionError, match="made again"):
        cache.made(b"first", refuse)


def test_another_bit_is_another_digest():
    least = 5e-324
    others = [
        mesh_digest(CUBE, 0.0),
        mesh_digest(CUBE, -0.0),
        mesh_digest(CUBE, least),
        mesh_digest(CUBE, 0.0, 0.0),
        mesh_digest(replace(CUBE, surface_error=least), 0.0),
        mesh_digest(replace(CUBE, vertices=CUBE.vertices + 1.0), 0.0),
        mesh_digest(replace(CUBE, faces=CUBE.faces[::-1]), 0.0),
    ]
    assert len(set(others)) == len(others)
    assert mesh_digest(replace(CUBE), 0.0) == others[0]


def least(seat):
    """The pairs' least distances, with a ball of ``seat`` mm left out of the sledge: its corners stay."""
    text = slider().replace("along = [0, -1, 0]", f"along = [0, -1, 0]\nseat_radius = {seat}")
    checked = check(machine_from_text(text, Path()), Effort(), quiet)
    return [(one.result.pair.a, one.result.pair.b, one.result.least, one.result.proven) for one in checked.found]


def test_a_sweep_finds_the_same_with_cut_shapes_that_are_known_already(monkeypatch):
    """The oracle is the sweep that keeps none: the first of two that keep them makes each, the second none."""
    monkeypatch.setattr(checked_pairs, "_CUT", MeshCache(0))
    fresh = least(14)
    monkeypatch.setattr(checked_pairs, "_CUT", MeshCache(2**24))
    assert least(14) == fresh
    monkeypatch.setattr(checked_pairs, "_without_ball", lambda *_: refuse())
    assert least(14) == fresh
    with pytest.raises(AssertionError, match="made again"):
        least(13)
