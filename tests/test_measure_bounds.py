"""No measure leaves its bounds inside a cell, and every term of the bounds is needed."""

from dataclasses import replace
from functools import cache
from itertools import product

import numpy as np
import pytest
from motion_cells import CASES, random_cells
from random_machines import random_machine
from random_solids import direction
from tries import first
from watched_sweep import from_rest

from assembly.clearance.proof.joint_search import joint_search
from assembly.clearance.proof.measure_search import BRACKET, drives_of
from assembly.kinematics import figures, frames, taylor
from assembly.kinematics.assembling import assemble
from assembly.kinematics.joint_motion import nearest_turn
from assembly.kinematics.measure_figures import measure_motion
from assembly.kinematics.taylor import Taylor
from assembly.model.feature import GROUND, Feature, FeatureKind
from assembly.model.measure import Measure, MeasureKind, Path

SLACK = 1e-7
"""degrees or mm by which two ways of working out one value may differ."""
POINT, LINE, PLANE = FeatureKind.POINT, FeatureKind.LINE, FeatureKind.PLANE
KINDS = (
    (MeasureKind.ANGLE, (LINE, LINE), False),
    (MeasureKind.ANGLE, (LINE, PLANE), False),
    (MeasureKind.ANGLE, (LINE, LINE), True),
    (MeasureKind.DISTANCE, (POINT, POINT), False),
    (MeasureKind.DISTANCE, (LINE, POINT), False),
    (MeasureKind.DISTANCE, (POINT, PLANE), False),
    (MeasureKind.DISTANCE, (LINE, LINE), False),
    (MeasureKind.COORDINATE, (POINT,), True),
    (MeasureKind.LEVEL, (LINE,), True),
    (MeasureKind.LEVEL, (PLANE,), True),
)
SEEN_ON = ("double wishbones with tie rods", "open chain", "four-bar")


def measures(mechanism, random):
    """One measure of each kind between random features of random parts."""
    parts = [*mechanism.bodies.body_of, GROUND]
    for number, (kind, kinds, has_axis) in enumerate(KINDS):
        axis = Feature(random.choice(parts), LINE, tuple(random.uniform(-80, 80, 3)), tuple(direction(random)))
        features = [
            Feature(random.choice(parts), one, tuple(random.uniform(-80, 80, 3)), tuple(direction(random)))
            for one in kinds
        ]
        yield Measure(str(number), kind, tuple(features), axis if has_axis else None)
    for kind in (MeasureKind.PATH, MeasureKind.STRAIGHT, MeasureKind.BENDS):
        points = [Feature(random.choice(parts), POINT, tuple(random.uniform(-80, 80, 3)), None, "") for _ in range(6)]
        paths = Path((0, 1, 2, 3), bend=5.0), Path((4, 5), at_least=80.0, weight=-0.5)
        yield Measure(kind.value, kind, tuple(points), paths=paths, more=3.0, from_zero=kind is MeasureKind.PATH)


@cache
def drawn(name):
    return random_cells(CASES[name], 5)


def violations(name, seed=7):
    """Measures that leave their bounds, and the largest share of a bound that is used."""
    random, made = np.random.default_rng(seed), drawn(name)
    cells, solved = made.inside
    left, used = [], 0.0
    for measure in measures(made.mechanism, random):
        motion = measure_motion(measure, made.mechanism)
        centres = motion.values(made.motion.posture)
        span = motion.span(made.motion, centres)
        values, centre = motion.values(solved.posture), centres[cells]
        values = nearest_turn(values, centre) if motion.turning else values
        low, high = span.low[cells], span.high[cells]
        left += [measure.name] * int(((values < low - SLACK) | (values > high + SLACK)).any())
        wide = np.isfinite(high) & (high - centre > 1e-3)
        used = max(used, float(((values - centre)[wide] / (high - centre)[wide]).max(initial=0.0)))
    return left, used


@pytest.mark.parametrize("name", SEEN_ON)
def test_no_measure_leaves_its_bounds_in_cells_of_any_width(name):
    left, used = violations(name)
    assert left == []
    assert used > 0.9, "bounds that nothing comes near prove little"


@pytest.mark.parametrize("seed", first([1, 6, 9, 11], 4))
def test_no_setting_of_a_random_machine_passes_what_is_proven_over_the_range(seed):
    """Postures that the search never saw, each solved from the zero position."""
    random = np.random.default_rng(seed)
    mechanism = assemble(random_machine(seed, 0.4))
    every = [measure_motion(one, mechanism) for one in measures(mechanism, random)]
    moving = [motion for motion in every if drives_of(mechanism, motion)]
    search = joint_search(mechanism)
    drives = mechanism.machine.drives.values()
    low, high = (np.array([getattr(drive, end) for drive in drives]) for end in ("low", "high"))
    solved = from_rest(
        mechanism, low + (high - low) * random.choice([0.0, 1.0, *random.random(8)], size=(60, len(low)))
    )
    for motion, found in zip(moving, search.extremes([(each, (None, None)) for each in moving], BRACKET), strict=True):
        values = motion.values(solved.posture)[solved.reached]
        if motion.turning and np.isfinite(found.proven_least):
            values = nearest_turn(values, np.clip(values, found.proven_least, found.proven_most))
        values = values[np.isfinite(values)]
        assert (values >= found.proven_least - SLACK).all(), motion.name
        assert (values <= found.proven_most + SLACK).all(), motion.name
        assert found.least >= found.proven_least - SLACK
        assert found.most <= found.proven_most + SLACK


def less(**factors):
    def over_cells(motion, rest, whole=frames.over_cells):
        made = whole(motion, rest)
        return replace(made, **{key: factor * getattr(made, key) for key, factor in factors.items()})

    return over_cells


WEAKER = {
    "first derivative of the shift": less(shift_rate=0.9),
    "first derivative of the turning": less(turn_rate=0.9),
    "second derivative of the shift": less(shift_bend=0.5),
    "second derivative of the turning": less(turn_bend=0.5),
    "what a turned vector leaves out": less(tilt=0.0, shift_rest=0.0),
}


@pytest.mark.parametrize("kind", WEAKER)
def test_every_part_of_the_motion_counts(kind, monkeypatch):
    monkeypatch.setattr(figures, "over_cells", WEAKER[kind])
    assert any(violations(name, seed)[0] for name in SEEN_ON for seed in (7, 8))


# The rules of Taylor models, by themselves: numbers of two settings whose left-out part is used up whole.

HALF = np.array([0.3, 0.2])


def number(random, value, slope, rest):
    """A random number, (1,), with its exact values at settings (k, 2) of the cell; ``rest`` is used up at each."""
    first, second = random.uniform(-slope, slope, (1, 2)), random.uniform(-slope, slope, (1, 2, 2))
    second = second + np.swapaxes(second, 1, 2)
    made = Taylor(np.array([value]), first, second, np.array([rest]), HALF[None])

    def at(settings):
        curved = 0.5 * np.einsum("kd,de,ke->k", settings, second[0], settings)
        return value + settings @ first[0] + curved + rest * random.choice([-1.0, 1.0], size=len(settings))

    return made, at


def holds(made, truth, settings):
    """Whether the true values lie within what the model leaves out of them."""
    model = made.value + settings @ made.first[0] + 0.5 * np.einsum("kd,de,ke->k", settings, made.second[0], settings)
    return bool((np.abs(truth - model) <= made.rest + 1e-12).all())


RULES = {
    "product": (lambda x, y: x * y, lambda x, y: x * y),
    "root": (lambda x, _: taylor.root(x), lambda x, _: np.sqrt(np.maximum(x, 0.0))),
    "inverse": (lambda x, _: taylor.inverse(x), lambda x, _: 1 / np.maximum(x, 1e-9)),
    "absolute": (lambda _, y: taylor.absolute(y), lambda _, y: np.abs(y)),
    "angle": (lambda x, y: taylor.angle(y, x), lambda x, y: np.arctan2(y, x)),
    "larger": (lambda x, y: taylor.larger(x, y.plus(0.7)), lambda x, y: np.maximum(x, y + 0.7)),
    "smaller": (lambda x, y: taylor.smaller(x, y.plus(0.7)), lambda x, y: np.minimum(x, y + 0.7)),
    "corner saved": (lambda x, _: taylor.corner_saved(x), lambda x, _: 2 * (np.sqrt(x) - np.arctan(np.sqrt(x)))),
}


def broken(rule, random, rests=(0.0, 0.05)):
    """How many of 200 random uses of a rule leave its bound."""
    settings = np.array([*product((-1.0, 0.0, 1.0), repeat=2)]) * HALF
    wrong = 0
    for _ in range(200):
        value, rest = random.uniform(0.3, 2.0), random.choice(rests)
        (x, x_at), (y, y_at) = number(random, value, 1.0, rest), number(random, random.uniform(-0.3, 0.3), 1.0, rest)
        made, truth = RULES[rule][0](x, y), RULES[rule][1](np.maximum(x_at(settings), 0.0), y_at(settings))
        wrong += np.isfinite(made.rest[0]) and not holds(made, truth, settings)
    return wrong


@pytest.mark.parametrize("rule", RULES)
def test_what_a_rule_leaves_out_is_within_its_rest(rule):
    assert broken(rule, np.random.default_rng(3)) == 0


@pytest.mark.parametrize("rule", RULES)
def test_half_of_what_a_rule_leaves_out_is_too_little(rule, monkeypatch):
    plain = RULES[rule][0]

    def halved(x, y):
        made = plain(x, y)
        return replace(made, rest=0.5 * made.rest)

    monkeypatch.setitem(RULES, rule, (halved, RULES[rule][1]))
    assert broken(rule, np.random.default_rng(3)) > 0


def without_third(x, value, slope, curvature, third, whole=taylor._composed):
    return whole(x, value, slope, curvature, 0.0 * np.where(np.isfinite(third), third, 0.0))


@pytest.mark.parametrize("rule", ["root", "inverse", "angle", "corner saved"])
def test_the_remainder_of_a_function_counts(rule, monkeypatch):
    monkeypatch.setattr(taylor, "_composed", without_third)
    assert broken(rule, np.random.default_rng(3), rests=(0.0,)) > 0
