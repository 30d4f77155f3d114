"""``swingroom variants``: the table on one screen, its files, and lists of sets."""

import csv
import json
import re
from pathlib import Path

import pytest
from small_machines import slider

from assembly.api.variants.list_files import read_sets
from assembly.cli import main
from assembly.errors import InputError

SLIDER = (
    slider()
    .replace('name = "Slider"\n', 'name = "Slider"\n[dimensions]\nx = 0\n')
    .replace("box = [0, 30, 0]", 'box = ["x", 30, 0]')
)
"""The nose keeps 10 less the setting, 2 at the least, until it stands beside the block, 20 wide (closed form)."""


@pytest.fixture
def there(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("slider.toml").write_text(SLIDER, encoding="utf-8")
    return tmp_path


def test_the_table_its_files_and_what_to_do(there, capsys):
    """Beside the block the two are sqrt(5² + 2²) = 5.39 apart with x = 25 (closed form)."""
    Path("sets.csv").write_text("name;x\nin line;10\nbeside;25\n", encoding="utf-8")
    assert main(["variants", "slider.toml", "--list", "sets.csv", "--out", "out"]) == 0
    told = capsys.readouterr().out
    lines = told.splitlines()
    assert lines[0].startswith("BEST: variant 2 (beside: x 25): all pairs are proven to keep 4.3")
    assert "Slider: 2 variants of x (0 in the file)" in lines
    assert lines[-2:] == lines[:2], "the answer once more"
    assert any(line.split()[:7] == ["2", "beside", "25", "CLEAR", "5.38", "+3.39", "4.38"] for line in lines)
    assert "margin: proven beyond what is required" in " ".join(told.split())
    assert "- write 25 for x (now 0) into line 5 of slider.toml" in told
    assert len(lines) <= 40
    data = Path("out/variants.csv").read_bytes()
    rows = list(csv.DictReader(data.decode("utf-8-sig").splitlines()))
    assert [row["x"] for row in rows] == ["0", "10", "25"]
    assert [float(row["least_mm"]) for row in rows] == pytest.approx([2.0, 2.0, 29**0.5], abs=1e-3)
    assert [row["place"] for row in rows] == ["", "", "best"]
    assert json.loads(Path("out/variants.json").read_text(encoding="utf-8"))["best"]["rows"] == [2]
    assert Path("out/variants.png").read_bytes()[:4] == b"\x89PNG"
    assert sorted(path.name for path in Path("out").iterdir()) == [
        *("variants.csv", "variants.json", "variants.png", "variants.rows"),
    ]


def test_where_none_is_clear_the_next_commands_are_named_with_the_file(there, capsys):
    """8 is asked for; the nose keeps sqrt(5² + 2²) = 5.39 at the most (closed form)."""
    Path("slider.toml").write_text(re.sub(r"required = [\d.]+", "required = 8", SLIDER), encoding="utf-8")
    assert main(["variants", "slider.toml", "--vary", "x=25"]) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "margin" not in told, "nothing has any here"
    assert "none will do: swingroom helps slider.toml tells what numbers do, `propose` what to alter" in told


def test_nothing_to_vary_and_both_ways_at_once(there, capsys):
    assert main(["variants", "slider.toml"]) == 2
    assert capsys.readouterr().err == "nothing is varied; give --vary NAME=VALUES, once or more, or --list FILE\n"
    assert main(["variants", "slider.toml", "--list", "none.csv"]) == 2
    told = "none.csv: there is no such file; give the path of a list of sets of numbers (.csv or .toml)\n"
    assert capsys.readouterr().err.endswith(told)
    assert main(["variants", "slider.toml", "--vary", "x=1", "--list", "sets.csv"]) == 2
    assert "--vary and --list are asked for at once" in capsys.readouterr().err


def test_lists_as_csv_and_toml_say_the_same(tmp_path):
    table, tree = tmp_path / "sets.csv", tmp_path / "sets.toml"
    table.write_text("name,x,rod_top.z\nlong,5,\n,,7.5\n", encoding="utf-8")
    tree.write_text(
        '[[variants]]\nname = "long"\nset = { x = 5 }\n[[variants]]\nset = { "rod_top.z" = 7.5 }\n', encoding="utf-8"
    )
    assert read_sets(table) == read_sets(tree) == [("long", {"x": 5.0}), ("", {"rod_top.z": 7.5})]


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("a.csv", "", "the first row does not name each number once"),
        ("a.csv", "x\n", "there is no set in it"),
        ("a.csv", "x,x\n1,2\n", "the first row does not name each number once"),
        ("a.csv", "x\n1,5\n", "2: a row has 2 cells and the first row only 1"),
        ("a.csv", "x\n\n1e999\n", "3: x: `1e999` is not a number"),
        ("a.toml", "x = 1\n", "it is not a list of variants"),
        ("a.toml", "[[variants]]\nx = 1\n", "variants[0]: it is not a variant"),
        ("a.toml", '[[variants]]\nset = { x = "1" }\n', "variants[0].set: `x` is not a number of a size"),
        ("a.toml", "[[variants]\n", "this is not TOML that can be read"),
    ],
)
def test_a_list_that_cannot_be_read_is_one_clear_line(tmp_path, name, text, told):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_sets(path)
    (fault,) = error.value.faults
    assert told in str(fault)
    assert str(path) in str(fault)


def test_a_run_whose_time_is_over_goes_on_where_it_ended(there, capsys):
    """No row can be done in a thousandth of a second; what is kept is taken by the next."""
    command = ["variants", "slider.toml", "--vary", "x=25", "--no-picture"]
    assert main([*command, "--time-limit", "0.001"]) == 3
    told = capsys.readouterr()
    assert "time limit" in told.out + told.err
    assert main(command) == 0
    assert main([*command, "--json"]) == 0
    assert json.loads(capsys.readouterr().out.partition("{")[2].join(("{", "")))["kept"] == 2
