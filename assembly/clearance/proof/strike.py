"""Where a failing pair is deepest, and where it first comes too near on the way from rest."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from assembly.clearance.narrow_phase.overlap import overlap_at
from assembly.clearance.narrow_phase.pair_result import Effort, FirstContact, Overlap, PairResult, Region, Setting
from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.proof.cells import Cells, Drives
from assembly.clearance.proof.local_search import distances_at
from assembly.clearance.proof.overlap_search import DeepestSearch
from assembly.clearance.proof.pair_search import PairSearch
from assembly.clearance.proof.whole_settings import in_whole_settings
from assembly.geometry.mesh import Floats
from assembly.kinematics.array_stacks import crossings
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.roll_columns import allowed, nearest_allowed
from assembly.kinematics.solver import solve

LATTICE_CELLS = 729
"""Cells of the lattice on which the region of a failing pair is shown: 27 by 27 for two drives."""
TRIED = 24
"""Settings at which a pair comes too near, at which its depth is looked at first."""
WAY_POINTS = 49
"""Settings looked at on the way from rest to a drive's end before the first contact is closed in on."""
BISECTIONS = 12


def show_strike(
    whole: Mechanism,
    bench: Bench,
    search: PairSearch,
    result: PairResult,
    cells: Cells,
    effort: Effort,
    check_budget: Callable[[], None],
) -> PairResult:
    """``result`` with the region in which the pair fails, its deepest overlap and its first contacts.

    ``whole``: the machine in whose settings it is reported.
    """
    reduced, at = search.reduced, tuple(search.reduced.narrowed(np.array(result.at)).tolist())
    shown = _shown(cells.mechanism, bench, search, replace(result, at=at), cells, effort, check_budget)
    return in_whole_settings(shown, reduced, whole)


def _shown(
    mechanism: Mechanism,
    bench: Bench,
    search: PairSearch,
    result: PairResult,
    cells: Cells,
    effort: Effort,
    check_budget: Callable[[], None],
) -> PairResult:
    """The same in settings of the machine that the pair is searched in."""
    if search.pair.rigidly_coupled:
        overlap = deepest(mechanism, bench, search, None, cells, effort, check_budget) if result.least <= 0 else None
        return replace(result, overlap=overlap)
    region = region_of(mechanism, bench, search, cells.drives)
    overlap = deepest(mechanism, bench, search, region, cells, effort, check_budget) if result.least <= 0 else None
    at = result.at if overlap is None else overlap.at
    contacts = first_contacts(mechanism, bench, search, at, cells.drives)
    return replace(result, at=at, region=region, overlap=overlap, first_contacts=contacts)


def region_of(mechanism: Mechanism, bench: Bench, search: PairSearch, moving: Drives) -> Region:
    """Cells of an even lattice at whose centres the pair is nearer than it must be, and their share of the range.

    Only the drives that are ``moving`` the two are cut: the cells span the whole ranges of the others.
    """
    drives = list(mechanism.machine.drives.values())
    low, high = np.array([drive.low for drive in drives]), np.array([drive.high for drive in drives])
    cut = np.isin(np.arange(len(drives)), moving)
    counts = np.where(cut, max(1, int(LATTICE_CELLS ** (1 / max(1, len(moving))))), 1)
    steps = [(np.arange(count) + 0.5) / count for count in counts.tolist()]
    settings = low + crossings(steps) * (high - low)
    (distances,) = distances_at(mechanism, bench, [search], [np.where(cut, settings, 0.0)])
    near = settings[distances < max(search.pair.required, 1e-6)]
    half = tuple(((high - low) / counts / 2).tolist())
    return Region(tuple((tuple(centre), half) for centre in near.tolist()), len(near) / len(settings))


def deepest(
    mechanism: Mechanism,
    bench: Bench,
    search: PairSearch,
    region: Region | None,
    cells: Cells,
    effort: Effort,
    check_budget: Callable[[], None],
) -> Overlap:
    """The overlap at the setting where the pair stands deepest in each other, and how deep it is at the most.

    Of what can roll only settings of the region are looked at, and the depth is reported as "at least".
    """
    home = np.zeros(len(mechanism.machine.drives))
    start = [search.least_at] if search.least_at is not None else [home]
    collision_models = bench.collision_models[search.a.solid], bench.collision_models[search.b.solid]
    at, at_most = start[0], 0.0 if region is None else None
    if region is not None and search.rolls:
        some = region.cells[:: max(1, len(region.cells) // TRIED)]
        tried = np.array([*start, *(centre for centre, _ in some)])
        at, at_most = tried[int(np.argmax(_depths(mechanism, bench, search, tried)))], None
    elif region is not None:
        centres = [np.array(centre) for centre, _ in region.cells]
        starts = np.array([*start, *centres[:: max(1, len(centres) // TRIED)][:TRIED]])
        found = DeepestSearch(search, cells, bench, effort, check_budget).run(starts)
        at, at_most = (at, None) if found is None else (found.at, found.at_most)
    posture = solve(mechanism, at[None]).posture
    first, second = (mechanism.world_from_rest(posture, side.part)[0] for side in (search.a, search.b))
    overlap = overlap_at(*collision_models, first, second, tuple(float(value) for value in at))
    errors = search.a.surface_error + search.b.surface_error
    return replace(overlap, at_most=None if at_most is None else max(at_most, overlap.depth + errors))


def first_contacts(
    mechanism: Mechanism, bench: Bench, search: PairSearch, at: Setting, moving: Drives
) -> tuple[FirstContact, ...]:
    """Along each drive that is ``moving`` the two, both ways: the first setting too near.

    The others are at rest, and then as they stand at ``at``; what can roll keeps its roll.
    """
    drives = list((mechanism.unrolled or mechanism).machine.drives.values())
    found: dict[tuple[str, int, Setting], FirstContact] = {}
    rest = nearest_allowed(mechanism, np.zeros((1, len(mechanism.machine.drives))))[0]
    for held in (rest, np.array(at)):
        for column in (number for number in moving if number < len(drives)):
            drive = drives[column]
            for direction, end in ((1, drive.high), (-1, drive.low)):
                setting = _first_on_way(mechanism, bench, search, held, column, end)
                if setting is not None:
                    contact = FirstContact(drive.name, direction, tuple(round(float(value), 3) for value in setting))
                    found[drive.name, direction, contact.at] = contact
    return tuple(found.values())


def _first_on_way(
    mechanism: Mechanism, bench: Bench, search: PairSearch, held: Floats, column: int, end: float
) -> Floats | None:
    way = np.tile(held, (WAY_POINTS, 1))
    way[:, column] = np.linspace(0.0, end, WAY_POINTS)
    required = max(search.pair.required, 1e-6)
    (distances,) = distances_at(mechanism, bench, [search], [way])
    near = np.flatnonzero(distances < required)
    if not len(near) or near[0] == 0:
        return None
    clear, close = way[near[0] - 1], way[near[0]]
    for _ in range(BISECTIONS):
        middle = (clear + close) / 2
        (distance,) = distances_at(mechanism, bench, [search], [middle[None]])
        clear, close = (clear, middle) if distance[0] < required else (middle, close)
    return np.asarray(close)


def _depths(mechanism: Mechanism, bench: Bench, search: PairSearch, settings: Floats) -> list[float]:
    """Overlap depth in mm at each setting (N, d); -1 where none stands, or a rod's ends do not allow its roll."""
    solved = solve(mechanism, settings)
    stands = solved.reached & allowed(mechanism, solved.posture)
    a, b = bench.collision_models[search.a.solid], bench.collision_models[search.b.solid]
    first, second = (mechanism.world_from_rest(solved.posture, side.part) for side in (search.a, search.b))
    return [overlap_at(a, b, first[row], second[row], ()).depth if stand else -1.0 for row, stand in enumerate(stands)]
