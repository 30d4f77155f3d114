"""Wheels against models that share no code with the solver: distances alone, solved by scipy, and closed forms."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import fsolve
from scipy.spatial.transform import Rotation
from wheel_machines import FLOOR, TYRE, at, parts, read

from assembly.clearance.proof.joint_search import joint_search
from assembly.clearance.proof.reduced_motion import reduced_motion
from assembly.kinematics.assembling import assemble
from assembly.kinematics.frames import at_postures, over_cells
from assembly.kinematics.solver import solve
from assembly.kinematics.stance import Stance
from assembly.kinematics.wheel_figures import wheel_figures, wheel_motion

INNER = {"low": ([160, 110, 190], [-140, 130, 205]), "up": ([120, 150, 395], [-130, 165, 380])}
"""Points on the axes of a lower and an upper arm, of which no two lines are parallel (own model)."""
LOW, UP, TIE, TIE_IN = [8, 420, 175], [-22, 395, 410], [-95, 405, 230], [-110, 120, 245]
CENTRE, SPIN = [4, 480, 290], [0.02, 0.999, 0.03]
ANGLES = (-9.0, -4.0, 3.0, 8.0)


def corner_text():
    """The corner as the tool reads it: both arms on pins, balls outside, a tie rod to the frame."""
    along = {arm: list(np.subtract(*ends)) for arm, ends in INNER.items()}
    return f"""
[joints]
low_in = {{ pin = ["frame", "low_arm"], at = {INNER["low"][0]}, along = {[float(x) for x in along["low"]]} }}
up_in = {{ pin = ["frame", "up_arm"], at = {INNER["up"][0]}, along = {[float(x) for x in along["up"]]} }}
low = {{ ball = ["low_arm", "upright"], at = {LOW} }}
up = {{ ball = ["up_arm", "upright"], at = {UP} }}
tie_in = {{ ball = ["frame", "rod"], at = {TIE_IN} }}
tie = {{ ball = ["rod", "upright"], at = {TIE} }}
{parts("frame", "low_arm", "up_arm", "upright", "rod")}{FLOOR}
[wheels.wheel]
part = "upright"
centre = {CENTRE}
spin = {SPIN}
tyre_diameter = 560
section = 60
kingpin = [{LOW}, {UP}]
[drives.lift]
turns = {{ low_in = 1 }}
range = [-10, 10]
"""


def by_distances(angle):
    """Lower, upper and tie point at an angle of the lower arm: six distances stay what they are."""
    axis = np.subtract(*INNER["low"]) / np.linalg.norm(np.subtract(*INNER["low"]))
    low = Rotation.from_rotvec(np.radians(angle) * axis).apply(np.subtract(LOW, INNER["low"][0])) + INNER["low"][0]
    kept = [(UP, INNER["up"][0]), (UP, INNER["up"][1]), (UP, LOW), (TIE, LOW), (TIE, UP), (TIE, TIE_IN)]
    lengths = [np.linalg.norm(np.subtract(*pair)) for pair in kept]

    def missed(x):
        up, tie = x[:3], x[3:]
        ends = [(up, INNER["up"][0]), (up, INNER["up"][1]), (up, low), (tie, low), (tie, up), (tie, TIE_IN)]
        return [np.linalg.norm(np.subtract(*pair)) - length for pair, length in zip(ends, lengths, strict=True)]

    found = fsolve(missed, [*UP, *TIE], xtol=1e-14)
    assert np.abs(missed(found)).max() < 1e-9
    return low, found[:3], found[3:]


def turned(drawn, now):
    """The rotation that takes three drawn points to where they are now."""
    frames = []
    for low, up, tie in (drawn, now):
        x = np.subtract(up, low) / np.linalg.norm(np.subtract(up, low))
        z = np.cross(x, np.subtract(tie, low))
        z /= np.linalg.norm(z)
        frames.append(np.stack([x, np.cross(z, x), z], axis=1))
    return frames[1] @ frames[0].T


def test_a_double_arm_corner_in_space_against_distances_solved_by_scipy():
    found = at(read(corner_text()), *([angle] for angle in ANGLES))
    for row, angle in enumerate(ANGLES):
        low, up, tie = by_distances(angle)
        spin = turned((LOW, UP, TIE), (low, up, tie)) @ np.array(SPIN) / np.linalg.norm(SPIN)
        centre = low + turned((LOW, UP, TIE), (low, up, tie)) @ np.subtract(CENTRE, LOW)
        pin = (up - low) / np.linalg.norm(up - low)
        down = np.array([0, 0, -1.0]) + spin[2] * spin
        contact = centre + (280 - 30) * down / np.linalg.norm(down) - [0, 0, 30]
        ahead = np.array([spin[1], -spin[0], 0]) / np.hypot(spin[0], spin[1])
        meets = low - pin * low[2] / pin[2]
        expected = {
            "toe": np.degrees(np.arctan2(spin[0], spin[1])),
            "camber": -np.degrees(np.arcsin(spin[2])),
            "caster": np.degrees(np.arctan2(-pin[0], pin[2])),
            "inclination": np.degrees(np.arctan2(-pin[1], pin[2])),
            "trail": (meets - contact)[:2] @ ahead[:2],
            "scrub radius": (contact - meets)[:2] @ [-ahead[1], ahead[0]],
        }
        for word, value in expected.items():
            assert found.values[f"wheel {word}"][row] == pytest.approx(value, abs=1e-6), word


def arms_text(inner=30.0, arm=220.0, out=70.0):
    """A tilting front of two pairs of equal arms on the frame itself; the rear wheel stands on the frame."""
    joints = "".join(
        f'{level}_in_left = {{ pin = ["frame", "{level}_arm_left"], at = [0, {inner}, {z}], along = [1, 0, 0] }}\n'
        f'{level}_left = {{ {kind} = ["{level}_arm_left", "upright_left"], at = [0, {inner + arm}, {z}]{more} }}\n'
        for level, z, kind, more in (("low", 200, "pin", ", along = [1, 0, 0]"), ("up", 350, "ball", ""))
    )
    return f"""
[mirror]
left = "right"
[joints]
{joints}
{parts("frame", "low_arm_left", "up_arm_left", "upright_left")}
[wheels.wheel_left]
part = "upright_left"
centre = [0, {inner + arm + out}, 200]
{TYRE}
[wheels.rear]
part = "frame"
centre = [-1100, 0, 200]
{TYRE}
[drives.tilt]
turns = {{ low_in_left = 1, low_in_right = 1 }}
range = [-30, 30]
"""


def test_a_frame_leans_by_less_than_its_arms_turn():
    """Closed form: all tyres are alike and upright in the frame, so tan lean = r sin a / (pivot + r cos a + offset)."""
    angles = np.array([-30.0, -12, 0, 21, 30])
    found = at(read(arms_text()), *angles[:, None])
    a = np.radians(angles)
    expected = np.degrees(np.arctan2(220 * np.sin(a), 100 + 220 * np.cos(a)))
    assert found.values["lean"] == pytest.approx(-expected, abs=1e-6)
    assert found.values["pitch"] == pytest.approx(np.zeros(5), abs=1e-6)
    assert found.values["wheel_left camber"] == pytest.approx(expected, abs=1e-6)
    track = np.hypot(2 * 220 * np.sin(a), 2 * (100 + 220 * np.cos(a)))
    assert found.values["wheel_left and wheel_right track"] == pytest.approx(track, abs=1e-6)


def two_sided():
    """The same front with a drive for either side, put together."""
    drives = "[drives.one]\nturns = { low_in_left = 1 }\nrange = [-25, 25]\n"
    drives += "[drives.other]\nturns = { low_in_right = 1 }\nrange = [-25, 25]\n"
    text = arms_text()
    return assemble(read(text[: text.index("[drives.tilt]")] + drives))


def test_what_taylor_models_of_the_road_leave_out_is_within_their_rest():
    """At 60 settings of each of the largest cells the road's normal, its height and a figure of each kind."""
    mechanism, draw = two_sided(), np.random.default_rng(7)
    every = {one.name: one for one in wheel_figures(mechanism)}
    one = every["wheel_left and wheel_right outer error"]
    within = reduced_motion(joint_search(mechanism).groups, wheel_motion(mechanism, one))
    cells, layout = within.cells, one.layout
    ids = cells.roots[np.argsort(-cells.half[cells.roots].prod(axis=1))[:3]]
    frames = over_cells(cells.motion.take(ids), within.motion.rest)
    road = Stance(layout, frames).road
    models = {
        "normal": road.normal,
        "height": road.height,
        **{name: figure.of(frames) for name, figure in every.items() if figure.of_wheels != ("wheel_right",)},
    }
    for row, cell in enumerate(ids):
        away = draw.uniform(-1, 1, (60, 2)) * cells.half[cell]
        posture = solve(mechanism, cells.settings[cell] + away).posture
        there = Stance(layout, at_postures(posture, mechanism.bodies.centres)).road
        values = {"normal": there.normal.value, "height": there.height.value}
        for name, model in models.items():
            if name in every:
                values[name] = wheel_motion(mechanism, every[name]).values(posture)
            curved = 0.5 * np.einsum("nd,de...,ne->n...", away, model.second[row], away)
            straight = np.einsum("nd,d...->n...", away, model.first[row])
            missed = np.abs(values[name] - (model.value[row] + straight + curved))
            assert (missed.max(axis=0) <= model.rest[row] + 1e-10 * np.abs(model.value[row]).max() + 1e-12).all(), name


def test_a_wheel_that_is_known_to_a_millimetre_leaves_the_road_as_open():
    """A wheel 0.9 mm higher or lower tilts the road by 0.9 / 640 or so: that lies within what is proven of it."""
    mechanism = two_sided()
    one = next(each for each in wheel_figures(mechanism) if each.name == "lean")
    within = reduced_motion(joint_search(mechanism).groups, wheel_motion(mechanism, one))
    body = one.layout.wheels["wheel_left"].body
    known = over_cells(within.cells.motion.take(within.cells.roots[:2]), within.motion.rest)
    open_by = known.shift_rest.copy()
    open_by[:, body] += 1.0
    road = Stance(one.layout, replace(known, shift_rest=open_by)).road
    assert np.isfinite(road.normal.rest).all()
    for off in (-0.9, 0.9):
        centres = known.posture.centres.copy()
        centres[:, body, 2] += off
        moved = at_postures(replace(known.posture, centres=centres), within.motion.rest)
        tilted = np.abs(Stance(one.layout, moved).road.normal.value - road.normal.value)
        assert (tilted.max(axis=1) > 0.9 / 700).all()
        assert (tilted <= road.normal.rest).all()
