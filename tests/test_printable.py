"""Text that would move the cursor, turn the writing round or be worked out as a formula, where it is shown."""

import csv
import json
import os
import shutil
import unicodedata
from pathlib import Path

import pytest
from small_machines import slider

from assembly.api.nights.finding import find_mechanisms
from assembly.cli import ExitStatus, main
from assembly.printable import is_utf8, table_cell, visible, visible_json
from assembly.record import run_name
from assembly.report.text.layout import Heading, Line, Table
from assembly.report.text.terminal import plain_text

HOSTILE = "ok\x1b]0;owned\x07\x1b[8m\u202e\n\x00\x9b\u2066\u2028\x7f"
SPELLED = r"ok\x1b]0;owned\x07\x1b[8m\u202e\n\x00\x9b\u2066\u2028\x7f"
CASES = Path(__file__).parent / "cases" / "files"


def hidden(text):
    """Signs of ``text`` of the Unicode categories that show nothing, but for line ends."""
    return {sign for sign in text if unicodedata.category(sign) in {"Cc", "Cf", "Cs", "Zl", "Zp"} and sign != "\n"}


@pytest.fixture
def shop(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_what_would_not_show_itself_is_spelled_out():
    assert visible(HOSTILE) == SPELLED
    assert visible("größe − 3°, 台車 \xa0 👩\u200d🔧") == "größe − 3°, 台車 \xa0 👩\u200d🔧"
    assert visible("a\nb\tc", kept="\n") == "a\nb\\tc"


def test_json_holds_the_same_and_hides_nothing():
    text = json.dumps({HOSTILE: f"{HOSTILE}\U000e0001"}, ensure_ascii=False, indent=1)
    assert not hidden(visible_json(text))
    assert json.loads(visible_json(text)) == json.loads(text)


def test_every_block_of_a_report_is_spelled_out():
    blocks = [Heading(HOSTILE), Line(HOSTILE), Line(HOSTILE, whole=True), Table((HOSTILE,), ((HOSTILE,),))]
    told = plain_text(blocks)
    assert not hidden(told)
    assert told.count(SPELLED) == 5


def test_reason_of_a_file_reaches_neither_terminal_nor_record_nor_page(shop, capsys):
    shutil.copy(CASES / "ign.toml", "ign.toml")
    words = ["--cores", "1", "--no-picture"]
    assert main(["sweep", "ign.toml", *words, "--page"]) == ExitStatus.CLEAR
    assert main(["inspect", "ign.toml", "--json"]) == ExitStatus.CLEAR
    told = capsys.readouterr()
    page, record = (Path("results/ign", name).read_text(encoding="utf-8") for name in ("page.html", "record.json"))
    for text in (told.out, told.err, page, record):
        assert not hidden(text) - {"\t"}  # the program of the page holds tabs
    assert r"ok\x1b]0;owned\x07\x1b[8m\u202e" in told.out
    assert r"ok\x1b]0;owned\x07\x1b[8m\u202e" in page
    (left,) = [each for each in json.loads(record)["not_checked"] if "ok" in each["reason"]]
    assert "\u202e" in left["reason"]


def test_folder_and_file_names_are_spelled_out(shop, capsys):
    folder = shop / "odd\x1b[8m\u202e"
    folder.mkdir()
    (folder / "m\x07.toml").write_text(slider().replace('name = "Slider"\n', ""), encoding="utf-8")
    assert main(["sweep", str(folder / "m\x07.toml"), "--cores", "1", "--no-picture"]) == ExitStatus.CLEAR
    assert main(["sweep", str(folder / "none\x07.toml")]) == ExitStatus.INPUT
    told = capsys.readouterr()
    assert not hidden(told.out) | hidden(told.err)
    assert r"odd\x1b[8m\u202e" in told.out
    assert r"none\x07.toml: there is no such file" in told.err


@pytest.mark.parametrize("begun", ["=", "+", "-", "@", "＝", "\t", "\r", "\xa0=", "\n@"])
def test_no_cell_is_worked_out_by_a_spreadsheet(begun):
    assert table_cell(f"{begun}1").startswith("'")
    assert not hidden(table_cell(f"{begun}1"))


@pytest.mark.parametrize(
    ("cell", "guarded"),
    [("a;=1", "a;'=1"), ('a; "@b;-c', "a;' \"@b;'-c"), ("a; b;c=d", "a; b;c=d"), ("a;\xa0＋1", "a;'\xa0＋1")],
)
def test_no_part_of_a_cell_is_worked_out_where_semicolons_part_cells(cell, guarded):
    assert table_cell(cell) == guarded


@pytest.mark.parametrize("command", ["map", "range"])
def test_titles_and_cells_of_every_table_are_guarded(shop, command):
    text = slider().replace("[drives.push]", '[drives."=push"]').replace("[parts.base]", '[parts."@base"]')
    Path("m.toml").write_text(text.replace('"base"', '"@base"'), encoding="utf-8")
    assert main([command, "m.toml", "--cores", "1"]) in {ExitStatus.CLEAR, ExitStatus.FAILS}
    (table,) = Path("results/m").glob("*.csv")
    titles, *rows = csv.reader(table.read_text(encoding="utf-8").splitlines())
    assert titles[0] == "'=push_mm"
    assert any(cell == "'@base" for row in rows for cell in row)
    assert not any(cell.startswith(("=", "@")) for row in [titles, *rows] for cell in row)


@pytest.mark.parametrize(
    ("file", "name"),
    [("...toml", "toml"), ("..toml", "toml"), (".toml", ".toml"), ("a.b.toml", "a.b")],
)
def test_results_of_a_file_never_lie_in_a_folder_above(file, name):
    assert run_name(Path("shop", file)) == name


def test_file_of_points_writes_where_it_should(shop):
    (shop / "work").mkdir()
    os.chdir("work")
    Path("...toml").write_text(slider(), encoding="utf-8")
    assert main(["sweep", "...toml", "--cores", "1", "--no-picture"]) == ExitStatus.CLEAR
    assert [path.relative_to(shop).as_posix() for path in shop.rglob("record.json")] == [
        "work/results/toml/record.json"
    ]
    assert [file.name for file in find_mechanisms([Path()]).files] == ["toml"]


@pytest.mark.skipif(os.name != "posix", reason="names are bytes on POSIX")
def test_names_that_are_not_utf_8_are_refused_in_one_line(shop, capsys):
    name = os.fsdecode(b"caf\xe9.toml")
    assert not is_utf8(name)
    (shop / name).write_text(slider(), encoding="utf-8")
    assert main(["sweep", name]) == ExitStatus.INPUT
    (line,) = capsys.readouterr().err.splitlines()
    assert line == r"'caf\udce9.toml' is not UTF-8; give the file or folder a name that is"
    assert main(["nightly", ".", "--out", "night", "--history", "h.sqlite3"]) == ExitStatus.INPUT
    told = capsys.readouterr().out
    assert r"caf\udce9.toml: its name is not UTF-8" in told
    assert not hidden(told)


@pytest.mark.skipif(os.name != "posix", reason="names are bytes on POSIX")
def test_folder_whose_name_is_not_utf_8_works(shop, capsys):
    folder = shop / os.fsdecode(b"caf\xe9")
    folder.mkdir()
    os.chdir(folder)
    Path("m.toml").write_text(slider().replace('name = "Slider"\n', ""), encoding="utf-8")
    words = ["m.toml", "--cores", "1", "--no-picture", "--history", "h.sqlite3"]
    assert main(["sweep", *words]) == ExitStatus.CLEAR
    assert main(["compare", "1", "m.toml", "--history", "h.sqlite3", "--cores", "1"]) == ExitStatus.CLEAR
    assert json.loads(Path("results/m/record.json").read_text(encoding="utf-8"))["machine"]["name"] == r"caf\udce9"
