"""Mesh files that nobody here wrote: whole ones are read whole, broken ones refused with their reason."""

import importlib.util
from pathlib import Path

import pytest
from plain_meshes import edge_uses, signed_volume

from assembly.errors import InputError
from assembly.geometry.meshfiles import read_mesh

SAMPLES = Path("/usr/share/assimp/models")
"""Debian's package assimp-testmodels."""


def test_a_nut_that_others_drew_is_read_whole():
    """The nut that comes with pyvista (MIT): 1046 triangles; volume by the divergence theorem as trimesh reads it."""
    import trimesh

    package = importlib.util.find_spec("pyvista")
    path = Path(package.origin).parent / "examples" / "nut.ply"
    theirs = trimesh.load_mesh(path)
    mesh, _ = read_mesh(path)
    assert len(mesh.faces) == 1046
    assert mesh.volume == pytest.approx(signed_volume((theirs.vertices, theirs.faces)), rel=1e-6)
    assert set(edge_uses(mesh.faces).values()) == {2}


@pytest.mark.skipif(not SAMPLES.is_dir(), reason="Debian's assimp-testmodels is not installed")
@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("3MF/box.3mf", 6000.0),
        ("OBJ/box.obj", 1.0),
        ("OBJ/box_without_lineending.obj", 1.0),
        ("OBJ/cube_with_vertexcolors.obj", 1.0),
        ("OBJ/testmixed.obj", 1.0),
        ("PLY/cube.ply", 1.0),
        ("PLY/cube_binary.ply", 1.0),
        ("PLY/cube_uv.ply", 8.0),
        ("OBJ/box_longline.obj", "crosses itself"),
        ("OBJ/number_formats.obj", "`v 1e+2 2.e+1 3.1+e2` cannot be read"),
        ("OBJ/spider.obj", "not closed"),
        ("OBJ/point_cloud.obj", "no triangles"),
        ("PLY/points.ply", "no triangles"),
        ("PLY/pond.0.ply", "cannot be read as PLY"),
        ("STL/sphereWithHole.stl", "9 open edges"),
        ("STL/triangle.stl", "3 open edges"),
        ("STL/triangle_with_two_solids.stl", "6 open edges"),
        ("STL/Spider_binary.stl", "not closed"),
        ("invalid/empty.obj", "is empty"),
        ("invalid/empty.ply", "is empty"),
        ("invalid/malformed.obj", "`f 0 7 8 5` cannot be read"),
        ("invalid/malformed2.obj", "fewer than three corners"),
    ],
)
def test_sample_files_that_others_drew_are_read_or_refused(name, told):
    if isinstance(told, str):
        with pytest.raises(InputError) as refusal:
            read_mesh(SAMPLES / name)
        assert told in str(refusal.value)
    else:
        assert read_mesh(SAMPLES / name)[0].volume == pytest.approx(told, rel=1e-5)
