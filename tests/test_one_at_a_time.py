"""One nightly at a time: kept out by another process, let in when that one ends in any way."""

import os
import signal
import sys
import time
from contextlib import contextmanager

import pytest
from forked_runs import ForkedRun

from assembly.api.nights.nightly_run import alone_in
from assembly.errors import CutShortError, OutputError

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and forks")


@contextmanager
def holder(folder, how="alone"):
    """Another process that holds the lock, and the number of the worker it has forked."""
    go_on, end = os.pipe()

    def hold():
        os.close(end)
        with alone_in(folder):
            begun, begins = os.pipe()
            worker = os.fork() if how == "fork" else -1
            if worker == 0:
                os.write(begins, b"!")
                os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
                time.sleep(60)
            if how == "fork":
                os.read(begun, 1)  # until it runs it has not let go of what it was born with
            sys.stdout.write(f"{worker}\n")
            os.read(go_on, 1)
        return 0

    run = ForkedRun(hold)
    try:
        yield run, int(run.stdout.readline())
    finally:
        os.close(end)
        os.close(go_on)
        run.wait()
        run.stdout.close()


def test_a_second_nightly_is_kept_out_and_let_in_after(tmp_path):
    with holder(tmp_path), pytest.raises(CutShortError, match="another nightly is at work"), alone_in(tmp_path):
        pass
    with alone_in(tmp_path):
        pass


def test_other_folders_are_free(tmp_path):
    (tmp_path / "other").mkdir()
    with holder(tmp_path), alone_in(tmp_path / "other"):
        pass


def test_a_killed_nightly_locks_nothing_though_its_worker_lives_on(tmp_path):
    with holder(tmp_path, "fork") as (run, worker):
        run.kill()
        run.wait()
        os.kill(worker, 0)
        with alone_in(tmp_path):
            os.kill(worker, signal.SIGKILL)


def test_the_lock_is_given_back_when_the_work_fails(tmp_path):
    with pytest.raises(ZeroDivisionError), alone_in(tmp_path):
        1 / 0  # noqa: B018
    with alone_in(tmp_path):
        pass


def test_a_folder_that_is_not_there_is_told(tmp_path):
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    with pytest.raises(OutputError, match="cannot write to"), alone_in(tmp_path / "file"):
        pass
