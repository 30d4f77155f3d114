"""Random measures, cables, splitters and wheels on random machines, some of them singular at a setting of the range."""

from dataclasses import replace

import numpy as np
from linkage_machines import vector
from random_machines import random_machine
from random_solids import direction

from assembly.kinematics.assembling import assemble
from assembly.kinematics.solver import solve
from assembly.model.cable import Cable, CableRun, CableSystem, Splitter
from assembly.model.cable_measures import cable_measures
from assembly.model.feature import GROUND, Feature, FeatureKind
from assembly.model.measure import Measure, MeasureKind
from assembly.model.wheel import Kingpin, Road, Wheel, Wheels

POINT, LINE, PLANE = FeatureKind.POINT, FeatureKind.LINE, FeatureKind.PLANE
KINDS = (
    (MeasureKind.ANGLE, (LINE, LINE), False),
    (MeasureKind.ANGLE, (LINE, PLANE), False),
    (MeasureKind.ANGLE, (PLANE, PLANE), False),
    (MeasureKind.ANGLE, (LINE, LINE), True),
    (MeasureKind.ANGLE, (LINE, LINE), True),
    (MeasureKind.DISTANCE, (POINT, POINT), False),
    (MeasureKind.DISTANCE, (LINE, POINT), False),
    (MeasureKind.DISTANCE, (POINT, PLANE), False),
    (MeasureKind.DISTANCE, (LINE, LINE), False),
    (MeasureKind.COORDINATE, (POINT,), True),
    (MeasureKind.LEVEL, (LINE,), True),
    (MeasureKind.LEVEL, (PLANE,), True),
)
WHEELS = (("wheel_left", (300, 250)), ("wheel_right", (300, -250)), ("rear", (-400, 0)))


class Drawn:
    """Features of a machine, and where they would be drawn to meet others at a setting somewhere in its range."""

    def __init__(self, machine, random):
        self.machine, self.random = machine, random
        self.mechanism = assemble(machine)
        self.parts = [*self.mechanism.bodies.body_of, GROUND]
        drives = machine.drives.values()
        low, high = (np.array([getattr(drive, end) for drive in drives]) for end in ("low", "high"))
        self.special = low + (high - low) * random.uniform(0.1, 0.9, len(low))
        solved = solve(self.mechanism, self.special[None])
        self.posture = solved.posture if solved.reached[0] else self.mechanism.home

    def feature(self, kind, part=None):
        at = tuple(self.random.uniform(-80, 80, 3).tolist())
        part = str(self.random.choice(self.parts)) if part is None else part
        along = None if kind is POINT else tuple(direction(self.random).tolist())
        return Feature(part, kind, at, along)

    def near(self, other, kind, turned=0.0, moved=0.0):
        """A feature of another part that meets ``other`` at the special setting but for ``turned`` and ``moved``."""
        part = str(self.random.choice(self.parts))
        body, own = (self.mechanism.bodies.body_of.get(name, 0) for name in (part, other.part))
        to_world, to_part = self.posture.rotations[0, own], self.posture.rotations[0, body].T
        centres = self.mechanism.bodies.centres
        world = self.posture.centres[0, own] + to_world @ (np.array(other.at) - centres[own])
        world = world + moved * direction(self.random)
        at = to_part @ (world - self.posture.centres[0, body]) + centres[body]
        along = None
        if kind is not POINT:
            way = np.array(other.along) if other.along else direction(self.random)
            way = to_part @ (to_world @ way * self.random.choice([-1.0, 1.0]) + turned * direction(self.random))
            along = tuple((way / np.linalg.norm(way)).tolist())
        return Feature(part, kind, tuple(at.tolist()), along)

    def pair(self, first, second):
        """Two features: as they fall, or close to each other somewhere."""
        one = self.feature(first)
        if self.random.random() < 0.5:
            return one, self.feature(second)
        small = self.random.choice([0.0, 1e-3, 0.1], 2)
        return one, self.near(one, second, float(small[0]), 10 * float(small[1]))


def random_measures(drawn):
    """One of each kind."""
    made = {}
    for number, (kind, kinds, has_axis) in enumerate(KINDS):
        features = drawn.pair(*kinds) if len(kinds) == 2 else (drawn.feature(kinds[0]),)
        axis = drawn.feature(LINE) if has_axis else None
        if kind is MeasureKind.ANGLE and has_axis and drawn.random.random() < 0.3:
            axis = drawn.near(features[0], LINE, 0.1)
        name = f"measure {number}"
        made[name] = Measure(name, kind, tuple(features), axis)
    return made


def random_run(drawn):
    """Two to five points; some guides lie where the run is straight, or doubles back, at the special setting."""
    random = drawn.random
    points = [drawn.feature(POINT) for _ in range(int(random.integers(2, 6)))]
    if len(points) > 2 and random.random() < 0.3:
        points[-1] = drawn.near(points[0], POINT, moved=float(random.choice([0.0, 0.1, 5.0])))
    hose = bool(random.random() < 0.6)
    outer = float(random.uniform(50, 500)) if hose and random.random() < 0.7 else None
    bend = float(random.choice([0.0, 5.0, 30.0]))
    return CableRun(tuple(points), bend, hose, outer, float(random.choice([0.0, 5.0])), 8.0)


def random_cables(drawn):
    random = drawn.random
    cables = {}
    for name in ("left", "right", "third"):
        runs = tuple(random_run(drawn) for _ in range(int(random.integers(1, 3))))
        inner = float(random.uniform(100, 600)) if random.random() < 0.4 else None
        cables[name] = Cable(name, runs, inner, free_play=2.0, friction=0.1)
    pulled = [name for name, cable in cables.items() if cable.is_pulled]
    arms = (20.0, 30.0) if random.random() < 0.6 else None
    sides = {"beam": Splitter("beam", (pulled[0], pulled[1]), (9.0, 8.0), arms, 15.0, 12.0)} if len(pulled) > 1 else {}
    return CableSystem(cables, sides)


def random_wheels(drawn):
    """Two or three wheels on any parts, on a road of three contacts or a stated one, and kingpins on any part."""
    random, mechanism = drawn.random, drawn.mechanism
    spread, wheels = float(random.choice([1.0, 0.3])), {}
    for name, (x, y) in WHEELS[: int(random.integers(2, 4))]:
        part = str(random.choice(drawn.parts[:-1]))
        centre = np.array((spread * x, spread * y, -200.0)) + random.uniform(-30, 30, 3)
        spin = np.array((0.0, 1.0, 0.0)) + random.choice([0.02, 0.3]) * direction(random)
        pin = vector(centre + (0, -20, -60)), vector(centre + (0, -20, 120) + random.uniform(-30, 30, 3))
        kingpin = Kingpin(part, *pin, part) if random.random() < 0.7 else None
        size = float(random.uniform(100, 300))
        wheels[name] = Wheel(
            name, part, vector(centre), vector(spin / np.linalg.norm(spin)), size, size / 6, size * 0.7, kingpin
        )
    frame = str(random.choice([GROUND, *mechanism.bodies.body_of]))
    if random.random() < 0.25:
        road = Road(
            plane=Feature(str(random.choice(drawn.parts)), PLANE, (0.0, 0.0, -400.0), (0.0, 0.0, 1.0)), frame=frame
        )
    elif len(wheels) == 3:
        road = Road(rests_on=tuple(wheels), frame=frame)
    else:
        part = str(random.choice(drawn.parts))
        road = Road(Feature(part, POINT, (-400.0 * spread, 10.0, -300.0), None), rests_on=tuple(wheels), frame=frame)
    return Wheels(wheels, road)


def machine_with_figures(seed, share=0.5):
    """The random machine of ``seed`` with measures, cables, splitters and wheels."""
    machine = random_machine(seed, share)
    drawn = Drawn(machine, np.random.default_rng((seed, 77)))
    system = random_cables(drawn)
    measures = {**random_measures(drawn), **cable_measures(system)}
    return replace(machine, measures=measures, cables=system, running=random_wheels(drawn)), drawn.special
