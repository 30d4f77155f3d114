"""``swingroom range`` as a builder types it: files, words, exit status."""

import os
import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from unittest import mock

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image
from small_machines import GATE_WITHOUT_DRIVE, slider, trammel
from usable_machines import over_range, table

import assembly.report.charts.range_key
from assembly.clearance.proof import task_groups
from assembly.clearance.region.rules import Rules
from assembly.cli import ExitStatus, commands, main
from assembly.record import GovernorEntry, RangeRecord, RuleEntry
from assembly.record.jsonform import typed
from assembly.report.charts.map_files import write_range
from assembly.report.charts.range_key import COLOURS, DASHES
from assembly.report.charts.range_picture import draw_range
from assembly.report.render.palette import BLACK, BLUE, VERMILION
from assembly.report.text.range_text import BEYOND, range_blocks, rules_text
from assembly.report.text.terminal import plain_lines


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(text, *more):
    Path("rig.toml").write_text(text, encoding="utf-8")
    return CliRunner().invoke(commands, ["range", "rig.toml", "--cores", "1", *more], standalone_mode=False)


def words(record):
    return "\n".join(line for block in range_blocks(record, "swingroom sweep rig.toml") for line in plain_lines(block))


def pixels(path):
    return np.asarray(Image.open(path).convert("RGB"))


def count(image, colour):
    return int((np.abs(image.astype(int) - colour).max(axis=2) <= 2).sum())


def test_without_a_picture_the_table_is_all_there_is(folder):
    done = run(slider(high=8.0), "--no-picture")
    assert done.return_value == ExitStatus.CLEAR
    assert "picture: none was drawn: it was not wanted" in done.stdout
    assert {file.name for file in (folder / "results" / "rig").iterdir()} == {"range.csv"}


def test_a_range_that_fits_is_status_0_and_its_files_are_named(folder):
    done = run(slider(high=8.0))
    assert done.return_value == ExitStatus.CLEAR
    assert (
        "USABLE: every rule holds at every setting looked at in the file's own range, push −5 to +8 mm." in done.stdout
    )
    (end,) = (line for line in done.stdout.splitlines() if line.startswith("    1  base (block) – sledge (nose)"))
    assert 9 - 0.05 <= float(end.rsplit("+")[1].removesuffix(" mm")) <= 9  # the gap is 10 - push, 1 is required
    assert "`swingroom sweep rig.toml` proves the range that the file has." in " ".join(done.stdout.split())
    assert "table:   results/rig/range.csv\npicture: results/rig/range.png\n\nUSABLE: every rule" in done.stdout
    assert "What to do now\n  - nothing, where the range is wide enough; before you cut, prove it" in done.stdout
    assert {file.name for file in (folder / "results" / "rig").iterdir()} == {"range.csv", "range.png"}
    assert [line.split(" (")[0] for line in done.stderr.splitlines()] == ["assemble", "look", "border"]


def test_a_range_that_does_not_fit_is_status_1_and_says_what_is_broken(folder):
    done = run(slider(high=9.5), "--out", "here")
    assert done.return_value == ExitStatus.FAILS
    told = "base – sledge: 0.50 mm where 1 is required at push +9.5 mm"
    assert told in done.stdout
    assert "- what to change, by how much, so that the whole range holds: swingroom helps rig.toml" in done.stdout
    assert "- or write a range within the usable one into the file, and prove it: swingroom sweep rig" in done.stdout
    assert (folder / "here" / "range.csv").is_file()


def test_a_rod_end_is_named_with_its_limit(folder):
    done = run(trammel(-40.0, 20.0), "--grid", "20")
    assert done.return_value == ExitStatus.FAILS
    assert "low_ball past 22°, by 1.58° at push −40 mm" in done.stdout  # asin(0.4) is 23.578°


def test_json_is_the_record_alone_and_reads_back(folder):
    done = run(table(), "--grid", "12", "--set", "y=14", "--json")
    record = typed(RangeRecord, done.stdout, "stdout")
    assert record.held == {"y": 14.0}
    assert "range.csv" in done.stderr


@pytest.mark.parametrize(
    ("text", "arguments", "told"),
    [
        (slider(), ("--set", "pull=1"), "there is no drive `pull`"),
        (slider(), ("--set", "push=1", "--set", "push=2"), "drive `push` is set twice"),
        (slider(), ("--set", "push=1"), "every drive is held at a setting"),
        (slider(), ("--set", "push=1,5"), "write a number with a point"),
        (slider(), ("--grid", "0"), "0 is not in the range"),
        (slider(), ("--grid", "20000"), "20000 steps along each drive are too many"),
        (slider().replace("[drives.push]", "[drives.pusher]").replace("guide = 1", "rail = 1"), (), "rail"),
        (slider()[: slider().index("[drives.push]")], (), "this machine has no drives"),
    ],
)
def test_what_is_wrong_is_status_2_in_one_line(folder, capsys, text, arguments, told):
    (folder / "rig.toml").write_text(text, encoding="utf-8")
    assert main(["range", "rig.toml", *arguments]) == ExitStatus.INPUT
    (line,) = capsys.readouterr().err.splitlines()
    assert told in line
    assert not (folder / "results" / "rig" / "range.csv").exists()


def test_a_machine_that_nothing_holds_is_told_as_everywhere(folder, capsys):
    (folder / "rig.toml").write_text(slider() + GATE_WITHOUT_DRIVE, encoding="utf-8")
    assert main(["range", "rig.toml"]) != ExitStatus.CLEAR
    assert "Traceback" not in capsys.readouterr().err


def die(*_ignored):
    os._exit(1)


@pytest.mark.skipif(sys.platform != "linux", reason="workers see the broken measuring only where they are forked")
def test_a_worker_that_dies_is_told_with_status_3(folder, capsys, monkeypatch):
    monkeypatch.setattr(task_groups, "WORTH_WORKERS", -1.0)
    monkeypatch.setattr(Rules, "over", die)
    (folder / "rig.toml").write_text(slider(), encoding="utf-8")
    assert main(["range", "rig.toml", "--cores", "2"]) == ExitStatus.UNDECIDED
    assert capsys.readouterr().err.splitlines()[-1].startswith("a process that measures distances died")


def test_the_stops_are_told_both_ways():
    text = words(over_range(table(), 30))
    assert "For each x stop, the farthest stops of y: looked at, not proven" in text
    assert "For each y stop, the farthest stops of x: looked at, not proven" in text
    (row,) = (line.split() for line in text.splitlines() if line.strip().startswith("±28 mm"))
    assert row == ["±28", "mm", "−45", "mm", "2", "+18", "mm", "1"]


def test_rules_that_end_the_range_together_are_told_in_one():
    leans = tuple(RuleEntry("joint", joint=name, motion="misalignment", unit="deg", high=34.0) for name in "abcde")
    pair = RuleEntry("pair", a="arm", b="post", shape_a="lug", required_mm=0.0)
    assert rules_text(GovernorEntry(1, (*leans, pair))) == "arm (lug) – post touching; a, b, c and 2 more past 34°"
    slide = RuleEntry("joint", joint="rail", motion="travel", unit="mm", low=-5.0, high=8.0)
    assert rules_text(GovernorEntry(2, (slide,))) == "rail travel past −5 or +8 mm"
    assert rules_text(GovernorEntry(3, (RuleEntry("loop", loop=("a", "b")),))) == "the loop a – b locks"
    assert rules_text(GovernorEntry(4, ())) == BEYOND


def test_nothing_usable_is_said_and_drawn(tmp_path):
    record = over_range(table(at=(3.0, 0.0)), 8)
    assert "NOTHING IS USABLE: a rule is broken with all drives at 0." in words(record)
    assert "- mend first what is broken with all drives at 0: " in words(record)
    assert not record.fits
    draw_range(record, tmp_path / "range.png")
    assert (tmp_path / "range.png").is_file()


def test_the_picture_shows_the_border_in_the_colour_of_what_governs_it(tmp_path):
    record = over_range(table(), 20)
    draw_range(record, tmp_path / "range.png")
    image = pixels(tmp_path / "range.png")
    circle = next(governor.number for governor in record.governors if governor.rules)
    assert circle == 1
    assert count(image, BLUE) > 1000
    assert count(image, VERMILION) == 0


def test_one_drive_is_drawn_as_what_is_left(tmp_path):
    record = over_range(slider(high=8.0), 20)
    draw_range(record, tmp_path / "range.png")
    image = pixels(tmp_path / "range.png")
    governor = next(governor.number for governor in record.governors if governor.rules)
    assert count(image, COLOURS[governor - 1]) > 1000
    assert count(image, BLACK) > 1000


def test_every_number_on_the_border_is_explained_beside_it(tmp_path, monkeypatch):
    """Forty rules end the range: as many as have a place are numbered, the others are grey lines."""
    record, drawn = over_range(table(), 20), {}
    numbers = range(1, 41)
    many = replace(
        record,
        governors=tuple(GovernorEntry(k, (RuleEntry("loop", loop=("a", "b")),)) for k in numbers),
        stretches=tuple(replace(record.stretches[0], governor=k) for k in numbers),
    )
    real = assembly.report.charts.range_key.border_number

    def noted(axes, number, *more):
        drawn.setdefault(id(axes), set()).add(number)
        real(axes, number, *more)

    for module in ("range_key", "range_picture", "range_curve"):
        monkeypatch.setattr(f"assembly.report.charts.{module}.border_number", noted)
    draw_range(many, tmp_path / "range.png")
    on_border, explained = drawn.values()
    assert on_border == explained
    assert 10 < len(explained) < 40


def test_every_number_over_one_drive_is_explained_beside_it(tmp_path, monkeypatch):
    """Forty rules end it side by side: no number is drawn that is not explained, and no two on one spot."""
    record, drawn = over_range(slider(high=8.0), 20), {}
    numbers = range(1, 41)
    many = replace(
        record,
        governors=tuple(GovernorEntry(k, (RuleEntry("loop", loop=("a", "b")),)) for k in numbers),
        stretches=tuple(replace(record.stretches[0], governor=k, points=((0.01 * k,),)) for k in numbers),
    )
    real = assembly.report.charts.range_key.border_number

    def noted(axes, number, look, at):
        drawn.setdefault(id(axes), []).append((number, at))
        real(axes, number, look, at)

    for module in ("range_key", "range_curve"):
        monkeypatch.setattr(f"assembly.report.charts.{module}.border_number", noted)
    draw_range(many, tmp_path / "range.png")
    on_curve, explained = drawn.values()
    assert [number for number, _ in on_curve] == [number for number, _ in explained]
    assert 10 < len(explained) < 40
    for (_, one), (_, other) in pairwise(on_curve):
        assert one[1] != other[1]


def test_no_two_governors_in_a_row_look_the_same():
    looks = [assembly.report.charts.range_key.border_look(GovernorEntry(k, (RuleEntry("loop"),))) for k in range(1, 17)]
    assert len({(look.colour, look.dashes) for look in looks}) == len(looks)
    assert all(one.dashes != other.dashes for one, other in pairwise(looks))
    assert len(DASHES) > 2


def test_without_a_picture_the_table_is_still_written(tmp_path):
    with mock.patch.object(assembly.report.charts.range_picture, "draw_range", side_effect=MemoryError("no room")):
        files = write_range(over_range(slider(), 8), tmp_path)
    assert (files.picture, files.trouble) == (None, "no room")
    assert files.table.is_file()


def test_the_picture_can_be_lines(tmp_path):
    files = write_range(over_range(slider(), 8), tmp_path, "svg")
    assert (files.picture, files.trouble) == (tmp_path / "range.svg", "")
    assert b"<svg" in files.picture.read_bytes()[:400]
