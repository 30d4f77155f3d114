"""The examples under "Every night" in README do what they say: cron, systemd, a CI service."""

import configparser
import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from lxml import etree
from small_machines import slider
from test_scripts import load

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8").split("## Every night\n")[1].split("\n## ")[0]
EXAMPLES = re.findall(r"```(\w+)\n(.*?)```", README, re.DOTALL)

pytestmark = pytest.mark.skipif(os.name != "posix", reason="cron, systemd and sh")


def example(kind, word=""):
    (text,) = [text for found, text in EXAMPLES if found == kind and word in text]
    return text


QUICK = "--no-picture"
"""Pictures have their own tests."""


@pytest.fixture
def home(tmp_path):
    """A home with a machine that fails, and this repository in it with an environment that is ready."""
    (tmp_path / "machines").mkdir()
    (tmp_path / "machines" / "gate.toml").write_text(slider(required=3.0), encoding="utf-8")
    repository = tmp_path / "swingroom"
    shutil.copytree(ROOT / "scripts", repository / "scripts", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", repository)
    environment = load(repository, "environment")
    environment.COMMANDS.mkdir(parents=True)
    search = shlex.quote(os.pathsep.join([str(ROOT), *filter(None, sys.path)]))
    command = environment.COMMANDS / "swingroom"
    command.write_text(f'#!/bin/sh\nPYTHONPATH={search} exec {shlex.quote(sys.executable)} -m assembly "$@"\n')
    command.chmod(0o755)
    environment.STAMP.write_text(f'{{"digest": "{environment._digest()}", "installed": ["."]}}', encoding="utf-8")
    return tmp_path


def run(home, line):
    """A shell line with as little around it as cron gives it; the swingroom command and this Python can be found."""
    path = os.pathsep.join(
        [str(home / "swingroom/.swingroom/env/bin"), str(Path(sys.executable).parent), "/usr/bin:/bin"]
    )
    environment = {"HOME": str(home), "PATH": path, "SHELL": "/bin/sh"}
    return subprocess.run(
        ["/bin/sh", "-c", line], cwd=home, env=environment, capture_output=True, text=True, timeout=120
    )


def check_night(home, done):
    assert (done.returncode, done.stderr) == (1, ""), done.stdout
    assert re.search(r"^FAILS +\S*machines/gate\.toml: least margin −1\.00 mm", done.stdout, re.MULTILINE)
    (folder,) = (home / "nightly").glob("2*_1")
    assert (folder / "report.txt").read_text(encoding="utf-8") == done.stdout


def test_cron(home):
    (line,) = example("cron").splitlines()
    *times, command = line.split(None, 5)
    assert re.fullmatch(r"\d+ \d+ \* \* \*", " ".join(times))
    assert "%" not in command  # cron takes it for the end of the line
    check_night(home, run(home, f"{command} {QUICK}"))
    assert (home / ".local/share/swingroom/history.sqlite3").is_file()


def units():
    found = {}
    for kind in ("service", "timer"):
        text = example("ini", f"# swingroom.{kind}")
        found[kind] = configparser.ConfigParser(interpolation=None)
        found[kind].optionxform = str
        found[kind].read_string(text)
    return found


@pytest.mark.long
def test_systemd_units_say_what_to_run_and_when(home):
    found = units()
    assert found["service"]["Service"]["Type"] == "oneshot"
    assert found["timer"]["Timer"]["OnCalendar"] == "*-*-* 03:17"
    assert found["timer"]["Install"]["WantedBy"] == "timers.target"
    command = found["service"]["Service"]["ExecStart"].replace("%h", str(home))
    check_night(home, run(home, f"{command} {QUICK}"))


@pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="systemd is not installed")
def test_systemd_finds_nothing_wrong_with_the_units(home):
    for kind in ("service", "timer"):
        (home / f"swingroom.{kind}").write_text(example("ini", f"# swingroom.{kind}"), encoding="utf-8")
    files = [str(home / f"swingroom.{kind}") for kind in ("service", "timer")]
    done = subprocess.run(["systemd-analyze", "verify", *files], capture_output=True, text=True)
    if "Failed to" in done.stderr:
        pytest.skip(f"systemd does not answer here: {done.stderr.splitlines()[0]}")
    assert [line for line in done.stderr.splitlines() if "swingroom." in line] == []


def test_a_ci_service(home):
    line = example("sh", "--junit").strip()
    check_night(home, run(home, line))
    suites = etree.parse(home / "junit.xml").getroot()
    assert suites.get("failures") == "1"
    assert (home / "nightly/history.sqlite3").is_file()


def test_the_script_ends_with_the_status_of_the_night_and_says_what_is_wrong(home):
    done = run(home, "python3 swingroom/scripts/nightly.py")
    assert done.returncode == 2
    assert "Missing argument 'DIR...'" in done.stderr


@pytest.mark.long
def test_the_first_command_is_whole(home):
    (line,) = [text.strip() for kind, text in EXAMPLES if kind == "sh" and "--" not in text]
    check_night(home, run(home, f"{line} {QUICK}"))
