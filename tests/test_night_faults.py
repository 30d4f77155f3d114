"""Nightlies when something is wrong with the machine they run on: killed, two at once, no room, no right to write."""

import os
import shutil
import signal
import subprocess
import tempfile
from collections import Counter
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pytest
from forked_runs import load_the_program
from night_attack import attack, check_files, ended, forked, killed_at, night, runs_in, shop, words
from tries import first

from assembly.api.nights.nightly_run import alone_in
from assembly.cli import ExitStatus, main
from assembly.history import open_history

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="nights are run in forked children")
TRIES = 3
"""``scripts/night_kills.py`` tries 200."""
NOBODY = 65534


@pytest.fixture(autouse=True, scope="module")
def _loaded():
    load_the_program()


@pytest.fixture
def place(tmp_path):
    return shop(tmp_path / "shop")


@pytest.mark.long
def test_nights_killed_at_random_moments_lose_nothing(tmp_path):
    assert attack(tmp_path / "shop", TRIES, 1, lambda _text: None) >= TRIES // 3


@pytest.mark.parametrize("step", first([1, 9, 5, 14], 2))
def test_a_night_killed_at_a_step_of_writing_leaves_all_whole(place, capsys, step):
    assert killed_at(place, step) == -signal.SIGKILL
    kept = runs_in(place) if (place / "history.sqlite3").exists() else 0
    assert main(words(place)) == ExitStatus.FAILS
    cut = "was cut short; what it had finished lies in" in capsys.readouterr().out
    assert cut == bool(list((place / "nightly").glob("*_2")))
    check_files(place)
    assert runs_in(place) == kept + 2


def test_two_nightlies_at_once_are_one(place):
    children = [forked(lambda: main(words(place))) for _ in range(3)]
    statuses = Counter(map(ended, children))
    assert set(statuses) <= {ExitStatus.FAILS, ExitStatus.UNDECIDED}
    assert runs_in(place) == 2 * statuses[ExitStatus.FAILS] > 0
    check_files(place)


def test_a_nightly_that_is_kept_out_says_so_and_touches_nothing(place, capsys):
    (place / "nightly").mkdir()
    with alone_in(place / "nightly"):
        assert ended(forked(lambda: main(words(place)))) == ExitStatus.UNDECIDED
        assert main(words(place)) == ExitStatus.UNDECIDED
    (line,) = capsys.readouterr().err.splitlines()
    assert "another nightly is at work in" in line
    assert [path.name for path in (place / "nightly").iterdir()] == [".nightly.lock"]
    assert not (place / "history.sqlite3").exists()


def told_by(do, log):
    """Exit status of ``do`` in a child, and all it said."""

    def speaking():
        with log.open("w", encoding="utf-8") as stream, redirect_stdout(stream), redirect_stderr(stream):
            return do()

    return ended(forked(speaking)), log.read_text(encoding="utf-8")


def test_files_that_may_not_grow_lose_no_number_and_no_older_run(place, tmp_path):
    resource = pytest.importorskip("resource")
    assert night(place) == ExitStatus.FAILS

    def cramped():
        resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000))
        return main(words(place))

    os.chmod(tmp_path, 0o755)  # noqa: S103, PTH101
    status, said = told_by(cramped, Path(tempfile.mkdtemp(dir=tmp_path)) / "said")
    assert status == ExitStatus.INPUT
    assert "Traceback" not in said
    assert runs_in(place) == 2
    check_files(place)
    assert night(place) == ExitStatus.FAILS
    assert runs_in(place) == 4


@pytest.fixture
def small_disk(tmp_path):
    """A disk of its own with little room; only root can have one."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=600k", "tmpfs", str(disk)]
    if os.geteuid() or not shutil.which("mount") or subprocess.run(mount, capture_output=True).returncode:
        pytest.skip("no disk can be made here")
    yield disk
    subprocess.run(["umount", str(disk)], check=True)


def test_a_full_disk_is_told_and_the_old_history_is_intact(small_disk, tmp_path):
    place = shop(small_disk / "shop")
    assert night(place) == ExitStatus.FAILS
    room = os.statvfs(small_disk)
    (small_disk / "filler").write_bytes(b"x" * (room.f_bavail - 4) * room.f_bsize)
    status, said = told_by(lambda: main(words(place)), tmp_path / "said")
    assert status == ExitStatus.INPUT
    assert "Traceback" not in said
    assert "No space left on device" in said or "the disk is full" in said
    assert "least margin −1.00 mm (base – sledge, 2.00 mm apart)" in said
    with open_history(place / "history.sqlite3") as history:
        assert len(history.runs()) >= 2
        assert [history.record(run.number).verdict for run in history.runs()[-2:]] == ["fails", "clear"]
    (small_disk / "filler").unlink()
    before = runs_in(place)
    assert night(place) == ExitStatus.FAILS
    assert runs_in(place) == before + 2
    check_files(place)


@pytest.fixture
def open_place():
    """A shop that everyone can read."""
    folder = Path(tempfile.mkdtemp(prefix="swingroom-"))
    folder.chmod(0o755)
    yield shop(folder / "shop")
    shutil.rmtree(folder)


def as_nobody(do):
    """``do`` without the rights of root, who may write anywhere."""

    def harmless():
        if os.geteuid() == 0:
            os.setgid(NOBODY)
            os.setuid(NOBODY)
        return do()

    return harmless


def test_a_folder_that_cannot_be_written_is_told_before_anything_is_checked(open_place, tmp_path):
    open_place.chmod(0o555)
    log = Path(tempfile.mkdtemp()) / "said"
    status, said = told_by(as_nobody(lambda: main(words(open_place))), log)
    open_place.chmod(0o755)
    assert status == ExitStatus.INPUT
    assert said.count("\n") == 1
    assert said.startswith(f"cannot write to {open_place / 'nightly'}: Permission denied; ")


def test_a_history_that_cannot_be_written_costs_no_number(open_place):
    assert night(open_place) == ExitStatus.FAILS
    shutil.rmtree(open_place / "nightly")
    (open_place / "nightly").mkdir()
    (open_place / "nightly").chmod(0o777)
    open_place.chmod(0o555)
    (open_place / "history.sqlite3").chmod(0o444)
    status, said = told_by(as_nobody(lambda: main(words(open_place))), Path(tempfile.mkdtemp()) / "said")
    open_place.chmod(0o755)
    assert status == ExitStatus.INPUT
    assert "Traceback" not in said
    assert said.count("may not be written") == 1
    assert "CLEAR " in said
    assert said.count("; as before") == 2
    assert runs_in(open_place) == 2
    check_files(open_place)


def test_a_history_that_is_none_is_told_and_everything_is_checked(place, capsys):
    (place / "history.sqlite3").mkdir()
    assert main(words(place)) == ExitStatus.INPUT
    out = capsys.readouterr().out
    assert out.count("nothing is compared: ") == 1
    assert "1 FAILS, 1 CLEAR" in out
    assert len(list((place / "nightly").rglob("record.json"))) == 2
