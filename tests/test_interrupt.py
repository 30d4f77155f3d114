"""Ctrl-C: what is known by then is reported, nothing is half written, and no process is left."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from small_machines import slider, trammel

from assembly.cli import ExitStatus

ROOT = Path(__file__).resolve().parents[1]

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals of a terminal")


@pytest.fixture(autouse=True)
def empty_folder(tmp_path, monkeypatch):
    """Each test works in a folder of its own."""
    monkeypatch.chdir(tmp_path)


def interrupted_at(stage, *arguments):
    """The command run in a process group of its own that gets Ctrl-C when ``stage`` is reported."""
    code = f"""
import os, signal, sys
import assembly.report.text.terminal as terminal
from assembly.cli import main
told = terminal._StageLines.__call__
def interrupting(self, stage, done, total):
    told(self, stage, done, total)
    if stage == {stage!r}:
        os.killpg(0, signal.SIGINT)
terminal._StageLines.__call__ = interrupting
sys.exit(main({list(arguments)!r}))
"""
    search = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "start_new_session": True}
    with subprocess.Popen([sys.executable, "-c", code], env=search, text=True, **pipes) as run:
        told, said = run.communicate(timeout=120)
    return run, told, said


def test_interrupt_before_anything_is_known_ends_in_one_line():
    Path("slider.toml").write_text(slider(), encoding="utf-8")
    run, told, said = interrupted_at("assemble", "sweep", "slider.toml")
    assert run.returncode == ExitStatus.INTERRUPTED
    assert (told, said.splitlines()[-1]) == ("", "stopped by hand; no file is half written")
    assert not list(Path("results").rglob("*.json"))


def test_interrupt_of_a_sweep_tells_what_is_decided_and_leaves_no_process():
    Path("slow.toml").write_text(trammel() + "[clearance]\nrequired = 43\n", encoding="utf-8")
    run, told, said = interrupted_at("first look", "sweep", "slow.toml", "--cores", "2", "--no-picture")
    assert "The run ended early, stopped by hand" in told
    assert run.returncode == ExitStatus.UNDECIDED
    assert "Traceback" not in said
    assert json.loads(Path("results/slow/record.json").read_text())["work"]["stopped"] == "stopped by hand"
    with pytest.raises(ProcessLookupError):
        os.killpg(run.pid, 0)


def test_interrupt_of_a_page_tells_what_is_decided_and_makes_no_page():
    Path("slow.toml").write_text(trammel() + "[clearance]\nrequired = 43\n", encoding="utf-8")
    run, told, said = interrupted_at("first look", "page", "slow.toml", "--recompute", "--cores", "2")
    assert "UNDECIDED" in told
    assert said.splitlines()[-1] == "stopped by hand; no page was written"
    assert run.returncode == ExitStatus.UNDECIDED
    assert not list(Path("results").rglob("*.html"))
