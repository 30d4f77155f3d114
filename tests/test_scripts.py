"""The repository's own commands, with the environment and the checks played by stand-ins."""

import importlib.util
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPTS = Path(__file__).resolve().parent.parent / "scripts"


class Runs:
    """Stands in for subprocess.run: notes each command and lets those that hold a given word fail."""

    def __init__(self):
        self.commands = []
        self.failing = {}
        self.options = {}
        self.writes = {}

    def __call__(self, command, **options):
        self.commands.append(" ".join(command))
        self.options = options
        if "venv" in command:
            Path(command[-1]).mkdir(parents=True)
        if "sweep" in command:
            for path, text in self.writes.items():
                path.write_text(text, encoding="utf-8")
        said = next((said for word, said in self.failing.items() if word in command), None)
        if said and hasattr(options.get("stdout"), "write"):
            options["stdout"].write(said)
        shown = said if said and options.get("stderr") == subprocess.STDOUT else ""
        return subprocess.CompletedProcess(command, 1 if said else 0, stdout=shown, stderr=said or "")

    def count(self, word):
        return sum(word in command.split() for command in self.commands)


@pytest.fixture
def repository(tmp_path, monkeypatch):
    shutil.copytree(SCRIPTS, tmp_path / "scripts", ignore=shutil.ignore_patterns("__pycache__"))
    (tmp_path / "pyproject.toml").write_text("first", encoding="utf-8")
    monkeypatch.setitem(sys.modules, "environment", load(tmp_path, "environment"))
    return tmp_path


@pytest.fixture
def runs(monkeypatch):
    stand_in = Runs()
    monkeypatch.setattr(subprocess, "run", stand_in)
    return stand_in


def load(repository, name):
    spec = importlib.util.spec_from_file_location(f"script_{name}", repository / "scripts" / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def refusal(capsys, requirement="."):
    """The one line with which the environment is refused."""
    with pytest.raises(SystemExit) as end:
        sys.modules["environment"].prepare(requirement)
    assert end.value.code == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    return said


def test_the_environment_is_made_once(repository, runs):
    for _ in range(2):
        sys.modules["environment"].prepare(".")
    assert (runs.count("venv"), runs.count("pip")) == (1, 1)


def test_the_environment_of_the_tests_serves_the_demo(repository, runs):
    sys.modules["environment"].prepare(".[dev]")
    sys.modules["environment"].prepare(".")
    assert (runs.count("venv"), runs.count("pip")) == (1, 1)


def test_the_environment_of_the_demo_is_completed_for_the_tests(repository, runs):
    for requirement in (".", ".[dev]", ".", ".[dev]"):
        sys.modules["environment"].prepare(requirement)
    assert (runs.count("venv"), runs.count("."), runs.count(".[dev]")) == (1, 1, 1)


def test_a_changed_project_file_makes_the_environment_anew(repository, runs):
    sys.modules["environment"].prepare(".")
    left_over = repository / ".swingroom" / "env" / "left_over"
    left_over.touch()
    (repository / "pyproject.toml").write_text("second", encoding="utf-8")
    sys.modules["environment"].prepare(".")
    assert runs.count("venv") == 2
    assert not left_over.exists()


def test_an_environment_that_runs_the_script_is_made_anew_by_the_python_that_it_was_made_from(
    repository, runs, monkeypatch
):
    """The one in it was gone before it could make the next, and no environment was left."""
    monkeypatch.setattr(sys, "executable", str(repository / ".swingroom" / "env" / "bin" / "python3"))
    sys.modules["environment"].prepare(".")
    (making,) = (command.split()[0] for command in runs.commands if "venv" in command.split())
    assert Path(making).is_file()
    assert making.startswith(sys.base_prefix)


def test_an_unreadable_stamp_makes_the_environment_anew(repository, runs):
    sys.modules["environment"].prepare(".")
    (repository / ".swingroom" / "env" / "made_from.json").write_text("{", encoding="utf-8")
    sys.modules["environment"].prepare(".")
    assert runs.count("venv") == 2


def test_an_old_python_is_told_so(repository, runs, monkeypatch, capsys):
    monkeypatch.setattr(sys, "version_info", (3, 10, 9, "final", 0))
    said = refusal(capsys)
    assert "Python 3.11 or newer is needed" in said
    assert "3.10.9" in said


@pytest.mark.parametrize("missing", ["venv", "ensurepip"])
def test_missing_venv_names_the_package_to_install(repository, runs, monkeypatch, capsys, missing):
    found = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None if name == missing else found(name))
    assert "apt-get install python3-venv" in refusal(capsys)


def test_failing_pip_is_told_with_its_reason_and_tried_again(repository, runs, capsys):
    runs.failing["pip"] = "  ERROR: No matching distribution found for x\nerror: subprocess failed\nnote: see above\n"
    said = refusal(capsys, ".[dev]")
    assert "ERROR: No matching distribution found for x" in said
    assert ".swingroom/pip.log" in said
    runs.failing.clear()
    sys.modules["environment"].prepare(".[dev]")
    assert runs.count("pip") == 2


def test_failing_venv_is_told_with_its_reason(repository, runs, capsys):
    runs.failing["venv"] = "Error: no space\n"
    assert "Error: no space" in refusal(capsys)


def test_a_folder_that_cannot_be_written_is_told(repository, runs, capsys):
    (repository / ".swingroom").write_text("in the way", encoding="utf-8")
    assert "cannot be written" in refusal(capsys)


def test_every_check_runs_after_one_has_failed(repository, runs, capsys):
    script = load(repository, "test")
    runs.failing["check"] = "a fault"
    assert script.main(["-k", "some thing"]) == 1
    ran = sorted(command.split(" -m ", 1)[1] for command in runs.commands[2:])  # some run beside others
    assert [command.split()[0] for command in ran] == ["mypy", "pytest", "ruff", "ruff"]
    assert ran[1] == "pytest -n auto --dist worksteal -m not long -k some thing"
    summary = capsys.readouterr().out.split("── summary\n")[1].splitlines()
    assert [line.split("  ")[0] for line in summary] == ["ruff check", "ruff format", "mypy", "pytest"]
    assert ["failed" in line for line in summary] == [True, False, False, False]


def test_what_checks_beside_the_tests_say_is_shown(repository, runs, capsys):
    runs.failing["mypy"] = "a wrong type\n"
    assert load(repository, "test").main([]) == 1
    assert "── mypy\na wrong type\n" in capsys.readouterr().out


def test_compiled_modules_are_kept(repository, runs, monkeypatch):
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    monkeypatch.setenv("SWINGROOM_EVERY_TEST", "1")
    load(repository, "test").main([])
    assert "PYTHONDONTWRITEBYTECODE" not in runs.options["env"]
    assert runs.options["env"]["SWINGROOM_EVERY_TEST"] == "1"


@pytest.mark.parametrize(("asked", "chosen"), [([], "not long"), (["--fast"], "not slow and not long")])
def test_all_checks_passed_is_status_0(repository, runs, asked, chosen):
    assert load(repository, "test").main(asked) == 0
    (ran,) = (command for command in runs.commands if " pytest " in command)
    assert ran.endswith(f" -m pytest -n auto --dist worksteal -m {chosen}")


def test_what_the_suite_leaves_out_is_tried_in_ci(repository, runs):
    """Alone, for the other checks ran before."""
    assert load(repository, "test").main(["--long"]) == 0
    assert [command.split(" -m ", 1)[1] for command in runs.commands[2:]] == ["pytest -n auto --dist worksteal -m long"]
    script = (Path(__file__).resolve().parent.parent / ".ci" / "run").read_text(encoding="utf-8")
    assert 'SWINGROOM_EVERY_TEST=1 "$python" scripts/test.py --long' in script


def test_the_demo_names_new_results_only_and_keeps_the_status(repository, runs, capsys):
    script = load(repository, "demo")
    results = repository / "results" / "parcel_trike"
    results.mkdir(parents=True)
    (results / "old.png").touch()
    runs.writes = {results / "record.json": json.dumps({}), results / "worst.png": "", results / "notes.txt": ""}
    runs.failing["sweep"] = "the design fails"
    assert script.main() == 1
    named = [line.split() for line in capsys.readouterr().out.splitlines() if line.startswith(("record", "picture"))]
    assert named == [
        ["record", "results/parcel_trike/record.json"],
        ["picture", "results/parcel_trike/worst.png"],
    ]


def test_a_demo_without_results_says_so(repository, runs, capsys):
    assert load(repository, "demo").main() == 0
    assert "nothing was written" in capsys.readouterr().err
