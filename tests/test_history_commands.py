"""History and comparison as a builder types them."""

import json
import re
import subprocess
import time
from pathlib import Path

import pytest
from records import pair, record
from small_machines import slider

from assembly.api.kept_runs import git_commit, machine_key
from assembly.cli import ExitStatus, main
from assembly.errors import OutputError
from assembly.history import open_history
from assembly.history.runs import History
from assembly.record import save
from assembly.report.text.words import local_time

MADE = local_time("2026-03-01T02:00:00+00:00")
"""When hand-made records were made, as reports show it."""
QUICK = ("--cores", "1", "--no-picture", "--within", "1")
PLAIN = "[dimensions]\nbar = 5\n"


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """An empty folder with a machine in it, and a history of its own that is not there yet."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SWINGROOM_HISTORY", str(tmp_path / "data" / "history.sqlite3"))
    Path("slider.toml").write_text(slider(extra=PLAIN))
    return tmp_path


def put(*records_, file="slider.toml", path="data/history.sqlite3"):
    with open_history(Path(path)) as history:
        return [history.save(one, seconds=1.0, commit="c0ffee", key=machine_key(Path(file))) for one in records_]


def test_times_are_shown_as_the_clock_here_stood_with_its_offset(monkeypatch):
    """Closed form: two hours east of Greenwich 02:00 UTC is 04:00; what is no time is shown as it is."""
    with monkeypatch.context() as zone:
        zone.setenv("TZ", "XYZ-2")
        time.tzset()
        assert local_time("2026-03-01T02:00:00+00:00") == "2026-03-01 04:00:00+02:00"
        assert local_time("long ago") == "long ago"
    time.tzset()


def squeezed(text):
    return re.sub(r"\s+", " ", text)


def test_sweep_keeps_a_run_only_where_it_is_asked_to(shop, capsys):
    assert main(["sweep", "slider.toml", *QUICK]) == ExitStatus.CLEAR
    assert not Path("data").exists()
    assert main(["sweep", "slider.toml", "--keep", *QUICK]) == ExitStatus.CLEAR
    assert f"kept as run 1 in {shop / 'data' / 'history.sqlite3'}\n" in capsys.readouterr().out
    assert main(["sweep", "slider.toml", "--history", "other.sqlite3", "--json", *QUICK]) == ExitStatus.CLEAR
    told = capsys.readouterr()
    assert "kept as run 1 in other.sqlite3\n" in told.err
    with open_history(Path("other.sqlite3")) as history:
        (run,) = history.runs(str(shop / "slider.toml"))
        assert json.loads(told.out)["made"] == history.record(1).made == run.made
    assert run.seconds > 0


def test_history_is_tried_before_the_sweep(shop, capsys, monkeypatch):
    def never(*_arguments):
        raise AssertionError("swept though nothing can be kept")

    monkeypatch.setattr("assembly.commands.common.sweep_aloud", never)
    assert main(["sweep", "slider.toml", "--history", "slider.toml"]) == ExitStatus.INPUT
    assert "slider.toml is not a history" in capsys.readouterr().err


def test_history_that_fills_up_during_the_sweep_loses_no_number(shop, capsys, monkeypatch):
    def full(self, *_arguments, **_options):
        raise OutputError(f"cannot write to the history {self.path}: the disk is full")

    monkeypatch.setattr(History, "save", full)
    assert main(["sweep", "slider.toml", "--keep", *QUICK]) == ExitStatus.INPUT
    told = capsys.readouterr()
    assert "CLEAR: all 2 pairs" in told.out
    assert "the disk is full" in told.err.splitlines()[-1]
    assert Path("results/slider/record.json").exists()


def test_list_names_runs_newest_first(shop, capsys):
    put(record(pair("a", "b", 2.0)), record(pair("a", "b", -1.0)))
    put(record(pair("a", "b", 2.5)), file="other.toml")
    assert main(["history", "slider.toml"]) == ExitStatus.CLEAR
    told = squeezed(capsys.readouterr().out)
    assert "2 runs of slider.toml, the newest first" in told
    assert f" 2 {MADE} FAILS −2.00 1.0 c0ffee slider.toml dddddddddd machine: Slider 1 2026" in told
    assert main(["history"]) == ExitStatus.CLEAR
    assert "3 runs of every machine" in capsys.readouterr().out
    assert main(["history", "third.toml"]) == ExitStatus.CLEAR
    assert "No run of third.toml was kept yet; `swingroom sweep FILE --keep` keeps one." in capsys.readouterr().out
    assert main(["history", "slider.toml", "--json"]) == ExitStatus.CLEAR
    assert [run["number"] for run in json.loads(capsys.readouterr().out)] == [2, 1]


def test_one_run_reads_as_its_report(shop, capsys):
    put(record(pair("a", "b", -1.5)))
    assert main(["history", "--run", "1"]) == ExitStatus.CLEAR
    told = "FAILS: a (a shape) strikes b (b shape) at push +3 mm: 2.50 to 2.60 mm of clearance is missing"
    assert told in capsys.readouterr().out
    assert main(["history", "--run", "1", "--json"]) == ExitStatus.CLEAR
    assert json.loads(capsys.readouterr().out)["verdict"] == "fails"


def test_one_pair_over_time_reads_as_a_table(shop, capsys):
    put(record(pair("a", "b", 2.0, 1.9)), record(pair("a", "b", -1.5)))
    assert main(["history", "slider.toml", "--pair", "b", "a"]) == ExitStatus.CLEAR
    told = squeezed(capsys.readouterr().out)
    assert "b – a in 2 runs, the newest first" in told
    assert f"FAILS 1.50 to 1.60 deep – 1 c0ffee at: push +3 mm 1 {MADE} CLEAR 2.00 1.90 1 c0ffee at: push +3 mm" in told
    assert main(["history", "slider.toml", "--pair", "a", "b", "--json"]) == ExitStatus.CLEAR
    assert [point["depth_mm"] for point in json.loads(capsys.readouterr().out)] == [1.5, None]


BAD = [
    (["history"], "there is no history at"),
    (["history", "--run", "0"], "0 is not in the range"),
    (["history", "--run", "1", "--pair", "a", "b"], "asked for at once"),
    (["history", "--pair", "a", "b"], "--pair needs a FILE"),
    (["compare", "slider.toml"], "there is no history at"),
    (["compare", "1", "2"], "there is no history at"),
    (["compare", "1", "2", "3"], "3 runs are given; give two"),
    (["compare", "record.json"], "does not say which machine's last good run is meant"),
    (["compare", "nope.json", "1"], "the record cannot be read: No such file"),
    (["compare", "nope.toml"], "nope.toml: there is no such file"),
    (["compare", "1", "2", "--allow-loss", "-1"], "-1 is not a number, 0 or more"),
    (["compare", "1", "2", "--allow-loss", "nan"], "nan is not a number, 0 or more"),
    (["compare"], "Missing argument"),
]


@pytest.mark.parametrize(("arguments", "told"), BAD, ids=[" ".join(arguments) for arguments, _ in BAD])
def test_bad_input_is_one_line_and_begins_no_history(shop, capsys, arguments, told):
    assert main(arguments) == ExitStatus.INPUT
    said = capsys.readouterr()
    assert (said.out, len(said.err.splitlines())) == ("", 1)
    assert told in said.err
    assert not Path("data").exists()


@pytest.mark.parametrize(
    ("least", "status"),
    [(2.0, ExitStatus.CLEAR), (1.8, ExitStatus.CLEAR), (1.4, ExitStatus.FAILS), (-1.0, ExitStatus.FAILS)],
)
def test_worse_sets_the_exit_status(shop, least, status):
    put(record(pair("a", "b", 2.0)), record(pair("a", "b", least)))
    assert main(["compare", "1", "2"]) == status


def test_allowed_loss_is_stated(shop):
    put(record(pair("a", "b", 4.0)), record(pair("a", "b", 3.0)))
    assert main(["compare", "1", "2", "--allow-loss", "1.5"]) == ExitStatus.CLEAR
    assert main(["compare", "1", "2", "--allow-loss", "0.9"]) == ExitStatus.FAILS


def test_what_is_not_decided_any_more_is_status_3(shop):
    put(record(pair("a", "b", 2.0)), record(pair("a", "b", 2.0, 0.1, verdict="undecided")))
    assert main(["compare", "1", "2"]) == ExitStatus.UNDECIDED


def test_one_run_is_compared_with_the_last_good_one_before_it(shop, capsys):
    put(*(record(pair("a", "b", least)) for least in (3.0, -1.0, -2.0)), record(pair("a", "b", 5.0)))
    assert main(["compare", "3"]) == ExitStatus.FAILS
    told = capsys.readouterr().out
    assert f"run 1 ({MADE}) against run 3" in told
    assert "a (a shape) – b (b shape): 3.00 mm of clearance, now struck 2.00 to 2.10 mm deep at push +3 mm" in told
    assert main(["compare", "1"]) == ExitStatus.INPUT
    told = capsys.readouterr().err
    assert "slider.toml before run 1 was clear; keep one with `swingroom sweep FILE --keep`, or name one" in told


def test_file_as_it_is_now_is_compared_with_its_last_good_run(shop, capsys):
    main(["sweep", "slider.toml", "--keep", *QUICK])
    edited = slider(required=1.5, high=8.25, extra=PLAIN.replace("5", "6"))
    Path("slider.toml").write_text(edited)
    assert main(["compare", "slider.toml", "--cores", "1"]) == ExitStatus.CLEAR
    told = squeezed(capsys.readouterr().out)
    assert "NOT WORSE: nothing fails that did not" in told
    assert "2.00 mm of clearance, now 1.75 mm of clearance at push +8.25 mm (0.25 mm less)" in told
    assert "dimension bar: 5 → 6 range of push: −5 to +8 mm → −5 to +8.25 mm 2 pairs must keep 1.5 mm" in told
    with open_history(Path("data/history.sqlite3")) as history:
        assert len(history.runs()) == 1, "a comparison keeps nothing"


def test_records_on_disk_and_files_can_be_compared_without_a_history(shop, capsys):
    save(record(pair("base", "sledge", 6.0)), Path("before.json"))
    save(record(pair("base", "sledge", 2.0)), Path("now.json"))
    assert main(["compare", "before.json", "now.json"]) == ExitStatus.FAILS
    assert f"before.json ({MADE}) against now.json" in capsys.readouterr().out
    assert main(["compare", "now.json", "slider.toml", "--cores", "1", "--json"]) == ExitStatus.CLEAR
    found = json.loads(capsys.readouterr().out)
    assert (found["now"]["told"], found["worse"]) == ("slider.toml as it is", False)
    assert not Path("data").exists()


def test_damaged_history_is_told_and_the_run_is_kept_in_a_new_one(shop, capsys):
    put(record())
    Path("data/history.sqlite3").write_bytes(b"\x00" * 5000)
    assert main(["sweep", "slider.toml", "--keep", *QUICK]) == ExitStatus.CLEAR
    told = capsys.readouterr()
    assert "is damaged: it is kept as history.damaged-1.sqlite3, and a new one is begun" in told.err
    assert "kept as run 1 in" in told.out


def git(folder, *arguments):
    who = ("-c", "user.name=n", "-c", "user.email=n@example.com")
    return subprocess.run(["git", "-C", str(folder), *who, *arguments], check=True, capture_output=True, text=True)


def test_commit_is_the_one_checked_out_round_the_file(tmp_path):
    try:
        git(tmp_path, "init", "-q")
    except FileNotFoundError:
        pytest.skip("git is not installed")
    assert git_commit(tmp_path) is None, "nothing was committed yet"
    git(tmp_path, "commit", "-q", "--allow-empty", "-m", "first")
    commit = git(tmp_path, "rev-parse", "HEAD").stdout.strip()
    (tmp_path / "below").mkdir()
    assert git_commit(tmp_path / "below") == commit


def test_commit_is_unknown_outside_a_repository_without_git_and_where_git_hangs(tmp_path, monkeypatch):
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))
    assert git_commit(tmp_path) is None
    monkeypatch.setenv("PATH", str(tmp_path))
    assert git_commit(tmp_path) is None
    (tmp_path / "git").write_text("#!/bin/sh\nexec sleep 60\n")
    (tmp_path / "git").chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin:/usr/bin")
    monkeypatch.setattr("assembly.api.kept_runs.GIT_WAIT_S", 0.2)
    assert git_commit(tmp_path) is None
