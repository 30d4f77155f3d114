"""The demo machines: what they hold, that they move as worked out by hand, and how near their parts come."""

import difflib
import importlib.util
import re
import tomllib
from dataclasses import replace
from functools import cache
from itertools import product
from math import atan2, cos, degrees, hypot, pi, radians, sin, sqrt
from pathlib import Path

import numpy as np
import pytest
from random_machines import only
from watched_sweep import swept

from assembly.api.main_check import sweep
from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.distance import CollisionModel, nearest
from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.geometry.stl import stl_bytes
from assembly.kinematics.assembling import assemble, joint_mobility
from assembly.kinematics.solver import solve
from assembly.model.reader import read_machine

ROOT = Path(__file__).resolve().parent.parent
MESHES = ROOT / "meshes"
VERDICTS = {"parcel_trike": "clear", "parcel_trike_before": "fails", "workboat": "clear", "corner_case": "fails"}
LATTICE = list(product((-30.0, 0.0, 30.0), (-35.0, 4.0, 35.0)))
MOST_BYTES = 6e6
FAR = 20.0
QUICK = Effort(decide_only=True)


def file_of(name):
    return MESHES / name / f"{name}.toml"


@cache
def raw(name):
    return tomllib.loads(file_of(name).read_text(encoding="utf-8"))


@cache
def machine(name):
    return read_machine(file_of(name))


@cache
def mechanism(name):
    return assemble(machine(name))


@cache
def script():
    spec = importlib.util.spec_from_file_location("make_demo_meshes", ROOT / "scripts" / "make_demo_meshes.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def posed(name, settings):
    solved = solve(mechanism(name), np.array(settings, dtype=float))
    assert solved.reached.all()
    return solved.posture


def turn_about_z(name, posture, part):
    poses = mechanism(name).world_from_rest(posture, part)
    return np.degrees(np.arctan2(poses[:, 1, 0], poses[:, 0, 0]))


def mesh_entries(name):
    """Each entry of ``meshes`` with the file's path under the folder of the demos."""
    for part in raw(name)["parts"].values():
        for entry in part.get("meshes", []):
            yield (MESHES / name / entry["file"]).resolve().relative_to(MESHES).as_posix(), entry


def ball_round(mesh):
    middle = mesh.bounds.mean(axis=0)
    return middle, np.linalg.norm(mesh.vertices - middle, axis=1).max()


def least_room(name, settings):
    """Room in mm beyond what is required, by pair, at the worst of ``settings``; below 0 it fails.

    Where the balls round two parts stay FAR apart, that is enough to know.
    """
    posture = posed(name, settings)
    pairs = gather_pairs(machine(name), mechanism(name).bodies)
    collision_models = {
        exclusion: CollisionModel(solid) for exclusion, solid in pairs.solids.items() if len(solid.mesh.faces)
    }
    balls = {
        exclusion: ball_round(collision_model.solid.mesh) for exclusion, collision_model in collision_models.items()
    }
    poses = {part: mechanism(name).world_from_rest(posture, part) for part in machine(name).parts}
    room = {}
    for pair in pairs.checked:
        a, b = collision_models[pair.trim_a], collision_models[pair.trim_b]
        (middle_a, radius_a), (middle_b, radius_b) = balls[pair.trim_a], balls[pair.trim_b]
        least = FAR
        for world_from_a, world_from_b in list(zip(poses[pair.a], poses[pair.b], strict=True))[
            : 1 if pair.rigidly_coupled else None
        ]:
            apart = world_from_a @ (*middle_a, 1) - world_from_b @ (*middle_b, 1)
            if np.linalg.norm(apart) - radius_a - radius_b < FAR:
                least = min(least, nearest(a, b, world_from_a, world_from_b).distance)
        room[pair.a, pair.b] = least - pair.required
    return room


def test_trike_is_a_real_size_of_job():
    trike = machine("parcel_trike")
    assert len(trike.parts) >= 30
    assert sum(len(part.mesh.faces) for part in trike.parts.values()) >= 60_000
    words = [part for part, entry in raw("parcel_trike")["parts"].items() if "meshes" in entry]
    from_stl = set(words) | {part.replace("left", "right") for part in words}
    assert len(from_stl) >= 6
    assert from_stl <= trike.parts.keys()


@pytest.mark.parametrize("file", sorted(script().FILES))
def test_script_makes_the_same_bytes(file):
    made = script().made(file)
    assert stl_bytes(made) == (MESHES / file).read_bytes()
    assert made.volume > 0


def test_every_stl_comes_from_the_script_and_all_are_small():
    there = {path.relative_to(MESHES).as_posix(): path for path in MESHES.rglob("*.stl")}
    assert set(there) == set(script().FILES)
    assert sum(path.stat().st_size for path in there.values()) < MOST_BYTES


@pytest.mark.parametrize("name", VERDICTS)
def test_surface_errors_are_stated_and_not_too_small(name):
    for file, entry in mesh_entries(name):
        assert script().made(file).surface_error <= entry["surface_error"]


@pytest.mark.parametrize("name", VERDICTS)
def test_file_is_read_without_repairs(name):
    told = ("moved by ", "this mesh file lies outside the machine's folder")
    assert [finding for finding in machine(name).findings if not finding.message.startswith(told)] == []


def test_readme_tells_every_demo_and_its_verdict():
    rows = re.findall(r"^\| `(\w+)` \|.*\| (\w+) \|$", (MESHES / "README.md").read_text(encoding="utf-8"), re.MULTILINE)
    assert dict(rows) == VERDICTS
    assert sorted(VERDICTS) == sorted(path.name for path in MESHES.iterdir() if path.is_dir())


@pytest.mark.parametrize(
    ("name", "rolling", "driven"),
    [
        ("parcel_trike", {"tie_rod_left", "tie_rod_right", "drag_link"}, 3),  # two arms and the column
        ("workboat", set(), 2),
        ("corner_case", set(), 2),
    ],
)
def test_drives_set_all_but_the_rods_own_roll(name, rolling, driven):
    mobility, idle, unset = joint_mobility(machine(name))
    bodies = mechanism(name).bodies
    assert {part for roll in idle for body in roll.bodies for part in bodies.members[body]} == rolling
    assert unset == ()
    assert mobility.freedoms == driven + len(rolling)


def test_before_differs_by_an_edit_and_nothing_else():
    before = file_of("parcel_trike_before").read_text(encoding="utf-8").replace("../parcel_trike/", "")
    after = file_of("parcel_trike").read_text(encoding="utf-8")
    changes = difflib.ndiff(before.splitlines(), after.splitlines())
    changed = [line for line in changes if line[0] in "+-" and not line[2:].startswith("#")]
    assert sorted(line.split()[1] for line in changed) == sorted(["name", "bracket_reach", "tie_rod"] * 2)


def turned_until(length, pivot, arm, towards):
    """Least angle in rad by which ``arm`` (x, y) turns about ``pivot`` until its end is ``length`` from ``towards``."""
    apart, reach = np.subtract(towards, pivot), hypot(*arm)
    half = np.arccos((reach**2 + apart @ apart - length**2) / (2 * reach * hypot(*apart)))
    turns = [atan2(apart[1], apart[0]) + side * half - atan2(arm[1], arm[0]) for side in (1, -1)]
    return min(((turn + pi) % (2 * pi) - pi for turn in turns), key=abs)


def trike_by_hand(tilt, steer):
    """Bell crank and left wheel in degrees, and the left kingpin's shift: own model of circles, one after another."""
    tilt, steer, rake = radians(tilt), radians(steer), radians(10)
    lever = 60 / cos(rake)
    pin = np.array([-420 + lever * sin(steer) * cos(rake), -lever * cos(steer), 84 + lever * sin(steer) * sin(rake)])
    drag = hypot(420, 60 - lever)
    crank = turned_until(sqrt(drag**2 - (pin[2] - 84) ** 2), (0, 0), (0, -60), pin[:2])
    inner = np.array([-85 * cos(crank) - 24 * sin(crank), -85 * sin(crank) + 24 * cos(crank)])
    kingpin = (0, 34 + 224 * cos(tilt))
    flat = sqrt(224.2**2 - (224 * sin(tilt)) ** 2)
    wheel = turned_until(flat, kingpin, (-85, 248 - 258), inner)
    return degrees(crank), degrees(wheel), (0, 224 * (cos(tilt) - 1), 224 * sin(tilt))


@pytest.mark.parametrize(("tilt", "steer"), list(product((-30.0, 0.0, 21.0), (-35.0, 4.0, 35.0))))
def test_trike_moves_as_worked_out_by_hand(tilt, steer):
    crank, wheel, shift = trike_by_hand(tilt, steer)
    posture = posed("parcel_trike", [(tilt, steer)])
    assert turn_about_z("parcel_trike", posture, "bell_crank")[0] == pytest.approx(crank, abs=1e-6)
    assert turn_about_z("parcel_trike", posture, "upright_left")[0] == pytest.approx(wheel, abs=1e-6)
    ball = np.array([0, 258, 145, 1])
    moved = mechanism("parcel_trike").world_from_rest(posture, "upright_left")[0] @ ball - ball
    assert moved[:3] == pytest.approx(shift, abs=1e-6)


def test_trike_steers_far_at_every_lean():
    settings = list(product((-30.0, 0.0, 30.0), (-35.0, 35.0)))
    for wheel in ("upright_left", "upright_right"):
        turns = np.abs(turn_about_z("parcel_trike", posed("parcel_trike", settings), wheel))
        assert turns.min() > 29
        assert turns.max() < 43


@pytest.mark.parametrize(("tilt", "steer"), list(product((0.0, 25.0, 70.0), (-35.0, 10.0, 35.0))))
def test_ram_of_the_workboat_moves_as_worked_out_by_hand(tilt, steer):
    length = hypot(45 - 30, 200)
    x, y = -75 + 120 * cos(radians(steer)), 120 * sin(radians(steer))
    travel = y + sqrt(length**2 - (30 - x) ** 2) - 200
    pose = mechanism("workboat").world_from_rest(posed("workboat", [(tilt, steer)]), "ram")[0]
    on_axis = np.array([-20, 200, 80, 1])
    assert (pose @ on_axis - on_axis)[:3] == pytest.approx((0, travel, 0), abs=1e-6)
    assert degrees(atan2(pose[0, 2], pose[0, 0])) == pytest.approx(tilt, abs=1e-6)


@pytest.mark.long
def test_trike_keeps_its_room_but_not_by_much():
    room = least_room("parcel_trike", LATTICE)
    assert min(room.values()) > 0.2
    assert sum(value < 3 for value in room.values()) > 10


@pytest.mark.long
def test_bracket_of_the_day_before_strikes_its_own_upright_and_nothing_else_fails():
    room = least_room("parcel_trike_before", LATTICE)
    failing = {pair for pair, value in room.items() if value < 0}
    assert failing == {("lower_arm_left", "upright_left"), ("lower_arm_right", "upright_right")}
    assert all(room[pair] == -machine("parcel_trike_before").clearance.required for pair in failing)  # they meet


@pytest.mark.long
def test_workboat_keeps_its_room():
    room = least_room("workboat", list(product(np.linspace(0, 70, 8), np.linspace(-35, 35, 7))))
    assert 0.2 < min(room.values()) < 3


def test_corner_case_strikes_only_where_both_are_near_their_ends():
    alone = [(swing, 0.0) for swing in np.linspace(0, 60, 13)] + [(0.0, slide) for slide in np.linspace(0, 115, 13)]
    assert least_room("corner_case", alone)["swing_arm", "finger"] == FAR - 3
    for swing, slide in product(np.linspace(0, 60, 31), np.linspace(0, 115, 31)):
        knob = 100 * cos(radians(swing)), 100 * sin(radians(swing))
        apart = hypot(max(170 - slide - knob[0], 0), knob[1] - 98)
        if apart < 16:  # closed form: the knob's radius and the finger's
            assert swing > 0.85 * 60
            assert slide > 0.85 * 115
    assert least_room("corner_case", [(60.0, 115.0)])["swing_arm", "finger"] == -3


def test_sweep_of_the_day_before_fails_where_its_bracket_strikes():
    """One pair that fails fails the machine, whatever the others are; to sweep all of them takes five times as long."""
    run = swept(only(machine("parcel_trike_before"), ("lower_arm_left", "upright_left")), QUICK)
    assert [pair.verdict for pair in run.result.pairs] == [Verdict.FAILS]
    assert VERDICTS["parcel_trike_before"] == "fails"


def test_sweep_of_the_corner_case_fails():
    assert VERDICTS["corner_case"] == "fails"
    run = swept(machine("corner_case"), QUICK)
    failing = [pair for pair in run.result.pairs if pair.verdict is Verdict.FAILS]
    assert {(pair.pair.a, pair.pair.b) for pair in failing} == {("swing_arm", "finger")}


@pytest.mark.long
def test_sweep_of_the_trike_is_clear():
    """Over a quarter of its ranges; ``.ci/run`` sweeps the whole of what is told clear, and ends where it is not."""
    made = machine("parcel_trike")
    drives = {name: replace(drive, low=drive.low / 4, high=drive.high / 4) for name, drive in made.drives.items()}
    record = sweep(replace(made, drives=drives), effort=QUICK).record
    assert record.verdict == VERDICTS["parcel_trike"] == "clear"
    assert len(record.pairs) > 600


def test_ci_sweeps_all_that_is_told_clear_over_its_whole_range():
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    (names,) = re.findall(r"^for demo in (.*); do$", script, re.MULTILINE)
    assert set(names.split()) == {name for name, verdict in VERDICTS.items() if verdict == "clear"}
