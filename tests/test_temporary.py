"""Nothing temporary outlives a run: cleared on SIGTERM and SIGHUP, and after SIGKILL by the next run; never another's.

Real processes get real signals. Exit statuses of signals: 128 + number (common practice of shells).
"""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from small_machines import trammel

from assembly.record import prepare_folder, write_whole
from assembly.temporary import FOLDER, LOCK, UNFINISHED, UNLOCKED_S, beside, temporary_folder, unfinished_file

ROOT = Path(__file__).resolve().parents[1]

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


def started(code, temporary):
    """A process of its own group that runs ``code``."""
    search = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8", "TMPDIR": str(temporary)}
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "start_new_session": True}
    return subprocess.Popen([sys.executable, "-c", code], env=search, text=True, **pipes)


def signalled(number, temporary):
    """A sweep on two processes, small as it is, that gets a signal while pairs are searched, and what it said."""
    code = f"""
import os, signal, sys
signal.signal(signal.SIGHUP, signal.SIG_DFL)  # whoever runs the tests may have it ignored, as nohup does
import assembly.clearance.proof.sweep
import assembly.report.text.terminal as terminal
assembly.clearance.proof.sweep.worth_workers = lambda *_: True
from assembly.cli import main
told = terminal._StageLines.__call__
def signalling(self, stage, done, total):
    told(self, stage, done, total)
    if stage == "search":
        print(os.listdir({str(temporary)!r}), flush=True)
        os.kill(os.getpid(), {int(number)})
terminal._StageLines.__call__ = signalling
sys.exit(main(["sweep", "slow.toml", "--cores", "2", "--no-picture"]))
"""
    with started(code, temporary) as run:
        told, said = run.communicate(timeout=120)
    return run, told, said


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
    run, told, said = signalled(number, temporary)
    assert "swingroom-" in told
    assert run.returncode == 128 + number
    assert said.splitlines()[-1] == f"ended by {number.name}; no file is half written"
    assert "Traceback" not in said
    assert not list(temporary.iterdir())
    assert not list(Path("results").rglob("*.*"))
    assert are_gone(run.pid)


def test_sighup_that_was_to_be_ignored_is_ignored(temporary):
    code = """
import os, signal, sys
signal.signal(signal.SIGHUP, signal.SIG_IGN)
from assembly.commands.signals import ended_by_signals
with ended_by_signals():
    os.kill(os.getpid(), signal.SIGHUP)
print("went on")
"""
    with started(code, temporary) as run:
        told, _ = run.communicate(timeout=60)
    assert (told, run.returncode) == ("went on\n", 0)


def test_next_run_clears_what_sigkill_left(temporary):
    run, _, _ = signalled(signal.SIGKILL, temporary)
    assert run.returncode == -signal.SIGKILL
    assert are_gone(run.pid)
    (left,) = temporary.iterdir()
    assert FOLDER.fullmatch(left.name)
    with temporary_folder() as folder:
        assert list(temporary.iterdir()) == [folder]
    assert not list(temporary.iterdir())


def test_folder_of_a_live_run_stays(temporary):
    code = """
import time
from assembly.temporary import temporary_folder
with temporary_folder() as folder:
    (folder / "solids").write_text("needed")
    print(folder, flush=True)
    time.sleep(60)
"""
    with started(code, temporary) as other:
        theirs = Path(other.stdout.readline().strip())
        with temporary_folder() as own:
            assert {path.name for path in temporary.iterdir()} == {theirs.name, own.name}
            assert (theirs / "solids").read_text() == "needed"
        other.kill()
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
