"""Small random machines with solids, from a seed: open chains, closed loops, easy ones and ones near a dead centre.

Every machine is drawn at rest with rods, plates, boxes, balls and tubes of few triangles, all of them exact (some with
a stated surface error). A few fixed solids are put close to where moving ones pass, so that bounds are put to the test.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
import plain_meshes
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
from random_solids import direction, dressed, obstacles
from scipy.linalg import null_space

from assembly.errors import AssemblyError
from assembly.geometry.mesh import Mesh
from assembly.model.machine import ClearanceRules, Joint, Machine, Part, Shape

Random = np.random.Generator
Drawn = tuple[Machine, Mapping[str, tuple[float, float]]]
"""A machine without solids, and the range of each of its drives."""


def span(random: Random, reach: float) -> tuple[float, float]:
    """A range round zero: even, or all to one side, or uneven."""
    low, high = -reach * random.uniform(0.1, 1), reach * random.uniform(0.1, 1)
    kind = random.integers(4)
    return (-high, high) if kind == 0 else (0.0, high) if kind == 1 else (low, 0.0) if kind == 2 else (low, high)


def open_chain(random: Random) -> Drawn:
    """Two to four arms on pins in any direction, one to three drives, some of which turn two pins at once."""
    count = int(random.integers(2, 5))
    place, joints, names = np.zeros(3), [], [GROUND]
    for k in range(count):
        names.append(f"arm_{k}")
        joints.append(pin(f"pin_{k}", names[k], names[k + 1], place, direction(random)))
        place = place + random.uniform(30, 90) * direction(random)
    ratios: list[dict[str, float]] = [{} for _ in range(int(random.integers(1, min(count, 3) + 1)))]
    for k in range(count):
        ratios[k % len(ratios)][f"pin_{k}"] = float(random.choice([1.0, -0.5, 2.0]))
    drives = [turns(f"drive_{k}", **own) for k, own in enumerate(ratios)]
    return machine(joints, *drives), {drive.name: span(random, 60 / len(drives)) for drive in drives}


def four_bar(random: Random) -> Drawn:
    """A planar four-bar of any lengths; one in three close to a parallelogram, whose dead centres are change points."""
    angle = random.uniform(30, 150)
    crank, ground = random.uniform(25, 60), random.uniform(70, 120)
    knee = polar(crank, angle)
    wrist = np.array((ground, 0, 0)) + polar(random.uniform(30, 90), random.uniform(40, 140))
    if random.random() < 0.33:
        wrist = knee + (ground, 0, 0) + np.append(random.normal(scale=random.choice([0.5, 5.0]), size=2), 0)
    places = {
        "crank_pin": (GROUND, "crank", ORIGIN),
        "knee": ("crank", "coupler", knee),
        "wrist": ("coupler", "rocker", wrist),
        "rocker_pin": (GROUND, "rocker", (ground, 0)),
    }
    return machine(planar(places), turns(crank_pin=1)), {"crank_pin": span(random, random.choice([25, 90]))}


def rod_between_cranks(random: Random) -> Drawn:
    """Two cranks on axes that cross in space and a rod with a ball at each end."""
    pivot = random.uniform((150, -60, -60), (220, 60, 60))
    start, end = random.uniform(40, 70) * direction(random), pivot + random.uniform(50, 80) * direction(random)
    axis, other = (np.linalg.svd(np.array([line]))[2][int(random.integers(1, 3))] for line in (start, end - pivot))
    shafts = [pin("input", GROUND, "crank", ORIGIN, axis), pin("output", GROUND, "lever", pivot, other)]
    made = machine([*shafts, *rod("rod", "crank", "lever", start, end)], turns(input=1))
    return made, {"input": span(random, 45)}


def slider_crank(random: Random) -> Drawn:
    """Driven by the crank or by the block; driven by the block it has dead centres."""
    crank, offset = polar(random.uniform(25, 50), random.uniform(30, 150)), random.uniform(-15, 15)
    block = np.array((crank[0] + random.uniform(70, 130), offset, 0))
    places = {
        "crank_pin": (GROUND, "crank", ORIGIN),
        "big_end": ("crank", "rod", crank),
        "small_end": ("rod", "block", block),
    }
    joints = [*planar(places), slide("guide", GROUND, "block", block, X)]
    if random.random() < 0.5:
        return machine(joints, turns(crank_pin=1)), {"crank_pin": span(random, 120)}
    return machine(joints, slides(guide=1)), {"guide": span(random, 30)}


def five_bar(random: Random) -> Drawn:
    """Two driven cranks and two bars that meet in a pin."""
    left, right = polar(50, random.uniform(80, 140)), polar(50, random.uniform(40, 100), (90, 0))
    tip = np.array((random.uniform(20, 70), random.uniform(90, 125), 0))
    places = {
        "left": (GROUND, "left_crank", ORIGIN),
        "right": (GROUND, "right_crank", (90, 0)),
        "left_knee": ("left_crank", "left_bar", left),
        "right_knee": ("right_crank", "right_bar", right),
        "tip": ("left_bar", "right_bar", tip),
    }
    drives = turns(left=1), turns(right=1)
    return machine(planar(places), *drives), {drive.name: span(random, 50) for drive in drives}


def double_arm(random: Random) -> Drawn:
    """Two arms, an upright and a tie rod to a rack: lean and steer; sometimes the rack's foot is lifted too."""

    def near(x: float, y: float, z: float) -> Floats:
        return np.array((x, y, z)) + random.uniform(-8, 8, size=3)

    inner, tie = near(-90, 70, 180), near(-95, 250, 175)
    joints: list[Joint] = [
        pin("lower_pivot", GROUND, "lower_arm", near(0, 60, 165), X),
        pin("upper_pivot", GROUND, "upper_arm", near(-10, 80, 290), X + 0.05 * direction(random)),
        ball("lower_ball", "lower_arm", "upright", near(5, 258, 157)),
        ball("upper_ball", "upper_arm", "upright", near(-12, 240, 282)),
        *rod("tie_rod", "rack", "upright", inner, tie),
    ]
    drives = [turns("lean", lower_pivot=1), slides("steer", rack_guide=1)]
    ranges = {"lean": span(random, 25), "steer": span(random, 30)}
    if random.random() < 0.25:
        joints += [slide("lift", GROUND, "foot", inner, Z), slide("rack_guide", "foot", "rack", inner, Y)]
        return machine(joints, *drives, slides("lift", lift=1)), {**ranges, "lift": span(random, 8)}
    return machine([*joints, slide("rack_guide", GROUND, "rack", inner, Y)], *drives), ranges


def shafts(random: Random) -> Drawn:
    """Two shafts at up to 60 degrees to each other, tied by a universal joint."""
    angle = random.uniform(5, 60)
    out = about(Z, angle) @ X
    joints = [
        pin("input", GROUND, "driving", (-60, 0), X),
        universal("yoke", "driving", "driven", ORIGIN, Y, Z),
        pin("output", GROUND, "driven", 60 * out, out),
    ]
    return machine(joints, turns(input=1)), {"input": span(random, 80)}


def plunger(random: Random) -> Drawn:
    """A part that turns about a line and moves along it, with an arm on a pin."""
    line = direction(random)
    side = null_space(line[None])[:, 0]
    joints = [cylindrical("sleeve", GROUND, "carrier", ORIGIN, line), pin("hinge", "carrier", "arm", 50 * side, side)]
    drives = [turns("turn", sleeve=1), slides("push", sleeve=1), turns("swing", hinge=1)]
    kept = drives if random.random() < 0.5 else drives[:2]
    if len(kept) == 2:
        joints = joints[:1]
    return machine(joints, *kept), {"turn": span(random, 40), "push": span(random, 20), "swing": span(random, 30)}


def third_crank(random: Random) -> Drawn:
    """A parallelogram with a third crank, which holds nothing more, or, drawn a little wrong, locks it."""
    wrong = random.choice([0.0, 0.0, 0.2, 5.0])
    places = {
        "first": (GROUND, "first_crank", ORIGIN),
        "second": (GROUND, "second_crank", (100, 0)),
        "third": (GROUND, "third_crank", (200, wrong)),
        "first_top": ("first_crank", "bar", (10, 50)),
        "second_top": ("bar", "second_crank", (110, 50)),
        "third_top": ("bar", "third_crank", (210, 50)),
    }
    return machine(planar(places), turns(first=1)), {"first": span(random, random.choice([3, 40]))}


FAMILIES: tuple[Callable[[Random], Drawn], ...] = (
    open_chain,
    four_bar,
    rod_between_cranks,
    slider_crank,
    five_bar,
    double_arm,
    shafts,
    plunger,
    third_crank,
)


def with_solids(made: Machine, shapes: Mapping[str, Sequence[Mesh]], rules: ClearanceRules) -> Machine:
    """``made`` with meshes for the parts named; the others are a speck far away."""
    parts = {}
    for k, (name, part) in enumerate(made.parts.items()):
        speck = Mesh(*plain_meshes.cube(0.5, (0.0, 0.0, 3000.0 + 100 * k)))
        own = shapes.get(name) or [speck]
        parts[name] = Part(name, tuple(Shape(f"{name}_{i}", mesh) for i, mesh in enumerate(own)), part.fixed)
    return replace(made, parts=parts, clearance=rules)


def only(made: Machine, *pairs: tuple[str, str]) -> Machine:
    """``made`` with no other ``pairs`` checked: each that is undecided where a machine locks is measured there anew."""
    others = set(map(frozenset, combinations(made.parts, 2))) - set(map(frozenset, pairs))
    return replace(made, clearance=replace(made.clearance, ignored=dict.fromkeys(others, "not asked for")))


def random_machine(seed: int, share: float = 1.0) -> Machine:
    """The machine of ``seed``, with this ``share`` of its ranges; its name says the family.

    Machines that cannot be put together at rest, or stand at a dead centre there, are drawn anew.
    """
    for attempt in range(50):
        random = np.random.default_rng((seed, attempt))
        family = FAMILIES[seed % len(FAMILIES)]
        bare, ranges = family(random)
        drives = {
            name: replace(drive, low=share * float(ranges[name][0]), high=share * float(ranges[name][1]))
            for name, drive in bare.drives.items()
        }
        made = replace(bare, name=f"{family.__name__} {seed}", drives=drives)
        shapes = dressed(random, made)
        try:
            shapes[GROUND] = obstacles(random, made, shapes)
        except AssemblyError:
            continue
        return with_solids(made, shapes, ClearanceRules(required=float(random.choice([0.0, 1.0, 3.0]))))
    raise AssertionError(f"no machine of seed {seed} can be put together")
