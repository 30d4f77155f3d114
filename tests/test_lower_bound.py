"""The inequality behind every proven clearance: its terms, where they come from, and that they always add up."""

from dataclasses import replace
from decimal import Decimal, localcontext
from math import cos, radians, sin

import numpy as np
import pytest
from small_machines import HERE, read, slider
from watched_sweep import swept

from assembly.clearance.narrow_phase.bounding_balls import BoundingBalls
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof import lower_bound as module
from assembly.clearance.proof import pair_search as search
from assembly.clearance.proof.lower_bound import TERMS, Method, RelativePlaces, lower_bound, no_bounds
from assembly.geometry.rotations import rotation_from_vector
from assembly.kinematics.travel import Displacement

NONE = np.zeros(1)
PI = Decimal("3.14159265358979323846264338327950288")
FINE = Effort(bracket_mm=1e-6, bracket_share=0.0)


def places(rng, count):
    """Random places (N, 4, 4), some of them hardly apart."""
    made = np.tile(np.eye(4), (count, 1, 1))
    size = 10.0 ** rng.uniform(-6, 0.5, size=(count, 1))
    made[:, :3, :3] = rotation_from_vector(rng.normal(size=(count, 3)) * size)
    made[:, :3, 3] = rng.normal(size=(count, 3)) * size * 50
    return made


def on_balls(rng, outline, count):
    """Points on the outline's balls: where a point is moved farthest."""
    out = rng.normal(size=(count, len(outline.points), 3))
    out /= np.linalg.norm(out, axis=-1, keepdims=True)
    return (outline.points + out * outline.radii[:, None]).reshape(-1, 3)


def seen(place, points):
    return points @ place[:3, :3].T + place[:3, 3]


# brute force: points of either solid, seen from the other
def test_no_point_moves_farther_from_place_to_place_than_it_is_said_to():
    rng = np.random.default_rng(1)
    a, b = (BoundingBalls(rng.normal(scale=80, size=(6, 3)), rng.uniform(0, 40, 6)) for _ in range(2))
    at = places(rng, 40)
    rows, origins = np.divmod(np.arange(1600), 40)
    moved, back = RelativePlaces(a, b, at).moved(rows, origins), np.linalg.inv(at)
    points = on_balls(rng, a, 60), on_balls(rng, b, 60)
    for row, origin, bound in zip(rows, origins, moved, strict=True):
        of_b = np.linalg.norm(seen(at[row], points[1]) - seen(at[origin], points[1]), axis=1).max()
        of_a = np.linalg.norm(seen(back[row], points[0]) - seen(back[origin], points[0]), axis=1).max()
        assert min(of_a, of_b) <= bound + 1e-9


# closed form: a point square to the axis, at radius r, is moved along a chord of 2 r sin(t / 2)
def test_a_ball_that_turns_about_its_middle_is_bounded_by_the_chord_and_no_more():
    ball = BoundingBalls(np.zeros((1, 3)), np.array([50.0]))
    for angle in (1e-4, 0.3, 2.0):
        at = np.tile(np.eye(4), (2, 1, 1))
        at[1, :3, :3] = rotation_from_vector(np.array([0.0, 0.0, angle]))
        moved = RelativePlaces(ball, ball, at).moved(np.array([1]), np.array([0]))
        assert moved == pytest.approx(2 * 50 * sin(angle / 2), rel=1e-9)


# closed form: seen from a, b swings round far away; seen from b, a turns where it is
def test_the_view_in_which_less_moves_holds():
    near, far = (BoundingBalls(np.array([(x, 0.0, 0.0)]), np.array([1.0])) for x in (0.0, 1000.0))
    at = np.tile(np.eye(4), (2, 1, 1))
    at[1, :2, :2] = [[cos(radians(5)), -sin(radians(5))], [sin(radians(5)), cos(radians(5))]]
    chord = 2 * sin(radians(2.5))
    for a, b in ((near, far), (far, near)):
        assert RelativePlaces(a, b, at).moved(np.array([1]), np.array([0])) == pytest.approx(chord, rel=1e-9)


def test_the_higher_bound_holds_with_its_own_terms_and_what_is_not_known_raises_nothing():
    low = lower_bound(Method.BOXES, np.array([5.0, 9.0, 2.0]), Displacement(np.ones(3), NONE), 0.25)
    high = lower_bound(Method.CENTRE, np.array([np.nan, 9.5, 1.0]), Displacement(np.ones(3), NONE), 0.5, 0.125)
    best = low.raised(np.arange(3), high)
    assert best.method.tolist() == [Method.BOXES, Method.CENTRE, Method.BOXES]
    assert best.lower == pytest.approx([3.75 - 1e-6, 7.875 - 1e-6, 0.75 - 1e-6], abs=1e-12)
    assert best.error_budget[1] == pytest.approx([9.5, 1.0, 0.0, 0.5, 1e-6, 0.125])
    assert no_bounds(2).raised(np.array([1]), low.take(np.array([2]))).lower.tolist() == [-np.inf, low.lower[2]]


def adds_up(run):
    """Whether what is proven of each pair is its distance less all other terms, to the last bit but a few."""
    for pair in run.result.pairs:
        distance, *taken = (getattr(pair.error_budget, name) for name in TERMS)
        if abs(distance - sum(taken) - pair.proven) > 1e-12 * (1 + distance):
            return False
    return True


@pytest.mark.parametrize("effort", [Effort(), Effort(decide_only=True)])
def test_the_terms_of_every_pair_add_up_to_what_is_proven(effort):
    run = swept(read(slider(low=-200.0, high=9.0)), effort)
    assert adds_up(run)
    assert {pair.error_budget.method for pair in run.result.pairs} != {""}


@pytest.mark.parametrize("column", range(len(TERMS)))
def test_a_term_that_is_not_the_one_taken_off_is_seen(column, monkeypatch):
    whole = lower_bound

    def broken(*given):
        bounds = whole(*given)
        terms = bounds.error_budget.copy()
        terms[:, column] += 1e-3
        return replace(bounds, error_budget=terms)

    for place in (search, module):
        monkeypatch.setattr(place, "lower_bound", broken)
    monkeypatch.setattr("assembly.clearance.proof.facing.lower_bound", broken)
    assert not adds_up(swept(read(slider(low=-200.0, high=9.0)), Effort()))


# closed form: the gap is 10 mm less the setting, and in a cell it differs by half the cell's width
def test_terms_are_those_of_a_block_that_slides_towards_another():
    run = swept(read(slider(low=-200.0, high=9.0)), Effort())
    (sledge,) = (state.search for state in run.result.states if (state.pair.a, state.pair.b) == ("base", "sledge"))
    (piece,), cells = sledge.pieces, run.cells_of(sledge)
    ids, bounds = piece.tiling.ids, piece.tiling.figures
    at, half = cells.motion.settings[ids, 0], cells.motion.half[ids, 0]
    assert set(bounds.method.tolist()) > {Method.FACING}
    distance, displacement, residual, surface, query, rounding = bounds.error_budget.T
    boxed = bounds.method == Method.SWEPT_BOXES
    assert distance[~boxed] == pytest.approx(10 - at[~boxed], abs=1e-9)
    assert displacement[~boxed] == pytest.approx(half[~boxed], abs=1e-6)
    assert (displacement >= half)[~boxed].all()
    assert distance[boxed] == pytest.approx((10 - at - half)[boxed], abs=1e-6)
    assert (residual < 1e-8).all()
    assert (surface == 0).all()
    assert (query == 1e-6).all()
    assert ((rounding > 0) & (rounding < 1e-11 * 300)).all()
    assert bounds.lower == pytest.approx(10 - at - half, abs=2e-6)
    assert (bounds.lower <= 10 - at - half).all()


def slot_gap(degrees: Decimal) -> Decimal:
    """How far the tip, 315 mm below its hinge and 30 mm wide, is from the floor of its slot, 315.0012 mm below it.

    Closed form: the corner towards which it swings stands 315 cos t + 15 sin t below the hinge. Sine and cosine by
    their series, which end after the fourth power: the angle is below 2e-6 rad.
    """
    angle = abs(degrees) * PI / 180
    sine, one_less_cosine = angle - angle**3 / 6, angle**2 / 2 - angle**4 / 24
    return Decimal("0.0012") + 315 * one_less_cosine - 15 * sine


# closed form in decimals of 40 places, of the numbers as they are written
@pytest.mark.parametrize("metres", [15, 90, 900])
def test_bounds_hold_to_the_last_bit_however_far_from_the_origin_a_machine_is_drawn(metres):
    text = (HERE / "cases" / "far_from_origin.toml").read_text()
    for old, shift in (("900000.0", 0), ("929700.0", 29_700), ("930000.0", 30_000), ("800000.0", -100_000)):
        text = text.replace(old, str(float(1000 * metres + shift)))
    run = swept(read(text), FINE)
    (pair,), (state,) = run.result.pairs, run.result.states
    (piece,), cells = state.search.pieces, run.cells_of(pair)
    ids, bounds = piece.tiling.ids, piece.tiling.figures
    assert len(ids) > 40
    with localcontext() as context:
        context.prec = 40
        for cell, lower in zip(ids, bounds.lower.tolist(), strict=True):
            at, half = (
                Decimal(float(cells.motion.settings[cell, 0])),
                Decimal(float(cells.motion.half[cell, 0])),
            )
            assert Decimal(lower) <= min(slot_gap(at - half), slot_gap(at + half))
        least = float(slot_gap(Decimal("0.0001")))
    assert least - 3e-6 < pair.proven <= least
    assert pair.least == pytest.approx(least, abs=1e-8)
    assert 1e-16 * 1000 * metres < pair.error_budget.rounding < 1e-7
