"""Kill a worker of a cluster amid a sweep, and see that the sweep finds the same to the last bit.

    python3 scripts/cluster_loss.py [--machine FILE] [--short]

The cluster is two processes of this machine. ``--short`` takes a small demo. Exit status 1 where anything differs.
Needs the environment of ``scripts/test.py``.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
from pathlib import Path
from typing import Any

from distributed import Client, LocalCluster

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof import task_groups
from assembly.model.reader import read_machine
from assembly.parallel.cluster import on_cluster
from assembly.studies.sweep.check import CheckResult, check

MESHES = Path(__file__).resolve().parent.parent / "meshes"
LONG, SHORT = MESHES / "parcel_trike" / "parcel_trike.toml", MESHES / "corner_case" / "corner_case.toml"


def main() -> int:
    """Sweep twice, once with a loss; whether anything differs."""
    asked = _arguments()
    machine = read_machine(asked.machine or (SHORT if asked.short else LONG))
    task_groups.WORTH_WORKERS = 0.0
    alone = _findings(check(machine, Effort(cores=1), lambda *_: None))
    options = {"threads_per_worker": 1, "dashboard_address": None}
    with LocalCluster("tcp://127.0.0.1:0", n_workers=2, **options) as cluster:
        address, killed = cluster.scheduler_address, list[int]()

        def kill_one(stage: str, *_: object) -> None:
            if stage == "search" and not killed:
                with Client(address, set_as_default=False) as client:
                    killed.append(next(iter(client.run(os.getpid).values())))
                os.kill(killed[0], signal.SIGKILL)

        with on_cluster(address):
            made = check(machine, Effort(cores=1), kill_one)
    differ = [pair for pair, found in _findings(made).items() if alone[pair] != found]
    print(
        f"workers killed: {len(killed)}; pairs: {len(alone)}; stopped: {made.swept.stopped or 'no'}; differ: {differ}"
    )
    return int(bool(differ) or not killed)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--machine", type=Path)
    parser.add_argument("--short", action="store_true")
    return parser.parse_args()


def _findings(made: CheckResult) -> dict[tuple[str, str], Any]:
    """Verdict and both bounds of each pair, to the last bit."""
    results = [one.result for one in made.found]
    return {(one.pair.a, one.pair.b): (one.verdict, float(one.least).hex(), repr(one.proven)) for one in results}


if __name__ == "__main__":
    sys.exit(main())
