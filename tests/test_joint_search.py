"""Bounds of joint motions over whole ranges: nothing leaves them, and half of them is seen to be too little."""

import numpy as np
import pytest
from random_machines import random_machine
from small_machines import SPINDLE, read, trammel
from test_joint_motion import SLOW, halved, with_bolts
from tries import first
from watched_sweep import from_rest

from assembly.clearance.proof import first_cells as lattice
from assembly.clearance.proof import joint_search as searching
from assembly.clearance.proof.joint_search import BRACKET, joint_search
from assembly.kinematics import joint_motion
from assembly.kinematics.assembling import assemble
from assembly.kinematics.bodies import moving_joints
from assembly.kinematics.joint_motion import Lean, PinTurn, Travel, motions_of, nearest_turn

PROBES = 150
SEEDS = [seed for seed in range(18) if seed not in SLOW]
TOGETHER = 8
SLACK = 1e-6


def extremes_of(mechanism):
    motions = [motion for joint in moving_joints(mechanism.machine) for motion in motions_of(joint, mechanism.bodies)]
    search = joint_search(mechanism)
    return search, list(zip(motions, search.extremes([(motion, (None, None)) for motion in motions]), strict=True))


def outside(cells, settings):
    """Whether each setting lies outside of all cells whose motion is proven."""
    motion, roots, drives = cells.motion, cells.roots, list(cells.drives)
    away = np.abs(settings[:, None, drives] - motion.settings[roots][:, drives]) - motion.half[roots][:, drives]
    return ~(away <= 1e-9).all(axis=-1).any(axis=-1)


def left(seed, share=0.4):
    """Motions of the machine of ``seed`` that leave their proven bounds, and how many were proven."""
    random = np.random.default_rng(seed)
    mechanism = assemble(with_bolts(random_machine(seed, share), random))
    search, found = extremes_of(mechanism)
    drives = mechanism.machine.drives.values()
    low, high = (np.array([getattr(drive, end) for drive in drives]) for end in ("low", "high"))
    span = high - low
    settings = low + span * random.choice([0.0, 1.0, *random.random(8)], size=(PROBES, len(low)))
    solved = from_rest(mechanism, settings)
    wrong = []
    for motion, extremes in found:
        if extremes is None:
            continue
        kept = np.flatnonzero(solved.reached & ~outside(search.groups.between(*motion.bodies), settings))
        values = motion.values(solved.posture)[kept]
        if motion.turning:
            values = nearest_turn(values, np.clip(values, extremes.proven_least, extremes.proven_most))
        out = (values < extremes.proven_least - SLACK) | (values > extremes.proven_most + SLACK)
        wrong += [motion.name] * int(out.any())
    return wrong, sum(extremes is not None for _, extremes in found)


@pytest.mark.parametrize("start", first(range(0, len(SEEDS), TOGETHER), 1))
def test_no_setting_of_a_random_machine_passes_what_is_proven(start):
    reports = [left(seed) for seed in SEEDS[start : start + TOGETHER]]
    assert [name for wrong, _ in reports for name in wrong] == []
    assert sum(proven for _, proven in reports) > 20


def narrowed(span):
    return lambda self, motion, values: halved(span(self, motion, values), self.values(motion.posture))


def test_half_the_bounds_are_seen_to_be_passed(monkeypatch):
    """Nothing is looked at but the middles of cells, so that only the bounds can know the ends of the range."""
    for kind in (PinTurn, Lean, Travel):
        monkeypatch.setattr(kind, "span", narrowed(kind.span))
    monkeypatch.setattr(searching, "first_settings", lambda mechanism: np.zeros((1, len(mechanism.machine.drives))))
    monkeypatch.setattr(searching._Range, "try_corners", lambda *_: None)
    assert any(left(seed)[0] for seed in SEEDS[:8])


@pytest.mark.parametrize("seed", first(SEEDS[:8], 3))
def test_bounds_close_in_to_the_bracket(seed):
    random = np.random.default_rng(seed)
    _, found = extremes_of(assemble(with_bolts(random_machine(seed, 0.3), random)))
    for motion, extremes in found:
        assert extremes.proven_least <= extremes.least <= extremes.most <= extremes.proven_most
        if not motion.name.startswith("turn of the cross"):
            assert extremes.proven_most - extremes.most <= BRACKET + 1e-9
            assert extremes.least - extremes.proven_least <= BRACKET + 1e-9


def test_whole_turns_are_counted_from_rest():
    _, found = extremes_of(assemble(read(SPINDLE.replace("[-100, 100]", "[-10, 500]"))))
    turn = found[0][1]
    assert (turn.least, turn.most) == (pytest.approx(-25), pytest.approx(1250))  # closed form: 2.5 × the setting
    assert turn.looked_at.max() == pytest.approx(1250)
    assert joint_motion.WHOLE_TURN < turn.proven_most <= 1250 + BRACKET


def test_range_of_which_nothing_is_proven_tells_what_was_seen(monkeypatch):
    monkeypatch.setattr(lattice, "prove", lambda *_: (np.zeros(0, dtype=np.intp),) * 2)
    mechanism = assemble(read(trammel()))
    search, found = extremes_of(mechanism)
    travel = found[0][1]
    assert (travel.least, travel.most, travel.at_least) == (pytest.approx(-30), pytest.approx(20), (-30.0,))
    assert (travel.proven_least, travel.proven_most) == (-np.inf, np.inf)
    search.seen = search.seen.take(np.zeros(0, dtype=np.intp))
    assert search.extremes([(motion, (None, None)) for motion, _ in found]) == [None] * len(found)
