"""Front ends and steering linkages drawn by hand; mm, degrees, x forward, y left, z up."""

from collections.abc import Sequence

import numpy as np
from linkage_machines import (
    GROUND,
    ORIGIN,
    Floats,
    X,
    Y,
    Z,
    ball,
    machine,
    pin,
    rod,
    slide,
    slides,
    turns,
    vector,
)

from assembly.model.machine import Joint, Machine

LOWER = np.array((0.0, 450.0, 250.0))
"""Lower outer ball of the crossed tie rod's machine."""


def crossed_tie_rod(
    arm_height: float, inner: Sequence[float], *, inner_of_rod: Sequence[float] | None = None
) -> Machine:
    """One wheel on equal, parallel arms of 350 with its tie rod (BUILDERS_CASES TC-01).

    The rod ends 90 behind the lower ball and ``arm_height`` above it; its length is that at rest from ``inner_of_rod``,
    while its inner ball sits ``inner`` on the frame.
    """
    upper, arm_end = LOWER + np.array((0, 0, 150)), LOWER + np.array((-90, 0, arm_height))
    joints = [
        pin("lower_pivot", GROUND, "lower_arm", (0, 100, 250), X),
        pin("upper_pivot", GROUND, "upper_arm", (0, 100, 400), X),
        ball("lower_ball", "lower_arm", "upright", LOWER),
        ball("upper_ball", "upper_arm", "upright", upper),
        *rod("tie_rod", GROUND, "upright", inner, arm_end),
    ]
    made = machine(joints, turns(lower_pivot=1))
    if inner_of_rod is None:
        return made
    old = made.joints["tie_rod_start"]
    edited = Joint(old.name, old.kind, old.first, old.second, old.at_first, vector(inner_of_rod))
    return Machine(made.name, made.parts, {**made.joints, old.name: edited}, made.drives, file=made.file)


def over_centre(*, pins: bool = False) -> Machine:
    """A kingpin's arm of 100 pushed by a rod from a straight slide (BUILDERS_CASES TC-06); the rod on balls or pins."""
    end, foot = (-100, 0), (-60, -300)
    joints = [pin("kingpin", GROUND, "arm", ORIGIN, Z), slide("guide", GROUND, "block", foot, Y)]
    ends = [("block", "rod", foot, "rod_start"), ("rod", "arm", end, "rod_end")]
    joints += [pin(name, a, b, at, Z) if pins else ball(name, a, b, at) for a, b, at, name in ends]
    return machine(joints, slides(guide=1))


def slotted_arm(length: float) -> Machine:
    """An arm along x, its end in the cross slot of a bar that slides along y: y = length · sin (TC-03b, TC-05c)."""
    end = (length, 0)
    joints = [
        pin("pivot", GROUND, "arm", ORIGIN, Z),
        slide("guide", GROUND, "bar", (length + 40, 0), Y),
        slide("slot", "bar", "block", end, X),
        pin("arm_end", "block", "arm", end, Z),
    ]
    return machine(joints, slides(guide=1))


def steered_axle(arm: float, half_track: float) -> Machine:
    """Kingpins at ±``half_track``, equal arms straight back and a rod between them (TC-03a): a parallelogram."""
    joints: list[Joint] = []
    ends = {side: np.array((0.0, y, 0.0)) for side, y in (("left", half_track), ("right", -half_track))}
    for side, place in ends.items():
        joints.append(pin(f"kingpin_{side}", GROUND, f"arm_{side}", place, Z))
    left, right = (place - (arm, 0, 0) for place in ends.values())
    return machine([*joints, *rod("rod", "arm_left", "arm_right", left, right)], turns(kingpin_left=1))


def double_wishbone(hinge: str = "pin", *, rack: bool = False) -> Machine:
    """One wheel on unequal, unparallel arms, drives let go (REFERENCE_VALUES 1.22).

    ``hinge`` of each arm: one ``pin``, two coaxial ``pins`` or two ``balls``; the tie rod's inner end sits on the frame
    or on a ``rack`` that slides along y.
    """
    joints: list[Joint] = []
    for arm, inner, outer in (("lower", (0, 60, 165), (5, 258, 157)), ("upper", (-10, 80, 290), (-12, 240, 282))):
        feet = [np.add(inner, (x, 0, 0)) for x in ((0,) if hinge == "pin" else (60, -60))]
        for foot, name in zip(feet, ("pivot", "rear_pivot"), strict=False):
            place = (f"{arm}_{name}", GROUND, f"{arm}_arm", foot)
            joints.append(ball(*place) if hinge == "balls" else pin(*place, X))
        joints.append(ball(f"{arm}_ball", f"{arm}_arm", "upright", outer))
    inner = (-90, 70, 180)
    joints += rod("tie_rod", "rack" if rack else GROUND, "upright", inner, (-95, 250, 175))
    if rack:
        joints.append(slide("rack_guide", GROUND, "rack", inner, Y))
    return machine(joints)


def wheel(side: str, sign: int) -> list[Joint]:
    """Arms, upright and tie rod of one side of the whole front end."""

    def at(x: float, y: float, z: float) -> Floats:
        return np.array((x, sign * y, z))

    return [
        pin(f"lower_pivot_{side}", GROUND, f"lower_{side}", at(0, 58, 165), X),
        pin(f"upper_pivot_{side}", GROUND, f"upper_{side}", at(-10, 80, 290), X),
        ball(f"lower_ball_{side}", f"lower_{side}", f"upright_{side}", at(0, 258, 157)),
        ball(f"upper_ball_{side}", f"upper_{side}", f"upright_{side}", at(-12, 240, 282)),
        *rod(f"tie_rod_{side}", "bell_crank", f"upright_{side}", at(-85, 40, 190), at(-70, 245, 178)),
    ]


def front_end(*, bump: bool = False) -> Machine:
    """Two wheels on double wishbones, leaned by both lower arms and steered by a bell crank with two tie rods.

    ``bump`` is a third drive: it lifts both wheels by the same two pins that lean them.
    """
    joints = [*wheel("left", 1), *wheel("right", -1), pin("head", GROUND, "bell_crank", (-60, 0, 190), Z)]
    drives = [turns("lean", lower_pivot_left=1, lower_pivot_right=1), turns("steer", head=1)]
    if bump:
        drives.append(turns("bump", lower_pivot_left=1, lower_pivot_right=-1))
    return machine(joints, *drives)
