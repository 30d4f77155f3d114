"""Play: what the joints of a machine let go by hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from assembly.model.machine import Machine
from assembly.record import PlayRecord
from assembly.studies.by_hand import by_hand


def play(
    machine: Machine,
    settings: Mapping[str, float] | None = None,
    held: Sequence[str] = (),
    radius: float | None = None,
) -> PlayRecord:
    """How far rims, drives and parts of ``machine`` go by hand at one setting, under no load.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    settings : mapping, optional
        Drives' settings by name, mm or degrees; others stand at 0.
    held : sequence of str
        Parts that are held as drives are shaken; the parts of the wheels where none is named.
    radius : float, optional
        mm at which rims are measured; each wheel's own where it is left out.

    Returns
    -------
    PlayRecord
        Rims and drives from end to end, parts either way, mm and degrees, to first order in the play of all joints at
        once, beside what is proven.

    Raises
    ------
    InputError
        If no joint has play, or a drive or part is not known.
    AssemblyError
        If the setting cannot be reached.

    """
    return by_hand(machine, settings or {}, held, radius)
