"""Tries to break the proof of one machine: settings no pose of which may come nearer than was proven.

Everything a sweep claims is tried from outside: proven clearances, cells in which the motion is bounded, places that
are told to be out of reach. Poses are followed from rest for every setting by itself; distances are measured anew, a
sample of them by brute force.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import product

import numpy as np
from leaf_attack import ROUNDING, attack_leaves
from linkage_machines import Floats
from oracles import brute_force
from scipy.spatial import ConvexHull, QhullError
from watched_sweep import Flags, Swept, from_rest, swept

from assembly.clearance.narrow_phase.bounding_balls import BoundingBalls
from assembly.clearance.narrow_phase.checked_pairs import Exclusion
from assembly.clearance.narrow_phase.distance import contained
from assembly.clearance.narrow_phase.pair_result import Effort, PairResult, Verdict
from assembly.clearance.proof.cells import Cells
from assembly.geometry.mesh import Mesh
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import follow, solve
from assembly.kinematics.travel import travel
from assembly.model.machine import JointKind, Machine

LEAST_MISS = 1e-5
"""mm by which a loop may miss, as far as being reached or not is concerned."""
SAME_PLACE = 1e-5
"""mm, rad: two postures of one setting may differ by no more."""
WAY_POINTS = 17


@dataclass(frozen=True)
class Violation:
    """One claim that does not hold."""

    kind: str
    about: str
    at: tuple[float, ...]
    detail: str

    def __str__(self) -> str:
        return f"{self.kind}: {self.about} at {tuple(round(value, 6) for value in self.at)}: {self.detail}"


@dataclass
class Report:
    """What was tried on one machine, how near the bounds came to being wrong, and every violation."""

    machine: str
    pairs: int = 0
    clear: int = 0
    cells: int = 0
    settings: int = 0
    distances: int = 0
    brute: int = 0
    out_of_reach: int = 0
    given_up_share: float = 0.0
    slimmest: float = np.inf
    """mm: smallest of measured distance less surface errors less proven."""
    fullest: float = 0.0
    """Largest share of a travel bound that a sampled motion used."""
    violations: list[Violation] = field(default_factory=list)


def attack(machine: Machine, settings: int, seed: int, effort: Effort, brute: int = 4) -> Report:
    """Sweep ``machine`` and try to break what was proven with about ``settings`` settings."""
    random = np.random.default_rng(seed)
    run = swept(machine, effort)
    report = Report(machine.name, len(run.result.pairs), cells=sum(map(len, run.groups.made)))
    report.clear = sum(pair.verdict is Verdict.CLEAR for pair in run.result.pairs)
    report.given_up_share = run.result.unreachable_share
    tried = samples(random, run, settings)
    solved = from_rest(run.mechanism, tried)
    report.settings, report.out_of_reach = len(tried), int((~solved.reached).sum())
    lost = run.unresolved(tried)
    report.violations += _unannounced(run, solved, lost)
    report.violations += _another_way(run.mechanism, solved, random)
    report.violations += _open_joints(run.mechanism, solved)
    for pair in run.result.pairs:
        own = run.rolled(pair, solved, random)
        _attack_pair(run, pair, own, run.lost(run.cells_of(pair), own.settings), random, report, brute)
    for cells in run.groups.made:
        _attack_cells(run, cells, random, report, max(8, settings // 8))
    for near in attack_leaves(run, random, max(2, settings // 8)):
        detail = f"{near.distance:.6f} mm less surface errors, the cell's bound is {near.bound:.6f}"
        report.violations.append(Violation(f"nearer than its cell, {near.method.name}", near.about, near.at, detail))
    return report


def samples(random: np.random.Generator, run: Swept, count: int) -> Floats:
    """Corners, edges, the inside, and the neighbourhood of every pair's least."""
    drives = run.mechanism.machine.drives.values()
    low, high = (np.array([getattr(drive, end) for drive in drives]) for end in ("low", "high"))
    corners = np.array(list(product(*zip(low, high, strict=True))))
    inside = random.uniform(low, high, size=(max(4, count // 2), len(low)))
    edges = random.uniform(low, high, size=(max(2, count // 8), len(low)))
    rows = np.arange(len(edges))
    axis = random.integers(len(low), size=len(edges))
    edges[rows, axis] = np.where(random.random(len(edges)) < 0.5, low[axis], high[axis])
    places = np.array([pair.at[: len(low)] for pair in run.result.pairs]).reshape(-1, len(low))
    own = max(1, count // 3 // max(1, len(places)))
    width = 10.0 ** random.uniform(-5, -1, size=(len(places) * own, 1))
    near = np.repeat(places, own, axis=0) + width * (high - low) * random.normal(size=(len(places) * own, len(low)))
    return np.concatenate([corners, inside, edges, np.clip(near, low, high)])


def _unannounced(run: Swept, solved: Solved, lost: Flags) -> Iterator[Violation]:
    """Settings that cannot be reached lie in cells that were given up; a miss that no ruler shows is none."""
    missing = (solved.share < 1) | (solved.residual > LEAST_MISS)
    for row in np.flatnonzero(~solved.reached & missing & ~lost):
        yield Violation(
            "out of reach, not told",
            run.mechanism.machine.name,
            _setting(solved, row),
            f"{100 * solved.share[row]:.1f} % of the way, misses by {solved.residual[row]:.2g} mm",
        )


def _another_way(mechanism: Mechanism, solved: Solved, random: np.random.Generator) -> Iterator[Violation]:
    """A posture depends on its setting only: many at once and many small steps come to the same one."""
    stack = solve(mechanism, solved.settings)
    rows = random.choice(len(solved.settings), size=1)
    for row in range(len(solved.settings)):
        if solved.reached[row] and stack.reached[row]:
            yield from _differing("depends on the way", solved, row, stack.posture, row)
    for row in rows[solved.reached[rows]]:
        steps = np.linspace(0, 1, WAY_POINTS)[1:, None] * solved.settings[row]
        yield from _differing("fewer steps jump", solved, row, _stepwise(mechanism, steps), 0)


def _stepwise(mechanism: Mechanism, steps: Floats) -> Posture:
    known = Solved(np.zeros_like(steps[:1]), mechanism.home, np.ones(1, dtype=bool), np.ones(1), np.zeros(1))
    for step in steps:
        known = follow(mechanism, known, np.zeros(1, dtype=np.intp), step[None])
    return known.posture


def _differing(kind: str, solved: Solved, row: int, other: Posture, index: int) -> Iterator[Violation]:
    shift = np.abs(solved.posture.centres[row] - other.centres[index]).max()
    turn = np.abs(solved.posture.rotations[row] - other.rotations[index]).max()
    if max(shift, turn) > SAME_PLACE:
        yield Violation(kind, "posture", _setting(solved, row), f"differs by {shift:.3g} mm, {turn:.3g}")


def _open_joints(mechanism: Mechanism, solved: Solved) -> Iterator[Violation]:
    """Pins and balls hold their two places together, and pins their lines, seen by nothing but the parts' frames."""
    for joint in mechanism.machine.joints.values():
        if joint.kind in (JointKind.PIN, JointKind.BALL, JointKind.UNIVERSAL):
            first, second = (mechanism.world_from_rest(solved.posture, part) for part in (joint.first, joint.second))
            places = [
                frame[:, :3, :3] @ np.array(at) + frame[:, :3, 3]
                for frame, at in ((first, joint.at_first), (second, joint.at_second))
            ]
            gap = np.linalg.norm(places[0] - places[1], axis=1)
            if joint.kind is JointKind.PIN:
                lines = [frame[:, :3, :3] @ np.array(joint.along) for frame in (first, second)]
                gap = np.maximum(gap, 100 * np.linalg.norm(lines[0] - lines[1], axis=1))
            for row in np.flatnonzero(solved.reached & (gap > 1e-4)):
                yield Violation("joint open", joint.name, _setting(solved, row), f"by {gap[row]:.3g} mm")


def _attack_pair(
    run: Swept,
    pair: PairResult,
    solved: Solved,
    lost: Flags,
    random: np.random.Generator,
    report: Report,
    brute: int,
) -> None:
    name = f"{pair.pair.a} and {pair.pair.b}"
    places = [run.mechanism.world_from_rest(solved.posture, part) for part in (pair.pair.a, pair.pair.b)]
    proven = -np.inf if pair.proven is None else pair.proven
    checked = set(random.choice(len(solved.settings), size=min(brute, len(solved.settings)), replace=False).tolist())
    apart = _boxes_apart(run, pair, places)
    for row in np.flatnonzero(solved.reached):
        if row not in checked and not lost[row] and apart[row] >= proven:
            continue
        at, frames = _setting(solved, row), (places[0][row], places[1][row])
        distance, room = run.measured(pair, frames, proven)
        report.distances += 1
        if row in checked:
            report.brute += 1
            report.violations += _against_brute_force(run, pair, at, frames, distance)
            if pair.verdict is Verdict.CLEAR and distance > 0 and contained(*run.whole(pair), *frames):
                report.violations.append(Violation("clear, yet inside", name, at, f"surfaces {distance:.3f} mm apart"))
        if not lost[row]:
            report.slimmest = min(report.slimmest, room - proven)
            if room < proven - ROUNDING:
                detail = f"{distance:.6f} mm, {room:.6f} less surface errors, proven {proven:.6f}"
                report.violations.append(Violation("nearer than proven", name, at, detail))
        elif pair.verdict is Verdict.CLEAR and room < pair.pair.required - ROUNDING:
            detail = f"{distance:.6f} mm in a cell that was given up, {pair.pair.required:g} mm is required"
            report.violations.append(Violation("clear, yet too near", name, at, detail))


def _boxes_apart(run: Swept, pair: PairResult, places: Sequence[Floats]) -> Floats:
    """Distance (N,) between boxes round both solids, surface errors taken off: they are no nearer than that."""
    low, high, errors = [], [], 0.0
    for exclusion, place in zip((pair.pair.trim_a, pair.pair.trim_b), places, strict=True):
        mesh = run.collision_models[exclusion][0].solid.mesh
        corners = _hull(mesh) @ place[:, :3, :3].transpose(0, 2, 1) + place[:, None, :3, 3]
        low.append(corners.min(axis=1))
        high.append(corners.max(axis=1))
        errors += mesh.surface_error
    gaps = np.maximum(np.maximum(low[0] - high[1], low[1] - high[0]), 0.0)
    return np.asarray(np.linalg.norm(gaps, axis=1) - errors)


@cache
def _hull(mesh: Mesh) -> Floats:
    try:
        return np.asarray(mesh.vertices[ConvexHull(mesh.vertices).vertices])
    except QhullError:
        return mesh.vertices


def _against_brute_force(
    run: Swept, pair: PairResult, at: tuple[float, ...], frames: Sequence[Floats], distance: float
) -> list[Violation]:
    placed = [
        collision_model.solid.mesh.moved(frame) for collision_model, frame in zip(run.whole(pair), frames, strict=True)
    ]
    exact = brute_force.mesh_distance(*(array for mesh in placed for array in (mesh.vertices, mesh.faces)))
    if abs(exact - distance) <= ROUNDING:
        return []
    detail = f"{distance:.9f} mm, by brute force {exact:.9f} mm"
    return [Violation("measured wrongly", f"{pair.pair.a} and {pair.pair.b}", at, detail)]


def _setting(solved: Solved, row: int) -> tuple[float, ...]:
    return tuple(solved.settings[row].tolist())


def _attack_cells(run: Swept, every: Cells, random: np.random.Generator, report: Report, count: int) -> None:
    """Settings in the corners and inside of proven cells: reached, and no outline moved farther than bounded.

    The drives that are not cut stand anywhere; only pairs that the others move are looked at.
    """
    motion = every.motion
    proven = np.flatnonzero(motion.certified)
    if not len(proven):
        return
    cells = random.choice(proven, size=count)
    shape = count, motion.half.shape[1]
    corner = random.random((count, 1)) < 0.5
    signs = np.where(corner, random.choice([-1.0, 1.0], size=shape), random.uniform(-1, 1, size=shape))
    settings = motion.settings[cells] + signs * motion.half[cells]
    others = np.delete(np.arange(shape[1]), list(every.drives))
    drives = list(every.mechanism.machine.drives.values())
    for drive in others:
        settings[:, drive] = random.uniform(drives[drive].low, drives[drive].high, size=count)
    solved = from_rest(every.mechanism, settings)
    lost = run.unresolved(run.reduced_to(every).widened(solved.settings))
    report.violations += _unannounced(run, solved, lost)
    before, kept = motion.take(cells), solved.reached & ~lost
    for result in run.result.pairs:
        pair = result.pair
        if pair.rigidly_coupled or run.cells_of(result) is not every:
            continue
        for mine, other in ((pair.trim_a, pair.trim_b), (pair.trim_b, pair.trim_a)):
            mechanism, outline = every.mechanism, run.outlines[mine]
            bodies = [mechanism.bodies.body_of[exclusion.part] for exclusion in (mine, other)]
            bound = travel(before, *bodies, outline.points, outline.radii, mechanism.bodies.centres)
            seen = [_seen(mechanism, posture, outline, mine, other) for posture in (before.posture, solved.posture)]
            far = np.linalg.norm(seen[1] - seen[0], axis=2).max(axis=1)
            report.fullest = max(report.fullest, float((far / np.maximum(bound, ROUNDING))[kept].max(initial=0.0)))
            for row in np.flatnonzero(kept & (far > bound + ROUNDING)):
                detail = f"an outline moved {far[row]:.6f} mm, bounded by {bound[row]:.6f} mm"
                name = f"{mine.part} seen from {other.part}, cell {cells[row]}"
                report.violations.append(Violation("moved too far", name, _setting(solved, row), detail))


def _seen(mechanism: Mechanism, posture: Posture, outline: BoundingBalls, mine: Exclusion, other: Exclusion) -> Floats:
    """Where (N, k, 3) the outline's corners of one part are, in the frame of the other part."""
    frame, eye = (mechanism.world_from_rest(posture, exclusion.part) for exclusion in (mine, other))
    world = outline.points @ frame[:, :3, :3].transpose(0, 2, 1) + frame[:, None, :3, 3]
    return (world - eye[:, None, :3, 3]) @ eye[:, :3, :3]
