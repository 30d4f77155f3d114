"""Linkages that textbooks know, each drawn by its closed form at a chosen pose; lengths in mm, angles in degrees."""

from collections.abc import Mapping, Sequence

import numpy as np
from linkage_machines import (
    GROUND,
    ORIGIN,
    Floats,
    X,
    Y,
    Z,
    about,
    ball,
    cylindrical,
    machine,
    pin,
    planar,
    polar,
    rod,
    slide,
    slides,
    turns,
    universal,
)
from oracles import linkages

from assembly.model.machine import Joint, Machine


def four_bar(crank_angle: float = 90.0, crossed: bool = False, along: Sequence[float] = Z) -> Machine:
    """Crank 40, coupler 120, rocker 80, ground 100 (REFERENCE_VALUES 1.1)."""
    coupler, _ = linkages.four_bar(40, 120, 80, 100, crank_angle, crossed)
    knee = polar(40, crank_angle)
    places = {
        "crank_pin": (GROUND, "crank", ORIGIN),
        "knee": ("crank", "coupler", knee),
        "wrist": ("coupler", "rocker", polar(120, coupler, knee)),
        "rocker_pin": (GROUND, "rocker", (100, 0)),
    }
    return machine(planar(places, along), turns(crank_pin=1))


def loop_of_four_kinds(crank_angle: float = 90.0) -> Machine:
    """The same four-bar with a ball at the knee and a pin-slide at the wrist: nothing is held twice."""
    joints = dict(four_bar(crank_angle).joints)
    joints["knee"] = ball("knee", "crank", "coupler", joints["knee"].at_first)
    joints["wrist"] = cylindrical("wrist", "coupler", "rocker", joints["wrist"].at_first, Z)
    return machine(joints.values(), turns(crank_pin=1))


def slider_crank(crank: float, rod_length: float, offset: float, crank_angle: float, other: bool = False) -> Machine:
    """A block that slides along x at y = ``offset``, joined by a rod to a crank about the origin."""
    _, place = linkages.offset_slider_crank(crank, rod_length, offset, crank_angle, other)
    block = np.array([place, offset, 0.0])
    joints = planar(
        {
            "crank_pin": (GROUND, "crank", ORIGIN),
            "big_end": ("crank", "rod", polar(crank, crank_angle)),
            "small_end": ("rod", "block", block),
        }
    )
    return machine([*joints, slide("guide", GROUND, "block", block, X)], turns(crank_pin=1))


def two_shafts(joint_angle: float, across: bool, *, cross: bool = False) -> Machine:
    """Two shafts that meet at the origin, tied by a universal joint, or by a cross with four pins.

    The driving yoke's cross line lies in the plane xy of both shafts, or square to it with ``across``.
    """
    out = polar(1, joint_angle)
    flat = (Y, Z) if not across else (Z, np.cross(Z, out))
    shafts = [pin("input", GROUND, "driving", (-80, 0), X), pin("output", GROUND, "driven", 80 * out, out)]
    if cross:
        yokes = [
            pin("first_yoke", "driving", "cross", ORIGIN, flat[0]),
            pin("yoke", "cross", "driven", ORIGIN, flat[1]),
        ]
        return machine([*shafts, *yokes], turns(input=1))
    return machine([*shafts, universal("yoke", "driving", "driven", ORIGIN, *flat)], turns(input=1))


def spherical_four_bar(turned_in: float, other: bool = False) -> Machine:
    """Axes through the origin: fixed arc 60, crank 30, coupler 55, follower 70 (REFERENCE_VALUES 1.7)."""
    turned_out = float(linkages.spherical_four_bar(60, 30, 55, 70, turned_in, other))
    follower = about(Y, 60)
    lines = {
        "input": (GROUND, "crank", np.array(Z)),
        "first": ("crank", "coupler", about(Z, turned_in) @ about(Y, 30) @ Z),
        "second": ("coupler", "follower", follower @ about(Z, turned_out) @ about(Y, 70) @ Z),
        "output": (GROUND, "follower", follower @ Z),
    }
    return machine([pin(name, a, b, 90 * line, line) for name, (a, b, line) in lines.items()], turns(input=1))


def rod_between_cranks(other: bool = False) -> Machine:
    """Two cranks on crossed axes and a rod with a ball at each end, input at 90 (REFERENCE_VALUES 1.8)."""
    linkage = linkages.RodBetweenCranks()
    pivot = np.array(linkage.pivot)
    end = pivot + linkage.output_arm * about(Y, -float(linkage.output(90.0, other))) @ X
    shafts = [pin("input", GROUND, "crank", ORIGIN, Z), pin("output", GROUND, "lever", pivot, (0, -1, 0))]
    return machine([*shafts, *rod("rod", "crank", "lever", (0, linkage.input_arm, 0), end)], turns(input=1))


def link(length: float, twist: float, turn: float) -> Floats:
    """Pose (4, 4) of the next pin: turn about z, shift along x, twist about x (Denavit and Hartenberg 1955)."""
    pose = np.eye(4)
    pose[:3, :3] = about(Z, turn) @ about(X, twist)
    pose[:3, 3] = about(Z, turn) @ (length, 0, 0)
    return pose


def bennett(first_turn: float, *, misplaced: float = 0.0) -> Machine:
    """Lengths 60 and 87.714, twists 40 and 70 (REFERENCE_VALUES 1.9); the third pin can be drawn beside its place."""
    second_turn, second = float(linkages.bennett_turn(40, 70, first_turn)), linkages.bennett(60, 40, 70)
    frames = [np.eye(4)]
    for step in (link(60, 40, first_turn), link(second, 70, second_turn), link(60, 40, -first_turn)):
        frames.append(frames[-1] @ step)
    frames[2][:3, 3] += misplaced * frames[2][:3, 0]
    ring = [GROUND, "first", "second", "third", GROUND]
    joints = [pin(f"pin_{k + 1}", ring[k], ring[k + 1], frame[:3, 3], frame[:3, 2]) for k, frame in enumerate(frames)]
    return machine(joints, turns(pin_1=1))


def peaucellier(size: float) -> Machine:
    """Long bars 5, short bars 3, crank 1.5, times ``size``, drawn with the crank along x (REFERENCE_VALUES 1.10)."""
    middle, inner, outer = np.array([[1.5, 0], [3, 0], [16 / 3, 0]]) * size
    across = (9 + 16) / 6 * size
    side = np.sqrt((5 * size) ** 2 - across**2)
    upper, lower = (across, side), (across, -side)
    places = {
        "crank_pin": (GROUND, "crank", middle),
        "long_upper_foot": (GROUND, "long_upper", ORIGIN),
        "long_lower_foot": (GROUND, "long_lower", ORIGIN),
        "inner_upper": ("crank", "inner_upper_bar", inner),
        "inner_lower": ("crank", "inner_lower_bar", inner),
        "upper_inner": ("long_upper", "inner_upper_bar", upper),
        "upper_outer": ("long_upper", "outer_upper_bar", upper),
        "lower_inner": ("long_lower", "inner_lower_bar", lower),
        "lower_outer": ("long_lower", "outer_lower_bar", lower),
        "pen": ("outer_upper_bar", "outer_lower_bar", outer),
    }
    return machine(planar(places), turns(crank_pin=1))


def sarrus(lift: float) -> Machine:
    """A plate over the ground on two legs of two bars of 50, one leg folding along x, the other along y."""
    out, height = 50 * np.cos(np.radians(lift)), float(linkages.sarrus_height(50, lift))
    joints: list[Joint] = []
    for name, side, along in (("front", np.array(X), (0, -1, 0)), ("left", np.array(Y), X)):
        ring = [GROUND, f"{name}_low", f"{name}_high", "plate"]
        places = [80 * side, (80 + out) * side + (0, 0, height / 2), 80 * side + (0, 0, height)]
        joints += [pin(f"{name}_{k + 1}", ring[k], ring[k + 1], at, along) for k, at in enumerate(places)]
    return machine(joints, turns(front_1=1))


def bricard() -> Machine:
    """Six bars along six edges of a cube of 100, each pin square to both of its bars (REFERENCE_VALUES 1.18)."""
    corners = 100.0 * np.array([(0, 0, 0), (1, 0, 0), (1, 1, 0), (1, 1, 1), (0, 1, 1), (0, 0, 1)])
    bars = np.roll(corners, -1, axis=0) - corners
    names = ["first", "second", "third", "fourth", "fifth", GROUND]
    joints = [
        pin(f"pin_{k}", names[k - 1], names[k], corner, np.cross(bars[k - 1], bars[k]))
        for k, corner in enumerate(corners)
    ]
    return machine(joints, turns(pin_0=1))


def squeezer(places: Mapping[str, Floats], size: float) -> Machine:
    """The seven-body squeezer from its moving hinges in mm, drawn with ``size`` mm per m (REFERENCE_VALUES 1.12)."""
    A = size * np.array([linkages.SQUEEZER["xa"], linkages.SQUEEZER["ya"]])
    B = size * np.array([linkages.SQUEEZER["xb"], linkages.SQUEEZER["yb"]])
    bars = {
        "crank_pin": (GROUND, "crank", ORIGIN),
        "crank_end": ("crank", "bar_d", places["crank"]),
        "spring_pin": (GROUND, "bar_ss", B),
        "upper_pin": (GROUND, "bar_zt", A),
        "lower_pin": (GROUND, "bar_u", A),
        "upper": ("bar_zt", "bar_e", places["upper"]),
        "lower": ("bar_u", "bar_zf", places["lower"]),
        "common_ss": ("bar_d", "bar_ss", places["common"]),
        "common_e": ("bar_d", "bar_e", places["common"]),
        "common_zf": ("bar_d", "bar_zf", places["common"]),
    }
    return machine(planar(bars), turns(crank_pin=1))


def parallelogram(*, lean: float = 60.0, third_misplaced: float | None = None) -> Machine:
    """Two cranks of 50, their feet 120 apart; with ``third_misplaced`` a third, its top that far along x."""
    feet = {"left": 0.0, "right": 120.0} | ({} if third_misplaced is None else {"third": 50.0})
    tops = {name: polar(50, lean, (x, 0, 0)) for name, x in feet.items()}
    if third_misplaced is not None:
        tops["third"] = tops["third"] + (third_misplaced, 0, 0)
    places = {f"{name}_foot": (GROUND, f"{name}_crank", (x, 0)) for name, x in feet.items()}
    places |= {f"{name}_top": (f"{name}_crank", "coupler", tops[name]) for name in feet}
    return machine(planar(places), turns(left_foot=1))


def coupled_wheels(lean: float = 60.0) -> Machine:
    """Two wheels, their middles 120 apart, and two rods with balls between their cranks of 50, a quarter turn apart."""
    middles = {"left": ORIGIN, "right": (120.0, 0.0, 0.0)}
    joints: list[Joint] = [pin(f"{side}_middle", GROUND, f"{side}_wheel", at) for side, at in middles.items()]
    for name, angle in (("near_rod", lean), ("far_rod", lean + 90)):
        joints += rod(name, "left_wheel", "right_wheel", *(polar(50, angle, at) for at in middles.values()))
    return machine(joints, turns(left_middle=1))


def coupled_yokes() -> Machine:
    """Cranks of 60 and 20, turned one to three, that push one yoke along x, each by a pin in a block in its slot."""
    joints: list[Joint] = [slide("guide", GROUND, "yoke", (0, -100, 0), X)]
    for name, arm in (("slow", 60.0), ("fast", 20.0)):
        joints += [pin(f"{name}_axle", GROUND, f"{name}_crank", ORIGIN, (0, 0, -1))]
        joints += [pin(f"{name}_tip", f"{name}_crank", f"{name}_block", (0, arm))]
        joints += [slide(f"{name}_slot", f"{name}_block", "yoke", (0, arm), Y)]
    return machine(joints, turns("turn", slow_axle=1, fast_axle=3))


def tilting_parallelogram() -> Machine:
    """Two beams pinned at their middles to the frame and two uprights between their ends (REFERENCE_VALUES 1.20)."""
    places = {f"{level}_middle": (GROUND, f"{level}_beam", (0, 0, z)) for level, z in (("low", 200), ("high", 400))}
    for side, y in (("left", 200), ("right", -200)):
        for level, z in (("low", 200), ("high", 400)):
            places[f"{side}_{level}"] = (f"{level}_beam", f"{side}_upright", (0, y, z))
    return machine(planar(places, X), turns(low_middle=1))


def three_pins_in_line(*, driven: bool = True) -> Machine:
    """Two bars between two fixed pins, all three pins on one line: no motion but the first instant."""
    places = {
        "first": (GROUND, "bar", ORIGIN),
        "middle": ("bar", "other_bar", (60, 0)),
        "last": ("other_bar", GROUND, (150, 0)),
    }
    return machine(planar(places), *((turns(first=1),) if driven else ()))


def platform_on_rods(count: int) -> Machine:
    """A platform over the ground on ``count`` rods with a ball at each end (REFERENCE_VALUES 1.23)."""
    joints: list[Joint] = []
    for k in range(count):
        foot = polar(200, 60 * k + (15 if k % 2 else -15))
        top = polar(120, 60 * k + (-22 if k % 2 else 22), (0, 0, 250))
        joints += rod(f"rod_{k}", GROUND, "platform", foot, top)
    return machine(joints)


def hexapod() -> Machine:
    """A platform that a pin-slide turns and lifts, on six telescopes between balls (REFERENCE_VALUES 1.14)."""
    joints: list[Joint] = [cylindrical("post", GROUND, "platform", (0, 0, 125), Z)]
    for k in range(6):
        joints += telescope(f"leg_{k}", polar(200, 60 * k), polar(120, 60 * k, (0, 0, 250)))
    return machine(joints, turns("twist", post=1), slides("lift", post=1))


def hexapod_on_six_legs() -> Machine:
    """A platform on six telescopes, feet and tops in three pairs each, every leg with its own drive."""
    joints: list[Joint] = []
    for k in range(6):
        foot = polar(200, 60 * k + (12 if k % 2 else -12))
        joints += telescope(f"leg_{k}", foot, polar(120, 60 * k + (-18 if k % 2 else 18), (0, 0, 250)))
    return machine(joints, *(slides(**{f"leg_{k}": 1.0}) for k in range(6)))


def telescope(name: str, foot: Floats, top: Floats) -> list[Joint]:
    """A leg of two tubes between the ground and the platform; the joint ``name`` slides them apart."""
    return [
        ball(f"{name}_foot", GROUND, f"{name}_low", foot),
        slide(name, f"{name}_low", f"{name}_high", (foot + top) / 2, top - foot),
        ball(f"{name}_top", f"{name}_high", "platform", top),
    ]
