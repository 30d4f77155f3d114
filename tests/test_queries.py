"""Workers that measure distances, when the process that they work for is killed."""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
MASTER = """
import os, pathlib, time
from assembly.clearance.narrow_phase.queries import bench
with bench((), 3) as ready:
    pids = set()
    while len(pids) < 3:
        time.sleep(.01); pids |= {future.result() for future in [ready.executor.submit(os.getpid) for _ in range(30)]}
    print(*pids, flush=True)
    time.sleep(60)
"""


def working(pid):
    """Whether a process runs; one that has ended and is not yet taken note of does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")
def test_workers_of_a_killed_process_end_too():
    search = {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), *filter(None, sys.path)])}
    with subprocess.Popen([sys.executable, "-c", MASTER], stdout=subprocess.PIPE, text=True, env=search) as master:
        workers = [int(word) for word in master.stdout.readline().split()]
        assert len(workers) == 3
        assert all(map(working, workers))
        master.kill()
        master.wait()
        give_up = time.monotonic() + 30
        while any(map(working, workers)) and time.monotonic() < give_up:
            time.sleep(0.05)
        assert not any(map(working, workers))
