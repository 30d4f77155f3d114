"""Files without drives or without stops: what the commands say of them, and with which exit status."""

import pytest
from small_machines import slider

from assembly.cli import ExitStatus, main


@pytest.fixture
def told(tmp_path, monkeypatch, capsys):
    """Writes a file, runs a command on it; its exit status and everything it said, on one line."""
    monkeypatch.chdir(tmp_path)

    def run(command, text):
        (tmp_path / "machine.toml").write_text(text, encoding="utf-8")
        status = main(command.split())
        said = capsys.readouterr()
        return status, " ".join((said.out + said.err).split())

    return run


@pytest.mark.parametrize("command", ["sweep", "stop", "pose", "helps", "inspect"])
def test_a_file_without_drives_is_wrong_input_for_every_command(told, command):
    """By the README's table 1 is a design that fails, 2 a file that must be mended."""
    text = slider()
    status, said = told(f"{command} machine.toml", text[: text.index("[drives.push]")])
    assert status == ExitStatus.INPUT
    assert "nothing sets how sledge (with lug) can move: this freedom has no drive" in said
    if command == "inspect":
        assert "Nothing is checked before this is mended; a sweep will check 2 pairs" in said


def test_stops_that_are_not_declared_have_no_proof_below(told):
    status, said = told("stop machine.toml --cores 1 --no-picture", slider())
    assert status != ExitStatus.CLEAR
    assert "(looked at in steps; nothing of it is proven)" in said
    assert "the proof is below" not in said
