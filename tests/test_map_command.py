"""``swingroom map`` as a builder types it: files, words, exit status."""

import os
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from small_machines import LOCKING_TRAMMEL, slider, trammel

from assembly.clearance.narrow_phase import queries
from assembly.cli import ExitStatus, commands, main


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(text, *more):
    Path("rig.toml").write_text(text, encoding="utf-8")
    return CliRunner().invoke(
        commands, ["map", "rig.toml", "--grid", "4", "--cores", "1", *more], standalone_mode=False
    )


def test_a_map_with_nothing_too_near_says_where_its_files_lie(folder):
    done = run(slider(high=8.0))
    assert done.return_value == ExitStatus.CLEAR
    assert (
        "Smallest of what was measured: base and sledge, 3.62 mm at push +6.38 mm." in done.stdout
    )  # 10 - 6.375, never rounded up
    assert "`swingroom sweep rig.toml` proves the whole machine" in done.stdout
    assert "- nothing about these; before you cut, sweep the whole machine: swingroom sweep rig.toml" in done.stdout
    assert "table:   results/rig/map.csv\npicture: results/rig/map.png\n\nCLEAR: all 2 pairs" in done.stdout
    assert {file.name for file in (folder / "results" / "rig").iterdir()} == {"map.csv", "map.png"}
    assert done.stderr.splitlines()[-1] == "map"
    assert "sweep" in done.stderr.splitlines()


def test_without_a_picture_the_table_is_all_there_is(folder):
    done = run(slider(high=8.0), "--no-picture")
    assert done.return_value == ExitStatus.CLEAR
    assert "picture: none was drawn: it was not wanted" in done.stdout
    assert {file.name for file in (folder / "results" / "rig").iterdir()} == {"map.csv"}


LINK_ALONE = LOCKING_TRAMMEL[:-2] + ', { between = ["low", "high"], ignore = "x" }]\n'


@pytest.mark.parametrize(
    "text",
    [slider(high=8.0, required=5.0), trammel(low=-104.0, high=0.0) + LINK_ALONE],
    ids=["too near", "out of reach"],
)
def test_what_is_too_near_or_out_of_reach_is_status_1(folder, text):
    done = run(text, "--out", "here")
    assert done.return_value == ExitStatus.FAILS
    assert "What to do now" in done.stdout
    assert "how far the drives can go: swingroom range" in " ".join(done.stdout.split())
    assert (folder / "here" / "map.csv").is_file()


def test_a_pair_is_mapped_by_steps_into_files_of_its_own(folder):
    done = run(slider(), "--pair", "lug", "base", "--step", "push=2", "--out", "here")
    assert done.return_value == ExitStatus.CLEAR
    assert "in 7 steps" in done.stdout  # 13 mm in steps of 2 mm at most
    assert len((folder / "here" / "map_lug_base.csv").read_text(encoding="utf-8").splitlines()) == 1 + 7


def test_svg_takes_the_place_of_the_png(folder):
    done = run(slider(high=8.0), "--svg")
    assert "table:   results/rig/map.csv\npicture: results/rig/map.svg\n\nCLEAR: all 2 pairs" in done.stdout
    assert {file.name for file in (folder / "results" / "rig").iterdir()} == {"map.csv", "map.svg"}


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--pair", "bse", "lug"), "there is no part `bse`; the nearest of the parts is `base`"),
        (("--set", "push=1", "--set", "push=2"), "drive `push` is set twice"),
        (("--set", "push=1,5"), "write a number with a point"),
        (("--grid", "0"), "0 is not in the range"),
    ],
)
def test_wrong_arguments_are_status_2_in_one_line(folder, capsys, arguments, told):
    (folder / "rig.toml").write_text(slider(), encoding="utf-8")
    assert main(["map", "rig.toml", *arguments]) == ExitStatus.INPUT
    (line,) = capsys.readouterr().err.splitlines()
    assert told in line
    assert not (folder / "results" / "rig" / "map.csv").exists()


def die(*_ignored):
    os._exit(1)


@pytest.mark.skipif(sys.platform != "linux", reason="workers see the broken measuring only where they are forked")
def test_a_worker_that_dies_is_told_in_one_line_with_status_3(folder, capsys, monkeypatch):
    monkeypatch.setattr(queries, "_measure_there", die)
    (folder / "rig.toml").write_text(slider(), encoding="utf-8")
    assert main(["map", "rig.toml", "--grid", "4", "--cores", "2"]) == ExitStatus.UNDECIDED
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.splitlines()[-1].startswith("a process that measures distances died")
    assert "Traceback" not in told.err
    assert not [path for path in (folder / "results").rglob("*") if path.is_file()]
