"""Measures: what the angles, distances and coordinates that the file names come to over the range."""

from __future__ import annotations

from collections.abc import Iterable

from assembly.model.machine import Machine
from assembly.progress import Progress, no_progress
from assembly.record import MeasuresRecord, Settings
from assembly.studies.measuring import MeasureWish, measure


def measures(
    machine: Machine,
    *,
    along: str | Iterable[str] = (),
    held: Settings | None = None,
    steps: int | None = None,
    progress: Progress = no_progress,
) -> MeasuresRecord:
    """Every measure of the file with all drives at 0, and its least and most over the whole range, bracketed.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    along : str or iterable of str
        One or two drives along which all measures are told as well, setting by setting.
    held : mapping of str to float, optional
        Drives that stay at a setting meanwhile; others stay at 0.
    steps : int, optional
        Settings along each of the drives.
    progress : callable, optional
        Called with the stage, how much of it is done and how much there is.

    Returns
    -------
    MeasuresRecord
        ``measures`` in degrees and mm: ``least`` and ``most`` were found, ``proven_least`` and ``proven_most`` are
        passed at no setting of the range. ``track`` has the values along drives, at the settings that it names.

    Raises
    ------
    InputError
        If the file has no measures, or a drive does not exist.
    AssemblyError
        If the machine cannot be put together at rest.

    """
    drives = (along,) if isinstance(along, str) else tuple(along)
    return measure(machine, MeasureWish(drives, held or {}, steps), progress)
