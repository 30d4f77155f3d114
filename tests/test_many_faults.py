"""A file with thousands of faults: fifty are reported in full and the rest is counted, at a cost in step with its size.

Cost is counted in comparisons of names and rounds of sorting, not in seconds.
"""

import difflib
import graphlib
import sys
from pathlib import Path

import pytest

import assembly.api
import assembly.model.dimensions
from assembly.cli import ExitStatus, main
from assembly.errors import InputError
from assembly.model import arithmetic, fault_list, positions
from assembly.model.dimensions import solve_dimensions
from assembly.model.reader import machine_from_text

FRAME = "format = 1\n[parts.frame]\nfixed = true\nshapes = [{ box = [0, 0, 0], size = [9, 9, 9] }]\n"
COUNT = 3000
KINDS = {
    "misspelt dimensions": "[dimensions]\n" + "".join(f'alpha_{k} = "alhpa_{k}"\n' for k in range(COUNT)),
    "misspelt parts": "".join(
        f'[joints.joint_{k}]\npin = ["frame", "fraem_{k}"]\nat = [0, 0, 0]\nalong = [0, 0, 1]\n' for k in range(COUNT)
    ),
    "misspelt points": "".join(
        f'[parts.part_{k}]\nshapes = [{{ tube = ["here_{k}", [0, 0, 9]], diameter = 5 }}]\n' for k in range(COUNT)
    ),
    "shapes of no kind": "".join(f"[parts.part_{k}]\nshapes = [{{ boxx = [0, 0, 0] }}]\n" for k in range(COUNT)),
    "misspelt keys": "".join(f"shaeps_{k} = 1\n" for k in range(COUNT)),
    "arithmetic": "[points]\n" + "".join(f'point_{k} = ["wdith_{k}", 0, 0]\n' for k in range(COUNT)),
}


def faults_of(text):
    with pytest.raises(InputError) as caught:
        machine_from_text(text, Path())
    return caught.value.faults


@pytest.mark.parametrize("kind", KINDS)
def test_fifty_faults_are_told_and_the_rest_is_counted_without_looking_for_near_names(monkeypatch, kind):
    asked = []
    closest = difflib.get_close_matches

    def counted(name, among, *arguments, **options):
        asked.append(len(among))
        return closest(name, among, *arguments, **options)

    monkeypatch.setattr(difflib, "get_close_matches", counted)
    *told, last = faults_of(FRAME + KINDS[kind])
    assert len(told) == 50
    assert all(fault.line is not None for fault in told)
    assert int(last.message.split()[1]) >= COUNT - 50
    assert "mend the first 50" in str(last)
    assert sum(asked) <= 50 * 100


def test_two_thousand_cycles_are_found_in_two_rounds(monkeypatch):
    rounds = []

    class Counted(graphlib.TopologicalSorter):
        def __init__(self, graph):
            rounds.append(len(graph))
            super().__init__(graph)

    monkeypatch.setattr(assembly.model.dimensions, "TopologicalSorter", Counted)
    text = (Path(__file__).parent / "cases" / "files" / "cyc2000.toml").read_text(encoding="utf-8")
    *told, last = faults_of(text)
    assert str(told[0]).endswith(
        "a0: goes round in a circle: a0 -> b0 -> a0; give one of these dimensions a plain number"
    )
    assert (len(told), last.message) == (50, "and 1950 more faults")
    assert len(rounds) <= 2


def test_cycles_that_hang_together_are_each_told_and_what_leans_on_them_is_not():
    given = {"a": "b", "b": "a + c", "c": "c", "d": "a", "e": "2 * f", "f": 3}
    solved = solve_dimensions(given)
    assert solved.values == {"e": 6.0, "f": 3.0}
    told = {name: fault.message for name, fault in solved.faults.items()}
    assert told == {"a": "goes round in a circle: a -> b -> a", "c": "goes round in a circle: c -> c"}


def test_near_name_is_found_among_thousands():
    names = "".join(f"length_{k} = {k}\n" for k in range(1, COUNT))
    (fault,) = faults_of(f'{FRAME}[dimensions]\n{names}foot = "lenght_1234"\n')
    assert "the nearest of the dimensions is `length_1234`" in str(fault)


def test_a_long_cycle_is_told_by_its_ends():
    """It once was a line of five thousand characters."""
    ring = "".join(f'ring_{k} = "ring_{(k + 1) % 400} + 1"\n' for k in range(400))
    (fault,) = faults_of(FRAME + "[dimensions]\n" + ring)
    told = [f"ring_{k}" for k in range(6)] + ["389 more"] + [f"ring_{k}" for k in range(395, 400)] + ["ring_0"]
    assert fault.message == "goes round in a circle: " + " -> ".join(told)


def test_a_cycle_of_a_dozen_is_told_whole():
    ring = "".join(f'ring_{k} = "ring_{(k + 1) % 12}"\n' for k in range(12))
    (fault,) = faults_of(FRAME + "[dimensions]\n" + ring)
    assert fault.message.count(" -> ") == 12
    assert "more" not in fault.message


def test_only_the_tables_on_the_way_to_a_fault_are_looked_into(monkeypatch):
    """The lines of every key of the file were looked up for the sake of fifty: half the time of a large one."""
    keys = []
    steps = positions._steps
    monkeypatch.setattr(positions, "_steps", lambda node: keys.append(1) or steps(node))
    faults_of(FRAME + KINDS["misspelt parts"])
    assert len(keys) <= COUNT + 50 * 10  # each header once, and what lies in fifty tables


def test_the_names_of_a_file_are_sorted_once_for_all_faults(monkeypatch):
    ranked = []
    monkeypatch.setattr(
        fault_list, "sorted", lambda *names, **by: ranked.append(1) or sorted(*names, **by), raising=False
    )
    fault_list._ranked.cache_clear()
    faults_of(FRAME + KINDS["misspelt dimensions"])
    assert len(ranked) <= 3  # forwards and backwards, and the faults by their lines


@pytest.mark.parametrize(
    ("command", "module"),
    [
        *(("inspect", "questions"), ("range", "questions"), ("loads", "questions"), ("map", "swept_map")),
        *(("sweep", "main_check"), ("page", "page_content"), ("pose", "picture_scenes"), ("stop", "picture_scenes")),
        *(("helps", "what_helps"), ("export", "moving_views"), ("picture", "moving_views")),
    ],
)
def test_a_file_with_faults_is_refused_before_what_answers_is_loaded(command, module, tmp_path, monkeypatch, capsys):
    """Loading the studies took half of the time in which a megabyte of faults was told."""
    monkeypatch.chdir(tmp_path)
    Path("m.toml").write_text(FRAME + "shaeps = 1\n", encoding="utf-8")
    monkeypatch.delitem(sys.modules, f"assembly.api.{module}", raising=False)
    monkeypatch.delattr(assembly.api, module, raising=False)
    assert main([command, "m.toml"]) == ExitStatus.INPUT
    assert "shaeps" in capsys.readouterr().err
    assert f"assembly.api.{module}" not in sys.modules


def test_a_plain_name_is_not_parsed(monkeypatch):
    monkeypatch.setattr(arithmetic.ast, "parse", None)
    assert arithmetic.names_in("never_seen_before") == {"never_seen_before"}
    assert arithmetic.evaluate("never_seen_before", {"never_seen_before": 7.0}) == 7
