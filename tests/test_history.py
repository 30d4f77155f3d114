"""The history: what is saved comes back, in the order of numbers, and old formats become new ones."""

import hashlib
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from records import AT, joint, pair, record, rod
from small_machines import read, slider

from assembly.api.main_check import sweep
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.database import transaction
from assembly.errors import InputError, OutputError
from assembly.history import history_path, open_history
from assembly.history.migrations import STEPS, compressed
from assembly.record import MachineEntry, json_text

LATEST = len(STEPS)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "history.sqlite3"


@pytest.fixture(scope="module")
def swept():
    return sweep(read(slider(high=12.0, required=3.0)), effort=Effort()).record


def put(path, *records_, **changed):
    given = {"seconds": 2.5, "commit": None, "key": "slider"}
    with open_history(path) as history:
        return [history.save(one, **{**given, **changed}) for one in records_]


def test_run_comes_back_whole(path, swept):
    assert put(path, swept, seconds=2.5, commit="c0ffee", key="here/slider.toml") == [1]
    with open_history(path) as history:
        assert history.record(1) == swept
        (entry,) = history.runs()
        assert history.entry(1) == entry
        assert history.digests(1) == dict(swept.machine.digests)
    assert (entry.number, entry.made, entry.key) == (1, swept.made, "here/slider.toml")
    assert (entry.file, entry.name, entry.verdict) == (swept.machine.file, "Slider", "fails")
    assert (entry.digest, entry.version) == (swept.machine.digest, swept.program.version)
    assert (entry.commit, entry.seconds) == ("c0ffee", 2.5)
    assert entry.least_room == pytest.approx(-5.0, abs=1e-3)  # 12 mm of travel into a gap of 10, 3 mm are required


def test_key_is_the_file_where_none_is_given(path):
    with open_history(path) as history:
        history.save(record(pair("a", "b", 2.0)), seconds=1.0, commit=None)
        assert history.last("slider.toml") == 1


def test_machines_are_kept_apart(path):
    put(path, record(pair("a", "b", 2.0)), key="one")
    put(path, record(pair("a", "b", 3.0)), key="two")
    with open_history(path) as history:
        assert [run.key for run in history.runs()] == ["two", "one"]
        assert [run.number for run in history.runs("one")] == [1]
        assert history.runs("three") == ()


def test_order_is_by_number_though_the_clock_was_set_back(path):
    days = ["2026-03-03T02:00:00+00:00", "2026-03-04T02:00:00+00:00", "1999-01-01T00:00:00+00:00"]
    put(path, *(record(pair("a", "b", 2.0), made=day) for day in days))
    with open_history(path) as history:
        assert [run.made for run in history.runs()] == days[::-1]
        assert history.last("slider") == 3
        assert [point.made for point in history.pair_over_time("slider", "a", "b")] == days[::-1]


def test_last_good_run_is_the_last_clear_one(path):
    clear, failing, open_ = (record(pair("a", "b", least)) for least in (2.0, -1.0, 2.0))
    put(path, clear, failing, clear, failing, replace(open_, verdict="undecided"))
    with open_history(path) as history:
        assert (history.last("slider"), history.last("slider", good=True)) == (5, 3)
        assert (history.last("slider", good=True, before=3), history.last("slider", before=3)) == (1, 2)
        assert history.last("slider", good=True, before=1) is None
        assert history.last("nothing") is None


def test_number_is_never_given_twice(path):
    put(path, *[record(pair("a", "b", 2.0))] * 3)
    with sqlite3.connect(path) as connection:
        for table in ("pairs", "digests"):
            connection.execute(f"DELETE FROM {table} WHERE run = 3")  # noqa: S608 - names of our own
        connection.execute("DELETE FROM runs WHERE number = 3")
    connection.close()
    assert put(path, record(pair("a", "b", 2.0))) == [4]


def test_pair_over_time_has_every_run_that_checked_it(path):
    put(path, record(pair("a", "b", 2.0, 1.9)), record(pair("a", "c", 2.0)), commit="one")
    put(path, record(pair("b", "a", -0.5)), commit="two")
    with open_history(path) as history:
        now, before = history.pair_over_time("slider", "a", "b")
        assert history.pair_over_time("slider", "b", "a") == (now, before)
    assert (before.number, before.verdict, before.least_mm, before.proven_mm) == (1, "clear", 2.0, 1.9)
    assert (now.number, now.verdict, now.depth_mm, now.commit) == (3, "fails", 0.5, "two")
    assert now.depth_at_most_mm == pytest.approx(0.6)
    assert (now.at, now.required_mm) == (AT, 1.0)


def test_unknown_pair_offers_the_nearest_name(path):
    put(path, record(pair("tie_rod", "upright", 2.0), pair("frame", "upright", 2.0)))
    with open_history(path) as history:
        with pytest.raises(
            InputError, match="no run of slider checked a part `tie_rot`; the nearest name is `tie_rod`"
        ):
            history.pair_over_time("slider", "tie_rot", "upright")
        with pytest.raises(InputError, match="tie_rod and frame were never checked against each other"):
            history.pair_over_time("slider", "tie_rod", "frame")
        with pytest.raises(InputError, match="no run of other"):
            history.pair_over_time("other", "tie_rod", "frame")


def test_unknown_run_is_told_with_those_that_there_are(path):
    with open_history(path) as history:
        with pytest.raises(InputError, match=r"no run 1 .*it is empty"):
            history.record(1)
        history.save(record(), seconds=1.0, commit=None)
        for ask in (history.record, history.entry):
            with pytest.raises(InputError, match=r"no run 7 .*it holds the runs 1 to 1"):
                ask(7)


FIGURES = st.floats(allow_nan=False, allow_infinity=False)
NAMES = st.text(min_size=1, max_size=8).filter(lambda name: not any("\ud800" <= sign <= "\udfff" for sign in name))


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(NAMES, NAMES, FIGURES, FIGURES, st.floats(0, 1e9), NAMES, st.none() | NAMES)
def test_any_names_and_figures_come_back(path, a, b, least, reserve, seconds, key, commit):
    given_ = record(pair(a, b, least), joints=(joint(a, reserve),), rods=(rod(b, reserve),))
    (number,) = put(path, given_, seconds=seconds, commit=commit, key=key)
    with open_history(path) as history:
        assert history.record(number) == given_
        entry = history.entry(number)
        assert (entry.seconds, entry.key, entry.commit) == (seconds, key, commit)
        assert history.pair_over_time(key, a, b)[0].number == number


def older(path, version, *records_):
    """A history as version ``version`` of its format left it."""
    connection = sqlite3.connect(path, isolation_level=None)
    for step in STEPS[:version]:
        with transaction(connection):
            step(connection)
    connection.execute(f"PRAGMA user_version = {version}")
    for one in records_:
        connection.execute(
            "INSERT INTO runs (machine, made, file, name, verdict, digest, version, seconds, record)"
            " VALUES ('slider', ?, 'slider.toml', 'Slider', ?, 'd', '0', 1.0, ?)",
            (one.made, one.verdict, compressed(json_text(one))),
        )
    connection.close()


def version(path):
    connection = sqlite3.connect(path)
    found = connection.execute("PRAGMA user_version").fetchone()[0]
    connection.close()
    return found


def test_older_history_is_brought_up_to_date_with_its_runs(path):
    given_ = [record(pair("a", "b", 2.0)), record(pair("a", "b", -1.5))]
    older(path, 1, *given_)
    assert version(path) == 1
    with open_history(path) as history:
        assert [history.record(number) for number in (1, 2)] == given_
        points = history.pair_over_time("slider", "a", "b")
        assert [point.depth_mm for point in points] == [1.5, None]
        assert [point.depth_at_most_mm for point in points] == [None, None]  # not kept then, so not known
        assert history.save(given_[0], seconds=1.0, commit=None, key="slider") == 3
    assert version(path) == LATEST


def test_step_that_fails_halfway_leaves_the_older_history_as_it_was(path, monkeypatch):
    older(path, 1, record(pair("a", "b", 2.0)))

    def broken(connection):
        STEPS_AS_THEY_ARE[1](connection)
        raise sqlite3.OperationalError("no more")

    STEPS_AS_THEY_ARE = STEPS
    monkeypatch.setattr("assembly.history.migrations.STEPS", (STEPS[0], broken))
    with pytest.raises(OutputError, match="no more"):
        open_history(path)
    assert version(path) == 1
    connection = sqlite3.connect(path)
    assert connection.execute("SELECT name FROM sqlite_master WHERE name = 'pairs'").fetchall() == []
    assert connection.execute("SELECT count(*) FROM runs").fetchone() == (1,)
    connection.close()


def test_run_that_cannot_be_read_does_not_stop_the_migration(path):
    older(path, 1, record(pair("a", "b", 2.0)), record(pair("a", "b", 3.0)))
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE runs SET record = X'00' WHERE number = 1")
    connection.close()
    with open_history(path) as history:
        assert [point.number for point in history.pair_over_time("slider", "a", "b")] == [2]
        with pytest.raises(InputError, match=r"run 1 in the history .* is damaged"):
            history.record(1)


def test_newer_history_is_refused_and_not_touched(path):
    put(path, record(pair("a", "b", 2.0)))
    connection = sqlite3.connect(path)
    connection.execute(f"PRAGMA user_version = {LATEST + 1}")
    connection.close()
    before = hashlib.sha256(path.read_bytes()).digest()
    told = f"newer version of this program \\(its format is {LATEST + 1}, this one knows up to {LATEST}\\)"
    with pytest.raises(InputError, match=told):
        open_history(path)
    assert hashlib.sha256(path.read_bytes()).digest() == before
    assert [one.name for one in path.parent.iterdir()] == [path.name]


def test_database_of_another_program_is_refused(path):
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE things (x)")
    connection.close()
    with pytest.raises(InputError, match="a database of another program"):
        open_history(path)
    with sqlite3.connect(path) as connection:
        connection.execute("DROP TABLE things")
        connection.execute("PRAGMA application_id = 7")
    connection.close()
    with pytest.raises(InputError, match="a database of another program"):
        open_history(path)


def test_file_that_is_no_database_is_refused_and_left(tmp_path):
    path = tmp_path / "slider.toml"
    path.write_text(slider())
    with pytest.raises(InputError, match=r"slider.toml is not a history; name another file with --history"):
        open_history(path)
    assert path.read_text() == slider()


def test_folder_in_the_way_is_told(tmp_path):
    with pytest.raises(OutputError, match="a folder is in the way"):
        open_history(tmp_path)
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match=r"cannot write the history .*file exists|Not a directory|File exists"):
        open_history(tmp_path / "file" / "history.sqlite3")


def test_history_is_written_ahead(path):
    put(path, record())
    connection = sqlite3.connect(path)
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    connection.close()


HOME = Path("/users/someone")


def test_history_path_is_the_one_that_is_named(tmp_path):
    assert history_path({"SWINGROOM_HISTORY": "here.sqlite3"}) == Path("here.sqlite3")
    assert history_path({}).name == "history.sqlite3"


def test_names_of_machines_may_hold_anything(path):
    odd = MachineEntry("Ä; DROP TABLE runs", "o'dd.toml", "e" * 64, {"o'dd.toml": "e" * 64, "a b.stl": "f" * 64})
    put(path, record(machine=odd), key="x'; --")
    with open_history(path) as history:
        assert history.entry(1).name == odd.name
        assert history.last("x'; --") == 1
        assert history.digests(1) == dict(odd.digests)
