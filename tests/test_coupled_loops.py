"""Coupled four-bars near a parallelogram: every loop keeps its assembly past its change point (closed form)."""

from pathlib import Path

import numpy as np
import pytest
from linkage_machines import GROUND, machine, move, pin, turns, wrapped
from oracles import linkages
from small_machines import quiet
from tries import first

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.proof.sweep import sweep_pairs
from assembly.kinematics.assembling import assemble
from assembly.model.reader import read_machine

CASES = Path(__file__).resolve().parent / "cases"
CRANK, GROUND_LINK = 50.0, 200.0


def tips(count, offset):
    """Pins of the wheels, drawn with all cranks up; each bar is about ``offset`` mm longer than the ground link."""
    along = offset * np.arange(count + 1)
    return np.stack([GROUND_LINK * np.arange(count + 1) + along, np.sqrt(CRANK**2 - along**2)], axis=-1)


def coupled(count, offset):
    """``count`` four-bars in a row, the follower of each the crank of the next."""
    ends = tips(count, offset)
    joints = [pin(f"axle{k}", GROUND, f"w{k}", (GROUND_LINK * k, 0)) for k in range(count + 1)]
    for k in range(count):
        joints += [pin(f"near{k}", f"w{k}", f"bar{k}", ends[k]), pin(f"far{k}", f"bar{k}", f"w{k + 1}", ends[k + 1])]
    return machine(joints, turns(axle0=1))


def followers(count, offset, crank):
    """Turns (count, N) of the followers from rest, and angles (count, N) of the bars, each loop in its own assembly.

    Closed form: with the bar longer than the ground link by any offset above 0, crank and follower never line up with
    it, so the side of the diagonal on which the follower stands stays as drawn.
    """
    ends = tips(count, offset)
    lengths = np.linalg.norm(np.diff(ends, axis=0), axis=1)
    drawn = np.degrees(np.arctan2(ends[:, 1], ends[:, 0] - GROUND_LINK * np.arange(count + 1)))
    angle, turned, bars = drawn[0] + np.asarray(crank, dtype=float), [], []
    for k, length in enumerate(lengths):
        links = CRANK, length, CRANK, GROUND_LINK
        crossed = abs(wrapped(linkages.four_bar(*links, drawn[k])[1] - drawn[k + 1])) > 1e-6
        bar, angle = linkages.four_bar(*links, angle, crossed)
        turned.append(wrapped(angle - drawn[k + 1]))
        bars.append(bar)
    return np.array(turned), np.array(bars)


@pytest.mark.parametrize("offset", first([0.0005, 0.05, 0.005], 2))
@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_every_loop_keeps_its_assembly_past_the_change_point(count, offset):
    crank = np.array([60.0, 89.0, 95.0, 130.0, 170.0])
    moved = move(coupled(count, offset), crank)
    wanted, _ = followers(count, offset, crank)
    for k in range(count):
        assert wrapped(moved.turn(f"w{k + 1}") - wanted[k]) == pytest.approx(np.zeros(len(crank)), abs=1e-5)


def strips_apart(crank, offset):
    """Whether bar1 and the ear on bar0, seen from above, are apart: corners of either beyond the sides of the other."""
    ends = tips(2, offset)
    turned, bars = followers(2, offset, [0.0, crank])
    turn = np.radians(bars[:, 1] - bars[:, 0])
    spin = [np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]]) for t in turn]
    wheel = np.radians(np.degrees(np.arctan2(ends[1, 1], ends[1, 0] - GROUND_LINK)) + turned[0, 1])
    joint = np.array([GROUND_LINK + CRANK * np.cos(wheel), CRANK * np.sin(wheel)])
    ear = joint + (np.array([[225, 36], [235, 36], [235, 44], [225, 44]]) - ends[1]) @ spin[0].T
    middle = (ends[1] + ends[2]) / 2
    strip = joint + (middle + np.array([[-100, -3], [100, -3], [100, 3], [-100, 3]]) - ends[1]) @ spin[1].T
    normals = [spin[0][:, 0], spin[0][:, 1], spin[1][:, 0], spin[1][:, 1]]
    return any((strip @ n).min() > (ear @ n).max() or (ear @ n).min() > (strip @ n).max() for n in normals)


@pytest.mark.parametrize(
    ("file", "offset"), first([("coupled_loops_change_assembly", 0.01), ("coupled_loops_0005", 0.005)], 1)
)
def test_sweep_finds_the_strike_behind_the_change_point(file, offset):
    mechanism = assemble(read_machine(CASES / f"{file}.toml"))
    result = sweep_pairs(
        mechanism, gather_pairs(mechanism.machine, mechanism.bodies), Effort(cores=1, decide_only=True), quiet
    )
    (struck,) = [pair for pair in result.pairs if {pair.pair.a, pair.pair.b} == {"bar0", "bar1"}]
    assert struck.verdict is Verdict.FAILS
    assert struck.least <= 0
    # closed form: they first touch at 102.3, in the assembly that the machine keeps
    assert strips_apart(102.2, offset)
    assert not strips_apart(102.4, offset)
    assert not strips_apart(struck.at[0], offset)
