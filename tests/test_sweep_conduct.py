"""How a sweep behaves: the same on any number of cores and any executor, honest when stopped, and never fooled."""

import importlib.util
import sys
from concurrent.futures import BrokenExecutor, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import replace
from functools import cache
from multiprocessing import get_context

import numpy as np
import plain_meshes
import pytest
from clocks import Clock
from front_ends import over_centre
from linkage_machines import GROUND, ORIGIN, X, Z, machine, pin, planar, polar, slide, slides, turns
from random_machines import only, with_solids
from tries import first

from assembly.clearance.narrow_phase.checked_pairs import Solid, gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.narrow_phase.queries import Job, bench
from assembly.clearance.proof import sweep as sweeping
from assembly.clearance.proof.sweep import sweep_pairs
from assembly.errors import InputError
from assembly.geometry.mesh import Mesh
from assembly.geometry.rotations import pose_matrix, rotation_from_vector
from assembly.geometry.shapes import box, rod
from assembly.geometry.solids import difference
from assembly.kinematics.assembling import assemble
from assembly.model.machine import ClearanceRules, Machine
from assembly.time_limit import time_limit


def run(made: Machine, *, executor=None, progress=lambda *_: None, **effort):
    mechanism = assemble(made)
    return sweep_pairs(mechanism, gather_pairs(made, mechanism.bodies), Effort(**effort), progress, executor)


def ranged(made: Machine, solids, required=0.0, **ranges) -> Machine:
    drives = {name: replace(made.drives[name], low=low, high=high) for name, (low, high) in ranges.items()}
    return with_solids(replace(made, drives=drives), solids, ClearanceRules(required=required))


def on_slide(still: Mesh, passing: Mesh, low: float, high: float, required=0.0, along=X) -> Machine:
    made = machine([slide("guide", GROUND, "slider", ORIGIN, along)], slides(guide=1))
    return ranged(made, {GROUND: [still], "slider": [passing]}, required, guide=(low, high))


def numbers(result):
    return [(p.pair.a, p.pair.b, p.least, p.at, p.proven, p.verdict, p.error_budget, p.region) for p in result.pairs]


def two_arms() -> Machine:
    joints = [pin("one", GROUND, "first", ORIGIN, Z), pin("two", "first", "second", (60, 0, 0), Z)]
    ball = Mesh(*plain_meshes.ball(6, 2))
    solids = {
        GROUND: [Mesh(ball.vertices + polar(100, 40), ball.faces)],
        "first": [box((30, 0, 0), (30, 6, 6))],
        "second": [Mesh(ball.vertices + (95, 0, 0), ball.faces)],
    }
    return ranged(machine(joints, turns(one=1), turns(two=1)), solids, 1.0, one=(-20.0, 35.0), two=(-25.0, 20.0))


@cache
def arms_alone():
    """The sweep of two arms in this process."""
    return run(two_arms())


@pytest.mark.long
def test_the_number_of_cores_does_not_change_the_result():
    assert numbers(arms_alone()) == numbers(run(two_arms(), cores=2))


def test_an_executor_of_processes_gives_the_same_result_and_stays_open():
    with ProcessPoolExecutor(2, mp_context=get_context("fork")) as pool:
        assert numbers(run(two_arms(), executor=pool)) == numbers(arms_alone())
        assert pool.submit(abs, -1).result() == 1


def test_threads_that_share_solids_do_not_mix_up_their_places():
    ball = Mesh(*plain_meshes.ball(8, 2))
    solids = [Solid(Mesh(ball.vertices + (x, 0, 0), ball.faces), ("ball",), (0,)) for x in (60, -60)]
    turned = np.stack(
        [pose_matrix(rotation_from_vector(np.array((0, 0, angle)))) for angle in np.linspace(-1, 1, 2000)]
    )
    jobs = [Job(0, 1, np.random.default_rng(k).permutation(turned)) for k in range(4)]
    pause = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    try:
        with ThreadPoolExecutor(6) as pool, bench(solids, 1, pool) as many, bench(solids, 1) as one:
            wrong = np.concatenate(many.measure(jobs)) - np.concatenate(one.measure(jobs))
    finally:
        sys.setswitchinterval(pause)
    assert np.abs(wrong).max() <= 1e-9, f"{(np.abs(wrong) > 1e-9).sum()} of {len(wrong)} distances"


@pytest.mark.skipif(importlib.util.find_spec("distributed") is None, reason="dask.distributed is not installed")
@pytest.mark.long
def test_an_executor_of_a_cluster_gives_the_same_result():
    from distributed import Client, LocalCluster

    with (
        LocalCluster(n_workers=1, threads_per_worker=4, processes=False, dashboard_address=None) as cluster,
        Client(cluster) as client,
        client.get_executor() as executor,
    ):
        assert numbers(run(two_arms(), executor=executor)) == numbers(arms_alone())


def test_a_spent_budget_leaves_both_bounds_and_no_wrong_clear():
    made = two_arms()
    truth = {pair.pair.a + pair.pair.b: pair for pair in arms_alone().pairs}
    nearest = min(pair.least for pair in truth.values() if pair.least > 0)
    tight = replace(made, clearance=ClearanceRules(required=nearest - 0.01))
    clock = Clock()
    with time_limit(1.0, clock):
        result = run(tight, progress=clock.at("first look", 1.2))
    assert result.stopped == "the time limit of 1 s was reached"
    assert any(pair.verdict is Verdict.UNDECIDED for pair in result.pairs)
    for pair in result.pairs:
        whole = truth[pair.pair.a + pair.pair.b]
        assert pair.proven is not None
        assert pair.proven <= whole.least <= pair.least
        assert pair.verdict is not Verdict.CLEAR or whole.least >= tight.clearance.required


def test_a_worker_that_dies_while_strikes_are_shown_takes_no_verdict_away(monkeypatch):
    def die(*_):
        raise BrokenExecutor

    whole = run(on_slide(box((0, 0, 0), (20, 20, 20)), box((0, 0, 12), (10, 10, 10)), -3.0, 4.0), decide_only=True)
    monkeypatch.setattr(sweeping, "show_strike", die)
    cut = run(on_slide(box((0, 0, 0), (20, 20, 20)), box((0, 0, 12), (10, 10, 10)), -3.0, 4.0), decide_only=True)
    assert cut.stopped.startswith("a process that searches pairs died")
    assert [pair.verdict for pair in cut.pairs] == [pair.verdict for pair in whole.pairs] == [Verdict.FAILS]


@pytest.mark.parametrize("after", first([1, 2, 4], 1))
def test_a_run_stopped_by_hand_keeps_bounds_that_hold(after):
    calls = []

    def stop(*_):
        calls.append(1)
        if len(calls) == after:
            raise KeyboardInterrupt

    truth = {frozenset((p.pair.a, p.pair.b)): p.least for p in arms_alone().pairs}
    result = run(two_arms(), progress=stop)
    assert len(calls) == after
    assert result.stopped
    for pair in result.pairs:
        assert pair.proven is None or pair.proven <= truth[frozenset((pair.pair.a, pair.pair.b))]


def test_parts_that_touch_fail_where_no_clearance_is_required():
    pair = run(on_slide(box((0, 0, 0), (20, 20, 20)), box((0, 0, 15), (10, 10, 10)), -3.0, 4.0)).pairs[0]
    assert (pair.verdict, pair.least) == (Verdict.FAILS, 0.0)


def test_a_swallowed_part_fails():
    """TC-07d: surfaces 15 apart, one inside the other."""
    pair = run(on_slide(box(ORIGIN, (40, 40, 40)), box(ORIGIN, (10, 10, 10)), -2.0, 2.0)).pairs[0]
    assert pair.verdict is Verdict.FAILS
    assert pair.contained
    assert pair.proven is None
    assert pair.overlap.depth == pytest.approx(25.0, abs=0.02)


def test_joined_parts_are_checked_with_their_seat_left_out():
    """Two bars that share a pin: inside the seat they overlap, and folded by 60° one strikes the other's cheek."""
    hinge = replace(pin("hinge", GROUND, "arm", ORIGIN, Z), seat=15.0)
    bars = {GROUND: [box((40, 0, 0), (90, 8, 8)), box((60, 30, 0), (8, 8, 8))], "arm": [box((-40, 0, 0), (90, 8, 8))]}
    made = machine([hinge], turns(hinge=1))
    free = run(ranged(made, bars, hinge=(-40.0, 40.0))).pairs[0]
    assert free.verdict is Verdict.CLEAR
    assert free.pair.seat == "left out as seat: 15 mm round hinge"
    strikes = run(ranged(made, bars, hinge=(-170.0, 0.0)), decide_only=True).pairs[0]
    assert strikes.verdict is Verdict.FAILS


@cache
def locked():
    """The sweep of a third crank of another length: it fits as drawn and nowhere else."""
    places = {
        "first": (GROUND, "first_crank", ORIGIN),
        "second": (GROUND, "second_crank", (100, 0)),
        "third": (GROUND, "third_crank", (200, 10)),
        "first_top": ("first_crank", "bar", (0, 50)),
        "second_top": ("bar", "second_crank", (100, 50)),
        "third_top": ("bar", "third_crank", (200, 50)),
    }
    solids = {"first_crank": [box((0, 25, 0), (4, 4, 4))], "third_crank": [box((200, 30, 0), (4, 4, 4))]}
    made = machine(planar(places), turns(first=1), fixed=(GROUND, "post"))
    asked = only(ranged(made, solids, first=(-20.0, 20.0)), ("first_crank", "third_crank"), (GROUND, "post"))
    return run(asked, decide_only=True)


def test_a_machine_that_fits_only_as_drawn_is_not_clear():
    result = locked()
    assert result.unreachable
    assert result.unreachable_share > 0.9
    (pair,) = (p for p in result.pairs if {p.pair.a, p.pair.b} == {"first_crank", "third_crank"})
    assert (pair.verdict, pair.proven) == (Verdict.UNDECIDED, None)
    share = f"{100 * result.unreachable_share:.2f} % of the range could not be proven"
    assert pair.why.startswith(f"{share}: there it may lock, fold over or not be put together")


def test_what_strikes_beside_a_dead_centre_is_not_called_proven():
    """TC-06: in the last 0.1 mm before s = -98.16 the arm swings its last 2° and strikes a post."""
    solids = {"arm": [box((-70, 0, 0), (60, 2, 2))], GROUND: [box(polar(90, 180 - 81.3), (1, 1, 1))]}
    made = only(ranged(over_centre(), solids, guide=(-99.0, 20.0)), ("arm", GROUND))
    (pair,) = run(made, decide_only=True).pairs
    assert pair.verdict is not Verdict.CLEAR
    assert pair.proven is None


def test_parts_that_never_move_against_each_other_stay_clear_where_the_machine_locks():
    result = locked()
    still, *moving = sorted(result.pairs, key=lambda pair: not pair.pair.rigidly_coupled)
    assert {still.pair.a, still.pair.b} == {GROUND, "post"}
    assert still.verdict is Verdict.CLEAR
    assert still.proven == pytest.approx(still.least, abs=1.001e-6)
    assert {pair.verdict for pair in moving} == {Verdict.UNDECIDED}


def test_a_cut_round_bar_is_proven_no_farther_than_its_true_edge():
    """A bar of radius 10 milled off at 9.5 above its axis: its edge is √(10² - 9.5²) from the middle (closed form)."""
    left = difference(rod([(0, 0, 0), (100, 0, 0)], diameter=20), [box((50, 0, -100 + 9.5), (300, 300, 200))])
    edge, face = np.sqrt(10**2 - 9.5**2), 6.0
    wall = box((50, face + 2, 9.55), (120, 4, 0.02))
    pair = run(on_slide(wall, left, -3.0, 3.0)).pairs[0]
    assert pair.proven <= np.hypot(face - edge, 0.04) + 1e-9


def test_a_machine_without_drives_is_refused_or_looked_at_as_it_stands():
    made = with_solids(
        machine([], fixed=(GROUND, "post")),
        {GROUND: [box(ORIGIN, (4, 4, 4))], "post": [box((10, 0, 0), (4, 4, 4))]},
        ClearanceRules(required=1.0),
    )
    try:
        pair = run(made).pairs[0]
    except InputError:
        return
    assert pair.verdict is Verdict.CLEAR
    assert pair.least == pytest.approx(6.0)


def test_pairs_that_boxes_settle_have_the_distance_of_two_of_their_points():
    """A row of long bars beside a slider: which are far is not measured, but the 20 nearest are (closed form)."""
    names = [f"post {k:02}" for k in range(75)]
    made = machine([slide("guide", GROUND, "slider", ORIGIN, X)], slides(guide=1), fixed=(GROUND, *names))
    posts = {name: [box((20.0 * k, 50, 0), (2, 2, 400))] for k, name in enumerate(names)}
    block = [box((0, 0, 0), (10, 10, 10))]
    result = run(ranged(made, {"slider": block, **posts}, 1.0, guide=(0.0, 1.0)), interest_mm=5.0)
    gaps = {pair.pair.b: pair for pair in result.pairs if pair.pair.a == "slider"} | {
        pair.pair.a: pair for pair in result.pairs if pair.pair.b == "slider"
    }
    found = [gaps[name].least for name in names]
    truth = [np.hypot(max(20.0 * k - 6 - 1, 0), 44) for k in range(75)]
    assert found[:15] == pytest.approx(truth[:15], abs=1e-6)
    assert all(least >= true - 1e-9 for least, true in zip(found, truth, strict=True))
    assert any(least > true + 1 for least, true in zip(found, truth, strict=True)), "every pair was measured"
    assert all(gaps[name].verdict is Verdict.CLEAR for name in names)
