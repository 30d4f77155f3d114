"""Pairs searched on a dask cluster: the same to the last bit, by the same program only, and whatever is lost.

The oracle of all figures is the sweep in one process.
"""

import importlib.util
import os
import re
import threading
import time
from concurrent.futures import Future
from functools import cache

import pytest
from small_machines import quiet
from test_recalled import STARTER, findings, machine
from test_tasks import Here

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof import task_groups
from assembly.cli import ExitStatus, main
from assembly.errors import InputError
from assembly.parallel import cluster as clusters
from assembly.parallel import workers as parallel_workers
from assembly.parallel.cluster import facts, on_cluster
from assembly.parallel.workers import workers
from assembly.studies.sweep.check import check

needs_dask = pytest.mark.skipif(
    importlib.util.find_spec("distributed") is None and not os.environ.get("SWINGROOM_EVERY_TEST"),
    reason="dask.distributed is not installed",
)


@pytest.fixture(autouse=True)
def _however_little_there_is_to_do(monkeypatch):
    monkeypatch.setattr(task_groups, "WORTH_WORKERS", -1.0)


@pytest.fixture(scope="module")
def address():
    """The scheduler of two workers that are threads of this process."""
    from distributed import LocalCluster

    options = {"threads_per_worker": 1, "processes": False, "dashboard_address": None}
    with LocalCluster("tcp://127.0.0.1:0", n_workers=2, **options) as cluster:
        yield cluster.scheduler_address


def swept(executor=None, progress=quiet):
    return check(machine(STARTER), Effort(cores=1), progress, executor)


@cache
def alone():
    """What a sweep in this process finds."""
    return findings(swept())


@needs_dask
def test_a_cluster_finds_the_same_to_the_last_bit(address):
    told = []
    with on_cluster(address):
        made = swept(progress=lambda stage, *_: told.append(stage))
    assert findings(made) == alone()
    assert "search" in told, "pairs were searched in this process"


@needs_dask
def test_a_sweep_stopped_by_hand_frees_the_workers_and_keeps_bounds_that_hold(address):
    from distributed import Client

    def stop(stage, *_):
        if stage == "search":
            raise KeyboardInterrupt

    with on_cluster(address):
        made = swept(progress=stop)
    assert made.swept.stopped == "stopped by hand"
    least = {(one.result.pair.a, one.result.pair.b): one.result.least for one in swept().found}
    for one in (each.result for each in made.found):
        assert one.proven is None or one.proven <= least[one.pair.a, one.pair.b]
    with Client(address, set_as_default=False) as client:
        end = time.monotonic() + 20
        while any(client.processing().values()) and time.monotonic() < end:
            time.sleep(0.02)
        assert not any(client.processing().values())


ANOTHER = {}


def others():
    """The facts here; on a worker, which is another thread, some are another."""
    return facts() if threading.current_thread() is threading.main_thread() else {**facts(), **ANOTHER}


@needs_dask
@pytest.mark.parametrize("name", ["sources of swingroom", "numpy", "python-fcl", "manifold3d", "swingroom"])
def test_a_worker_with_another_program_is_refused_in_a_sentence(address, name, monkeypatch):
    own = facts()
    monkeypatch.setitem(ANOTHER, name, "another")
    monkeypatch.setattr(clusters, "facts", others)
    told = f"runs another program: {name} another instead of {re.escape(own[name])}"
    with pytest.raises(InputError, match=told), on_cluster(address):
        pass


def test_a_worker_that_came_later_is_refused_by_its_task():
    outcome = clusters._run_there({**facts(), "numpy": "0"}, print, "", b"", clusters.StopVariable(""), ())
    with pytest.raises(InputError, match="that came later runs another program: numpy"):
        outcome.get()


@needs_dask
def test_an_address_where_nothing_answers_is_told(monkeypatch, capsys, tmp_path):
    """A client that was begun and failed would write a traceback when it is cleared away."""
    import distributed

    monkeypatch.setattr(distributed, "Client", None)
    monkeypatch.setattr(clusters, "CONNECT_S", 0.2)
    file = tmp_path / "machine.toml"
    file.write_text(STARTER)
    for address in ("tcp://127.0.0.1:9", "tls://127.0.0.1:9", "nonsense://"):
        assert main(["sweep", str(file), "--cluster", address]) == ExitStatus.INPUT
        assert f"no cluster answers at {address}" in " ".join(capsys.readouterr().err.split())


class Losing(Here):
    """An executor that loses every third task, and says so in an error of its own."""

    def submit(self, task, /, *arguments, **named):
        if (self.tasks + 1) % 3 == 0:
            self.tasks += 1
            lost = Future()
            lost.set_exception(ConnectionError("the worker has gone away"))
            return lost
        return super().submit(task, *arguments, **named)


def test_what_an_executor_loses_in_its_own_words_is_run_again():
    assert findings(swept(Losing())) == alone()


def test_what_a_task_raises_is_raised_here_and_is_no_lost_task():
    with workers(1, Here()) as made:
        made.give(None)
        with pytest.raises(InputError, match="as it was"):
            made.run(refuses, [tuple], print, lambda: None, str)


def refuses(_context, _stop):
    """A task that raises."""
    raise InputError("as it was")


def test_workers_get_the_motion_as_it_was_proven_here(monkeypatch):
    """They need not prove it again: it is packed once the cells of all blocks are there."""
    counts, pack = [], parallel_workers.context_bytes
    monkeypatch.setattr(
        parallel_workers, "context_bytes", lambda context: counts.append(context.groups.count) or pack(context)
    )
    swept(Here())
    assert len(counts) == 1
    assert counts[0] > 0
