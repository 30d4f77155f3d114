"""Rods that are screwed together: threads, turns, and the way to another length."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from assembly.api.variants.run import variants
from assembly.errors import Fault, InputError
from assembly.model.fault_list import shown
from assembly.model.machine import Machine
from assembly.progress import Progress, no_progress
from assembly.record import RodsRecord, RodSweepEntry, Settings
from assembly.studies.rods.rods_study import look_at_rods

STEP = 0.5
"""Turns of a tube, or of an end, by which a rod is made longer and shorter to be swept."""


def rods(
    machine: Machine,
    names: Iterable[str] = (),
    *,
    length: float | None = None,
    wanted: tuple[str, float] | None = None,
    settings: Settings | None = None,
    toe: float | None = None,
    swept: bool = False,
    cores: int | None = None,
    progress: Progress = no_progress,
    cached: bool = True,
) -> RodsRecord:
    """What the threads of the rods under ``[rods]`` hold, and what turning them does.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    names : iterable of str
        Rods; by default all.
    length : float, optional
        A length from ball to ball, mm: the way to it is told too.
    wanted : (str, float), optional
        A measure of the file and its value with all drives at 0, degrees or mm: the way of each rod that moves it.
    settings : mapping of str to float, optional
        Where the machine stands as spanners are tried; drives that are not named are at 0.
    toe : float, optional
        Total toe in mm across the rims of a left and a right wheel: the way to it, swept; twins are turned alike.
    swept : bool
        Sweep the whole machine with each rod at the wanted length, or half a turn longer and shorter.
    cores : int, optional
        Worker processes of these sweeps, as for ``variants``.
    progress : callable
        Hears what is done, as for ``variants``.
    cached : bool
        Let these sweeps know the pairs of earlier ones.

    Returns
    -------
    RodsRecord
        ``rods``: lengths (mm), what is engaged at each end against the rules that the file picks; ``turned``: for a
        turn, half a turn and a flat of the tube the mm, the degrees that the part at its end turns by and what measures
        grow by with all drives at 0, by putting the machine together with the longer rod; ``ways``: turns to what is
        wanted; ``spanners``: room to turn nuts and tube; ``swept``: the sweeps.

    Raises
    ------
    InputError
        For a rod or a measure that does not exist, a machine without rods, and for ``swept`` where no number of the
        file sets a rod's length.
    AssemblyError
        If the machine cannot be put together at rest.

    """
    record = look_at_rods(machine, names, length, wanted, settings, toe)
    if not swept and toe is None:
        return record
    lengths = dict(_lengths(record))
    made = [
        RodSweepEntry(
            names[0],
            number,
            variants(machine, {number: at}, stops=False, cores=cores, progress=progress, cached=cached).record.entries,
        )
        for number, (at, names) in lengths.items()
    ]
    return replace(record, swept=tuple(made))


def _lengths(record: RodsRecord) -> Iterator[tuple[str, tuple[list[float], list[str]]]]:
    """The numbers of the file that set rods, each with lengths to sweep and the rods that it sets."""
    found: dict[str, tuple[list[float], list[str]]] = {}
    steps = {one.rod: next((s.mm for s in one.steps if s.turns == STEP), one.locks_mm) for one in record.turned}
    wanted = {way.rod: way.length_mm for way in record.ways}
    for one in record.turned:
        if not one.number:
            told = f"no number of the file sets the length of {shown(one.rod)}, so no other can be swept"
            raise InputError(Fault(told, hint="give its part a `set_length` from the one ball to the other"))
        today = next(rod.length_mm for rod in record.rods if rod.name == one.rod)
        if not record.ways:
            at = [today + steps[one.rod], today - steps[one.rod]]
        elif one.rod in wanted:
            at = [wanted[one.rod]]
        else:
            continue
        found.setdefault(one.number, (at, []))[1].append(one.rod)
    yield from found.items()
