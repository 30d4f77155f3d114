"""An attack on proven worst cases: machines made anew with dimensions within their tolerances."""

from itertools import product

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.distance import CollisionModel, nearest
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.tolerances.readings import tolerances_of
from assembly.clearance.tolerances.worst_case import worst_case
from assembly.kinematics.assembling import assemble
from assembly.kinematics.solver import solve
from assembly.progress import no_progress

EFFORT = Effort(cores=1)


def swept(machine, effort=EFFORT, names=None):
    """The worst case of the machine, of all pairs or of one by its names."""
    mechanism = assemble(machine)
    pairs = gather_pairs(machine, mechanism.bodies)
    if names:
        pairs = pairs.only(pair for pair in pairs.checked if {pair.a, pair.b} == set(names))
    return worst_case(mechanism, pairs, effort, no_progress)


def bounds_of(worst):
    """What is proven of each pair, by the names of its parts; of pairs of which nothing is, nothing."""
    return {(pair.a, pair.b): one.proven for pair, one in worst.pairs.items() if one.proven is not None}


def made(machine, changes):
    """The machine with each dimension so much off."""
    tolerances = tolerances_of(machine)
    values = {one.name: one.off_by(float(change)) for one, change in zip(tolerances, changes, strict=True)}
    return assemble(machine.with_dimensions(**values))


def corners(machine):
    """Every combination of ends of the tolerances."""
    return list(product(*(one.ends for one in tolerances_of(machine))))


def distances(mechanism, settings, asked):
    """The least distance of each ``asked`` pair over ``settings`` (N, d), by the names of its parts."""
    pairs = gather_pairs(mechanism.machine, mechanism.bodies)
    pairs = pairs.only(pair for pair in pairs.checked if (pair.a, pair.b) in asked)
    solved = solve(mechanism, np.asarray(settings, dtype=float))
    assert solved.reached.all()
    models, found = {}, {}
    for pair in pairs.checked:
        for trim in (pair.trim_a, pair.trim_b):
            models.setdefault(trim, CollisionModel(pairs.solids[trim]))
        places = [mechanism.world_from_rest(solved.posture, part) for part in (pair.a, pair.b)]
        every = [nearest(models[pair.trim_a], models[pair.trim_b], a, b).distance for a, b in zip(*places, strict=True)]
        found[pair.a, pair.b] = min(every)
    return found


def attack(machine, worst, machines, seed, settings=4):
    """The least of (distance found - proven) over all pairs of random machines; below 0 breaks the proof."""
    random = np.random.default_rng(seed)
    ends = np.array([one.ends for one in tolerances_of(machine)])
    drives = list(machine.drives.values())
    low, high = np.array([one.low for one in drives]), np.array([one.high for one in drives])
    proven, left = bounds_of(worst), np.inf
    for number in range(machines):
        share = random.uniform(size=len(ends)) if number % 2 else random.integers(2, size=len(ends))
        own = made(machine, ends[:, 0] + share * (ends[:, 1] - ends[:, 0]))
        at = low + random.uniform(size=(settings, len(low))) * (high - low)
        wanted = [one.at for one in worst.pairs.values() if one.at]
        at = np.vstack([at, wanted[number % len(wanted)]]) if wanted else at
        for names, found in distances(own, at, proven).items():
            left = min(left, found - proven[names])
    return left
