"""Measures: what the angles, distances and coordinates that the file names come to over the range."""

from __future__ import annotations

from assembly.model.machine import Machine
from assembly.progress import Progress, no_progress
from assembly.record import MeasuresRecord
from assembly.studies.measuring import measure


def measures(machine: Machine, *, progress: Progress = no_progress) -> MeasuresRecord:
    """Every measure of the file with all drives at 0, and its least and most over the whole range, bracketed.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    progress : callable, optional
        Called with the stage, how much of it is done and how much there is.

    Returns
    -------
    MeasuresRecord
        ``measures`` in degrees and mm: ``least`` and ``most`` were found, ``proven_least`` and ``proven_most`` are
        passed at no setting of the range.

    Raises
    ------
    InputError
        If the file has no measures.
    AssemblyError
        If the machine cannot be put together at rest.

    """
    return measure(machine, progress)
