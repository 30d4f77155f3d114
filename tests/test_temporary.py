"""Nothing temporary outlives a run: cleared on SIGTERM and SIGHUP, and after SIGKILL by the next run; never another's.

Real processes get real signals. Exit statuses of signals: 128 + number (common practice of shells).
"""

import os
import signal
import sys
import time
from pathlib import Path

import pytest
from forked_runs import ForkedRun
from small_machines import trammel

from assembly.clearance.proof import sweep
from assembly.cli import main
from assembly.commands.signals import ended_by_signals
from assembly.record import prepare_folder, write_whole
from assembly.report.text import terminal
from assembly.temporary import FOLDER, LOCK, UNFINISHED, UNLOCKED_S, beside, temporary_folder, unfinished_file

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and locks of POSIX")


@pytest.fixture(autouse=True)
def temporary(tmp_path, monkeypatch):
    """Each test works in a folder of its own, with a place of its own for what is temporary."""
    place = tmp_path / "temporary"
    place.mkdir()
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("tempfile.tempdir", str(place))
    (tmp_path / "slow.toml").write_text(trammel() + "[clearance]\nrequired = 43\n", encoding="utf-8")
    return place


def signalled(number, temporary):
    """A sweep on two processes, small as it is, that gets a signal while pairs are searched, and what it said."""
    told = terminal._StageLines.__call__

    def signalling(self, stage, done, total):
        told(self, stage, done, total)
        if stage == "search":
            sys.stdout.write(f"{[path.name for path in temporary.iterdir()]}\n")
            sys.stdout.flush()
            os.kill(os.getpid(), number)

    def swept():
        sweep.worth_workers = lambda *_: True
        terminal._StageLines.__call__ = signalling
        return main(["sweep", "slow.toml", "--cores", "2", "--no-picture"])

    run = ForkedRun(swept)
    with run.stdout:
        said = run.stdout.read()
    run.wait()
    return run, said


def are_gone(group):
    """Whether all processes of a group end within some seconds."""
    for _ in range(200):
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.05)
    return False


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_signal_clears_everything_and_ends_in_one_line(number, temporary):
    run, said = signalled(number, temporary)
    assert "['swingroom-" in said
    assert run.status == 128 + number
    assert said.splitlines()[-1] == f"ended by {number.name}; no file is half written"
    assert "Traceback" not in said
    assert not list(temporary.iterdir())
    assert not list(Path("results").rglob("*.*"))
    assert are_gone(run.pid)


def test_sighup_that_was_to_be_ignored_is_ignored():
    def ignoring():
        signal.signal(signal.SIGHUP, signal.SIG_IGN)
        with ended_by_signals():
            os.kill(os.getpid(), signal.SIGHUP)
        sys.stdout.write("went on\n")
        return 0

    run = ForkedRun(ignoring)
    with run.stdout:
        assert (run.stdout.read(), run.wait()) == ("went on\n", 0)


def test_next_run_clears_what_sigkill_left(temporary):
    run, _ = signalled(signal.SIGKILL, temporary)
    assert run.status == -signal.SIGKILL
    assert are_gone(run.pid)
    (left,) = temporary.iterdir()
    assert FOLDER.fullmatch(left.name)
    with temporary_folder() as folder:
        assert list(temporary.iterdir()) == [folder]
    assert not list(temporary.iterdir())


def test_folder_of_a_live_run_stays(temporary):
    def busy():
        with temporary_folder() as folder:
            (folder / "solids").write_text("needed")
            sys.stdout.write(f"{folder}\n")
            sys.stdout.flush()
            time.sleep(60)
        return 0

    other = ForkedRun(busy)
    with other.stdout:
        theirs = Path(other.stdout.readline().strip())
        with temporary_folder() as own:
            assert {path.name for path in temporary.iterdir()} == {theirs.name, own.name}
            assert (theirs / "solids").read_text() == "needed"
        other.kill()
        other.wait()
    with temporary_folder():
        assert not theirs.exists()


def test_only_our_own_folders_are_cleared(temporary):
    kept = [temporary / name for name in ("swingroom-notes", "swingroom-abcdefgh.d", "others-abcdefgh")]
    for folder in (*kept, temporary / "target"):
        folder.mkdir()
        (folder / LOCK).touch()
        (folder / "letter").touch()
    link = temporary / "swingroom-linkabcd"
    link.symlink_to(temporary / "target")
    without = temporary / "swingroom-nolockab"
    without.mkdir()
    (without / "letter").touch()
    os.utime(without, (0, 0))
    locks = temporary / "swingroom-locklink"
    locks.mkdir()
    (locks / LOCK).symlink_to(temporary / "target" / LOCK)
    before = sorted(temporary.rglob("*"))
    with temporary_folder():
        pass
    assert sorted(temporary.rglob("*")) == before


def test_folder_of_somebody_else_stays(temporary, monkeypatch):
    folder = temporary / "swingroom-theirsab"
    folder.mkdir()
    (folder / LOCK).touch()
    monkeypatch.setattr("os.getuid", lambda: folder.stat().st_uid + 1)
    with temporary_folder():
        assert folder.exists()
    monkeypatch.undo()
    monkeypatch.setattr("tempfile.tempdir", str(temporary))
    with temporary_folder():
        assert not folder.exists()


def test_empty_folder_without_a_lock_goes_once_it_is_old(temporary):
    fresh, old = temporary / "swingroom-freshabc", temporary / "swingroom-oldabcde"
    for folder in (fresh, old):
        folder.mkdir()
    then = time.time() - 2 * UNLOCKED_S
    os.utime(old, (then, then))
    with temporary_folder():
        assert (fresh.exists(), old.exists()) == (True, False)


def test_unfinished_files_that_nobody_writes_are_cleared_where_the_next_run_writes():
    results = Path("results")
    results.mkdir()
    left = beside(results / "record.json")
    assert UNFINISHED.fullmatch(left.name)
    own = [results / name for name in (".letter-1-abcdef.part", "notes-12-0123abcd.part", ".x-12-0123abcd.part.txt")]
    for path in (left, *own):
        path.write_text("half")
    with unfinished_file(results / "table.csv") as file:
        file.write(b"whole")
        prepare_folder(results)
        assert not left.exists()
        assert len(list(results.iterdir())) == 1 + len(own)
    assert (results / "table.csv").read_bytes() == b"whole"
    assert all(path.read_text() == "half" for path in own)


def test_file_that_was_cleared_while_it_was_written_is_told_not_lost_in_silence():
    with pytest.raises(FileNotFoundError), unfinished_file(Path("table.csv")) as file:
        Path(file.name).unlink()
    write_whole(Path("table.csv"), "whole")
    assert [path.name for path in Path().iterdir() if path.suffix == ".csv"] == ["table.csv"]
