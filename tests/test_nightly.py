"""``swingroom nightly`` as it is typed: one line for each file, what got worse, files, exit status."""

import csv
import json
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from lxml import etree
from small_machines import GATE_WITHOUT_DRIVE, slider, trammel
from tries import first

import assembly.api.nights.nightly_run
import assembly.api.nights.one_file
import assembly.report.render.pictures
import assembly.studies.sweep.sweep_record
from assembly.cli import ExitStatus, main
from assembly.errors import CutShortError, PictureError

NARROW = {"required": 3.0}
"""The gap of 2 mm is too small then."""


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """A folder to work in, with a writer of machines and the command."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SWINGROOM_HISTORY", str(tmp_path / "history.sqlite3"))

    def write(name, text):
        path = Path("machines") / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")

    return write


def night(*more, pictures=()):
    return main(["nightly", "machines", "--cores", "1", *(pictures if pictures else ("--no-picture",)), *more])


def lines(capsys):
    """Verdict and text of each file's line, by the file's name."""
    found = re.findall(r"^(CLEAR|FAILS|UNDECIDED|BROKEN) +(\S+?): (.*)$", capsys.readouterr().out, re.MULTILINE)
    return {Path(file).name: (word, text) for word, file, text in found}


def newest():
    return max(Path("nightly").glob("2*"), key=lambda path: path.stat().st_mtime_ns)


def test_every_machine_has_its_line_and_the_worst_sets_the_status(shop, capsys):
    shop("clear.toml", slider())
    shop("deep/narrow.toml", slider(**NARROW))
    shop("struck.toml", slider(high=12.0))
    shop("other.toml", "[tool]\n")
    assert night() == ExitStatus.FAILS
    out = capsys.readouterr().out
    assert "CLEAR      machines/clear.toml: least margin 1.00 mm (base – sledge, 2.00 mm apart); first run\n" in out
    assert (
        "FAILS      machines/deep/narrow.toml: least margin −1.00 mm (base – sledge, 2.00 mm apart); "
        "1 of 2 pairs comes nearer than it may; first run\n"
    ) in out
    assert "FAILS      machines/struck.toml: base – sledge 2.00 to 2.01 mm deep in each other; " in out
    assert "  1 TOML file is no mechanism file: machines/other.toml\n" in out
    assert "3 files: 2 FAILS, 1 CLEAR; none got worse\n" in out


def test_what_is_written_is_what_was_shown(shop, capsys):
    shop("clear.toml", slider())
    assert night("--junit", "cases.xml") == ExitStatus.CLEAR
    told = capsys.readouterr()
    assert told.err == ""
    folder = newest()
    assert (folder / "report.txt").read_text(encoding="utf-8") == told.out
    assert {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()} == {
        "clear/pairs.csv", "clear/record.json", "junit.xml", "report.txt",
    }  # fmt: skip
    assert json.loads((folder / "clear/record.json").read_text(encoding="utf-8"))["verdict"] == "clear"
    with (folder / "clear/pairs.csv").open(encoding="utf-8-sig", newline="") as table:
        assert [row["least_mm"] for row in csv.DictReader(table)] == ["2", "14"]
    assert Path("cases.xml").read_bytes() == (folder / "junit.xml").read_bytes()


def test_a_night_tells_what_got_worse_since_the_last(shop, capsys):
    shop("gate.toml", slider())
    shop("latch.toml", slider())
    night()
    shop("gate.toml", slider(high=8.9))
    capsys.readouterr()
    assert night() == ExitStatus.CLEAR
    out = capsys.readouterr().out
    gate, latch = re.findall(r"^\w+ +machines/.*$", out, re.MULTILINE)
    assert gate.endswith("; WORSE: base – sledge 0.90 mm less clearance, base – lug 0.90 mm less clearance")
    assert latch.endswith("; as before")
    assert "What got worse: machines/gate.toml\n" in out
    assert "What got worse: machines/latch.toml\n" not in out
    assert "WORSE" in (newest() / "gate" / "comparison.txt").read_text(encoding="utf-8")


def test_a_pair_that_now_fails_is_worse(shop, capsys):
    shop("gate.toml", slider())
    night()
    shop("gate.toml", slider(**NARROW))
    capsys.readouterr()
    assert night() == ExitStatus.FAILS
    assert lines(capsys)["gate.toml"][1].endswith("WORSE: base – sledge now fails")


@pytest.mark.parametrize(("allowed", "worse"), [("0.5", True), ("1.5", False)])
def test_how_much_less_room_is_worse_is_asked(shop, capsys, allowed, worse):
    shop("gate.toml", slider(required=0.5))
    night()
    shop("gate.toml", slider(required=0.5, high=9.0))
    night("--allow-loss", allowed)
    assert ("What got worse" in capsys.readouterr().out) == worse


def test_a_broken_file_costs_the_others_nothing_and_is_the_worst(shop, capsys):
    shop("a_broken.toml", slider().replace("box =", "bxo ="))
    shop("b_clear.toml", slider())
    shop("c_narrow.toml", slider(**NARROW))
    assert night() == ExitStatus.INPUT
    out = capsys.readouterr().out
    words = re.findall(r"^(\w+) +machines/(\w+)", out, re.MULTILINE)
    assert words == [("BROKEN", "a_broken"), ("CLEAR", "b_clear"), ("FAILS", "c_narrow")]
    assert "machines/a_broken.toml: 7: parts.base.shapes[0]: no kind of shape" in out
    assert "; 2 more faults, see below\n" in out
    assert len(re.findall(r"^  machines/a_broken\.toml:\d+: parts\.", out, re.MULTILINE)) == 3
    suites = etree.parse(newest() / "junit.xml").getroot()
    assert [(suite.get("failures"), suite.get("errors")) for suite in suites] == [("0", "3"), ("0", "0"), ("1", "0")]


@pytest.mark.parametrize(
    ("text", "status", "word"),
    [
        (slider(extra=GATE_WITHOUT_DRIVE), ExitStatus.FAILS, "FAILS"),
        (trammel() + "[clearance]\nrequired = 43\n", ExitStatus.UNDECIDED, "UNDECIDED"),
    ],
    ids=["cannot be put together", "out of time"],
)
def test_other_endings_have_their_status_too(shop, capsys, text, status, word):
    shop("x.toml", text)
    shop("y.toml", slider())
    assert night("--time-limit", "1e-9" if status == ExitStatus.UNDECIDED else "100") == status
    found = lines(capsys)
    assert found["x.toml"][0] == word
    assert len(found) == 2


@pytest.mark.parametrize(
    "error", first([KeyError("x"), RecursionError("deep\ndown"), MemoryError(), CutShortError("cut")], 2)
)
def test_a_crash_in_one_file_is_told_in_its_line(shop, capsys, monkeypatch, error):
    sweeping = assembly.api.nights.one_file.sweep

    def crash(machine, *rest, **how):
        if "a_crash" in machine.file:
            raise error
        return sweeping(machine, *rest, **how)

    monkeypatch.setattr(assembly.api.nights.one_file, "sweep", crash)
    shop("a_crash.toml", slider())
    shop("b_clear.toml", slider())
    assert night() == ExitStatus.UNDECIDED
    found = lines(capsys)
    assert found["a_crash.toml"][0] == "UNDECIDED"
    told = "cut" if isinstance(error, CutShortError) else f"the check broke off: {type(error).__name__}"
    assert found["a_crash.toml"][1].startswith(told)
    assert found["b_clear.toml"][0] == "CLEAR"


def test_a_machine_that_fails_or_got_worse_is_drawn_and_every_trend(shop, monkeypatch, quick_pages):
    drawn = []

    def draw(scene, path):
        drawn.append(path.parent.name)

    monkeypatch.setattr(assembly.report.render.pictures, "draw", draw)
    shop("clear.toml", slider(required=0.5))
    shop("narrow.toml", slider(**NARROW))
    night(pictures=("--runs", "5"))
    assert drawn == ["narrow"]
    assert all((newest() / name / "trend.png").is_file() for name in ("clear", "narrow"))
    assert [path.parent.name for path in newest().glob("*/page.html")] == ["narrow"]
    Path("machines/narrow.toml").unlink()
    shop("clear.toml", slider(required=0.5, high=9.0))
    night(pictures=("--runs", "5"))
    assert drawn == ["narrow", "clear"]
    assert "Got worse" in (newest() / "clear" / "page.html").read_text(encoding="utf-8")


def test_a_picture_that_cannot_be_drawn_is_a_note_only(shop, capsys, monkeypatch, quick_pages):
    def draw(_scene, _path):
        raise PictureError("no light")

    monkeypatch.setattr(assembly.report.render.pictures, "draw", draw)
    shop("narrow.toml", slider(**NARROW))
    assert night(pictures=("--runs", "5")) == ExitStatus.FAILS
    assert "  machines/narrow.toml: picture: none was drawn: no light\n" in capsys.readouterr().out


def set_clock(monkeypatch, moment):
    class Clock(datetime):
        @classmethod
        def now(cls, tz=None):
            return moment.astimezone(tz)

    monkeypatch.setattr(assembly.studies.sweep.sweep_record, "datetime", Clock)
    monkeypatch.setattr(assembly.api.nights.nightly_run, "datetime", Clock)


def test_a_clock_set_back_changes_neither_order_nor_folders(shop, capsys, monkeypatch):
    noon = datetime(2026, 3, 2, 12, tzinfo=UTC)
    shop("gate.toml", slider())
    for days, required in ((0, 1.0), (-1, 3.0), (-1, 3.0), (0, 3.0)):
        set_clock(monkeypatch, noon + timedelta(days=days))
        shop("gate.toml", slider(required=required))
        night()
    ends = [line.rpartition("; ")[2] for line in capsys.readouterr().out.splitlines() if "gate.toml:" in line]
    assert ends == ["first run", "WORSE: base – sledge now fails", "as before", "as before"]
    assert sorted(path.name for path in Path("nightly").glob("2*")) == [
        "2026-03-01_1", "2026-03-01_2", "2026-03-02_1", "2026-03-02_2",
    ]  # fmt: skip


def test_a_night_stopped_by_hand_tells_what_is_left(shop, capsys, monkeypatch):
    sweeping = assembly.api.nights.one_file.sweep

    def stopped(machine, *rest, **how):
        if "b_" in machine.file:
            raise KeyboardInterrupt
        return sweeping(machine, *rest, **how)

    monkeypatch.setattr(assembly.api.nights.one_file, "sweep", stopped)
    for name in ("a_clear.toml", "b_slow.toml", "c_never.toml"):
        shop(name, slider())
    assert night() == ExitStatus.UNDECIDED
    out = capsys.readouterr().out
    assert "1 file: 1 CLEAR; none got worse; stopped by hand, 2 files left unchecked\n" in out
    assert (newest() / "report.txt").is_file()


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["machines"], "there is no mechanism file in machines (1 other TOML file); a mechanism file is a .toml"),
        (["machines", "--runs", "0"], "0 is not in the range"),
        (["machines", "--allow-loss", "thin"], "thin"),
        ([], "Missing argument 'DIR...'"),
    ],
)
def test_wrong_arguments_are_one_line_and_status_2_and_leave_nothing(shop, capsys, arguments, told):
    shop("x.toml", "[tool]\n")
    assert main(["nightly", *arguments]) == ExitStatus.INPUT
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert told in said.err
    assert not Path("nightly").exists()


def test_a_folder_in_place_of_the_cases_is_told_and_the_night_is_whole(shop, capsys):
    shop("clear.toml", slider())
    assert main(["nightly", "machines", "--junit", ".", "--no-picture"]) == ExitStatus.INPUT
    said = capsys.readouterr()
    assert "cannot write to .: a folder is in the way; name a file" in said.out
    assert "Traceback" not in said.err
    assert "a folder is in the way" in (newest() / "report.txt").read_text(encoding="utf-8")


def test_a_place_that_is_gone_is_told_beside_the_others(shop, capsys):
    shop("x.toml", slider())
    assert night("gone") == ExitStatus.INPUT
    found = lines(capsys)
    assert found["gone"] == ("BROKEN", "cannot be read: No such file or directory")
    assert found["x.toml"][0] == "CLEAR"
