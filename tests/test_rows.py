"""Slopes, curvature and bounds of every family of rows, against differences and brute force."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from assembly.kinematics.rows import HeldRoll, Offset, Posture, Rates, Reach, Rows, SamePoint, Square, Turn

Floats = NDArray[np.float64]

SCALE = 70.0
BODIES = 4
FIRST, SECOND = np.array([0, 1, 3]), np.array([2, 2, 1])
"""Three joints; the ground takes part in one, and one body in all."""


def units(rng, *shape):
    vectors = rng.normal(size=(*shape, 3))
    return vectors / np.linalg.norm(vectors, axis=-1, keepdims=True)


def exponential(vectors: Floats) -> Floats:
    """Rotation matrices of rotation vectors (..., 3), from another library than the package's own formula."""
    return Rotation.from_rotvec(vectors.reshape(-1, 3)).as_matrix().reshape(*vectors.shape, 3)


def posture(rng, count: int) -> Posture:
    rotations = exponential(units(rng, count, BODIES) * rng.uniform(0, 3.1, (count, BODIES, 1)))
    centres = rng.normal(scale=80, size=(count, BODIES, 3))
    centres[:, 0], rotations[:, 0] = 0.0, np.eye(3)
    return Posture(centres, rotations)


def moved(at: Posture, shift: Floats, turn: Floats) -> Posture:
    return Posture(at.centres + shift, exponential(turn) @ at.rotations)


@dataclass(eq=False)
class Sample:
    """Rows of one family at N postures; ``together`` rows of a joint are one vector."""

    rows: Rows
    at: Posture
    together: int
    targets: Floats

    def values(self, shift: Floats, turn: Floats, asked: Floats) -> Floats:
        """Misses (N, m) with bodies moved and the targets changed by ``asked`` (N, m)."""
        there = moved(self.at, shift, turn)
        return self.rows.values(there, self.targets + asked)

    def linear(self, shift: Floats, turn: Floats, asked: Floats) -> Floats:
        """The part of first degree of ``values``."""
        slopes, steps = self.rows.slopes(self.at), np.concatenate([shift, SCALE * turn], axis=-1)
        first = (slopes.first * steps[:, self.rows.first]).sum(axis=-1)
        return first + (slopes.second * steps[:, self.rows.second]).sum(axis=-1) - self.weight * asked

    @property
    def weight(self) -> float:
        """How much the values fall per unit of target."""
        if isinstance(self.rows, Turn | HeldRoll):
            return SCALE
        return 1.0 if isinstance(self.rows, Offset) else 0.0

    def lengths(self, rows: Floats) -> Floats:
        """Lengths (N, joints) of the vectors whose parts the rows are."""
        return np.linalg.norm(rows.reshape(len(rows), -1, self.together), axis=-1)

    def bounds(self, rows: Floats) -> Floats:
        """The bound of a vector: the same for each of its rows."""
        parts = rows.reshape(len(rows), -1, self.together)
        assert np.ptp(parts, axis=-1) == pytest.approx(0, abs=1e-9)
        return parts[..., 0]


class PinnedTurn(Sample):
    """The drive's row read as its bounds read it: ``scale · n · v``, n turned by the drive in the first body."""

    def values(self, shift: Floats, turn: Floats, asked: Floats) -> Floats:  # noqa: ARG002 - as its base
        axis = np.einsum("nmij,mj->nmi", self.at.rotations[:, self.rows.first], self.rows.axis)
        mark = np.einsum("nmij,mj->nmi", self.at.rotations[:, self.rows.second], self.rows.mark)
        driven = np.einsum("nmij,nmj->nmi", exponential(axis * asked[..., None]), np.cross(axis, mark))
        n = np.einsum("nmij,nmj->nmi", exponential(turn)[:, self.rows.first], driven)
        v = np.einsum("nmij,nmj->nmi", exponential(turn)[:, self.rows.second], mark)
        return SCALE * (n * v).sum(axis=-1)


def same_point(rng, count):
    levers = [np.repeat(rng.normal(scale=60, size=(3, 3)), 3, axis=0) for _ in range(2)]
    rows = SamePoint(np.repeat(FIRST, 3), np.repeat(SECOND, 3), *levers, np.tile(np.eye(3), (3, 1)), SCALE)
    return Sample(rows, posture(rng, count), 3, np.zeros((count, 9)))


def pairs_across(rng):
    """Two directions square to each other per joint (6, 3)."""
    frames = Rotation.random(3, random_state=rng).as_matrix()
    return frames[:, :2].reshape(6, 3)


def square(rng, count):
    first = np.repeat(units(rng, 3), 2, axis=0)
    rows = Square(np.repeat(FIRST, 2), np.repeat(SECOND, 2), first, pairs_across(rng), rng.uniform(-1, 1, 6), SCALE)
    return Sample(rows, posture(rng, count), 2, np.zeros((count, 6)))


def offset(rng, count):
    levers = [np.repeat(rng.normal(scale=60, size=(3, 3)), 2, axis=0) for _ in range(2)]
    rows = Offset(np.repeat(FIRST, 2), np.repeat(SECOND, 2), *levers, pairs_across(rng), SCALE)
    return Sample(rows, posture(rng, count), 2, rng.normal(scale=30, size=(count, 6)))


def held_roll(rng, count):
    rows = HeldRoll(np.zeros(3, dtype=np.intp), np.array([1, 2, 3]), units(rng, 3), rng.uniform(-1, 1, 3), SCALE)
    at = posture(rng, count)
    swing = 0.9 * units(rng, count, 3)
    swing -= (swing * rows.axis).sum(axis=-1, keepdims=True) * rows.axis
    rolls = rng.uniform(-3, 3, (count, 3, 1)) * rows.axis
    at.rotations[:, 1:] = exponential(swing * rng.uniform(0, 2.5, (count, 3, 1))) @ exponential(rolls)
    return Sample(rows, at, 1, rows.rolls(at) - rows.held + rng.uniform(-0.5, 0.5, (count, 3)))


def turn(rng, count):
    """Postures in which every pin is closed: the second body is the first, turned about the axis."""
    frames = Rotation.random(3, random_state=rng).as_matrix()
    first, second = np.array([0, 1, 2]), np.array([1, 2, 3])
    at = posture(rng, count)
    angles = rng.uniform(-3.1, 3.1, (count, 3))
    for k in range(3):
        at.rotations[:, second[k]] = at.rotations[:, first[k]] @ exponential(frames[k, 0] * angles[:, k, None])
    return PinnedTurn(Turn(first, second, frames[:, 0], frames[:, 1], SCALE), at, 1, angles)


def turn_as_told(rng, count):
    """The same pins with the miss that the solver sees: the angle less its target."""
    sample = turn(rng, count)
    return Sample(sample.rows, sample.at, 1, sample.targets)


FAMILIES = pytest.mark.parametrize("make", [same_point, square, offset, held_roll, turn])


@dataclass(eq=False)
class Motion:
    """Random motions of N postures: at constant rates by a step of two drives, and something on top."""

    rng: np.random.Generator
    sample: Sample

    @cached_property
    def rates(self) -> Rates:
        count = len(self.sample.at)
        size = 10 ** self.rng.uniform(-2, 0, (count, 1, 1, 1))
        shift, turn = (self.rng.normal(size=(count, BODIES, 2, 3)) * size * factor for factor in (60, 0.25))
        idle = self.rng.uniform(size=(count, BODIES)) < 0.3
        turn[idle] = 0.0
        shift[:, 0], turn[:, 0] = 0.0, 0.0
        return Rates(shift, turn)

    @cached_property
    def step(self) -> Floats:
        return self.rng.uniform(-1, 1, (len(self.sample.at), 2))

    @cached_property
    def asked(self) -> Floats:
        """What the drives ask of the rows per unit (N, 2, m)."""
        rows = len(self.sample.rows.first)
        return self.rng.normal(scale=0.2, size=(len(self.sample.at), 2, rows)) * (self.sample.weight > 0)

    @cached_property
    def extra(self) -> tuple[Floats, Floats]:
        count = len(self.sample.at)
        size = 10 ** self.rng.uniform(-4, 0, (count, 1, 1))
        shift, turn = units(self.rng, count, BODIES) * 30 * size, units(self.rng, count, BODIES) * 0.3 * size
        shift[:, 0], turn[:, 0] = 0.0, 0.0
        return shift, turn

    def along(self, share: float = 1.0) -> tuple[Floats, Floats, Floats]:
        """Shifts, turns and changes of targets after ``share`` of the step."""
        step = share * self.step
        shift, turn = (np.einsum("nbdi,nd->nbi", rate, step) for rate in (self.rates.shift, self.rates.turn))
        return shift, turn, np.einsum("ndm,nd->nm", self.asked, step)


def sizes(vectors: Floats) -> Floats:
    return np.linalg.norm(vectors, axis=-1)


@pytest.mark.parametrize("make", [same_point, square, offset, held_roll, turn, turn_as_told])
def test_slopes_are_the_derivatives(make):
    rng = np.random.default_rng(11)
    sample = make(rng, 60)
    motion, h = Motion(rng, sample), 1e-4
    difference = (sample.values(*motion.along(h)) - sample.values(*motion.along(-h))) / (2 * h)
    assert difference == pytest.approx(sample.linear(*motion.along()), abs=2e-5, rel=1e-6)
    assert np.abs(difference).max() > 10


@FAMILIES
def test_curvature_is_the_second_derivative_along_constant_rates(make):
    rng = np.random.default_rng(12)
    sample = make(rng, 60)
    motion, h = Motion(rng, sample), 1e-3
    still = (0 * part for part in motion.along())
    middle = sample.values(*still)
    difference = (sample.values(*motion.along(h)) + sample.values(*motion.along(-h)) - 2 * middle) / h**2
    curvature = sample.rows.curvature(sample.at, motion.rates)
    assert np.einsum("nmij,ni,nj->nm", curvature, motion.step, motion.step) == pytest.approx(
        difference, abs=2e-4, rel=1e-4
    )
    assert curvature == pytest.approx(np.swapaxes(curvature, -1, -2), abs=1e-12)
    assert np.abs(difference).max() > 0.5


@FAMILIES
def test_third_order_bounds_what_slopes_and_curvature_leave_out(make):
    rng = np.random.default_rng(14)
    sample = make(rng, 8000)
    motion = Motion(rng, sample)
    shift, turns, asked = motion.along()
    more, roll = motion.extra
    left = sample.values(shift + more, turns + roll, asked) - sample.values(0 * shift, 0 * turns, 0 * asked)
    left = left - sample.linear(shift + more, turns + roll, asked)
    curvature = sample.rows.curvature(sample.at, motion.rates)
    left = sample.lengths(left - 0.5 * np.einsum("nmij,ni,nj->nm", curvature, motion.step, motion.step))
    reach, rest = Reach(sizes(shift), sizes(turns)), Reach(sizes(more), sizes(roll))
    bound = sample.bounds(sample.rows.third_order(sample.at, reach, rest, np.abs(asked)))
    assert (left <= bound * (1 + 1e-9) + 1e-9).all()
    assert (left / np.maximum(bound, 1e-6)).max() > 0.3


def test_bounds_are_forms_of_their_degree():
    rng = np.random.default_rng(15)
    for make in (same_point, square, offset, held_roll, turn):
        sample = make(rng, 5)
        spans = np.full((5, len(sample.rows.first)), 0.01)
        whole = Reach(np.full((5, BODIES), 1.0), np.full((5, BODIES), 0.02))
        half = Reach(whole.shift / 2, whole.turn / 2)
        nothing = Reach(0 * whole.shift, 0 * whole.turn)
        third = [
            sample.rows.third_order(sample.at, one, nothing, span) for one, span in ((whole, spans), (half, spans / 2))
        ]
        assert third[0] == pytest.approx(8 * third[1], rel=0.05)
        assert (third[0] > 0).all()


def test_angle_of_a_pin_counts_right_handed_about_its_line_and_forgets_whole_turns():
    sample = turn(np.random.default_rng(16), 200)
    assert sample.rows.angles(sample.at) == pytest.approx(sample.targets, abs=1e-9)
    for turns in (-3, 1, 2):
        assert sample.rows.values(sample.at, sample.targets + 2 * np.pi * turns) == pytest.approx(0, abs=1e-9)
    assert sample.rows.values(sample.at, sample.targets - 0.1) == pytest.approx(0.1 * SCALE, abs=1e-9)


# closed form: a roll and then the shortest turn of the line, however far, leaves the roll
def test_roll_is_what_is_left_beside_the_shortest_turn_of_the_line():
    rng = np.random.default_rng(17)
    axis, other = units(rng, 2)
    square_to = np.cross(axis, other) / np.linalg.norm(np.cross(axis, other))
    rows = HeldRoll(np.array([0]), np.array([1]), axis[None], np.array([0.1]), SCALE)
    rolls, swings = np.array([0.3, -1.2, 3.1, -3.1]), np.array([0.0, 2.5, 0.8, 1.6])
    turned = exponential(swings[:, None] * square_to) @ exponential(rolls[:, None] * axis)
    at = Posture(np.zeros((4, 2, 3)), np.stack([np.broadcast_to(np.eye(3), (4, 3, 3)), turned], axis=1))
    assert rows.rolls(at)[:, 0] == pytest.approx(rolls)
    assert rows.values(at, rolls[:, None] - 0.1) == pytest.approx(0, abs=1e-9)
    assert rows.values(at, rolls[:, None] - 0.3)[:, 0] == pytest.approx(0.2 * SCALE)
