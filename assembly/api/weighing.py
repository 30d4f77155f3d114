"""Weights: what parts weigh, where the centre goes, how the machine leans and where it would turn over."""

from __future__ import annotations

from assembly.model.machine import Machine
from assembly.record import WeightsRecord
from assembly.studies.weighing import weigh


def weights(machine: Machine) -> WeightsRecord:
    """Masses and centres of the parts of ``machine`` and of all together, by what ``[weights]`` says.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.

    Returns
    -------
    WeightsRecord
        kg and mm as drawn; ``spans`` of the centre of all over the range (sampled); ``lean`` with the moment (N·m)
        over the lean, ``contacts`` with how far inside of each contact line (mm) the centre stands, and the leans at
        which it would turn over. Volumes of parts count each place once. Common physics of a machine that stands still.

    Raises
    ------
    InputError
        If the file says nothing of weights.
    AssemblyError
        If the machine cannot be put together at rest.

    """
    return weigh(machine)
