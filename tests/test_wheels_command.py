"""``swingroom wheels`` as the builder calls it: its words, its statuses and its JSON."""

import json
from dataclasses import replace

import pytest
from wheel_machines import parallelogram_text, read

import assembly
from assembly.cli import main
from assembly.history import compare
from assembly.record import json_text, record_of
from assembly.report.page.table_rows import measure_table
from assembly.report.text.layout import Heading, Line, Table
from assembly.report.text.wheels_text import swept_wheels_blocks


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
    answer = (
        "NOT JUDGED, no figure has a limit: total toe 0.00° (0.00 mm) where it is set; the frame leans 25.00° at tilt"
    )
    assert " ".join(out.split()).startswith(answer)
    assert out.split("\n\n")[-1].startswith("NOT JUDGED")
    assert "write into its [wheels.NAME], say: limits = { camber = [-25, 25] }" in " ".join(out.split())
    assert "tilt +25°: 25.00°, its right side higher; the drive's own angle is 25.00°" in out
    assert "total toe 0.00° = 0.00 mm across 400 mm; track 400.0 mm, wheelbase 1000.0 mm" in out


def test_a_limit_that_is_passed_fails_with_its_setting(told):
    status, out = told(text="[road]\nlimits = { lean = [-24, 30] }\n")
    assert status == 1
    assert "FAILS: lean is −25.00° at tilt +25°, 1.00° less than the −24° that it may be" in out
    assert "turns of the tie rods for another toe: `swingroom rods FILE --toe MM`" in " ".join(out.split())


def test_the_record_holds_what_was_measured(told):
    """Closed form: camber is the lean itself."""
    status, out = told("--json", "--grid", "3")
    record = json.loads(out)
    assert (status, record["kind"], record["tables"]["leans"]) == (0, "wheels", "tilt")
    assert [at["tilt"] for at in record["tables"]["track"]["at"]] == [-25, 0, 25]
    assert record["tables"]["track"]["values"]["wheel_left camber"] == pytest.approx([-25, 0, 25], abs=1e-6)


def test_figures_go_into_a_table_and_a_picture(told, tmp_path):
    status, out = told("--csv", "--grid", "3", "--out", str(tmp_path / "out"))
    rows = (tmp_path / "out" / "wheels.csv").read_text(encoding="utf-8-sig").splitlines()
    assert status == 0
    assert rows[0].startswith("tilt (deg),lean (deg),pitch (deg),wheel_left and wheel_right total toe (deg)")
    assert [round(float(row.split(",")[1]), 6) for row in rows[1:]] == [25, 0, -25]
    assert (tmp_path / "out" / "wheels.png").stat().st_size > 10_000
    assert "wheels.png" in out


def test_a_drive_that_there_is_not(told):
    assert told("--down", "tlit")[0] == 2


@pytest.fixture(scope="module")
def swept():
    """The record of a sweep of the same front, whose lean may be 30 degrees."""
    machine = read(parallelogram_text() + "[road]\nlimits = { lean = [-30, 30] }\n")
    return assembly.sweep(machine, effort=assembly.Effort(cores=1), cached=False).record


def test_a_sweep_brackets_every_figure_and_closes_in_on_those_with_limits(swept):
    """Closed form: lean and camber go from -25 to 25 degrees; found and proven hold that between them."""
    found = {one.name: one for one in swept.measures}
    for name, open_by in (("lean", 0.011), ("wheel_left camber", 0.51)):
        one = found[name]
        assert (one.least, one.most) == pytest.approx((-25, 25), abs=1e-4)
        assert -25 - open_by <= one.proven_least <= -25 + 1e-9
        assert 25 - 1e-9 <= one.proven_most <= 25 + open_by
    assert (found["lean"].verdict, found["wheel_left camber"].verdict) == ("clear", None)
    assert found["lean"].kind == "wheel"
    assert record_of(json_text(swept), "swept") == swept


def test_the_report_and_the_page_of_a_sweep_have_wheels_apart_from_measures(swept):
    blocks = list(swept_wheels_blocks(swept))
    told = "\n".join(block.text for block in blocks if isinstance(block, (Line, Heading)))
    assert "tilt +25°: 25.00°, its right side higher; the drive's own angle is 25.00°, as much" in told
    ranges = next(block for block in blocks if isinstance(block, Table) and block.columns[0] == "figure")
    assert ("lean", "0.00°", "−25.00°", "25.00°") in [row[:4] for row in ranges.rows]
    assert not measure_table(swept).rows


def test_a_comparison_tells_a_figure_of_wheels_that_is_not_as_it_was(swept):
    moved = [replace(one, most=20.0) if one.name == "wheel_left camber" else one for one in swept.measures]
    found = compare(swept, replace(swept, measures=tuple(moved)), shrank_mm=0.5)
    assert [(one.name, one.now.most) for one in found.measures] == [("wheel_left camber", 20.0)]


def test_one_setting_is_held_to_limits_of_wheels():
    """Closed form: the lean is the tilt, so at 20 degrees it is beyond 10."""
    machine = read(parallelogram_text() + "[road]\nlimits = { lean = [-10, 30] }\n")
    record = assembly.pose(machine, {"tilt": 20})
    (one,) = record.measures
    assert (one.name, one.value, one.verdict) == ("lean", pytest.approx(-20, abs=1e-6), "fails")
    assert record.verdict == "fails"
