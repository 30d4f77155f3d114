"""Distances and whole sweeps against independent general-purpose libraries, on random poses and dense settings.

manifold3d's ``min_gap`` measures the same triangles in its own way; MuJoCo's ``mj_geomDistance`` measures the true
primitive solids, and its own hinges and slides place them. Part files that nobody here wrote are swept too.
"""

import importlib.util
from itertools import combinations
from pathlib import Path

import manifold3d
import mujoco
import numpy as np
import pytest
from linkage_machines import X, Y, Z
from test_meshfiles_from_others import SAMPLES

from assembly.clearance.narrow_phase.checked_pairs import Solid, gather_pairs
from assembly.clearance.narrow_phase.distance import CollisionModel, nearest
from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.proof.sweep import sweep_pairs
from assembly.geometry.rotations import pose_matrix, rotation_from_vector
from assembly.geometry.shapes import box, cone, hexagon, plate, ring, rod, sphere, tube
from assembly.kinematics.assembling import assemble
from assembly.model.reader import machine_from_text

SOLIDS = {
    "box": box((0, 0, 0), (30, 20, 10)),
    "rod": rod([(0, 0, -20), (0, 0, 20)], diameter=12, facet_error=0.2),
    "bent tube": tube([(0, 0, 0), (30, 0, 0), (30, 30, 0)], diameter=8, wall=1, bend=12, facet_error=0.2),
    "plate": plate([(0, 0), (40, 0), (40, 20), (0, 30)], 5, at=(-20, -15, 0), normal=Z, along=X),
    "cone": cone([(0, 0, 0), (0, 0, 30)], (20, 4), facet_error=0.2),
    "ring": ring((0, 0, 0), Y, diameter=60, thickness=12, facet_error=0.5),
    "nut": hexagon([(0, 0, 0), (0, 0, 8)], across_flats=17),
}


def random_pose(random, far):
    turned = rotation_from_vector(random.normal(size=3) * 2)
    return pose_matrix(turned, random.normal(size=3) * far)


@pytest.mark.parametrize(("first", "second"), list(combinations(SOLIDS, 2)))
def test_distances_of_meshes_agree_with_manifold(first, second):
    random = np.random.default_rng(len(first) * 100 + len(second))
    a, b = (CollisionModel(Solid(SOLIDS[name], (name,), (0,))) for name in (first, second))
    apart = 0
    for _ in range(6):
        places = np.eye(4), random_pose(random, 45)
        theirs = [
            manifold3d.Manifold(manifold3d.Mesh64(np.array(mesh.vertices), np.array(mesh.faces, dtype=np.uint64)))
            for mesh in (
                collision_model.solid.mesh.moved(place) for collision_model, place in zip((a, b), places, strict=True)
            )
        ]
        assert nearest(a, b, *places).distance == pytest.approx(theirs[0].min_gap(theirs[1], 1000.0), abs=1e-9)
        apart += nearest(a, b, *places).distance > 0
    assert apart >= 2


PRIMITIVES = {
    "box": ("box", (15, 10, 5), box((0, 0, 0), (30, 20, 10))),
    "ball": ("sphere", (9, 0, 0), sphere((0, 0, 0), diameter=18)),
    "rod": ("cylinder", (6, 20, 0), rod([(0, 0, -20), (0, 0, 20)], diameter=12)),
}


@pytest.mark.parametrize(("first", "second"), [("box", "box"), ("box", "ball"), ("ball", "ball"), ("ball", "rod")])
def test_distances_of_primitives_agree_with_mujoco_up_to_the_facets(first, second):
    bodies = "".join(
        f'<body><freejoint/><geom type="{kind}" size="{size[0]} {size[1]} {size[2]}"/></body>'
        for kind, size, _ in (PRIMITIVES[first], PRIMITIVES[second])
    )
    model = mujoco.MjModel.from_xml_string(f"<mujoco><worldbody>{bodies}</worldbody></mujoco>")
    data, random = mujoco.MjData(model), np.random.default_rng(5)
    meshes = PRIMITIVES[first][2], PRIMITIVES[second][2]
    a, b = (CollisionModel(Solid(mesh, ("solid",), (0,))) for mesh in meshes)
    allowed = sum(mesh.surface_error for mesh in meshes)
    apart = 0
    for _ in range(40):
        places = random_pose(random, 15), random_pose(random, 15)
        for k, place in enumerate(places):
            quaternion = np.zeros(4)
            mujoco.mju_mat2Quat(quaternion, place[:3, :3].reshape(-1))
            data.qpos[7 * k : 7 * k + 7] = [*place[:3, 3], *quaternion]
        mujoco.mj_kinematics(model, data)
        true = mujoco.mj_geomDistance(model, data, 0, 1, 1e4, None)
        if true > 0.5:
            apart += 1
            assert true - 1e-6 <= nearest(a, b, *places).distance <= true + allowed + 1e-6
    assert apart >= 10


ARMS = """
format = 1
name = "Two arms and a post"
facet_error = 0.005

[parts.bench]
fixed = true
shapes = [{ name = "post", sphere = [140, 100, 30], diameter = 24 }]

[parts.arm]
shapes = [{ name = "bar", box = [50, 0, 0], size = [70, 8, 6] }]

[parts.hand]
shapes = [{ name = "bob", sphere = [150, 8, 14], diameter = 18 }]

[joints.shoulder]
pin = ["bench", "arm"]
at = [0, 0, 0]
along = [0, 0.6, 0.8]

[joints.wrist]
pin = ["arm", "hand"]
at = [100, 0, 0]
along = [0, 0, 1]

[drives.swing]
turns = { shoulder = 1 }
range = [-20, 50]

[drives.wave]
turns = { wrist = 1 }
range = [-60, 60]

[clearance]
required = 0.5
"""
THEIRS = """
<mujoco><compiler angle="degree"/><worldbody>
  <geom name="bench" type="sphere" size="12" pos="140 100 30"/>
  <body><joint type="hinge" axis="0 0.6 0.8" pos="0 0 0"/>
    <geom name="arm" type="box" size="35 4 3" pos="50 0 0" mass="1"/>
    <body pos="100 0 0"><joint type="hinge" axis="0 0 1" pos="0 0 0"/>
      <geom name="hand" type="sphere" size="9" pos="50 8 14" mass="1"/></body></body>
</worldbody></mujoco>
"""


def test_a_sweep_brackets_the_least_that_mujoco_finds_with_its_own_joints():
    machine = machine_from_text(ARMS, Path())
    mechanism = assemble(machine)
    result = sweep_pairs(mechanism, gather_pairs(machine, mechanism.bodies), Effort(bracket_mm=0.05), lambda *_: None)
    model = mujoco.MjModel.from_xml_string(THEIRS)
    data = mujoco.MjData(model)
    least = dict.fromkeys([("bench", "arm"), ("bench", "hand"), ("arm", "hand")], np.inf)
    for swing in np.radians(np.linspace(-20, 50, 141)):
        for wave in np.radians(np.linspace(-60, 60, 121)):
            data.qpos[:] = swing, wave
            mujoco.mj_kinematics(model, data)
            for names in least:
                ids = (mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_GEOM, name) for name in names)
                least[names] = min(least[names], mujoco.mj_geomDistance(model, data, *ids, 1e4, None))
    assert min(least.values()) > 1
    for pair in result.pairs:
        theirs = least[pair.pair.a, pair.pair.b]
        assert pair.proven <= theirs + 1e-6
        assert pair.least <= theirs + 0.02
        assert pair.least - pair.proven <= max(0.05, 0.02 * pair.least)


def swept_file(path, size, tmp_path):
    """A part file that turns on a pin beside a ball, and the distance over all turns as trimesh has it."""
    import trimesh

    theirs = trimesh.load_mesh(path)
    middle, span = theirs.bounds.mean(axis=0), float(np.ptp(theirs.bounds, axis=0).max())
    scale = size / span
    ball = (middle + (0.0, 0.9 * span, 0.1 * span)) * scale
    text = f"""
format = 1
name = "Part file"
[parts.bench]
fixed = true
shapes = [{{ sphere = {ball.tolist()}, diameter = 10 }}]
[parts.piece]
meshes = [{{ file = "{path}", scale = {scale}, surface_error = 0 }}]
[joints.axle]
pin = ["bench", "piece"]
at = {(middle * scale).tolist()}
along = [1, 0, 0]
[drives.turn]
turns = {{ axle = 1 }}
range = [-180, 180]
[clearance]
required = 1
"""
    machine = machine_from_text(text, tmp_path)
    mechanism = assemble(machine)
    result = sweep_pairs(mechanism, gather_pairs(machine, mechanism.bodies), Effort(), lambda *_: None)
    turns = np.radians(np.linspace(-180, 180, 721))
    arm = ball / scale - middle
    seen = [(arm[0], arm[1] * np.cos(t) + arm[2] * np.sin(t), arm[2] * np.cos(t) - arm[1] * np.sin(t)) for t in turns]
    apart = trimesh.proximity.closest_point(theirs, np.array(seen) + middle)[1] * scale - 5
    return result.pairs[0], float(apart.min())


def test_a_nut_that_others_drew_is_swept(tmp_path):
    """From pyvista's examples (MIT)."""
    path = Path(importlib.util.find_spec("pyvista").origin).parent / "examples" / "nut.ply"
    pair, apart = swept_file(path, 60.0, tmp_path)
    assert pair.verdict is Verdict.CLEAR
    assert pair.proven <= apart + 1e-6
    assert pair.least == pytest.approx(apart, abs=0.05)


@pytest.mark.skipif(not SAMPLES.is_dir(), reason="Debian's assimp-testmodels is not installed")
@pytest.mark.parametrize("name", ["3MF/box.3mf", "OBJ/box.obj", "PLY/cube_binary.ply"])
def test_sample_files_that_others_drew_are_swept(name, tmp_path):
    pair, apart = swept_file(SAMPLES / name, 40.0, tmp_path)
    assert pair.verdict is Verdict.CLEAR
    assert pair.proven <= apart + 1e-6
    assert pair.least == pytest.approx(apart, abs=0.05)
