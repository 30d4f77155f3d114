"""The memory on disk: what it gives back, whose it is, and that nothing that happens to it costs more than time."""

import json
import sqlite3
import subprocess
import sys
import zlib
from pathlib import Path

import numpy as np
import pytest
from small_machines import quiet, slider
from test_recalled import STARTER, STRIKING, findings, machine, plain, searched, swept

from assembly import program
from assembly.cache import sealed_rows
from assembly.cache.sealed_rows import cache_path
from assembly.cache.sqlite_cache import open_memory, packed, unpacked
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof.cached import CachedPair
from assembly.cli import main
from assembly.database import MARK
from assembly.history import open_history
from assembly.studies.sweep.check import check

ROWS = {f"key {k}": CachedPair(1.5 * k, at_rest=0.1 + 0.2, found={}) for k in range(3)}


@pytest.fixture
def path(tmp_path):
    return tmp_path / "deep" / "pairs.sqlite3"


def remembered(path, keys=tuple(ROWS), **how):
    """What a new process would recall, and what was said."""
    said = []
    with open_memory(path, said.append, **how) as memory:
        return dict(memory.look_up(keys)), said


def kept(path, rows=ROWS):
    said = []
    with open_memory(path, said.append) as memory:
        memory.keep(rows)
    return said


def test_what_is_kept_is_recalled_by_another_process_to_the_last_bit(path):
    assert kept(path) == []
    recalled, said = remembered(path, ("key 2", "key 0", "nobody's"))
    assert said == []
    assert set(recalled) == {"key 0", "key 2"}
    assert all(plain(known) == plain(ROWS[key]) for key, known in recalled.items())


@pytest.mark.parametrize("text", [STARTER, STRIKING])
def test_every_field_of_every_result_survives_packing(text):
    checked = swept(text)
    for state, found in zip(checked.swept.states, checked.found, strict=True):
        state.pair = found.result.pair
        known = state.with_found(found)
        back = unpacked(packed(known))
        assert (back.bound, back.at_rest, back.decided) == (known.bound, known.at_rest, known.decided)
        (depth,) = back.found
        state.known = back
        assert plain(state.cached_at(depth)) == plain(found)


def test_a_machine_is_swept_from_disk(path):
    def run():
        with open_memory(path, pytest.fail) as memory:
            return check(machine(STRIKING), Effort(), quiet, memory=memory)

    first, second = run(), run()
    assert (searched(first), searched(second)) == (len(first.found), 0)
    assert findings(first) == findings(second)


def test_what_another_program_kept_is_not_recalled(path, monkeypatch):
    kept(path)
    monkeypatch.setattr(sealed_rows, "program_digest", lambda: "another")
    assert remembered(path) == ({}, [])
    kept(path, {"key 0": CachedPair(9.0)})
    monkeypatch.undo()
    assert remembered(path)[0]["key 0"].bound == 0.0


def test_the_program_is_its_sources_and_its_libraries(monkeypatch, tmp_path):
    """An edit of any source that computes, or another release of a library, is another program."""
    house = tmp_path / "assembly"
    for folder in (*program.COMPUTES, "report"):
        (house / folder).mkdir(parents=True)
        (house / folder / "one.py").write_text("a = 1\n")
    monkeypatch.setattr(program, "__file__", str(house / "program.py"))
    fresh = program.program_digest.__wrapped__
    seen = {fresh()}
    for folder in program.COMPUTES:
        (house / folder / "one.py").write_text("a = 2\n")
        seen.add(fresh())
    monkeypatch.setattr(program, "version", lambda name: "99")
    seen.add(fresh())
    assert len(seen) == len(program.COMPUTES) + 2
    (house / "report" / "one.py").write_text("a = 2\n")
    assert fresh() in seen


DECIDE_NOTHING = {"errors", "printable", "progress", "temporary", "time_limit", "working_memory"}


def test_every_folder_that_a_check_computes_in_counts():
    """All modules that a check loads are among those that count, but for those that decide nothing.

    What a time limit cuts short is not kept, and how many postures are worked on at once changes no bit of any.
    """
    code = "import sys, assembly.studies.sweep.check; print(*(n for n in sys.modules if n.startswith('assembly.')))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    folders = {name.split(".")[1] for name in loaded} - DECIDE_NOTHING
    assert folders <= set(program.COMPUTES)
    assert "clearance" in folders


def test_anew_recalls_nothing_and_keeps_all(path):
    kept(path)
    assert remembered(path, anew=True) == ({}, [])
    with open_memory(path, pytest.fail, anew=True) as memory:
        memory.keep({"key 0": CachedPair(7.0)})
    assert remembered(path)[0]["key 0"].bound == 7.0


def test_what_was_not_used_for_longest_is_let_go(path, monkeypatch):
    for key in ("old", "used", "new"):
        kept(path, {key: CachedPair(1.0, found={})})
    with open_memory(path, pytest.fail) as memory:
        memory.look_up(["used"])
        memory.keep({})
    monkeypatch.setattr(
        sealed_rows, "MOST_BYTES", 2 * (sealed_rows.SEAL_BYTES + len(packed(CachedPair(1.0, found={}))))
    )
    kept(path, {"newest": CachedPair(1.0, found={})})
    assert set(remembered(path, ("old", "used", "new", "newest"))[0]) == {"used", "newest"}


def test_a_damaged_file_is_begun_anew_and_said(path):
    kept(path)
    path.write_bytes(path.read_bytes()[:100] + b"and then rubbish, long enough to be a page" * 99)
    assert kept(path) == [f"{path} is damaged and is begun anew, which costs time only"]
    assert set(remembered(path)[0]) == set(ROWS)


def test_a_damaged_row_is_computed_again(path):
    kept(path)
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE known SET packed = ? WHERE key = (SELECT min(key) FROM known)", (b"\x00rubbish",))
    assert len(remembered(path)[0]) == len(ROWS) - 1


def rows_of(path):
    with sqlite3.connect(path) as connection:
        return dict(connection.execute("SELECT key, packed FROM known"))


def put(path, key, row):
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE known SET packed = ? WHERE key = ?", (row, key))


def test_a_row_that_was_altered_but_is_valid_is_computed_again(path):
    kept(path)
    key, row = min(rows_of(path).items())
    altered = packed(CachedPair(1000.0, found={}))
    assert plain(unpacked(altered)) == plain(CachedPair(1000.0, found={}))
    put(path, key, row[: sealed_rows.SEAL_BYTES] + altered)
    assert len(remembered(path)[0]) == len(ROWS) - 1


def test_a_row_under_another_key_is_computed_again(path):
    kept(path)
    (first, _), (_, second), *_ = sorted(rows_of(path).items())
    put(path, first, second)
    assert len(remembered(path)[0]) == len(ROWS) - 1


@pytest.mark.parametrize(
    "row", [7, "text", b"", zlib.compress(b"[" * 100_000)], ids=["number", "text", "nothing", "nested"]
)
def test_whatever_stands_in_a_row_costs_time_only(path, row):
    kept(path)
    key = min(rows_of(path))
    put(path, key, sealed_rows._sealed(key, row) if row and isinstance(row, bytes) else row)
    found, said = remembered(path)
    assert (len(found), said) == (len(ROWS) - 1, [])


def test_a_page_that_is_damaged_in_the_middle_costs_time_only(path):
    many = {f"key {k}": CachedPair(float(k), found={}) for k in range(2000)}
    kept(path, many)
    data = bytearray(path.read_bytes())
    for page in range(2, len(data) // 4096):
        data[4096 * page : 4096 * page + 200] = b"\xff" * 200
    path.write_bytes(data)
    recalled, said = remembered(path, tuple(many))
    assert all(plain(known) == plain(many[key]) for key, known in recalled.items())
    assert any("costs time only" in line for line in said)
    kept(path)
    assert set(remembered(path)[0]) == set(ROWS)


def test_a_mechanism_file_is_never_taken_for_a_damaged_memory(tmp_path):
    file = tmp_path / "machine.toml"
    file.write_text(STARTER)
    said = "it is something else; SWINGROOM_MEMORY names another file"
    assert remembered(file) == ({}, [f"cannot use {file}, which costs time only: {said}"])
    assert file.read_text() == STARTER


@pytest.mark.parametrize("mark", ["PRAGMA application_id", "PRAGMA application_id = 77"])
def test_the_database_of_another_program_is_left_alone(tmp_path, mark):
    other = tmp_path / "other.sqlite3"
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE known (something TEXT)")
        connection.execute(mark)
    before = other.read_bytes()
    (said,) = kept(other)
    assert said.startswith(f"cannot use {other}, which costs time only: it is something else")
    assert other.read_bytes() == before


def test_a_damaged_database_of_another_program_is_not_deleted(tmp_path):
    other = tmp_path / "other.sqlite3"
    other.write_bytes(MARK + b"and then rubbish, long enough to be a page" * 99)
    (said,) = kept(other)
    assert "it is something else" in said
    assert other.read_bytes().startswith(MARK + b"and then rubbish")


def test_the_history_is_never_taken_for_the_memory(tmp_path):
    with open_history(tmp_path / "history.sqlite3"):
        pass
    (said,) = kept(tmp_path / "history.sqlite3")
    assert "it is something else" in said


def test_places_that_cannot_be_used_are_said(tmp_path):
    (tmp_path / "file").write_text("")
    assert kept(tmp_path) == [f"cannot use {tmp_path}, which costs time only: a folder is in the way"]
    below = tmp_path / "file" / "pairs.sqlite3"
    (said,) = kept(below)
    assert said.startswith(f"cannot use {below}, which costs time only: ")


def test_a_full_disk_is_said_and_what_was_kept_stays(path, monkeypatch):
    kept(path)
    connected = sealed_rows._connected

    def small(where):
        connection = connected(where)
        connection.execute("PRAGMA max_page_count = 4")
        return connection

    monkeypatch.setattr(sealed_rows, "_connected", small)
    rng = np.random.default_rng(1)
    many = {f"more {k}": CachedPair(float(rng.random()), found={}) for k in range(3000)}
    said = kept(path, many)
    assert said == [f"cannot write to {path}, which costs time only: database or disk is full"]
    monkeypatch.undo()
    assert set(remembered(path, (*ROWS, *many))[0]) == set(ROWS)


def test_a_writer_that_does_not_end_is_waited_for_and_then_left(path, monkeypatch):
    kept(path)
    monkeypatch.setattr(sealed_rows, "WAIT_S", 0.05)
    with sqlite3.connect(path, isolation_level=None) as other:
        other.execute("BEGIN IMMEDIATE")
        said = kept(path, {"late": CachedPair(1.0)})
        assert said == [f"cannot write to {path}, which costs time only: database is locked"]
        assert set(remembered(path)[0]) == set(ROWS)


def test_cache_path_is_the_one_that_is_named():
    assert cache_path({"SWINGROOM_MEMORY": "/elsewhere.db"}) == Path("/elsewhere.db")
    assert cache_path({}).name == "pairs.sqlite3"


def test_off_keeps_nothing():
    for word in ("off", "OFF"):
        assert cache_path({"SWINGROOM_MEMORY": word}) is None
    with open_memory(None, pytest.fail) as memory:
        assert memory is None


@pytest.fixture
def run(capsys):
    def said(*arguments):
        main(list(map(str, arguments)))
        out, err = capsys.readouterr()
        return out + err

    return said


def test_commands_say_what_was_recalled(run, path, tmp_path, monkeypatch):
    file = tmp_path / "machine.toml"
    file.write_text(STARTER)
    monkeypatch.setenv("SWINGROOM_MEMORY", str(path))
    asked = ("sweep", file, "--no-picture", "--out", tmp_path / "out")
    assert "computed before" not in run(*asked)
    first = record(tmp_path)
    assert "all pairs as computed before: nothing they hang on has changed" in run(*asked, "--all")
    assert record(tmp_path) == first
    assert "computed before" not in run(*asked, "--recompute")
    assert record(tmp_path) == first


def record(folder):
    """All that was found, as it is written; not what the run cost, nor when it was."""
    found = json.loads((folder / "out" / "record.json").read_text(encoding="utf-8"))
    return {key: value for key, value in found.items() if key not in ("work", "made")}


def test_commands_go_on_where_the_memory_cannot_be_used(run, tmp_path, monkeypatch):
    file = tmp_path / "slide.toml"
    file.write_text(slider())
    monkeypatch.setenv("SWINGROOM_MEMORY", str(tmp_path))
    said = run("sweep", file, "--no-picture", "--out", tmp_path / "out")
    assert f"cannot use {tmp_path}, which costs time only: a folder is in the way\n" in said
    assert (tmp_path / "out" / "record.json").exists()
