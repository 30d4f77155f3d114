"""Nightlies killed without warning, and what must then still hold. Used by a test and by ``scripts/night_kills.py``.

A night runs in a forked child, so that a try takes tenths of a second and whatever it does is gone with it.
"""

import csv
import json
import os
import random
import signal
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from xml.etree import ElementTree

from forked_runs import load_the_program
from small_machines import slider

from assembly.cli import main
from assembly.history import open_history
from assembly.record import load_record

LONGEST = 120.0
"""Seconds after which a child has hung."""


def shop(folder: Path) -> Path:
    """Two machines that are checked in a moment."""
    (folder / "machines").mkdir(parents=True)
    for name, required in (("gate", 1.0), ("latch", 3.0)):
        (folder / "machines" / f"{name}.toml").write_text(slider(required=required), encoding="utf-8")
    return folder


def words(folder: Path, *more: str) -> list[str]:
    """The command of one night."""
    places = "--out", str(folder / "nightly"), "--history", str(folder / "history.sqlite3")
    return ["nightly", str(folder / "machines"), *places, "--cores", "1", "--within", "9", "--no-picture", *more]


def forked(do: Callable[[], int]) -> int:
    """The process number of a child that does ``do``, says nothing, and ends with what that gives."""
    child = os.fork()
    if child:
        return child
    status = 70
    try:
        nowhere = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nowhere, stream)
        status = int(do())
    finally:
        os._exit(status)


def ended(child: int) -> int:
    """The exit status of a child; below zero the signal that ended it. Kills one that hangs."""
    give_up = time.monotonic() + LONGEST
    while time.monotonic() < give_up:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.002)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    raise AssertionError("a night hung")


def night(folder: Path, *more: str) -> int:
    """One whole night in a child; its exit status."""
    return ended(forked(lambda: main(words(folder, *more))))


def killed_after(folder: Path, seconds: float) -> int:
    """A night that is killed after so long, or was quicker."""
    child = forked(lambda: main(words(folder)))
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    return ended(child)


def killed_at(folder: Path, call: int) -> int:
    """A night that kills itself just before its ``call``-th step of writing files."""

    def dying() -> int:
        left = [call]

        def counted(do: Callable[..., object]) -> Callable[..., object]:
            def step(*arguments: object, **options: object) -> object:
                left[0] -= 1
                if left[0] == 0:
                    os.kill(os.getpid(), signal.SIGKILL)
                return do(*arguments, **options)

            return step

        os.fsync = counted(os.fsync)
        Path.replace = counted(Path.replace)
        Path.mkdir = counted(Path.mkdir)
        return main(words(folder))

    return ended(forked(dying))


def runs_in(folder: Path) -> int:
    """How many runs the history holds; each is whole. Asserts that nothing had to be set aside."""
    path = folder / "history.sqlite3"
    with closing(open_history(path)) as history:
        assert history.notes == ()
        runs = history.runs()
        for run in runs:
            record = history.record(run.number)
            assert (record.made, record.verdict) == (run.made, run.verdict)
            assert set(history.digests(run.number)) == set(record.machine.digests)
            for pair in record.pairs:
                points = history.pair_over_time(run.key, pair.a, pair.b)
                assert run.number in {point.number for point in points}
    assert not list(folder.glob("*damaged*"))
    return len(runs)


def check_files(folder: Path) -> None:
    """Every file of every night is whole, whichever are there."""
    for path in (folder / "nightly").rglob("*"):
        if path.is_dir() or path.name.startswith("."):
            continue
        if path.name == "record.json":
            assert load_record(path).machine.name == "Slider"
        elif path.suffix == ".json":
            json.loads(path.read_text(encoding="utf-8"))
        elif path.suffix == ".xml":
            ElementTree.fromstring(path.read_text(encoding="utf-8"))  # noqa: S314 - our own file
        elif path.suffix == ".csv":
            assert len(list(csv.reader(path.read_text(encoding="utf-8").splitlines()))) == 1 + 2
        else:
            assert path.read_text(encoding="utf-8").endswith("\n")


def attack(folder: Path, tries: int, seed: int, tell: Callable[[str], None]) -> int:
    """Kill ``tries`` nights at random moments; after each all must hold and the next night must work.

    Gives how many were killed before they had ended.
    """
    chance = random.Random(seed)  # noqa: S311 - moments to kill at, no secret
    shop(folder)
    load_the_program()
    start = time.monotonic()
    assert night(folder) == 1  # the latch fails
    took, kept, killed = time.monotonic() - start, runs_in(folder), 0
    assert kept == 2
    for number in range(tries):
        wait = chance.uniform(0.0, 1.1 * took)
        status = killed_after(folder, wait)
        killed += status == -signal.SIGKILL
        now = runs_in(folder)
        check_files(folder)
        assert kept <= now <= kept + 2, (kept, now)
        start = time.monotonic()
        assert night(folder) == 1
        took = 0.5 * took + 0.5 * (time.monotonic() - start)
        check_files(folder)
        assert runs_in(folder) == now + 2
        assert not list((folder / "nightly").rglob("*.part"))
        tell(f"try {number + 1}: after {wait:.3f} s of {took:.3f} s, status {status}, {now - kept} runs kept by it")
        kept = now + 2
    return killed
