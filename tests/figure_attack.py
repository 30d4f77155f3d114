"""Tries to break the bounds of measures, cables and wheels: settings at which a figure leaves what was proven of it.

Every figure is worked out anew by ``oracles.figure_values`` at postures that are followed from rest one by one, at any
roll of what can roll, and held against its bounds in cells of any width and against its bounds over the whole range; so
are the verdicts of limits that lie close to what it does.
"""

from dataclasses import dataclass, field

import numpy as np
from oracles.figure_values import Standing, measure_value
from proof_attack import Violation
from random_figures import machine_with_figures
from watched_sweep import from_rest, unresolved

from assembly.clearance.proof.joint_search import joint_search
from assembly.clearance.proof.measure_search import Asked, bracketed_figures, drives_of
from assembly.clearance.proof.reduced_motion import reduced_motion
from assembly.kinematics.assembling import assemble
from assembly.kinematics.cell_motion import bound_motion
from assembly.kinematics.idle_rolls import rolled_about
from assembly.kinematics.joint_motion import nearest_turn
from assembly.kinematics.measure_figures import measure_motion
from assembly.kinematics.solver import follow
from assembly.kinematics.wheel_figures import WheelFigure, wheel_figures, wheel_motion

SLACK = 1e-6
"""degrees or mm by which two ways of working out one value may differ, or this share of it."""
MOST = 1e4
"""degrees or mm: beyond, as of tangents of half a turn, two ways of working out a value need not agree so far."""
CELLS, IN_EACH = 24, 10
MOST_CHILDREN, BRACKET = 60, 0.5
STEPS = 24
"""Postures on the way from rest, by which whole turns are counted."""


@dataclass
class Report:
    """What was tried on one machine."""

    machine: str
    figures: int = 0
    settings: int = 0
    values: int = 0
    bounded: int = 0
    cleared: int = 0
    fullest: float = 0.0
    """Largest share of a cell's bound that a value used."""
    violations: list[Violation] = field(default_factory=list)


class Watched:
    """A random machine with figures, and what each comes to at postures."""

    def __init__(self, seed, share, some=None):
        self.machine, self.special = machine_with_figures(seed, share)
        self.mechanism = assemble(self.machine)
        measures = [measure_motion(one, self.mechanism) for one in self.machine.measures.values()]
        self.motions = measures + [wheel_motion(self.mechanism, one) for one in wheel_figures(self.mechanism)]
        if some is not None:
            random = np.random.default_rng((seed, some))
            self.motions = [self.motions[k] for k in random.permutation(len(self.motions))[:some]]
        drives = self.machine.drives.values()
        self.low, self.high = (np.array([getattr(drive, end) for drive in drives]) for end in ("low", "high"))

    def values(self, posture):
        """Every figure (N,) at postures by the oracle, by name; those that it does not know by their own code."""
        centres, body_of = self.mechanism.bodies.centres, self.mechanism.bodies.body_of

        def point(part, at):
            body = body_of.get(part, 0)
            return posture.centres[:, body] + posture.rotations[:, body] @ (np.array(at) - centres[body])

        def direction(part, along):
            return posture.rotations[:, body_of.get(part, 0)] @ np.array(along)

        found = {}
        with np.errstate(all="ignore"):
            standing = Standing(self.machine.running, point, direction)
            for motion in self.motions:
                figure = motion.figure
                if isinstance(figure, WheelFigure):
                    value = standing.value(figure.word.value, figure.of_wheels)
                else:
                    value = measure_value(figure.measure, point, direction) - figure.start
                found[motion.name] = motion.values(posture) if value is None else value
        return found

    def settings(self, random, count):
        """Anywhere, at the ends, and close to where features were made to meet."""
        inside = random.uniform(self.low, self.high, (count, len(self.low)))
        ends = np.where(random.random((count // 4, len(self.low))) < 0.5, self.low, self.high)
        width = 10.0 ** random.uniform(-6, -0.5, (count // 2, 1))
        near = self.special + width * (self.high - self.low) * random.normal(size=(count // 2, len(self.low)))
        return np.clip(np.concatenate([inside, ends, near, self.special[None]]), self.low, self.high)

    def rolled(self, random, posture):
        """The same postures with everything that can roll at any roll."""
        for roll in self.mechanism.idle:
            if not roll.clamped:
                degrees = random.uniform(-180, 180, len(posture))
                posture = rolled_about(self.mechanism.home, posture, roll, degrees)
        return posture


def attack(seed, count, share=0.5, some=None):
    """Attack the figures of the random machine of ``seed``, or ``some``, with about ``count`` settings."""
    random, watched = np.random.default_rng((seed, 5)), Watched(seed, share, some)
    report = Report(watched.machine.name, len(watched.motions))
    settings = watched.settings(random, count)
    solved = from_rest(watched.mechanism, settings)
    solved = solved.take(np.flatnonzero(solved.reached))
    report.settings = len(solved.settings)
    known = watched.values(solved.posture)
    _attack_values(watched, solved, known, report)
    _attack_cells(watched, random, report)
    _attack_range(watched, random, solved, known, report)
    return report


def _noted(report, kind, motion, at, detail):
    report.violations.append(Violation(kind, motion.name, tuple(np.atleast_1d(at).tolist()), detail))


def _attack_values(watched, solved, known, report):
    """What is told at a setting is what the oracle says."""
    for motion in watched.motions:
        told, value = motion.values(solved.posture), known[motion.name]
        with np.errstate(invalid="ignore"):
            off = np.abs(told - value)
        if motion.turning or motion.unit == "deg":
            off = np.minimum(off, np.abs(off - 360))
        for row in np.flatnonzero((off > SLACK * (1 + np.abs(value))) & (np.abs(value) < MOST))[:1]:
            _noted(
                report, "another value", motion, solved.settings[row], f"{told[row]:.9g}, the oracle {value[row]:.9g}"
            )
        report.values += int(np.isfinite(off).sum())


def _attack_cells(watched, random, report):
    """Cells of any width round any setting, most of them close to where features meet."""
    centres = watched.settings(random, CELLS)[-CELLS:]
    start = from_rest(watched.mechanism, centres)
    start = start.take(np.flatnonzero(start.reached))
    if not len(start.settings):
        return
    half = (watched.high - watched.low) * 10.0 ** random.uniform(-4, -0.8, (len(start.settings), 1))
    motion = bound_motion(watched.mechanism, start, half)
    cells = np.repeat(np.flatnonzero(motion.certified), IN_EACH)
    share = random.uniform(-1, 1, (len(cells), half.shape[1]))
    share[::2] = np.sign(share[::2])
    inside = follow(watched.mechanism, start, cells, start.settings[cells] + share * half[cells])
    reached = np.flatnonzero(inside.reached)
    cells, posture = cells[reached], inside.posture.take(reached)
    known = watched.values(posture)
    for one in watched.motions:
        centre = one.values(motion.posture)
        with np.errstate(all="ignore"):
            span = one.span(motion, centre)
        values = nearest_turn(known[one.name], centre[cells]) if one.turning else known[one.name]
        low, high = span.low[cells], span.high[cells]
        slack = SLACK * (1 + np.abs(values))
        bad = (values < low - slack) | (values > high + slack) | (np.isnan(values) & np.isfinite(high - low))
        for row in np.flatnonzero(bad)[:1]:
            detail = f"{values[row]:.9g} outside {low[row]:.9g} to {high[row]:.9g}"
            _noted(report, "left its cell", one, inside.settings[reached[row]], detail)
        with np.errstate(invalid="ignore"):
            wide = np.isfinite(high) & (high - centre[cells] > 1e-3)
            used = (values - centre[cells])[wide] / (high - centre[cells])[wide]
        report.fullest = max(report.fullest, float(np.nanmax(used, initial=0.0)))
        report.bounded += int(np.isfinite(high).sum())


def _attack_range(watched, random, solved, known, report):
    """What is proven over the range, with limits close to the least and the most, and at any roll."""
    search = joint_search(watched.mechanism)
    asked = []
    for motion in watched.motions:
        values = known[motion.name][np.isfinite(known[motion.name])]
        least, most = (values.min(), values.max()) if len(values) else (0.0, 0.0)
        give = float(random.choice([-0.3, -0.01, 0.01, 0.3])) * max(most - least, 0.1)
        limits = None if random.random() < 0.3 else least - give, None if random.random() < 0.3 else most + give
        turning = motion.turning
        asked.append((Asked(motion.name, "", (), motion.unit, limits, turning, "none"), motion))
    rolled = watched.rolled(random, solved.posture)
    for posture in (solved.posture, rolled) if watched.mechanism.idle else (solved.posture,):
        again = watched.values(posture)
        found = bracketed_figures(watched.mechanism, search, asked, MOST_CHILDREN, BRACKET)
        for entry, (_, motion) in zip(found, asked, strict=True):
            report.cleared += entry.verdict == "clear"
            _attack_entry(watched, search, motion, entry, (solved, again[motion.name]), report)


def _attack_entry(watched, search, motion, entry, seen, report):
    solved, values = seen
    proven = np.ones(len(values), dtype=bool)
    if drives_of(watched.mechanism, motion):
        within = reduced_motion(search.groups, motion)
        proven = ~unresolved(within.cells, within.reduced.narrowed(solved.settings))
    rows = np.flatnonzero(proven)
    if motion.turning:
        rows = rows[:: max(1, len(rows) // 60)]
        values = _with_turns(watched, motion, solved, rows, values)
    low = -np.inf if entry.proven_least is None else entry.proven_least
    high = np.inf if entry.proven_most is None else entry.proven_most
    slack = SLACK * (1 + np.abs(values))
    for row in rows[(values[rows] < low - slack[rows]) | (values[rows] > high + slack[rows])][:1]:
        detail = f"{values[row]:.9g} outside {low:.9g} to {high:.9g}, {entry.verdict}"
        _noted(report, "left its range", motion, solved.settings[row], detail)
    if entry.verdict == "clear":
        least = -np.inf if entry.limit_low is None else entry.limit_low
        most = np.inf if entry.limit_high is None else entry.limit_high
        passed = (values < least - slack) | (values > most + slack) | np.isnan(values)
        for row in rows[passed[rows]][:1]:
            detail = f"{values[row]:.9g} passes {least:.9g} to {most:.9g}"
            _noted(report, "limit told as held", motion, solved.settings[row], detail)
    if entry.verdict == "fails" and entry.margin is not None and entry.margin > 0:
        _noted(report, "fails with a margin", motion, (), f"{entry.margin}")


def _with_turns(watched, motion, solved, rows, values):
    """The same with whole turns counted on the way from rest (rows only)."""
    counted = values.copy()
    for row in rows:
        way = from_rest(watched.mechanism, np.linspace(0, 1, STEPS + 1)[:, None] * solved.settings[row])
        if not way.reached.all():
            counted[row] = np.nan
            continue
        turns = np.unwrap(motion.values(way.posture), period=360.0)
        counted[row] = nearest_turn(values[row : row + 1], turns[-1:])[0]
    return counted
