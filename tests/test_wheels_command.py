"""``swingroom wheels`` as the builder calls it: its words, its statuses and its JSON."""

import json

import pytest
from wheel_machines import parallelogram_text

from assembly.cli import main


@pytest.fixture
def told(tmp_path, capsys):
    """The command on a parallelogram front with more ``text``: its status and what it prints."""

    def run(*arguments, text=""):
        file = tmp_path / "front.toml"
        file.write_text(f"format = 1\nname = 'Front'\n{parallelogram_text()}{text}", encoding="utf-8")
        status = main(["wheels", str(file), *arguments])
        return status, capsys.readouterr().out

    return run


def test_the_lean_of_a_protractor_stands_beside_the_drives_own_angle(told):
    """Closed form: beams as long as each other lean the frame as far as they turn."""
    status, out = told()
    assert status == 0
    assert "Measured: 3 wheels at 5 settings; no figure has a limit, so nothing is judged" in out
    assert "tilt +25°: 25.00°, its right side higher; the drive's own angle is 25.00°" in out
    assert "total toe 0.00° = 0.00 mm across 400 mm; track 400.0 mm, wheelbase 1000.0 mm" in out


def test_a_limit_that_is_passed_fails_with_its_setting(told):
    status, out = told(text="[road]\nlimits = { lean = [-24, 30] }\n")
    assert status == 1
    assert "FAILS: lean is −25.00° at tilt +25°, 1.00° less than the −24° that it may be" in out


def test_the_record_holds_what_was_measured(told):
    """Closed form: camber is the lean itself."""
    status, out = told("--json", "--grid", "3")
    record = json.loads(out)
    assert (status, record["kind"], record["leans"]) == (0, "wheels", "tilt")
    assert [at["tilt"] for at in record["track"]["at"]] == [-25, 0, 25]
    assert record["track"]["values"]["wheel_left camber"] == pytest.approx([-25, 0, 25], abs=1e-6)


def test_a_drive_that_there_is_not(told):
    assert told("--down", "tlit")[0] == 2
