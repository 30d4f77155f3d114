"""Kills a process that writes a history, at a random moment, and looks at what is left; scripts do it for long."""

import os
import signal
import sqlite3
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import records

from assembly.history import open_history

TESTS = Path(__file__).resolve().parent
MOST_SAVED = 2
"""Runs that the writer has said to be saved before the clock of the kill starts."""
LONGEST_S = 0.1
"""Of writing after that. A run takes some hundredths of a second, so that every moment of it is hit."""


@dataclass(frozen=True)
class Killed:
    """One try: runs that the writer said were saved, runs that are there, and everything that is wrong."""

    said: int
    there: int
    wrong: tuple[str, ...]


def environment():
    return {**os.environ, "PYTHONPATH": os.pathsep.join((str(TESTS.parent), str(TESTS)))}


class Writer:
    """A process of its own that writes runs without end and says each number once it is saved.

    ``carried``: pages written ahead after which they are carried into the main file; 1000 is what SQLite does.
    """

    def __init__(self, path, key="slider", carried=1000):
        said, saying = os.pipe()
        self.pid = os.fork()
        if self.pid == 0:
            try:
                _write(path, key, carried, saying)
            finally:
                os._exit(1)
        os.close(saying)
        self.said = os.fdopen(said)

    def number(self):
        return int(self.said.readline())

    def kill(self):
        """End it as a power cut would; the numbers it had still said."""
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        with self.said:
            return [int(line) for line in self.said]


def _write(path, key, carried, saying):
    given = records.large_record()
    with open_history(path) as history:
        history._connection.execute(f"PRAGMA wal_autocheckpoint = {carried}")
        while True:
            os.write(saying, b"%d\n" % history.save(given, seconds=1.0, commit=None, key=key))


def kill_once(path, seed):
    """Let a writer write to ``path`` for a random while, kill it, and check the history."""
    before, rng = count_runs(path), np.random.default_rng(seed)
    writer = Writer(path, carried=int(rng.choice((10, 1000))))
    said = [writer.number() for _ in range(rng.integers(0, MOST_SAVED + 1))]
    time.sleep(rng.uniform(0.0, LONGEST_S))
    said += writer.kill()
    last = said[-1] if said else before
    return checked(path, before, last)


def count_runs(path):
    if not path.exists():
        return 0
    with open_history(path) as history:
        return len(history.runs())


def checked(path, before, said):
    """What is left has every run that was said to be saved, at most one more, each whole, and takes the next."""
    wrong = []
    with open_history(path) as history:
        wrong += history.notes
        numbers = [run.number for run in history.runs()]
        if numbers != list(range(len(numbers), 0, -1)):
            wrong.append(f"numbers {numbers}")
        if not said <= len(numbers) <= said + 1:
            wrong.append(f"{said} were said to be saved, {len(numbers)} are there")
        expected = records.large_record()
        for number in numbers[: len(numbers) - before + 1]:
            if history.record(number) != expected:
                wrong.append(f"run {number} is not what was saved")
        if history.save(expected, seconds=1.0, commit=None, key="slider") != len(numbers) + 1:
            wrong.append("the next run has a wrong number")
    wrong += half_runs(path)
    return Killed(said - before, len(numbers) - before, tuple(wrong))


def half_runs(path):
    """Runs without all of their pairs and digests, and what SQLite itself finds wrong."""
    with sqlite3.connect(path) as connection:
        told = [line for (line,) in connection.execute("PRAGMA integrity_check") if line != "ok"]
        pairs = dict(connection.execute("SELECT run, count(*) FROM pairs GROUP BY run"))
        digests = dict(connection.execute("SELECT run, count(*) FROM digests GROUP BY run"))
        numbers = [number for (number,) in connection.execute("SELECT number FROM runs")]
    connection.close()
    each = len(records.large_record().pairs)
    told += [
        f"run {number} is half there" for number in numbers if (pairs.get(number), digests.get(number)) != (each, 1)
    ]
    told += [f"pairs of no run: {run}" for run in pairs.keys() - set(numbers)]
    return told
