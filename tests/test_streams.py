"""Outputs that cannot be written, errors that nobody foresaw: one line, whole files, a status that is no verdict."""

import json
import os
import pwd
import subprocess
import sys
from pathlib import Path

import pytest
from small_machines import slider

from assembly.api.cores import all_cores
from assembly.cli import ExitStatus, main

ROOT = Path(__file__).resolve().parent.parent
SWEEP = ("sweep", "slider.toml", "--cores", "1", "--no-picture")
LOST = "cannot write to standard {}; what was found could not be told there; files that were written are whole\n"

pytestmark = pytest.mark.skipif(os.name != "posix", reason="descriptors and devices as POSIX has them")


@pytest.fixture(autouse=True)
def shop(tmp_path, monkeypatch):
    """A folder to work in, with a machine that is clear and one that fails."""
    monkeypatch.chdir(tmp_path)
    Path("slider.toml").write_text(slider(), encoding="utf-8")
    return tmp_path


def run(redirected, *arguments):
    """The command under a shell that redirects its streams as ``redirected`` says."""
    words = [sys.executable, "-m", "assembly", *arguments]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}
    shell = ["sh", "-c", f'exec "$@" {redirected}', "sh", *words]
    return subprocess.run(shell, capture_output=True, text=True, env=environment, timeout=120)


@pytest.fixture
def full():
    """A stream onto a disk that is full."""
    return Path("/dev/full").open("w", encoding="utf-8")  # it is closed with what it could not write


def written():
    return json.loads(Path("results/slider/record.json").read_text(encoding="utf-8"))


def test_report_that_cannot_be_written_is_no_verdict_and_the_record_is_whole(monkeypatch, capsys, full):
    monkeypatch.setattr(sys, "stdout", full)
    assert main(SWEEP) == ExitStatus.BROKEN
    assert capsys.readouterr().err.endswith(LOST.format("output: No space left on device"))
    assert written()["verdict"] == "clear"
    assert sys.stdout is full


@pytest.mark.parametrize("closed", [False, True])
def test_notes_that_cannot_be_written_are_told_on_the_other_stream(monkeypatch, capsys, full, closed):
    monkeypatch.setattr(sys, "stderr", None if closed else full)
    assert main(SWEEP) == ExitStatus.BROKEN
    told = capsys.readouterr().out
    assert "CLEAR: all 2 pairs" in told
    assert told.endswith(LOST.format("error: it is closed" if closed else "error: No space left on device"))


def test_record_on_stdout_stays_json_where_the_notes_cannot_be_written(monkeypatch, capsys, full):
    monkeypatch.setattr(sys, "stderr", full)
    assert main([*SWEEP, "--json"]) == ExitStatus.BROKEN
    assert json.loads(capsys.readouterr().out)["verdict"] == "clear"


def test_nothing_can_be_told_and_no_file_is_spoilt_where_all_streams_are_closed():
    found = run("<&- >&- 2>&-", *SWEEP)
    assert (found.returncode, found.stdout, found.stderr) == (ExitStatus.BROKEN, "", "")
    assert written()["verdict"] == "clear"


def test_command_that_is_started_without_stdout_says_so():
    found = run(">&-", "new", "gate")
    assert (found.returncode, found.stderr) == (ExitStatus.BROKEN, LOST.format("output: it is closed"))
    assert Path("gate/gate.toml").exists()


def test_help_that_cannot_be_written_ends_in_one_line():
    found = run(">/dev/full", "--help")
    assert (found.returncode, found.stderr) == (ExitStatus.BROKEN, LOST.format("output: No space left on device"))


def breaking(error):
    def results_folder(*_arguments):
        raise error

    return results_folder


@pytest.mark.parametrize(
    ("error", "status", "told"),
    [
        (RuntimeError("one\ntwo"), ExitStatus.BROKEN, "nothing about the machine: RuntimeError: one two (assembly/"),
        (RecursionError(), ExitStatus.BROKEN, "report it with this line and the files that it is about"),
        (MemoryError(), ExitStatus.BROKEN, "there is not enough memory"),
        (OSError(5, "Input/output error", "disk"), ExitStatus.BROKEN, "disk: Input/output error"),
        (OSError(40, "Too many levels of symbolic links", "loop"), ExitStatus.INPUT, "loop: Too many levels"),
    ],
)
def test_what_nobody_foresaw_is_one_line_and_no_verdict(monkeypatch, capsys, error, status, told):
    monkeypatch.setattr("assembly.commands.common.results_folder", breaking(error))
    assert main(SWEEP) == status
    said = capsys.readouterr()
    assert (said.out, len(said.err.splitlines())) == ("", 1)
    assert told in said.err


def test_traceback_is_shown_to_whoever_asks_for_it(monkeypatch, capsys):
    monkeypatch.setenv("SWINGROOM_TRACEBACK", "1")
    monkeypatch.setattr("assembly.commands.common.results_folder", breaking(RuntimeError("odd")))
    main(SWEEP)
    assert "Traceback" in capsys.readouterr().err


ENDLESS = "9" * 5000
BEYOND = [
    (("history", "--run", "9" * 30), "there is no run 999"),
    (("compare", "9" * 30, "1"), "there is no run 999"),
    (("compare", ENDLESS, "1"), "there is no run 999"),
    (("compare", "²", "1"), "²: there is no such file"),
    (("new", "n" * 300), "File name too long"),
    (("picture", "slider.toml", "--out", "n" * 300 + ".png"), "File name too long"),
    (("history", "--run", ENDLESS), "is not a whole number"),
]


@pytest.mark.parametrize(("arguments", "told"), BEYOND, ids=[" ".join(words)[:20] for words, _ in BEYOND])
def test_numbers_and_names_beyond_reason_are_refused_in_one_line(capsys, arguments, told):
    assert main([*SWEEP, "--history", "runs.sqlite3"]) == ExitStatus.CLEAR
    capsys.readouterr()
    own = ["--history", "runs.sqlite3"] if arguments[0] in {"history", "compare"} else []
    assert main([*arguments, *own]) == ExitStatus.INPUT
    said = capsys.readouterr()
    assert (said.out, len(said.err.splitlines())) == ("", 1)
    assert told in said.err


def test_no_more_processes_than_cores_are_used():
    assert main([*SWEEP[:3], "99999999999", "--no-picture"]) == ExitStatus.CLEAR
    used = json.loads(Path("results/slider/record.json").read_text(encoding="utf-8"))["work"]["cores"]
    assert used == all_cores()


@pytest.mark.parametrize("arguments", [("new", "x"), ("history", "slider.toml")])
def test_working_folder_that_is_gone_is_told(shop, capsys, arguments):
    Path("gone").mkdir()
    os.chdir("gone")
    (shop / "gone").rmdir()
    (shop / "runs.sqlite3").touch()
    own = ("--history", str(shop / "runs.sqlite3")) if arguments[0] == "history" else ()
    assert main([*arguments, *own]) == ExitStatus.INPUT
    assert "the folder that this was started in is gone" in capsys.readouterr().err


@pytest.mark.parametrize("memory", ["off", None])
def test_user_without_a_home_and_an_entry_can_sweep(monkeypatch, capsys, memory):
    def no_entry(_number):
        raise KeyError("getpwuid(): uid not found")

    monkeypatch.setattr(pwd, "getpwuid", no_entry)
    for name in ("HOME", "XDG_CACHE_HOME", "XDG_DATA_HOME", "SWINGROOM_MEMORY"):
        monkeypatch.delenv(name, raising=False)
    if memory:
        monkeypatch.setenv("SWINGROOM_MEMORY", memory)
    assert main(SWEEP) == ExitStatus.CLEAR
    assert main(["history"]) == ExitStatus.INPUT
    assert "this user has no home folder to keep anything in" in capsys.readouterr().err
