"""The map of a machine as it is, and that of the first proposal for it."""

from __future__ import annotations

from assembly.api.swept_map import MapWish, swept_map
from assembly.model.machine import Machine
from assembly.progress import Progress
from assembly.record import MapRecord, ProposalRecord

STEPS = 15
"""Of each drive."""


def proposal_maps(
    machine: Machine, record: ProposalRecord, progress: Progress, cores: int
) -> tuple[MapRecord, MapRecord] | None:
    """Both maps over the first two drives; None where nothing is proposed. Raises as ``swept_map`` does."""
    if not record.proposals:
        return None
    values = {one.name: one.after for one in record.proposals[0].values}
    wish = MapWish(None, STEPS)
    today, then = (swept_map(each, wish, progress, cores) for each in (machine, machine.with_dimensions(**values)))
    return today.record, then.record
