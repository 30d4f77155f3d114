"""What the builder's measures come to: with all drives at 0, and least and most over the range, proven."""

from __future__ import annotations

from collections.abc import Sequence

from assembly.clearance.proof.joint_search import joint_search
from assembly.clearance.proof.measure_search import measured
from assembly.clearance.proof.some_roll import with_swept_rolls
from assembly.errors import Fault, InputError
from assembly.kinematics.assembling import assemble
from assembly.model.machine import Machine
from assembly.progress import Progress, no_progress
from assembly.record import FORMAT, MeasureEntry, MeasuresRecord, VerdictWord
from assembly.studies.shared import drive_entries, machine_entry, program_entry

EXAMPLE = (
    'write one, such as [measures.NAME] with `angle = [{ on = "PART", line = ["p", "q"] }, '
    '{ on = "ground", along = [1, 0, 0] }]`'
)


def measure(machine: Machine, progress: Progress = no_progress) -> MeasuresRecord:
    """Every measure of ``machine``. InputError where it has none, AssemblyError if it cannot be put together."""
    if not machine.measures:
        raise InputError(Fault("the file has no measures", file=machine.file, hint=EXAMPLE))
    progress("assemble", 0, 0)
    mechanism = assemble(with_swept_rolls(machine, 1, progress)[0])
    progress("measures", 0, 0)
    every = measured(mechanism, joint_search(mechanism))
    verdict, reason = judged(every)
    return MeasuresRecord(
        format=FORMAT,
        kind="measures",
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        verdict=verdict,
        reason=reason,
        measures=every,
    )


def judged(every: Sequence[MeasureEntry]) -> tuple[VerdictWord, str]:
    """The worst answer of all measures, and what it rests on."""
    for word, told in (("fails", "beyond their limits"), ("undecided", "not proven to keep their limits")):
        names = [one.name for one in every if one.verdict == word]
        if names:
            return word, f"{told}: {', '.join(names)}"  # type: ignore[return-value]  # both are verdicts
    limited = sum(one.verdict is not None for one in every)
    if not limited:
        return "clear", "no measure has a limit"
    return (
        "clear",
        f"{'the only measure with limits keeps' if limited == 1 else f'all {limited} measures with limits keep'} them",
    )
