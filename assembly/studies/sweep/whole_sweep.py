"""The whole sweep of a machine: pairs, joints and rods, what would cure what fails, and the record of it all."""

from __future__ import annotations

from assembly.clearance.cures.range_cure import SmallerRange
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof.cached import ResultCache
from assembly.clearance.proof.joint_search import joint_search
from assembly.errors import TimeLimitError
from assembly.model.machine import Machine
from assembly.progress import Progress
from assembly.record import CureEntry, Record
from assembly.studies.sweep.check import CheckResult, check
from assembly.studies.sweep.cures import cures, smaller_ranges
from assembly.studies.sweep.joint_ranges import joints_of
from assembly.studies.sweep.sweep_record import sweep_record
from assembly.time_limit import extra_time, time_limit


def sweep_machine(
    machine: Machine, effort: Effort, progress: Progress, memory: ResultCache | None = None
) -> tuple[CheckResult, Record]:
    """Sweep ``machine``, and the record of it; arguments and errors as for ``check``.

    All of it together ends with the time that ``effort`` allows, with what is known by then.
    """
    with time_limit(effort.budget_s):
        checked = check(machine, effort, progress, memory=memory)
        mechanism, swept = checked.mechanism, checked.swept
        progress("joints", 0, 0)
        with extra_time():
            joints = joints_of(mechanism, joint_search(mechanism, swept.groups))
        progress("cures", 0, 0)
        if swept.stopped:
            return checked, sweep_record(checked, joints)
        cured: dict[tuple[str, str], CureEntry] = {}
        smaller: dict[tuple[str, str], SmallerRange] = {}
        stopped = ""
        try:
            cured.update(cures(swept.groups, checked.pairs, checked.found))
            smaller.update(smaller_ranges(mechanism.machine, checked.found))
        except TimeLimitError as error:
            stopped = error.told
        return checked, sweep_record(checked, joints, cured, smaller, stopped)
