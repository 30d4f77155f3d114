"""Tries to break what is told of slack hoses: shapes of just their length that come nearer than was proven."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
from proof_attack import Violation
from random_figures import POINT, Drawn
from random_machines import random_machine
from watched_sweep import from_rest, unresolved

from assembly.clearance.proof.hose_band import _band, hose_near
from assembly.clearance.proof.joint_search import joint_search
from assembly.clearance.proof.measure_search import drives_of
from assembly.clearance.proof.reduced_motion import reduced_motion
from assembly.kinematics.assembling import assemble
from assembly.kinematics.cell_motion import bound_motion
from assembly.kinematics.solver import follow
from assembly.model.cable import CableRun

HALVINGS = 30
CELLS, IN_EACH = 12, 6
SLACK = 1e-6


def random_hose(drawn):
    """Two to four points of any parts, and a hose that is a little to much longer than needed with all drives at 0."""
    random = drawn.random
    points = [drawn.feature(POINT) for _ in range(int(random.integers(2, 5)))]
    run = CableRun(tuple(points), 0.0, True, 1.0, 0.0, float(random.choice([2.0, 8.0])))
    places = np.array([point.at for point in points])
    needed = np.linalg.norm(np.diff(places, axis=0), axis=1).sum()
    return replace(run, outer=float(needed * random.uniform(0.9, 1.3)), held=tuple(map(tuple, places.tolist())))


def attack(seed, count, share=0.3):
    """Violations, settings tried, and parts that were told to be at least somewhere; of one random hose."""
    machine = random_machine(seed, share)
    random = np.random.default_rng((seed, 6))
    drawn = Drawn(machine, random)
    run, mechanism = random_hose(drawn), assemble(machine)
    search = joint_search(mechanism)
    drives = machine.drives.values()
    low, high = (np.array([getattr(drive, end) for drive in drives]) for end in ("low", "high"))
    solved = from_rest(mechanism, random.uniform(low, high, (count, len(low))))
    solved = solved.take(np.flatnonzero(solved.reached))
    found, told = [*_cells(random, machine, mechanism, run, (low, high))], 0
    for entry in hose_near(mechanism, search, run):
        if entry.proven is None:
            continue
        told += 1
        part = machine.parts[entry.part]
        band = _band(mechanism, run, part)
        kept = np.arange(len(solved.settings))
        if drives_of(mechanism, band):
            within = reduced_motion(search.groups, band)
            kept = np.flatnonzero(~unresolved(within.cells, within.reduced.narrowed(solved.settings)))
        nearest = least_seen(random, band, part.mesh, solved.posture.take(kept))
        for row in np.flatnonzero(nearest < entry.proven - SLACK)[:1]:
            at = tuple(solved.settings[kept[row]].tolist())
            found.append(Violation("hose nearer", entry.part, at, f"{nearest[row]:.6f}, proven {entry.proven:.6f}"))
        if entry.verdict == "clear" and entry.proven < entry.required:
            found.append(Violation("hose told clear", entry.part, (), f"{entry.proven} of {entry.required}"))
    return found, len(solved.settings), told


def _cells(random, machine, mechanism, run, ends):
    """Cells of any width: what is told of them against settings inside."""
    low, high = ends
    start = from_rest(mechanism, random.uniform(low, high, (CELLS, len(low))))
    start = start.take(np.flatnonzero(start.reached))
    if not len(start.settings):
        return
    half = (high - low) * 10.0 ** random.uniform(-4, -1, (len(start.settings), 1))
    motion = bound_motion(mechanism, start, half)
    cells = np.repeat(np.flatnonzero(motion.certified), IN_EACH)
    share = random.uniform(-1, 1, (len(cells), len(low)))
    inside = follow(mechanism, start, cells, start.settings[cells] + share * half[cells])
    held_by = {point.part for point in run.points}
    for part in (one for name, one in machine.parts.items() if name not in held_by):
        band = _band(mechanism, run, part)
        told = band.span(motion, band.values(motion.posture)).low[cells]
        nearest = least_seen(random, band, part.mesh, inside.posture)
        for row in np.flatnonzero(inside.reached & (nearest < told - SLACK))[:1]:
            at = tuple(inside.settings[row].tolist())
            yield Violation("hose nearer than its cell", part.name, at, f"{nearest[row]:.6f}, told {told[row]:.6f}")


def least_seen(random, band, mesh, posture, tries=100):
    """The least distance (N,) seen between a hose and points of a part at postures, less the hose's radius.

    From points of the surface towards points of each chord up to where a kinked hose still gets to.
    """
    corners = mesh.vertices[mesh.faces]
    places = np.einsum(
        "tk,tkj->tj", random.dirichlet((0.4, 0.4, 0.4), tries), corners[random.integers(len(corners), size=tries)]
    )
    held = band.held(posture)
    straight = np.array([np.linalg.norm(b - a, axis=1) for a, b in pairwise(held)])
    least = np.full(len(posture), np.inf)
    for number, (a, b) in enumerate(pairwise(held)):
        length = band.length - straight.sum(axis=0) + straight[number]
        share = random.uniform(0, 1, (tries, 1))
        chord = a[:, None] + (b - a)[:, None] * share
        near, far = np.zeros((len(a), tries)), np.ones((len(a), tries))
        for _ in range(HALVINGS):
            middle = (near + far) / 2
            at = places + (chord - places) * middle[..., None]
            sums = np.linalg.norm(at - a[:, None], axis=2) + np.linalg.norm(at - b[:, None], axis=2)
            inside = sums <= length[:, None]
            near, far = np.where(inside, near, middle), np.where(inside, middle, far)
        gaps = np.linalg.norm(chord - places, axis=2) * far
        fits = length >= straight[number]
        least = np.where(fits, np.minimum(least, gaps.min(axis=1)), least)
    return least - band.radius
