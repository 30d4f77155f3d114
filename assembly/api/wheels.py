"""Wheels: how they point, and how the machine stands on its road."""

from __future__ import annotations

from assembly.clearance.proof.wheel_search import KIND
from assembly.model.machine import Machine
from assembly.progress import Progress, no_progress
from assembly.record import MeasureEntry, MeasuresRecord, WheelFigureEntry, WheelsRecord
from assembly.studies.wheels.wheels_study import STEPS, WheelWish, look_at_wheels


def wheels(
    machine: Machine,
    *,
    down: str | None = None,
    across: str | None = None,
    steps: int = STEPS,
    over_range: bool = False,
    progress: Progress = no_progress,
) -> WheelsRecord:
    """Toe, camber, caster, inclination, trail and scrub radius of every wheel against the road that it stands on.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    down : str, optional
        The drive of the table's rows; by default the one that leans the frame most.
    across : str, optional
        The drive of its columns; by default the one that steers most.
    steps : int, optional
        Settings along each, from end to end.
    over_range : bool, optional
        Bracket every figure over the whole range; by default only those that have limits.
    progress : callable, optional
        Called with the stage, how much of it is done and how much there is.

    Returns
    -------
    WheelsRecord
        ``measures``: least and most over the range, found and proven. Of ``tables``, at settings: ``track``: every
        figure, degrees and mm, over both drives; ``figures``: with all drives at 0 and where toe is set; ``lean_ends``:
        the frame against the road; ``turning``: circles at the ends of steering; ``lowest``: how high parts are.

    Raises
    ------
    InputError
        If the file has no wheels, or a drive does not exist.
    AssemblyError
        If the machine cannot be put together at rest.

    """
    return look_at_wheels(machine, WheelWish(down, across, steps, over_range), progress)


def as_measures(record: WheelsRecord) -> MeasuresRecord:
    """The figures at the settings of the tables as measures along drives, those that are looked at first before others.

    Of those that were judged with their limits.
    """
    judged = {one.name: one for one in record.measures}
    figures = sorted(record.tables.figures, key=lambda one: (one.word not in FIRST, FIRST.get(one.word, 0)))
    return MeasuresRecord(
        format=record.format,
        kind="measures",
        program=record.program,
        machine=record.machine,
        drives=record.drives,
        verdict=record.verdict,
        reason=record.reason,
        measures=tuple(judged.get(one.name) or _unjudged(one) for one in figures),
        track=record.tables.track,
    )


FIRST = {"total_toe": 0, "lean": 1, "toe": 2, "camber": 3}
"""Figures that a picture shows before others."""


def _unjudged(one: WheelFigureEntry) -> MeasureEntry:
    return MeasureEntry(
        name=one.name,
        kind=KIND,
        of=one.of,
        unit=one.unit,
        zero=one.zero,
        least=None,
        most=None,
        at_least={},
        at_most={},
        proven_least=None,
        proven_most=None,
        limit_low=None,
        limit_high=None,
        margin=None,
        at={},
        drives=(),
        verdict=None,
    )
