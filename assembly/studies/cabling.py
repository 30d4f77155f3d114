"""Cables: lengths to cut, how far the motion pulls each and from where on, and what splitters make of that.

Lengths are bounded over the whole range as measures are. From where on a cable is pulled is looked for along each
drive by itself, the others at 0.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import asin, degrees, exp, radians

import numpy as np

from assembly.clearance.proof.hose_band import hose_near
from assembly.clearance.proof.joint_search import JointSearch, joint_search
from assembly.clearance.proof.measure_search import drives_of, measured
from assembly.clearance.proof.some_roll import with_swept_rolls
from assembly.errors import Fault, InputError, TimeLimitError
from assembly.geometry.mesh import Floats
from assembly.kinematics.assembling import assemble
from assembly.kinematics.figures import FigureMotion
from assembly.kinematics.measure_figures import measure_motion
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.solver import solve
from assembly.model.cable import Cable, Splitter
from assembly.model.cable_measures import (
    apart_name,
    bends_name,
    cable_measures,
    end_name,
    inner_name,
    middle_name,
    outer_name,
    pull_name,
    straight_name,
)
from assembly.model.machine import Machine
from assembly.progress import Progress, no_progress
from assembly.record import (
    CableEntry,
    CableRunEntry,
    CablesEntry,
    CablesRecord,
    MeasureEntry,
    PullEntry,
    SplitterEndEntry,
    SplitterEntry,
    VerdictWord,
)
from assembly.record.cable_entries import UNPROVEN, unproven_lengths
from assembly.studies.shared import drive_entries, machine_entry, program_entry

HOW = (
    "describe one with [cables.NAME]: runs, each through two or more points of parts, such as "
    '`runs = [{ through = [{ on = "PART", at = "p" }, { on = "OTHER PART", at = "q" }] }]`'
)
STEPS = 25
"""Settings looked at on each side of a drive."""
CLOSER = 3
"""So often the step in which a cable begins to be pulled is looked at anew, in as many steps."""
GRAIN = 1e-6
"""mm: pulled by less is not pulled."""
Found = Mapping[str, MeasureEntry]


def look_at_cables(machine: Machine, progress: Progress = no_progress) -> CablesRecord:
    """All cables and splitters of ``machine``.

    Raises InputError where it has no cable, AssemblyError if it cannot be put together.
    """
    system = machine.cables
    if not system.cables:
        raise InputError(Fault("the file has no cables", file=machine.file, hint=HOW))
    progress("assemble", 0, 0)
    only = replace(machine, measures=cable_measures(system))
    mechanism = assemble(with_swept_rolls(only, 1, progress)[0])
    progress("measures", 0, 0)
    search = joint_search(mechanism)
    found = {one.name: one for one in measured(mechanism, search)}
    entry = cables_entry(mechanism, found, search)
    verdict, reason = _judged(found, entry.cables)
    return CablesRecord(
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        verdict=verdict,
        reason=reason,
        cables=entry.cables,
        splitters=entry.splitters,
    )


def cables_entry(mechanism: Mechanism, found: Found, search: JointSearch | None = None) -> CablesEntry:
    """All cables and splitters of ``mechanism``, from what was ``found`` of their measures over the range.

    ``search``: its cells, on which slack hoses are held against other parts; without it that is left out.
    """
    system = mechanism.machine.cables
    cables = {name: _cable(mechanism, cable, found, search) for name, cable in system.cables.items()}
    splitters = (_splitter(one, cables, found) for one in system.splitters.values())
    return CablesEntry(tuple(cables.values()), tuple(splitters))


def _judged(found: Found, cables: Sequence[CableEntry]) -> tuple[VerdictWord, str]:
    """The worst answer of all, and what it rests on."""
    words: tuple[tuple[VerdictWord, str], ...] = (
        ("fails", "beyond their limits"),
        ("undecided", "not proven to keep their limits"),
    )
    for word, told in words:
        names = [one.name for one in found.values() if one.verdict == word]
        if names:
            return word, f"{told}: {', '.join(names)}"
    near = {cable.name: [one for run in cable.runs for one in run.near] for cable in cables}
    open_ = [name for name, every in near.items() if any(one.verdict != "clear" for one in every)]
    if open_:
        return "undecided", f"hoses that may touch something: {', '.join(open_)}"
    unproven = [one.name for cable in cables for one in unproven_lengths(cable)]
    if unproven:
        return "undecided", f"{UNPROVEN}: {', '.join(unproven)}"
    limited = sum(one.verdict is not None for one in found.values())
    return "clear", f"{limited} limits kept everywhere in the range" if limited else "nothing has a limit"


def _cable(mechanism: Mechanism, cable: Cable, found: Found, search: JointSearch | None) -> CableEntry:
    runs = tuple(_run(mechanism, cable, number, found, search) for number in range(len(cable.runs)))
    pull, bends, path = (found.get(name(cable)) for name in (pull_name, bends_name, inner_name))
    sides, left_out = _sides(mechanism, cable) if pull is not None and pull.most is not None else ((), "")
    return CableEntry(
        name=cable.name,
        runs=runs,
        inner=cable.inner,
        slack=cable.slack,
        free_play=cable.free_play,
        full_pull=cable.full_pull,
        friction=cable.friction,
        path=path,
        inner_to_cut=_inner_to_cut(cable, runs, path),
        pull=pull,
        sides=sides,
        sides_left_out=left_out,
        straight=found.get(straight_name(cable)),
        bends=bends,
        through_at_zero=_through(cable, None if bends is None else bends.zero),
        through_least=_through(cable, None if bends is None else bends.proven_most),
    )


def _run(mechanism: Mechanism, cable: Cable, number: int, found: Found, search: JointSearch | None) -> CableRunEntry:
    run = cable.runs[number]
    needed = found[outer_name(cable, number)] if run.hose else None
    most = None if needed is None else needed.proven_most
    return CableRunEntry(
        through=tuple(each.words for each in run.points),
        hose=run.hose,
        bend=run.bend,
        outer=run.outer,
        slack=run.slack,
        needed=needed,
        to_cut=None if most is None else most + run.slack,
        diameter=run.diameter,
        near=hose_near(mechanism, search, run) if search is not None and run.diameter and run.outer else (),
    )


def _inner_to_cut(cable: Cable, runs: tuple[CableRunEntry, ...], path: MeasureEntry | None) -> float | None:
    """The least length between its ends that the motion never pulls, with outers as long as they are to be cut.

    What it needs at the most in some runs and in the others may be at different settings; the sum is never too short.
    """
    lengths = [] if path is None else [path.proven_most]
    for run in runs:
        if run.hose and run.to_cut is not None:
            lengths.append(max(0.0, run.to_cut - (run.outer or 0.0)))
        elif run.hose:
            lengths.append(None)
    known = [length for length in lengths if length is not None]
    return sum(known) + cable.slack if len(known) == len(lengths) else None


def _through(cable: Cable, bends: float | None) -> float | None:
    """What of a force comes through ``bends`` degrees, by the relation of a capstan (Euler, Eytelwein)."""
    return None if bends is None or cable.friction is None else exp(-cable.friction * radians(bends))


@dataclass(frozen=True, slots=True, eq=False)
class _Along:
    """How far a cable is pulled along one drive, the others at 0."""

    mechanism: Mechanism
    motion: FigureMotion
    column: int

    def values(self, at: Floats) -> Floats:
        """Mm (N,); NaN where the machine does not get to."""
        settings = np.zeros((len(at), len(self.mechanism.machine.drives)))
        settings[:, self.column] = at
        solved = solve(self.mechanism, settings)
        return np.asarray(np.where(solved.reached, self.motion.values(solved.posture), np.nan))

    def first_above(self, steps: Floats, level: float) -> float | None:
        """The first setting, from the first of ``steps`` (N,) on, beyond which it is pulled by more than ``level``."""
        for _ in range(CLOSER):
            above = np.flatnonzero(self.values(steps) > level + GRAIN)
            if not len(above):
                return None
            if not above[0]:
                return float(steps[0])
            steps = np.linspace(steps[above[0] - 1], steps[above[0]], STEPS)
        return float(steps[0])


def _sides(mechanism: Mechanism, cable: Cable) -> tuple[tuple[PullEntry, ...], str]:
    """How the cable is pulled drive by drive, and why the last ones are left out, where the time was over before."""
    found: list[PullEntry] = []
    try:
        found.extend(_pulls(mechanism, cable))
    except TimeLimitError as error:
        return tuple(found), error.told
    return tuple(found), ""


def _pulls(mechanism: Mechanism, cable: Cable) -> Iterator[PullEntry]:
    machine = mechanism.machine
    motion = measure_motion(machine.measures[pull_name(cable)], mechanism)
    for column, (name, drive) in enumerate(machine.drives.items()):
        if name not in drives_of(mechanism, motion):
            continue
        along = _Along(mechanism, motion, column)
        for end in (drive.low, drive.high):
            if end == 0:
                continue
            steps = np.linspace(0.0, end, STEPS)
            values = along.values(steps)
            if np.isnan(values).all():
                continue
            pulled = along.first_above(steps, cable.free_play or 0.0)
            full = None if cable.full_pull is None else along.first_above(steps, cable.full_pull)
            yield PullEntry(name, end, float(np.nanmax(values)), float(np.nanmin(values)), pulled, full)


def _splitter(splitter: Splitter, cables: Mapping[str, CableEntry], found: Found) -> SplitterEntry:
    apart = found[apart_name(splitter)]
    most = max((abs(end) for end in (apart.proven_least, apart.proven_most) if end is not None), default=None)
    known = most is not None and None not in (apart.proven_least, apart.proven_most)
    tilt = None
    if splitter.arms is not None and most is not None and known and most <= sum(splitter.arms):
        tilt = degrees(asin(most / sum(splitter.arms)))
    first, second = (_end(splitter, number, cables, found) for number in range(2))
    return SplitterEntry(
        name=splitter.name,
        ends=(first, second),
        travel=found.get(middle_name(splitter)),
        travel_limit=splitter.travel,
        apart=apart,
        tilt=splitter.tilt,
        tilt_most=tilt,
        force=splitter.force,
    )


def _end(splitter: Splitter, number: int, cables: Mapping[str, CableEntry], found: Found) -> SplitterEndEntry:
    name = splitter.cables[number]
    share = None if splitter.arms is None else splitter.shares[number]
    force, through = None, cables[name].through_least
    if share is not None and splitter.force is not None:
        force = splitter.force * share * (1.0 if through is None else through)
    arm = None if splitter.arms is None else splitter.arms[number]
    return SplitterEndEntry(name, splitter.pulls[number], arm, found[end_name(splitter, name)], share, force)
