"""``swingroom new``: machines to start from."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

import assembly
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.cli import commands, main
from assembly.commands.common import ExitStatus
from assembly.commands.new import KINDS
from assembly.model.reader import read_machine
from assembly.studies.sweep.check import check


@pytest.fixture
def shop(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_new_writes_a_machine_that_is_clear(shop, capsys):
    assert main(["new", "gate"]) == ExitStatus.CLEAR
    assert "wrote gate/gate.toml\nnow: swingroom sweep gate/gate.toml\n" in capsys.readouterr().out
    machine = read_machine(Path("gate/gate.toml"))
    assert 4 <= len(machine.parts) <= 6
    assert machine.findings == ()
    found = check(machine, Effort(decide_only=True), lambda *_: None).found
    assert {pair.result.verdict for pair in found} == {"clear"}


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "arm_and_crank"])
def test_every_kind_of_machine_to_start_from_is_short_clear_and_finds_nothing_odd(shop, capsys, kind):
    assert main(["new", "gate", "--kind", kind]) == ExitStatus.CLEAR
    machine = read_machine(Path("gate/gate.toml"))
    text = Path("gate/gate.toml").read_text()
    assert text.count("\n") < 120
    assert "swingroom sweep gate.toml" in text
    assert machine.findings == ()
    found = check(machine, Effort(decide_only=True), lambda *_: None).found
    assert {pair.result.verdict for pair in found} == {"clear"}


def test_the_kinds_of_machines_to_start_from_are_listed_and_an_unknown_one_is_refused(shop, capsys):
    assert main(["new", "--list"]) == ExitStatus.CLEAR
    assert [line.split()[0] for line in capsys.readouterr().out.splitlines()] == list(KINDS)
    starters = {path.stem for path in (Path(assembly.__file__).parent / "starter").glob("*.toml")}
    assert starters == set(KINDS)
    assert main(["new", "gate", "--kind", "boat"]) == ExitStatus.INPUT
    assert not Path("gate").exists()


def test_edit_that_the_starter_teaches_moves_the_machine(shop):
    main(["new", "gate"])
    text = Path("gate/gate.toml").read_text()
    edited = re.sub(r"^# (set_length = )", r"\1", text, flags=re.MULTILINE)
    assert edited != text
    Path("gate/gate.toml").write_text(edited)
    run = CliRunner().invoke(commands, ["inspect", "gate/gate.toml", "--all"], standalone_mode=False)
    assert run.return_value == ExitStatus.CLEAR
    assert "an edited length moved arm: " in run.output


def test_new_never_overwrites(shop, capsys):
    Path("gate").mkdir()
    Path("gate/gate.toml").write_text("mine")
    assert main(["new", "gate"]) == ExitStatus.INPUT
    assert "gate/gate.toml is already there" in capsys.readouterr().err
    assert Path("gate/gate.toml").read_text() == "mine"


def test_new_names_its_own_file_in_the_comments(shop):
    main(["new", "front end"])
    text = Path("front end/front end.toml").read_text()
    assert "swingroom sweep 'front end.toml'" in text
    assert "machine.toml" not in text
