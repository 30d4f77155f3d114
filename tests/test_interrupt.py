"""Ctrl-C: what is known by then is reported, nothing is half written, and no process is left."""

import json
import os
import signal
import sys
from pathlib import Path

import pytest
from night_attack import ended
from small_machines import slider, trammel

from assembly.cli import ExitStatus, main
from assembly.report.text import terminal

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals of a terminal")


@pytest.fixture(autouse=True)
def empty_folder(tmp_path, monkeypatch):
    """Each test works in a folder of its own."""
    monkeypatch.chdir(tmp_path)


def interrupted_at(stage, *arguments):
    """The command run in a forked process, in a group of its own that gets Ctrl-C when ``stage`` is reported."""
    child = os.fork()
    if child == 0:
        become_the_command(stage, arguments)
    status = ended(child)
    return child, status, *(Path(name).read_text(encoding="utf-8") for name in ("told", "said"))


def become_the_command(stage, arguments):
    """Never returns."""
    status = 70
    try:
        os.setsid()
        signal.signal(signal.SIGINT, signal.default_int_handler)
        for number, name in ((1, "told"), (2, "said")):
            os.dup2(os.open(name, os.O_WRONLY | os.O_CREAT, 0o600), number)
        sys.stdout, sys.stderr = (open(k, "w", encoding="utf-8", closefd=False) for k in (1, 2))  # noqa: SIM115 - left open to the end
        tell = terminal._StageLines.__call__

        def interrupting(self, reached, done, total):
            tell(self, reached, done, total)
            if reached == stage:
                os.killpg(0, signal.SIGINT)

        terminal._StageLines.__call__ = interrupting
        status = int(main(list(arguments)))
        sys.stdout.flush()
        sys.stderr.flush()
    finally:
        os._exit(status)


def test_interrupt_before_anything_is_known_ends_in_one_line():
    Path("slider.toml").write_text(slider(), encoding="utf-8")
    _, status, told, said = interrupted_at("assemble", "sweep", "slider.toml")
    assert status == ExitStatus.INTERRUPTED
    assert (told, said.splitlines()[-1]) == ("", "stopped by hand; no file is half written")
    assert not list(Path("results").rglob("*.json"))


def test_interrupt_of_a_sweep_tells_what_is_decided_and_leaves_no_process():
    Path("slow.toml").write_text(trammel() + "[clearance]\nrequired = 43\n", encoding="utf-8")
    child, status, told, said = interrupted_at("first look", "sweep", "slow.toml", "--cores", "2", "--no-picture")
    assert "The run ended early, stopped by hand" in told
    assert status == ExitStatus.UNDECIDED
    assert "Traceback" not in said
    assert json.loads(Path("results/slow/record.json").read_text())["work"]["stopped"] == "stopped by hand"
    with pytest.raises(ProcessLookupError):
        os.killpg(child, 0)


def test_interrupt_of_a_page_tells_what_is_decided_and_makes_no_page():
    Path("slow.toml").write_text(trammel() + "[clearance]\nrequired = 43\n", encoding="utf-8")
    _, status, told, said = interrupted_at("first look", "page", "slow.toml", "--recompute", "--cores", "2")
    assert "UNDECIDED" in told
    assert said.splitlines()[-1] == "stopped by hand; no page was written"
    assert status == ExitStatus.UNDECIDED
    assert not list(Path("results").rglob("*.html"))
