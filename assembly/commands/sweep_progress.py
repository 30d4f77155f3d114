"""The main job as commands run it: with its progress on stderr."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from assembly.arguments import Positive
from assembly.commands.common import say

if TYPE_CHECKING:
    from assembly import Machine
    from assembly.api.main_check import Effort, SweepResult


BY_HAND = "stopped by hand"
"""What the record of a sweep says that was stopped so."""
BRACKET = click.option(
    "--bracket", type=Positive(), default=0.1, show_default=True, help="Close in to this many mm (or 2 %)."
)
ANEW = click.option("--anew", is_flag=True, help="Compute everything again, also what earlier runs found.")


def sweep_aloud(machine: Machine, effort: Effort, *, anew: bool = False) -> SweepResult:
    """Sweep with the progress, and what is to be said of the result cache, on stderr."""
    from assembly.api.main_check import sweep
    from assembly.report.text.terminal import progress

    with progress(sys.stderr) as told:
        swept = sweep(machine, effort=effort, progress=told, cached=not anew)
    say("".join(f"{note}\n" for note in swept.notes), sys.stderr)
    return swept
