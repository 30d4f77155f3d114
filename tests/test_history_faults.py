"""What a history survives: killed writers, full disks, two writers at once, damage, and places it may not write."""

import os
import resource
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import history_attack
import pytest
from records import large_record, pair, record

from assembly.errors import InputError, OutputError
from assembly.history import open_history

KILLS = 10
NOBODY = 65534
posix = pytest.mark.skipif(os.name != "posix", reason="signals, mounts and users of POSIX")


@pytest.fixture
def path(tmp_path):
    return tmp_path / "history.sqlite3"


def put(path, *records_):
    with open_history(path) as history:
        return [history.save(one, seconds=1.0, commit=None, key="slider") for one in records_]


def numbers(path):
    with open_history(path) as history:
        return [run.number for run in history.runs()]


def write_until_refused(path, most=200):
    """Save runs until one is refused; how many were saved, and the refusal."""
    saved = 0
    with open_history(path) as history:
        while saved < most:
            try:
                history.save(large_record(), seconds=1.0, commit=None, key="slider")
            except OutputError as error:
                return saved, str(error)
            saved += 1
    raise AssertionError("nothing was refused")


@posix
def test_killed_writer_leaves_whole_runs_only(tmp_path):
    told = [history_attack.kill_once(tmp_path / f"{seed // 4}.sqlite3", seed) for seed in range(KILLS)]
    assert [killed.wrong for killed in told] == [()] * KILLS
    assert any(killed.said for killed in told), "no writer came as far as a run"


def test_the_attack_finds_half_a_run(path):
    put(path, large_record(), large_record())
    with sqlite3.connect(path) as connection:
        connection.execute("DELETE FROM pairs WHERE run = 2 AND a > 'part_3'")
        connection.execute("DELETE FROM digests WHERE run = 1")
    connection.close()
    assert set(history_attack.half_runs(path)) == {"run 1 is half there", "run 2 is half there"}
    assert history_attack.checked(path, 0, 4).wrong[0] == "4 were said to be saved, 2 are there"


def test_error_in_the_middle_of_a_run_takes_all_of_it_back(path):
    put(path, record(pair("a", "b", 2.0)))
    twice = record(pair("a", "b", 2.0), pair("a", "b", 3.0))
    with open_history(path) as history:
        with pytest.raises(OutputError, match="the runs that it holds are intact"):
            history.save(twice, seconds=1.0, commit=None, key="slider")
        assert [run.number for run in history.runs()] == [1]
        assert history.save(record(), seconds=1.0, commit=None, key="slider") == 2


def test_full_database_is_told_and_the_old_runs_stay(path):
    put(path, large_record())
    with open_history(path) as history:
        pages = history._connection.execute("PRAGMA page_count").fetchone()[0]
        history._connection.execute(f"PRAGMA max_page_count = {pages + 2}")
        with pytest.raises(
            OutputError, match="the disk is full; the runs that it holds are intact; make room"
        ) as caught:
            history.save(large_record(), seconds=1.0, commit=None, key="slider")
        assert "\n" not in str(caught.value)
        assert history.record(1) == large_record()
    assert put(path, record()) == [2]


@posix
def test_write_that_the_system_refuses_leaves_the_old_runs(path):
    put(path, large_record())
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (path.stat().st_size + 3 * 4096, hard))
    try:
        _, told = write_until_refused(path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert "cannot write to the history" in told
    left = numbers(path)
    assert left == list(range(len(left), 0, -1))
    assert history_attack.half_runs(path) == []
    assert put(path, large_record()) == [len(left) + 1]


def on_a_small_disk(folder, code, *options):
    """Python ``code`` in a process that sees 1 MB of disk at ``folder``; skips where that cannot be had."""
    folder.mkdir()
    mount = f"mount -t tmpfs -o size=1m,mode=777 small {folder} && exec {sys.executable} -c '{code}' {folder}"
    if shutil.which("unshare") is None:
        pytest.skip("there is no unshare here")
    trial = subprocess.run(["unshare", "-rm", "sh", "-c", f"mount -t tmpfs small {folder}"], capture_output=True)
    if trial.returncode:
        pytest.skip("this machine lets nobody mount")
    run = subprocess.run(
        ["unshare", "-rm", "sh", "-c", mount], env=history_attack.environment(), capture_output=True, text=True
    )
    assert run.returncode == 0, run.stderr
    return run.stdout


SMALL_DISK = """
import sys
from pathlib import Path
from test_history_faults import *
path = Path(sys.argv[1]) / "history.sqlite3"
saved, told = write_until_refused(path)
left = numbers(path)
assert left == list(range(saved, 0, -1)), left
assert history_attack.half_runs(path) == []
print(saved, told)
(path.parent / "rest").write_bytes(bytes(0))
with open_history(path) as history:
    assert history.record(1) == large_record()
"""


@posix
def test_disk_that_fills_up_keeps_every_run_that_was_saved(tmp_path):
    said = on_a_small_disk(tmp_path / "disk", SMALL_DISK)
    saved, _, told = said.partition(" ")
    assert int(saved) > 0
    assert "the disk is full; the runs that it holds are intact; make room there" in told


FULL_DISK = """
import sys
from pathlib import Path
from test_history_faults import *
folder = Path(sys.argv[1])
put(folder / "old.sqlite3", record())
with (folder / "filler").open("wb", buffering=0) as filler:
    try:
        while filler.write(bytes(4096)): pass
    except OSError: pass
for name in ("new", "old"):
    with open_history(folder / (name + ".sqlite3")) as history:
        history.check_writable()
""".replace("with open_history", "try:\n      with open_history").replace(
    "        history.check_writable()\n",
    "        history.check_writable()\n    except OutputError as error: print(error)\n",
)


@posix
def test_disk_that_is_full_from_the_start_is_told(tmp_path):
    lines = on_a_small_disk(tmp_path / "disk", FULL_DISK).splitlines()
    assert len(lines) == 2
    assert all("cannot write to the history" in line for line in lines)


def test_two_writers_at_once_lose_nothing(path):
    each, writers = 6, 4

    def write(name):
        with open_history(path) as history:
            return [history.save(large_record(60), seconds=1.0, commit=None, key=str(name)) for _ in range(each)]

    with ThreadPoolExecutor(writers) as pool:
        given = [number for own in pool.map(write, range(writers)) for number in own]
    assert sorted(given) == list(range(1, each * writers + 1))
    with open_history(path) as history:
        for name in range(writers):
            assert len(history.runs(str(name))) == each


@posix
def test_two_processes_at_once_lose_nothing(path):
    writers = [history_attack.Writer(path, key) for key in ("one", "two")]
    said = [writer.number() for _ in range(4) for writer in writers]
    for writer in writers:
        said += writer.kill()
    assert len(set(said)) == len(said)
    with open_history(path) as history:
        for number in said:
            assert history.record(number) == large_record()


def test_reader_sees_what_was_there_while_another_writes(path):
    put(path, record())
    with open_history(path) as writing, open_history(path) as reading:
        writing._connection.execute("BEGIN IMMEDIATE")
        assert [run.number for run in reading.runs()] == [1]
        writing._connection.execute("ROLLBACK")


def test_writer_that_never_ends_is_told(path, monkeypatch):
    monkeypatch.setattr("assembly.history.database_file.WAIT_S", 0.05)
    with open_history(path) as first, open_history(path) as second:
        first._connection.execute("BEGIN IMMEDIATE")
        with pytest.raises(OutputError, match="another program is writing to it"):
            second.save(record(), seconds=1.0, commit=None)
        first._connection.execute("ROLLBACK")


def scribble(path, start, length):
    content = bytearray(path.read_bytes())
    content[start : start + length] = b"\xa5" * min(length, len(content) - start)
    path.write_bytes(content)


def cut(path, share):
    content = path.read_bytes()
    path.write_bytes(content[: int(len(content) * share)])


DAMAGE = {
    "head": lambda path: scribble(path, 0, 64),
    "tables": lambda path: scribble(path, 100, 3000),
    "pages": lambda path: scribble(path, 4096, 40960),
    "cut short": lambda path: cut(path, 0.5),
    "all of it": lambda path: path.write_bytes(os.urandom(20000)),
}


@pytest.mark.parametrize("damage", DAMAGE.values(), ids=DAMAGE)
def test_damaged_history_is_set_aside_and_a_new_one_begun(path, damage):
    put(path, large_record(), large_record())
    damage(path)
    damaged = path.read_bytes()
    with open_history(path) as history:
        assert [
            note.endswith("kept as history.damaged-1.sqlite3, and a new one is begun") for note in history.notes
        ] == [True]
        assert history.runs() == ()
        assert history.save(record(), seconds=1.0, commit=None) == 1
    assert (path.parent / "history.damaged-1.sqlite3").read_bytes() == damaged
    with open_history(path) as history:
        assert history.notes == ()


def test_second_damaged_history_gets_another_name(path):
    for _ in range(2):
        put(path, large_record())
        scribble(path, 0, 64)
    open_history(path).close()
    names = sorted(one.name for one in path.parent.iterdir() if "damaged" in one.name)
    assert names == ["history.damaged-1.sqlite3", "history.damaged-2.sqlite3"]


def test_what_was_written_ahead_is_set_aside_with_the_history(path):
    put(path, record())
    path.with_name("history.sqlite3-wal").write_bytes(b"left by a crash")
    scribble(path, 0, 64)
    open_history(path).close()
    assert path.with_name("history.damaged-1.sqlite3-wal").read_bytes() == b"left by a crash"


def test_empty_file_becomes_a_history(path):
    path.touch()
    assert put(path, record()) == [1]


def test_one_damaged_record_leaves_the_others(path):
    put(path, record(pair("a", "b", 2.0)), record(pair("a", "b", 3.0)))
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE runs SET record = substr(record, 1, 90) WHERE number = 2")
    connection.close()
    with open_history(path) as history:
        with pytest.raises(InputError, match=r"run 2 in the history .* is damaged"):
            history.record(2)
        assert history.record(1) == record(pair("a", "b", 2.0))
        assert len(history.runs()) == 2


@contextmanager
def as_somebody_without_rights():
    """Root may write anywhere, so it becomes nobody for a while; others are what they are."""
    if os.geteuid() == 0:
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        if os.getuid() == 0:
            os.seteuid(0)


@pytest.fixture
def locked():
    """A history with one run in a folder that may not be written."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "history.sqlite3"
        put(path, record())
        path.chmod(0o444)
        path.parent.chmod(0o555)
        yield path
        path.parent.chmod(0o755)


@posix
def test_history_in_a_folder_that_may_not_be_written_can_be_read(locked):
    with as_somebody_without_rights(), open_history(locked) as history:
        assert history.record(1) == record()
        with pytest.raises(OutputError, match="may not be written; name another file with --history"):
            history.save(record(), seconds=1.0, commit=None)
    assert [one.name for one in locked.parent.iterdir()] == [locked.name]


@posix
def test_new_history_in_a_folder_that_may_not_be_written_is_told(locked):
    with as_somebody_without_rights(), pytest.raises(OutputError, match="may not be written; name another file"):
        open_history(locked.with_name("another.sqlite3"))


@posix
def test_damaged_history_that_cannot_be_renamed_is_told(locked):
    scribble(locked, 0, 64)
    with as_somebody_without_rights(), pytest.raises(OutputError, match="is damaged and cannot be set aside"):
        open_history(locked)


@posix
def test_runs_beside_a_history_that_may_not_be_written_are_not_left_out(locked):
    """What a killed writer left beside the file belongs to it; without it the history would be an older one."""
    locked.parent.chmod(0o755)
    locked.with_name("history.sqlite3-wal").write_bytes(bytes(64))
    locked.parent.chmod(0o555)
    with as_somebody_without_rights(), pytest.raises(OutputError, match="may not be written"):
        open_history(locked)
