"""Rods that are screwed together: threads, turns, and the way to another length."""

from __future__ import annotations

from collections.abc import Iterable

from assembly.model.machine import Machine
from assembly.record import RodsRecord
from assembly.studies.rods.rods_study import look_at_rods


def rods(machine: Machine, names: Iterable[str] = (), *, length: float | None = None) -> RodsRecord:
    """What the threads of the rods under ``[rods]`` hold, and what turning them does.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    names : iterable of str
        Rods; by default all.
    length : float, optional
        A length from ball to ball, mm: the way to it is told too.

    Returns
    -------
    RodsRecord
        ``rods``: lengths (mm), what is engaged at each end against the rules that the file picks; ``turned``: for a
        turn, half a turn and a flat of the tube the mm, and the degrees that the part at its end turns by with all
        drives at 0, by putting the machine together with the longer rod; ``ways``: turns to ``length``.

    Raises
    ------
    InputError
        For a rod that does not exist, or a machine without one.
    AssemblyError
        If the machine cannot be put together at rest.

    """
    return look_at_rods(machine, names, length)
