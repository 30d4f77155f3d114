"""Processes that are forked from the one that tests, so that they need not load the program anew."""

import importlib
import os
import signal
import sys
import tempfile
import time
import traceback
from contextlib import redirect_stderr, redirect_stdout
from functools import cache
from io import StringIO
from pathlib import Path

from small_machines import slider

from assembly.cli import main

PAUSE_S = 0.005
LATE = ("assembly.api.nights.nightly_run", "assembly.api.watching", "filelock")


@cache
def load_the_program():
    """Load here, once, whatever a sweep, a watch and a night need, so that no child spends its time on that."""
    with tempfile.TemporaryDirectory() as made, redirect_stdout(StringIO()), redirect_stderr(StringIO()):
        path = Path(made) / "slider.toml"
        path.write_text(slider(), encoding="utf-8")
        main(["sweep", str(path), "--out", made, "--cores", "1", "--no-picture"])
    for module in LATE:
        importlib.import_module(module)


class ForkedRun:
    """A process, in a session of its own, that does ``do`` and ends with the status it gives; what it says is piped."""

    def __init__(self, do):
        load_the_program()
        reading, writing = os.pipe()
        self.status = None
        self.pid = os.fork()
        if self.pid == 0:
            os.close(reading)
            _be_the_child(do, writing)
        os.close(writing)
        self.stdout = os.fdopen(reading, encoding="utf-8")

    def send_signal(self, number):
        os.kill(self.pid, number)

    def kill(self):
        if self.status is None:
            self.send_signal(signal.SIGKILL)

    def wait(self, seconds=60.0):
        """Its exit status, below zero the signal that ended it; TimeoutError if it has not ended by then."""
        end = time.monotonic() + seconds
        while self.status is None:
            done, status = os.waitpid(self.pid, os.WNOHANG)
            if done:
                self.status = os.waitstatus_to_exitcode(status)
            elif time.monotonic() > end:
                raise TimeoutError(f"process {self.pid} goes on after {seconds} s")
            else:
                time.sleep(PAUSE_S)
        return self.status


def _be_the_child(do, writing):
    """Never returns."""
    status = 70
    try:
        os.setsid()
        for number in (signal.SIGINT, signal.SIGHUP, signal.SIGTERM):
            signal.signal(number, signal.SIG_DFL if number != signal.SIGINT else signal.default_int_handler)
        nothing = os.open(os.devnull, os.O_RDONLY)
        for stream, source in ((0, nothing), (1, writing), (2, writing)):
            os.dup2(source, stream)
        sys.stdout, sys.stderr = (open(k, "w", encoding="utf-8", closefd=False, buffering=1) for k in (1, 2))  # noqa: SIM115 - left open to the end
        status = int(do())
        sys.stdout.flush()
    except BaseException:  # the test looks for it in what is said
        os.write(2, traceback.format_exc().encode())
    finally:
        os._exit(status)
