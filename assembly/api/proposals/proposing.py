"""What can be done about a machine within what its file allows to change: proposals, or why there are none."""

from __future__ import annotations

import os

import numpy as np

from assembly.api.cores import all_cores
from assembly.api.proposals.change_search import ChangeSearch
from assembly.api.proposals.measured_machine import MeasuredMachine, Measuring
from assembly.api.proposals.proposal_record import proposal_record
from assembly.api.proposals.session_cache import SessionCache
from assembly.cache.sealed_rows import cache_path
from assembly.cache.sqlite_cache import open_memory
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.errors import Fault, InputError, TimeLimitError
from assembly.model.allowed import SLACK, Allowed
from assembly.model.allowed_reader import EXAMPLE
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Machine
from assembly.progress import Progress, no_progress
from assembly.record import ProposalRecord

PROPOSALS = 3
"""Proposals that are looked for by default."""


def propose(
    machine: Machine,
    *,
    pair: tuple[str, str] | None = None,
    clearance: float | None = None,
    most: int = PROPOSALS,
    cores: int | None = None,
    progress: Progress = no_progress,
    cached: bool = True,
) -> ProposalRecord:
    """Find the smallest changes of the dimensions that the file marks, after which every rule of the machine holds.

    Smallest is what changes the fewest dimensions and then by the least; where the file gives weights, what they make
    of it. Each proposal changes other dimensions than those before, and was swept over the whole range.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it, from a file in which ``[dimensions]`` say what they may be.
    pair : tuple of str, optional
        Two parts that are to keep ``clearance`` as well.
    clearance : float, optional
        What they are to keep, mm; no less than the file requires.
    most : int
        How many proposals are looked for.
    cores : int, optional
        Processes that measure; by default all cores.
    progress : callable, optional
        Called with the stage, how much of it is done and how much there is.
    cached : bool
        Take what is known from the result cache.

    Returns
    -------
    ProposalRecord
        ``proposals``, the smallest change first; where there is none, the ``contradiction``.

    Raises
    ------
    InputError
        Where no dimension is marked, or for a pair that does not exist.
    AssemblyError
        If the machine cannot be put together at rest.
    KeyboardInterrupt
        If a sweep is stopped by hand.

    """
    allowed = _marked(machine)
    wish = _wished(machine, pair, clearance)
    effort = Effort(cores=cores or all_cores(), pairs=(wish[0],) if wish else ())
    with open_memory(cache_path(os.environ), lambda _: None, anew=not cached) as memory:
        measuring = Measuring(machine, allowed, effort, SessionCache(memory), progress, wish)
        today = measuring.today()
        search = ChangeSearch(measuring, today)
        found, stopped = _found(search, most, progress)
    return proposal_record(search, found, stopped)


def _marked(machine: Machine) -> tuple[Allowed, ...]:
    """The dimensions that may be changed. InputError if there are none, or one is not what it may be."""
    if machine.reread is None:
        raise InputError(Fault("this machine was not read from a file", hint="load one with assembly.load(FILE)"))
    allowed = tuple(machine.may_change.values())
    if not allowed:
        hint = f"write what one may be, such as {EXAMPLE}"
        raise InputError(
            Fault("no dimension is marked as one that may be changed", "dimensions", machine.file, hint=hint)
        )
    for one in allowed:
        if not one.low - SLACK <= one.value <= one.high + SLACK:
            told = f"{shown(one.name)} is {one.value:g} and may be {one.low:g} to {one.high:g}"
            raise InputError(Fault(told, hint="begin with a value between them"))
    return allowed


def _wished(
    machine: Machine, pair: tuple[str, str] | None, clearance: float | None
) -> tuple[tuple[str, str], float] | None:
    """Two parts and what they are to keep. InputError for parts that are none, and for less than the file requires."""
    if pair is None and clearance is None:
        return None
    if pair is None or clearance is None:
        raise InputError(Fault("two parts and a clearance are asked for together", hint="give both, or neither"))
    for name in pair:
        if name not in machine.parts:
            raise InputError(Fault(f"there is no part {shown(name)}", hint=nearest(name, machine.parts, "parts")))
    required = machine.clearance.for_pair(*pair)
    if clearance < required:
        names = " and ".join(map(shown, pair))
        hint = f"ask for {required:g} mm or more, or change the rule in [clearance]"
        raise InputError(Fault(f"the file requires {required:g} mm of {names}", hint=hint))
    return pair, clearance


def _found(search: ChangeSearch, most: int, progress: Progress) -> tuple[list[MeasuredMachine], str]:
    """Proven machines, each with other dimensions changed; why the search ended early, if it did."""
    found: list[MeasuredMachine] = []
    excluded: list[frozenset[int]] = []
    if not search.today.broken:
        return found, ""
    try:
        while len(found) < most:
            progress(f"proposal {len(found) + 1}", 0, 0)
            made = search.found(excluded)
            if made is None:
                break
            found.append(made)
            excluded.append(frozenset(np.flatnonzero(made.values != search.today.values).tolist()))
    except TimeLimitError as error:
        return found, error.told
    return found, ""
