"""``import assembly``: six lines from a file to what an edit changed."""

import ast
import inspect
import json
import re
import runpy
import subprocess
import sys
from pathlib import Path

import pytest

import assembly

FILE = """
format = 1
name = "Bolt <beside> a gate"
[dimensions]
aside = 20
thick = {{ value = {thick}, plus_minus = 0.5 }}
reach = "aside + thick"
[parts.post]
fixed = true
shapes = [{{ name = "post", box = [0, 0, 0], size = [10, 10, 10] }}]
[parts.gate]
shapes = [{{ name = "bar", box = [0, "reach", 0], size = [10, "thick", 10] }}]
[joints.way]
slide = ["post", "gate"]
at = [0, 0, 0]
along = [1, 0, 0]
[drives.shift]
slides = {{ way = 1 }}
range = [-5, 5]
[clearance]
required = 3
[loads.push]
forces = [{{ on = "gate", at = [0, 0, 0], newtons = [7, 0, 0] }}]
"""
THICK = 4.0


@pytest.fixture
def machine(tmp_path):
    path = tmp_path / "gate.toml"
    path.write_text(FILE.format(thick=THICK), encoding="utf-8")
    return assembly.load(path)


def room(aside, thick=THICK):
    """Gap between the post's face and the bar's (closed form)."""
    return (aside + thick) - thick / 2 - 10 / 2


def test_all_names_can_be_had_and_none_is_missing():
    assert sorted(assembly.__all__) == sorted(set(assembly.__all__))
    for name in assembly.__all__:
        assert getattr(assembly, name).__name__ == name
    tree = ast.parse(Path(assembly.__file__).read_text(encoding="utf-8"))
    told = {
        alias.asname
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module.startswith("assembly")
        for alias in node.names
    }
    assert told == set(assembly.__all__)


def test_every_function_says_what_it_raises_and_takes():
    functions = [getattr(assembly, name) for name in assembly.__all__ if name[0].islower()]
    assert functions
    for function in functions:
        sections = re.findall(r"^    (\w+)\n    -+$", function.__doc__, re.MULTILINE)
        assert sections == ["Parameters", "Returns", "Raises"], function
        named = re.findall(r"^    (\w+) : ", function.__doc__, re.MULTILINE)
        assert named == list(inspect.signature(function).parameters), function


def test_the_package_is_typed_and_costs_nothing_to_import():
    assert (Path(assembly.__file__).parent / "py.typed").exists()
    heavy = "import sys, assembly; print([name for name in ('numpy', 'fcl', 'pyvista') if name in sys.modules])"
    assert subprocess.run([sys.executable, "-c", heavy], capture_output=True, text=True).stdout.strip() == "[]"


def test_an_unknown_name_names_those_there_are():
    with pytest.raises(AttributeError, match=r"it has .*sweep"):
        _ = assembly.sweeep


def test_six_lines_from_a_file_to_what_an_edit_changed(machine):
    before = assembly.sweep(machine)
    after = assembly.sweep(machine.with_dimensions(aside=9))
    assert before.pair("gate", "post").least_mm == pytest.approx(room(20), abs=1e-6)
    assert after.pair("post", "gate").least_mm == pytest.approx(room(9), abs=1e-6)
    change = after.compare(before)
    (pair,) = change.pairs
    assert change.worse
    assert {pair.a, pair.b} == {"post", "gate"}
    assert [(one.name, one.before.value, one.now.value) for one in change.dimensions if one.name == "aside"] == [
        ("aside", 20, 9)
    ]


def test_the_six_lines_of_the_guide_do_what_they_say(tmp_path, monkeypatch, capsys):
    """The guide changes a dimension from 70 to 82 mm, by which the bar stands farther off."""
    guide = (Path(assembly.__file__).parent.parent / "README.md").read_text(encoding="utf-8")
    code = guide.split("## From Python\n")[1].split("```python\n")[1].split("```")[0]
    assert len([line for line in code.splitlines() if line]) <= 6
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my_machine").mkdir()
    text = FILE.replace("aside = 20", "crank = 70\naside = 'crank - 62'").format(thick=THICK)
    (tmp_path / "my_machine" / "my_machine.toml").write_text(text, encoding="utf-8")
    (tmp_path / "six_lines.py").write_text(code, encoding="utf-8")
    names = runpy.run_path("six_lines.py")
    told = capsys.readouterr().out.splitlines()
    assert told[0].startswith("Bolt <beside> a gate: CLEAR")
    assert told[-1] == "False"
    assert [names[run].pairs[0].least_mm for run in ("before", "after")] == pytest.approx([room(8), room(20)], abs=1e-6)


def test_a_result_shows_its_verdict_and_escapes_the_file(machine):
    result = assembly.sweep(machine)
    assert repr(result).splitlines()[0].startswith("Bolt <beside> a gate: CLEAR")
    assert f"{room(20):.2f} mm" in repr(result)
    assert "Bolt &lt;beside&gt; a gate" in result._repr_html_()
    assert json.loads(result.to_json())["verdict"] == result.verdict == "clear"


def test_dimensions_stay_arithmetic_and_keep_their_tolerance(machine):
    changed = machine.with_dimensions(thick=6).with_dimensions(aside="2 * thick")
    assert {name: one.value for name, one in changed.dimensions.items()} == {"aside": 12, "thick": 6, "reach": 18}
    assert changed.dimensions["thick"].plus_minus == 0.5
    assert machine.dimensions["aside"].value == 20


@pytest.mark.parametrize(
    ("values", "told"),
    [
        pytest.param({"asid": 3}, "unknown dimension `asid", id="unknown name"),
        pytest.param({"aside": "reach"}, "goes round in a circle", id="circle"),
        pytest.param({"thick": -1}, "thick|size", id="impossible shape"),
        pytest.param({"aside": float("nan")}, "finite|number", id="no number"),
    ],
)
def test_a_dimension_that_cannot_be_is_a_fault(machine, values, told):
    with pytest.raises(assembly.InputError, match=told):
        machine.with_dimensions(**values)


def test_a_machine_without_a_file_says_so(machine):
    from dataclasses import replace

    with pytest.raises(assembly.InputError, match="not read from a file"):
        replace(machine, reread=None).with_dimensions(aside=1)


def test_a_pair_that_is_none_is_named(machine):
    result = assembly.sweep(machine)
    with pytest.raises(assembly.InputError, match="no part `gat`; the nearest of the parts is `gate`"):
        result.pair("gat", "post")
    with pytest.raises(assembly.InputError, match="name two different parts"):
        result.pair("gate", "gate")


def test_the_other_questions_answer_from_the_same_machine(machine):
    at = assembly.pose(machine, {"shift": 3})
    assert at.pairs[0].distance_mm == pytest.approx(room(20), abs=1e-6)
    cells = assembly.clearance_map(machine, cells=3, cores=1).cells
    assert len(cells) == 3
    assert assembly.usable_range(machine, cells=4, cores=1).fits
    (case,) = assembly.loads(machine).cases
    assert abs(case.held.efforts[0].value) == pytest.approx(7, abs=1e-9)
