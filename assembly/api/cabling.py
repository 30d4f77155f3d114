"""Cables: lengths to cut, what the motion pulls, and what splitters share."""

from __future__ import annotations

from assembly.model.machine import Machine
from assembly.progress import Progress, no_progress
from assembly.record import CablesRecord
from assembly.studies.cabling import look_at_cables


def cables(machine: Machine, *, progress: Progress = no_progress) -> CablesRecord:
    """The cables and splitters of ``machine`` over its whole range, by what ``[cables]`` and ``[splitters]`` say.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    progress : callable, optional
        Called with the stage, how much of it is done and how much there is.

    Returns
    -------
    CablesRecord
        mm, degrees and N. Of each run in an outer the length along its path, least and most, bracketed, and the least
        that may be cut; of each inner what it needs, and how far the motion pulls it; drive by drive, at settings
        looked at, from where on. ``through_least``: what of a force comes through the bends, by the friction that the
        file states. Of splitters the ways of their ends and whether a beam bottoms out, bracketed, and forces.

    Raises
    ------
    InputError
        If the file has no cables.
    AssemblyError
        If the machine cannot be put together at rest.

    """
    return look_at_cables(machine, progress)
