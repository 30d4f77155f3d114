"""The questions beside the sweep: one setting, a map, the usable range, stops and loads."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from assembly.api.cached_stops import cached_stops
from assembly.api.cores import all_cores
from assembly.api.swept_map import swept_map
from assembly.model.machine import Machine
from assembly.progress import Progress, no_progress
from assembly.record import (
    InspectRecord,
    LoadRangeRecord,
    LoadsRecord,
    MapRecord,
    PoseRecord,
    RangeRecord,
    Settings,
    StopsRecord,
)
from assembly.studies.inventory import inventory
from assembly.studies.load.load_cases import carried
from assembly.studies.load.load_range import load_range
from assembly.studies.look import look
from assembly.studies.map_study import MapWish
from assembly.studies.usable.usable_range import RangeWish
from assembly.studies.usable.usable_range import find_usable_range as range_of


def inspect(machine: Machine) -> InspectRecord:
    """What a machine holds: parts, meshes, joints, freedoms, loops, and the pairs that are not checked.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it. One that cannot be put together is listed too: ``faults`` of the record say why.

    """
    return inventory(machine)


def pose(machine: Machine, settings: Settings | None = None) -> PoseRecord:
    """Distances (mm) of all pairs, and where every part stands, at one setting.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    settings : mapping of str to float, optional
        Setting of each drive in its unit; drives that are not named stay at 0.

    Returns
    -------
    PoseRecord
        ``pairs``, the one with the least room first, with ``distance_mm`` and its nearest points (3,); ``places`` with
        the middle (3,) of each part and how far it moved (mm) and turned (degrees, about the unit vector ``about``,
        right-handed). All points and directions are in the frame of the ground.

    Raises
    ------
    InputError
        For a drive that does not exist or a setting outside its range.
    AssemblyError
        If the machine cannot be put together at that setting.

    """
    return look(machine, settings or {}).record


def clearance_map(
    machine: Machine,
    pair: tuple[str, str] | None = None,
    *,
    cells: int | None = None,
    steps: Settings | None = None,
    held: Settings | None = None,
    cores: int | None = None,
    progress: Progress = no_progress,
    cached: bool = True,
) -> MapRecord:
    """Least clearance (mm) in every cell of a lattice over one or two drives, with the sweep's answer to these pairs.

    What is measured is so at the cells' centres. ``swept`` of the record is what the sweep says of the pairs over the
    whole range; no bound of a cell is below its bound.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    pair : tuple of str, optional
        Two parts; by default all pairs that move against each other.
    cells : int, optional
        Cells along each drive.
    steps : mapping of str to float, optional
        Width of a cell along the drives that are named, in their units.
    held : mapping of str to float, optional
        Drives that stay at a setting; beyond the first two all others are held at 0.
    cores : int, optional
        Processes that measure; by default all cores.
    progress : callable, optional
        Called with the stage, how much of it is done and how much there is.
    cached : bool
        Take the sweep's answer from the result cache where it is known.

    Returns
    -------
    MapRecord
        ``cells``, the last drive quickest: settings of the centre, ``least_mm`` there, and ``proven_mm``, which holds
        at every setting of the cell.

    Raises
    ------
    InputError
        For names or numbers that do not exist.
    AssemblyError
        If the machine cannot be put together at rest.
    CutShortError
        If a process that measures distances died.

    """
    wish = MapWish(pair, cells, steps or {}, held or {})
    return swept_map(machine, wish, progress, cores or all_cores(), cached=cached).record


def usable_range(
    machine: Machine,
    *,
    cells: int | None = None,
    held: Settings | None = None,
    cores: int | None = None,
    progress: Progress = no_progress,
) -> RangeRecord:
    """How far the drives could go with every rule kept, also beyond the range of the file, and what ends it.

    Measured on a grid: what is narrower than a cell of it is not seen.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    cells : int, optional
        About as many lie along each drive.
    held : mapping of str to float, optional
        Drives that stay at a setting; beyond the first two all others are held at 0.
    cores : int, optional
        Processes that measure; by default all cores.
    progress : callable, optional
        Called with the stage, how much of it is done and how much there is.

    Returns
    -------
    RangeRecord
        ``fits``, ``stretches`` of the border with points (d,) in the units of the d free drives, and ``governors``:
        the rules that end them (a pair's required clearance in mm, a joint's limit, a loop).

    Raises
    ------
    InputError, AssemblyError, CutShortError
        As ``clearance_map``.

    """
    return range_of(machine, RangeWish(cells, held or {}), progress, cores or all_cores()).record


def design_stops(
    machine: Machine,
    *,
    heights: Mapping[str, float] | None = None,
    cores: int | None = None,
    progress: Progress = no_progress,
    cached: bool = True,
) -> StopsRecord:
    """Heights (mm) of the stops that the file declares, built in and swept as far as they let the machine go.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    heights : mapping of str to float, optional
        Heights in mm to try instead of those of the file.
    cores : int, optional
        Processes that measure; by default all cores.
    progress : callable, optional
        Called with the stage, how much of it is done and how much there is.
    cached : bool
        Take what earlier designs found from the result cache; what is found is kept in it either way.

    Returns
    -------
    StopsRecord
        For each stop ``recommended_mm``, where it acts, and what presses on it: N, N·m, J and MPa, by a pad's apparent
        modulus (after Gent and Lindley), Hertz contact (1882) and equilibrium; ``proof`` is the sweep up to the stops.

    Raises
    ------
    InputError
        For a height of a stop that does not exist.
    AssemblyError
        If the machine cannot be put together at rest.

    """
    return cached_stops(machine, heights, cores, progress, lambda _: None, cached=cached).record


def loads(
    machine: Machine,
    settings: Settings | None = None,
    *,
    cases: Iterable[str] = (),
    worst: bool = False,
    cores: int | None = None,
    progress: Progress = no_progress,
) -> LoadsRecord | LoadRangeRecord:
    """Forces (N) and moments (N·m) in every joint under the load cases of the file, by equilibrium alone.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    settings : mapping of str to float, optional
        Settings of drives in their units; without ``worst`` the others stay at 0.
    cases : iterable of str
        Names of load cases; by default all.
    worst : bool
        The worst over the range, sampled, of the drives that are not set.
    cores : int, optional
        Processes that work it out over the range; by default all cores.
    progress : callable, optional
        Called with the stage, how much of it is done and how much there is.

    Returns
    -------
    LoadsRecord or LoadRangeRecord
        The latter if ``worst``. For each joint the force (3,) and moment (3,) on its second part, in the frame of the
        ground: multipliers of the constraint rows. What depends on stiffness is None, never guessed.

    Raises
    ------
    InputError
        For names or settings that do not exist.
    AssemblyError
        If the machine cannot be put together, or stands at a dead centre.

    """
    if worst:
        return load_range(machine, settings or {}, cases, cores or all_cores(), progress)
    return carried(machine, settings or {}, cases).record
