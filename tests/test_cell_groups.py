"""Cells for each set of drives: which drives move what against what, and what independent drives leave alone."""

from dataclasses import replace
from itertools import combinations
from pathlib import Path

import front_ends
import numpy as np
import pytest
from linkage_machines import GROUND, ORIGIN, X, Y, machine, pin, turns
from random_machines import random_machine
from small_machines import quiet, read
from tries import first
from watched_sweep import drives_of

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.proof import first_cells as lattice
from assembly.clearance.proof import sweep as sweeping
from assembly.kinematics.assembling import assemble
from assembly.kinematics.singular import NEAR, weakest_loop
from assembly.kinematics.solver import solve
from assembly.model.machine import JointKind
from assembly.model.reader import read_machine

CASES = Path(__file__).resolve().parent / "cases"
SETTINGS = 6
SEEDS = range(36)
SEEN = 1e-6
"""mm or 1: by which a place or a direction must change to have been moved."""

SPINNER = """
format = 1
name = "Sledge and spinner"

[parts.base]
fixed = true
shapes = [{ name = "wall", box = [0, -70, 0], size = [300, 20, 40] }]

[parts.arm]
shapes = [{ name = "bar", box = [20, 0, 0], size = [40, 10, 10] }]

[parts.sledge]
shapes = [{ name = "plate", box = [0, 70, 0], size = [300, 20, 40] }]

[joints]
hub = { pin = ["base", "arm"], at = [0, 0, 0], along = [0, 0, 1] }
guide = { slide = ["base", "sledge"], at = [0, 70, 0], along = [0, -1, 0] }

[drives]
push = { slides = { guide = 1 }, range = [-5, 8] }
spin = { turns = { hub = 1 }, range = [0, 360] }

[clearance]
required = 3
"""


def moved_by_each_drive(mechanism, random):
    """(B, B, d) whether a drive alone was seen to move two bodies against each other, from anywhere to anywhere."""
    drives = mechanism.machine.drives.values()
    low, high = (np.array([getattr(drive, end) for drive in drives]) for end in ("low", "high"))
    count = len(mechanism.bodies)
    moved = np.zeros((count, count, len(low)), dtype=bool)
    for drive in range(len(low)):
        settings = random.uniform(low, high, size=(2 * SETTINGS, len(low)))
        settings[1::2, np.arange(len(low)) != drive] = settings[::2, np.arange(len(low)) != drive]
        solved = solve(mechanism, settings)
        both = solved.reached[::2] & solved.reached[1::2]
        for one, other in combinations(range(count), 2):
            rotation, centres = solved.posture.rotations, solved.posture.centres
            turned = np.swapaxes(rotation[:, one], 1, 2) @ rotation[:, other]
            place = np.einsum("nji,nj->ni", rotation[:, one], centres[:, other] - centres[:, one])
            changed = [np.abs(each[::2] - each[1::2])[both].max(initial=0.0) for each in (turned, place)]
            moved[one, other, drive] = moved[other, one, drive] = max(changed) > SEEN
    return moved


@pytest.mark.parametrize("start", first(range(0, len(SEEDS), 12), 1))
def test_no_drive_moves_two_bodies_that_it_is_told_not_to(start):
    seen = 0
    for seed in SEEDS[start : start + 12]:
        mechanism = assemble(random_machine(seed, 0.4))
        moved = moved_by_each_drive(mechanism, np.random.default_rng(seed))
        for one, other in combinations(range(len(mechanism.bodies)), 2):
            told = mechanism.system.drives_between(one, other)
            assert not (moved[one, other] & ~told).any(), (seed, mechanism.bodies.label(one), one, other)
        seen += int(moved.sum())
    assert seen > 20


def test_drives_of_a_leaning_front_are_told_apart_as_they_are():
    """Own model: lean moves the lower arms, steer the crank; uprights and all that depends on them move by both."""
    mechanism = assemble(front_ends.front_end())
    moved = moved_by_each_drive(mechanism, np.random.default_rng(0))
    few = 0
    for one, other in combinations(range(len(mechanism.bodies)), 2):
        told = mechanism.system.drives_between(one, other)
        assert not (moved[one, other] & ~told).any()
        few += int(not told.all())
    assert few > 0


def test_open_chain_is_moved_by_the_joints_between_only():
    """Closed form: of two bodies of a chain, the drives of the pins from one to the other."""
    chain = machine(
        [
            pin("a", GROUND, "one", ORIGIN, X),
            pin("b", "one", "two", (50, 0, 0), Y),
            pin("c", "two", "three", (90, 0, 0), X),
        ],
        turns(a=1),
        turns(b=1),
        turns(c=1),
    )
    mechanism = assemble(chain)
    body = [mechanism.bodies.body_of[name] for name in (GROUND, "one", "two", "three")]
    for one, other in combinations(range(4), 2):
        told = np.flatnonzero(mechanism.system.drives_between(body[one], body[other])).tolist()
        assert told == list(range(one, other))
    assert mechanism.system.drives_together((0, 1, 2)) == [(0, 1, 2)]


def swept(made, names, **effort):
    mechanism = assemble(made)
    pairs = gather_pairs(made, mechanism.bodies)
    chosen = pairs.only(pair for pair in pairs.checked if {pair.a, pair.b} in names)
    assert len(chosen.checked) == len(names)
    result = sweeping.sweep_pairs(mechanism, chosen, Effort(**effort), quiet)
    return result, {frozenset((pair.pair.a, pair.pair.b)): pair for pair in result.pairs}


def test_drives_that_share_no_loop_are_cut_apart_and_pairs_of_both_are_bounded():
    """Closed form: the corners of the bar go round at √(40² + 5²); the wall stands at 60, the plate at 60 - 8."""
    made = read(SPINNER)
    names = [{"base", "arm"}, {"base", "sledge"}, {"arm", "sledge"}]
    result, found = swept(made, names, bracket_mm=0.02, bracket_share=0.0)
    corner = np.hypot(40, 5)
    expected = dict(zip(map(frozenset, names), (60 - corner, 120 - 8, 60 - 8 - corner), strict=True))
    for ends, pair in found.items():
        assert pair.verdict is Verdict.CLEAR
        assert pair.proven <= expected[ends] + 1e-6
        assert pair.least == pytest.approx(expected[ends], abs=0.05)
        assert pair.least >= expected[ends] - 1e-6
    assert list(map(drives_of, result.groups.of_blocks())) == [("push",), ("spin",)]
    assert sorted(map(drives_of, result.groups.made)) == [("push",), ("push", "spin"), ("spin",)]


STRIKING = SPINNER.replace("range = [-5, 8]", "range = [-5, 25]")
"""The plate comes down to 35, and the corners of the bar go round at 40.31: they are up to 5.31 in each other."""


def test_a_pair_of_which_nothing_is_proven_is_measured_over_the_whole_range(monkeypatch):
    """Closed form: plate and hub are 60 apart at rest; the corners go round at 40.31, so beyond 19.69 they strike."""
    monkeypatch.setattr(sweeping._Sweep, "_show_strikes", lambda *_: None)
    monkeypatch.setattr(lattice, "prove", lambda cells, _: (np.zeros(0, dtype=np.intp), cells.first))
    _, found = swept(read(STRIKING), [{"arm", "sledge"}, {"base", "sledge"}, {"base", "arm"}])
    strike, near = (found[frozenset(ends)] for ends in ({"arm", "sledge"}, {"base", "arm"}))
    assert strike.verdict is Verdict.FAILS
    assert near.verdict is found[frozenset({"base", "sledge"})].verdict is Verdict.UNDECIDED
    assert near.least == pytest.approx(60 - np.hypot(40, 5), abs=0.01)
    assert found[frozenset({"base", "sledge"})].least == pytest.approx(120 - 25, abs=1e-6)


def test_where_a_pair_fails_is_told_over_the_drives_that_move_it():
    """Closed form: the bar's lowest corner; the wall's side stands at -60, 25 is required and 19.69 is left."""
    (_, found) = swept(read(SPINNER.replace("required = 3", "required = 25")), [{"base", "arm"}])
    (pair,) = found.values()
    assert pair.verdict is Verdict.FAILS
    angles = np.deg2rad(np.linspace(0, 360, 20001))
    corners = np.array([(x, y) for x in (0, 40) for y in (-5, 5)])
    lowest = (corners[:, 0, None] * np.sin(angles) + corners[:, 1, None] * np.cos(angles)).min(axis=0)
    assert pair.region.share == pytest.approx((60 + lowest < 25).mean(), abs=2 / 729)
    assert {(centre[0], half[0]) for centre, half in pair.region.cells} == {(1.5, 6.5)}
    assert {(contact.drive, contact.at[0]) for contact in pair.first_contacts} == {("spin", 0.0)}
    first = np.rad2deg(angles[np.argmax(60 + lowest < 25)])
    assert [contact.at[1] for contact in pair.first_contacts] == [pytest.approx(first, abs=0.05)]


def test_no_pose_of_the_sound_front_is_near_singular():
    """A double arm close to a parallelogram keeps its rank all over the range: it does not fold over."""
    mechanism = assemble(front_with_pedals())
    solved = solve(mechanism, np.array([[-26, -30, 0], [26, 30, 180], [26, -30, 360], [0, 0, 90]]))
    for row in range(4):
        loop, left = weakest_loop(mechanism, solved.posture.take(np.array([row])))
        assert len(loop) > 2
        assert left > NEAR


def front_with_pedals():
    return read_machine(CASES / "leaning_front_with_turning_pedals.toml")


def without_pedals():
    """The same machine with its pedals welded where they are drawn."""
    made = front_with_pedals()
    joints = {
        name: replace(joint, kind=JointKind.WELDED) if name.startswith("pedal_") else joint
        for name, joint in made.joints.items()
    }
    drives = {name: drive for name, drive in made.drives.items() if name != "pedal"}
    return replace(made, joints=joints, drives=drives)


FRONT = [{"wood_nose", "wheel_left"}, {"lower_arm_left", "bell_crank"}]


@pytest.mark.long
def test_pedals_that_turn_all_round_change_nothing_about_the_front(monkeypatch):
    """How deep the strikes are is left out, which takes long and proves nothing."""
    monkeypatch.setattr(sweeping._Sweep, "_show_strikes", lambda *_: None)
    (_, with_them), (_, without) = (swept(made, FRONT) for made in (front_with_pedals(), without_pedals()))
    for ends, pair in with_them.items():
        assert pair.verdict is without[ends].verdict
        assert pair.least == pytest.approx(without[ends].least, abs=1e-6)
        assert pair.at[:2] == pytest.approx(without[ends].at, abs=1e-6)
