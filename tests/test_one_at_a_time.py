"""One nightly at a time: kept out by another process, let in when that one ends in any way."""

import os
import signal
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

import pytest

from assembly.api.nights.nightly_run import alone_in
from assembly.errors import CutShortError, OutputError

ROOT = Path(__file__).resolve().parent.parent
HOLDER = """
import os, sys, time
from pathlib import Path
from assembly.api.nights.nightly_run import alone_in
with alone_in(Path(sys.argv[1])):
    worker = os.fork() if sys.argv[2] == "fork" else -1
    if worker == 0:
        print(os.getpid(), flush=True)
        time.sleep(60)
        os._exit(0)
    if worker < 0:
        print(worker, flush=True)
    sys.stdin.read()
"""


@contextmanager
def holder(folder, how="alone"):
    """Another process that holds the lock, and the number of the worker it has forked."""
    words = [sys.executable, "-c", HOLDER, str(folder), how]
    search = os.pathsep.join([str(ROOT), *sys.path])
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    with subprocess.Popen(words, env={**os.environ, "PYTHONPATH": search}, **pipes) as run:
        yield run, int(run.stdout.readline())
        if run.poll() is None:
            run.communicate()


def test_a_second_nightly_is_kept_out_and_let_in_after(tmp_path):
    with holder(tmp_path), pytest.raises(CutShortError, match="another nightly is at work"), alone_in(tmp_path):
        pass
    with alone_in(tmp_path):
        pass


def test_other_folders_are_free(tmp_path):
    (tmp_path / "other").mkdir()
    with holder(tmp_path), alone_in(tmp_path / "other"):
        pass


@pytest.mark.skipif(os.name != "posix", reason="signals and forks")
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
